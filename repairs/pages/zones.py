"""The zone sheet: what is true and what stands in the way, figures, the drawing, and the work that is left."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any, NamedTuple, cast
from urllib.parse import urlencode
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.access import roles_on
from accounts.acting import any_may, find, may
from accounts.people import Person, Role
from accounts.units import show
from accounts.wording import say
from inspections.causes import causes_in_words
from inspections.coatings import Coating
from inspections.noted_runs import noted_on, with_notes
from inspections.passes import repeated_words, runs_words, times_words
from inspections.runs import Run, Standing, Swath
from mapping.wire import legend, legend_of, wire
from mapping.zones import Zone
from repairs import gates
from repairs.film_words import film_sentence
from repairs.pages.feature_rows import features_shown, sum_words
from repairs.pages.figures import figures_of
from repairs.pages.ground_rulings import rulings_shown
from repairs.picture import ZonePicture, zone_picture, zone_picture_at
from repairs.reader_words import said_in
from repairs.wound_back import coating_at
from repairs.zone_sheet import drawing_of

MOST_REPEATED = 50
VERDICT_CLASS = {"crew": "open", "lead": "open", "contractor": "work", "owner": "held"}


class Still(NamedTuple):
    """One piece of ground still to walk, and where a press takes the crew to sweep it."""

    said: str
    area: str
    why: str
    sweep: str
    x: float
    y: float


def current_coating(zone: Zone) -> Coating | None:
    return (
        zone.coatings.filter(ended_at=None).select_related("zone__asset", "specification").first()
        or zone.coatings.order_by("-number").first()
    )


class Moment(NamedTuple):
    """The earlier moment a page is wound back to (None: now), as it was asked for, and what is wrong with that."""

    at: datetime | None
    said: str
    problem: str


def moment_of(request: HttpRequest, zone: Zone) -> Moment:
    """The moment asked for by `at`, in the asset's time; now where that is not before now or cannot be read."""
    said = request.GET.get("at", "").strip()
    if not said:
        return Moment(None, "", "")
    try:
        at = datetime.fromisoformat(said)
    except ValueError:
        words = say('"{said}" is no moment: write it like 2026-05-14T16:40. Shown is now.', said=said[:40])
        return Moment(None, "", words)
    if at.tzinfo is None:
        at = at.replace(tzinfo=zone.asset.zone_info)
    if at >= timezone.now():
        return Moment(None, "", say("That moment is yet to come. Shown is now."))
    return Moment(at, said, "")


def picture_for(person: Person, zone: Zone, stage: str | None = None, at: datetime | None = None) -> ZonePicture | None:
    """The zone's picture in the person's units, as it stood at a moment; None before a coating has begun."""
    coating = coating_at(zone, at) if at else current_coating(zone)
    if coating is None:
        return None
    stages = [each.name for each in coating.terms.stages]
    wanted = stage if stage in stages else None

    spoken = said_in(person.units)
    return zone_picture_at(coating, at, wanted, spoken) if at else zone_picture(coating, wanted, spoken=spoken)


class Doubt(NamedTuple):
    """Ground of one run that is lost or held: how much of area, line and single features, why, and what answers it."""

    run: Run
    standing: str
    area: float
    metres: float
    counted: int
    causes: str


def doubts_of(coating: Coating) -> list[Doubt]:
    """Lost and held ground by run, as far as it is not struck out."""
    swaths = Swath.objects.filter(
        run__sheet__coating=coating, run__struck_at=None, struck_at=None, standing__in=[Standing.LOST, Standing.HELD]
    )
    rows: dict[tuple[Run, str], list[Swath]] = defaultdict(list)
    for swath in swaths.select_related("run__sheet", "feature").defer("shape").order_by("run__opened_at"):
        rows[swath.run, swath.standing].append(swath)
    return [
        Doubt(
            run,
            standing,
            sum(swath.area for swath in some if swath.feature is None),
            sum(high - low for swath in some if swath.feature and swath.feature.is_line for low, high in swath.parts),
            len({swath.feature_id for swath in some if swath.feature and not swath.feature.is_line}),
            causes_in_words("; ".join(sorted({swath.cause for swath in some}))),
        )
        for (run, standing), some in rows.items()
    ]


@login_required
@require_safe
def zone_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    roles = roles_on(person, zone)
    moment = moment_of(request, zone)
    picture = picture_for(person, zone, request.GET.get("stage"), moment.at)
    common = {
        "moment": moment,
        "zone": zone,
        "asset": zone.asset,
        "here": request.get_full_path(),
        "record_url": reverse("record", args=[zone.asset_id]),
        "may_begin": any_may(roles, "begin_coating"),
        "may_correct": any_may(roles, "correct_surface"),
    }
    if picture is None:
        return render(request, "repairs/zone_bare.html", common)
    if moment.at:
        return render(request, "repairs/zone_then.html", {**common, **_shown(picture, person)})
    coating = picture.coating
    open_run = (
        Run.objects.filter(sheet__coating=coating, sheet__person=person, closed_at=None, struck_at=None)
        .select_related("sheet")
        .order_by("-opened_at")
        .first()
    )
    return render(
        request,
        "repairs/zone.html",
        {
            **common,
            **_shown(picture, person),
            "still": still_to_walk(picture, open_run, person.units),
            "runs": with_notes(
                Run.objects.filter(sheet__coating=coating).select_related("instrument").order_by("-opened_at"),
                timezone.now(),
            ),
            "sheets": coating.sheets.select_related("person").order_by("letter"),
            "open_run": open_run,
            **features_shown(person, picture, open_run),
            "doubts": doubts_of(coating),
            "rulings": rulings_shown(coating),
            "open_questions": sum(each.is_open for each in picture.asked),
            "may_rule": Role.OWNER in roles,
            "may_restore": Role.LEAD in roles,
            "may_take": any_may(roles, "take_sheet") and coating.ended_at is None,
            "may_issue": any_may(roles, "issue_patches"),
            "may_concede": any_may(roles, "concede"),
            "may_exclude": any_may(roles, "draw_exclusion"),
            "may_import": any_may(roles, "import_sheet"),
            "loose": [
                flaw for flaw in picture.flaws if flaw.status == "open" and not flaw.patch_id and not flaw.same_as
            ],
        },
    )


def _shown(picture: ZonePicture, person: Person) -> dict[str, Any]:
    """What the page shows of a picture, of now or of then."""
    return {
        "coating": picture.coating,
        "picture": picture,
        "figures": figures_of(picture, person.units),
        "feature_sums": [sum_words(each, person.units) for each in picture.features.sums()],
        "verdict_class": _verdict_class(picture),
        "still": still_to_walk(picture, None, person.units),
        "thickness": film_sentence(picture.thickness, picture.testable_m2, person.units),
        "legend": legend(drawing_of(picture)),
        "repeated": [
            (times_words(place.times), place.said, show(place.area_m2, "area", person.units), runs_words(place.runs))
            for place in picture.repeated.places[:MOST_REPEATED]
        ],
        "repeated_words": repeated_words(picture.repeated, person.units),
        "repeated_more": max(len(picture.repeated.places) - MOST_REPEATED, 0),
        "status_symbols": {entry.style: entry.svg for entry in legend_of(STATUS_STYLES)},
    }


STATUS_STYLES = ("open", "begun", "ready", "accepted", "conceded", "struck", "false")


def _verdict_class(picture: ZonePicture) -> str:
    if picture.release and not picture.release.undermined:
        return "done"
    if picture.may_release:
        return "wait"
    return VERDICT_CLASS.get(picture.turn.whose, "open") if picture.turn else "open"


def still_to_walk(picture: ZonePicture, open_run: Run | None, units: str) -> list[Still]:
    """Untested ground as left, largest first, each with a way to sweep it in the person's open run."""
    words = {"gap": say("not swept"), "lost": say("lost"), "held": say("held"), "pending": say("waits for a check")}
    rows = []
    for part in picture.ground.parts:
        sweep = ""
        if open_run is not None and part.kind in ("gap", "lost"):
            query = urlencode({"place": part.said, "to": reverse("run", args=[open_run.pk])})
            sweep = f"{reverse('do', args=['mark_swept', open_run.pk])}?{query}"
        why = words[part.kind]
        if part.kind == "gap" and part.shape.intersection(picture.found.ground.stands).area > part.area_m2 / 2:
            why = say("worked on since: retest")
        rows.append(Still(part.said, show(part.area_m2, "area", units), why, sweep, part.x, part.y))
    return rows


@login_required
@require_safe
def zone_drawing(request: HttpRequest, pk: UUID) -> JsonResponse:
    """The drawing of the zone in columns, for the painter in the browser."""
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    picture = picture_for(person, zone, request.GET.get("stage"), moment_of(request, zone).at)
    if picture is None:
        return JsonResponse({"problem": say("No coating has begun on this zone.")}, status=404)
    return JsonResponse(wire(drawing_of(picture)))


@login_required
@require_safe
def gates_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Every gate: green with its evidence, or whose turn it is; release and withdrawal."""
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    picture = picture_for(person, zone)
    if picture is None:
        return render(request, "repairs/zone_bare.html", {"zone": zone, "asset": zone.asset})
    return render(
        request,
        "repairs/gates.html",
        {
            "noted_runs": noted_on([picture.coating], timezone.now()),
            "zone": zone,
            "asset": zone.asset,
            "coating": picture.coating,
            "picture": picture,
            "verdict_class": _verdict_class(picture),
            "earlier": picture.coating.releases.exclude(withdrawn_at=None).select_related("owner", "withdrawn_by"),
            "concessions": [
                (row, str(row.patch) if row.patch else gates.NAMES.get(row.gate, row.gate))
                for row in picture.coating.concessions.filter(struck_at=None).select_related("owner", "patch")
            ],
            "is_owner": may(person, "release_zone", picture.coating),
            "here": request.get_full_path(),
            "record_url": reverse("record", args=[zone.asset_id]),
        },
    )


@login_required
@require_safe
def figures_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    """How each figure of the zone was computed: inputs, formula and source."""
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    picture = picture_for(person, zone, request.GET.get("stage"))
    if picture is None:
        return render(request, "repairs/zone_bare.html", {"zone": zone, "asset": zone.asset})
    return render(
        request,
        "repairs/figures.html",
        {
            "zone": zone,
            "asset": zone.asset,
            "picture": picture,
            "figures": figures_of(picture, person.units),
            "coating": picture.coating,
        },
    )
