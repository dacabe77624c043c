"""The board, a zone's page and one press of a crew at full size on PostgreSQL, over a bare page and over a hundredth of it.

Five zones are filled as actions would have filled them and copied inside the database until there are as many as asked for.
The copies are in no record: what reads the record or proves it is measured elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from time import perf_counter

from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import include, path, reverse
from django.utils import timezone

from accounts.acting import perform
from accounts.people import Person
from inspections.coatings import Coating
from inspections.flaws import Flaw
from inspections.runs import Swath
from mapping.zones import Zone
from repairs.board import board
from repairs.board_rows import Asked
from repairs.gathered import with_what_is_shown
from repairs.tallies import catch_up
from repairs.tallies import made as made_from_facts
from tests.benchmarks.copying import copy_zones
from tests.benchmarks.databases import NO_POSTGRESQL, POSTGRESQL, available, on, temporary_database
from tests.benchmarks.five_zones import FiveZones, five_zones
from tests.benchmarks.measuring import Line, Skipped, side_by_side

ZONES = 10_000
ASSETS = 20
REPEATS = 15
PRESSES = 60
SOME = 100


def bare(request: HttpRequest) -> HttpResponse:
    """The frame of every page for the same signed-in person, and nothing in it."""
    return render(request, "base.html")


urlpatterns = [path("bare/", bare), path("", include("config.urls"))]


def measure(zones: int = ZONES) -> Iterator[Line | Skipped]:
    if not available()[POSTGRESQL]:
        yield Skipped(f"board of {zones} zones", NO_POSTGRESQL)
        return
    with ExitStack() as open_databases:
        full = open_databases.enter_context(temporary_database(POSTGRESQL))
        begun = perf_counter()
        many = _filled(zones)
        print(f"{Zone.objects.count()} zones, {Flaw.objects.count()} flaws, {Swath.objects.count()} swaths: "
              f"filled in {perf_counter() - begun:.0f} s")  # fmt: skip
        yield from _pages(many)
        yield _from_facts(many, zones)
        small = open_databases.enter_context(temporary_database(POSTGRESQL))
        few = _filled(zones // 100)
        for what in ("report_flaw", "mark_swept"):
            seconds = side_by_side(_press(full, many, what), _press(small, few, what), PRESSES, warm_up=5)
            yield Line(f"{what}, {zones} zones / {zones // 100} zones", "ms", seconds.ours * 1e3, seconds.floor * 1e3)


def _filled(zones: int) -> FiveZones:
    made = five_zones()
    catch_up(Coating.objects.all())
    copy_zones(made.scene.asset, zones // 5, min(ASSETS, max(zones // 50, 1)))
    return made


def _pages(made: FiveZones) -> Iterator[Line]:
    owner = Person.objects.get(pk=made.scene.owner.pk)
    with override_settings(ROOT_URLCONF=__name__, ALLOWED_HOSTS=["testserver"]):
        client = Client()
        client.force_login(owner)

        def get(address: str) -> Callable[[], object]:
            def answer() -> None:
                status = client.get(address).status_code
                if status != 200:
                    raise RuntimeError(f"{address} answered {status}")

            return answer

        pages = {
            "board of everything": reverse("board"),
            "board, least tested first, a late page": f"{reverse('board')}?sort=tested&page=40",
            "board of one asset": reverse("board_asset", args=[made.scene.asset.pk]),
            "board in the API": "/api/v1/board/",
            "zone page": reverse("zone", args=[made.busiest.zone.pk]),
        }
        for what, address in pages.items():
            with CaptureQueriesContext(connection) as queries:
                get(address)()
            asked = len(queries)
            seconds = side_by_side(get(address), get("/bare/"), REPEATS)
            yield Line(f"{what}, {asked} queries / bare page", "ms", seconds.ours * 1e3, seconds.floor * 1e3)


def _from_facts(made: FiveZones, zones: int) -> Line:
    """What a board without tallies would cost: some zones pictured from facts, scaled to all, over the board that is."""
    some = list(with_what_is_shown(Coating.objects.filter(zone__asset=made.scene.asset, ended_at=None))[:SOME])

    def tallies() -> None:
        board(made.scene.owner, Asked(), timezone.now())

    seconds = side_by_side(lambda: made_from_facts(some), tallies, 3)
    whole = seconds.ours * zones / len(some)
    return Line(
        f"{zones} zones from facts, scaled from {len(some)} / from tallies", "ms", whole * 1e3, seconds.floor * 1e3
    )


def _press(database: BaseDatabaseWrapper, made: FiveZones, what: str) -> Callable[[], object]:
    """One field action in the open run of the zone that is being swept."""
    scene = made.open
    run = scene.runs[-1]
    given = {"report_flaw": {"place": "1+004.00 @ 3:00"}, "mark_swept": {"place": "1+048.00 to 1+049.00"}}[what]

    def press() -> object:
        with on(database):
            return perform(what, scene.crew, run.pk, given, device_at=scene.wait(minutes=0.5))

    return press
