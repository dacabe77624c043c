"""A coating's tally: what the board says of it, kept so that ten thousand zones can be asked at once.

The third stored derivation, beside a swath's standing and the coverage shapes, and the only writer of it. A change only
notes which coatings it touched; whoever reads the board next has their tallies made anew first, from their pictures, so that
a press costs no picture. Nothing here is added to or subtracted from. What depends on the moment, the reader's units or
language is not kept but judged again from the kept facts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from itertools import islice
from math import isclose
from typing import Any, NamedTuple
from uuid import UUID

from django.db import models
from django.db.models import F, Q, QuerySet
from django.utils import translation

from accounts.acting import Acting
from accounts.rows import Row
from accounts.verify import Problem
from inspections.coatings import Coating
from mapping.zones import Zone
from repairs import gates
from repairs.gate_facts import Facts
from repairs.gates import Gate
from repairs.gathered import Gathered, gather, with_what_is_shown
from repairs.kept_facts import facts_from_json, facts_to_json, nameless
from repairs.picture import ZonePicture, pictures_from, turn_of
from repairs.spoken import Spoken
from repairs.state import OPEN_STATUSES, FlawStatus, PatchState

AT_ONCE = 200  # coatings whose rows are read together
NEARLY = 1e-6
CURE = "cure"
SETTLED = frozenset({FlawStatus.ACCEPTED, FlawStatus.CONCEDED})


class LastChange(models.Model):
    """The operation that touched a coating last. Its tally waits to be made while it was made after another one."""

    coating = models.OneToOneField(Coating, models.PROTECT, primary_key=True, related_name="last_change")
    operation = models.UUIDField()


class Day(NamedTuple):
    """What one day of the asset added: tested area as found (m2), flaws found, flaws put right or conceded."""

    day: str
    tested: float
    found: int
    settled: int


class Tally(models.Model):
    """Figures of one current coating at the finished system; areas in m2, as found unless they say left.

    made_after: the last operation whose rows are in it.
    whose and since: whose turn it is once everything has cured. others_green, cure_green: the gates before the cure date,
    and the one on it once that date has passed; cured_at is empty when nothing has to cure.
    """

    coating = models.OneToOneField(Coating, models.PROTECT, primary_key=True, related_name="tally")
    made_after = models.UUIDField(null=True)
    swept = models.BooleanField()
    released = models.BooleanField()
    true_area = models.FloatField()
    excluded = models.FloatField()
    testable = models.FloatField()
    tested = models.FloatField()
    held = models.FloatField()
    pending = models.FloatField()
    lost = models.FloatField()
    gap = models.FloatField()
    left_tested = models.FloatField()
    left_held = models.FloatField()
    left_pending = models.FloatField()
    left_lost = models.FloatField()
    left_gap = models.FloatField()
    left_holes = models.PositiveIntegerField()
    counted = models.PositiveIntegerField()
    open_flaws = models.PositiveIntegerField()
    open_repairs = models.PositiveIntegerField()
    over = models.BooleanField(null=True)
    whose = models.CharField(max_length=12, blank=True)
    since = models.DateTimeField(null=True)
    others_green = models.BooleanField()
    cure_green = models.BooleanField()
    cured_at = models.DateTimeField(null=True)
    facts = models.JSONField()
    days = models.JSONField()
    repairs_since = models.JSONField()

    @property
    def gap_m2(self) -> float:
        return self.left_gap

    @property
    def lost_m2(self) -> float:
        return self.left_lost

    @property
    def held_m2(self) -> float:
        return self.left_held

    @property
    def pending_m2(self) -> float:
        return self.left_pending

    def facts_at(self, now: datetime) -> Facts:
        """The facts of its gates, for judging at a moment."""
        return facts_from_json({**self.facts, "now": now.isoformat()})


COLUMNS = tuple(field.attname for field in Tally._meta.concrete_fields if not field.primary_key)
COMPARED = tuple(name for name in COLUMNS if name != "made_after")


def touch(act: Acting) -> None:
    """Note the coatings that the change touched, in its transaction: their tallies wait."""
    changes = [LastChange(coating_id=pk, operation=act.operation) for pk in _touched(act.changed)]
    LastChange.objects.bulk_create(
        changes, update_conflicts=True, unique_fields=["coating"], update_fields=["operation"], batch_size=AT_ONCE
    )


def waiting(coatings: QuerySet[Coating]) -> QuerySet[Coating]:
    """Those of these coatings that have no tally, or were touched since it was made."""
    as_it_was_made = Q(tally__made_after=F("last_change__operation"))
    return coatings.filter(Q(tally=None) | ~as_it_was_made, ended_at=None)


def catch_up(coatings: QuerySet[Coating], at_most: int = AT_ONCE) -> int:
    """Make the tallies of these coatings that wait, at most so many; how many still wait after that.

    What is noted while they are being made is not in them and lets them wait again: the operation is read before the rows.
    Two who do it at once write in one order; who writes the older last leaves it waiting.
    """
    late = dict(waiting(coatings).order_by("pk").values_list("pk", "last_change__operation"))
    fresh = made(with_what_is_shown(Coating.objects.filter(pk__in=list(late)[:at_most])).order_by("pk"))
    for tally in fresh:
        tally.made_after = late[tally.pk]
    Tally.objects.bulk_create(
        fresh, update_conflicts=True, unique_fields=["coating"], update_fields=COLUMNS, batch_size=AT_ONCE
    )
    return len(late) - len(fresh)


def made(coatings: Iterable[Coating]) -> list[Tally]:
    """The tallies of these coatings, computed from facts and not stored. Written in English whoever acts."""
    with translation.override("en"):
        rows = gather(coatings)
        return [_tally(picture, rows) for picture in pictures_from(rows)]


def differences(record: UUID) -> Iterator[Problem]:
    """Compare every stored tally of an asset with its recomputation (for verify_record); none that waits to be made."""
    of_asset = Coating.objects.filter(zone__asset=record, ended_at=None)
    settled = with_what_is_shown(of_asset.exclude(pk__in=waiting(of_asset).values("pk"))).order_by("pk")
    stored = Tally.objects.filter(coating__in=of_asset).in_bulk()
    for some in _batches(settled.iterator(AT_ONCE)):
        for fresh in made(some):
            for name in COMPARED:
                said, found = getattr(fresh, name), getattr(stored[fresh.pk], name)
                if not _alike(said, found):
                    yield Problem(Tally._meta.db_table, str(fresh.pk), name, str(said), str(found))


def _touched(rows: Iterable[Row]) -> set[UUID]:
    """The coatings that these rows hang on; for what hangs on a zone, its current one."""
    coatings: set[UUID] = set()
    zones: set[UUID] = set()
    for row in rows:
        steps = type(row).record_path.split("__")
        if isinstance(row, Coating):
            coatings.add(row.pk)
        elif isinstance(row, Zone):
            zones.add(row.pk)
        elif "coating" in steps:
            coatings.add(_walk(row, steps, "coating"))
        elif "zone" in steps:
            zones.add(_walk(row, steps, "zone"))
    if zones:
        coatings.update(Coating.objects.filter(zone__in=zones, ended_at=None).values_list("pk", flat=True))
    return coatings


def _walk(row: Any, steps: list[str], end: str) -> UUID:
    for step in steps[: steps.index(end)]:
        row = getattr(row, step)
    return getattr(row, f"{end}_id")  # type: ignore[no-any-return]


def _batches(coatings: Iterable[Coating]) -> Iterator[list[Coating]]:
    waiting = iter(coatings)
    while some := list(islice(waiting, AT_ONCE)):
        yield some


def _tally(picture: ZonePicture, rows: Gathered) -> Tally:
    found, left = picture.found, picture.ground
    facts = replace(nameless(picture.facts), now=picture.coating.begun_at)
    cured_at = None if CURE in facts.concessions else facts.cured_at
    judged = gates.gates(_as_cured(facts))
    swept = any(not run.is_struck for run in rows.runs.get(picture.coating.pk, ()))
    turn = turn_of(judged) if swept else picture.turn
    since = turn.since if turn else max((gate.since for gate in judged if gate.since), default=None)
    waiting = [patch for patch in picture.patches if patch.state not in (PatchState.ACCEPTED, PatchState.CONCEDED)]
    return Tally(
        coating=picture.coating,
        swept=swept,
        released=picture.release is not None,
        true_area=picture.true_m2,
        excluded=sum(each.area_m2 for each in picture.excluded),
        testable=found.testable_m2,
        tested=found.tested_m2,
        held=found.held_m2,
        pending=found.pending_m2,
        lost=found.lost_m2,
        gap=found.gap_m2,
        left_tested=left.tested_m2,
        left_held=left.held_m2,
        left_pending=left.pending_m2,
        left_lost=left.lost_m2,
        left_gap=left.gap_m2,
        left_holes=left.holes,
        counted=picture.counted,
        open_flaws=picture.open_flaws,
        open_repairs=len(waiting),
        over=None if picture.contract is None or picture.contract.verdict is None else picture.contract.verdict == "exceeded",
        whose=turn.whose if turn else "",
        since=since,
        others_green=all(gate.state == "green" for gate in judged if gate.code != CURE),
        cure_green=all(gate.state == "green" for gate in judged if gate.code == CURE),
        cured_at=cured_at,
        facts=facts_to_json(facts),
        days=[list(day) for day in days_of(picture, rows)],
        repairs_since=sorted(_day(picture, patch.issued_at) for patch in waiting),
    )  # fmt: skip


def _as_cured(facts: Facts) -> Facts:
    return facts if facts.cured_at is None else replace(facts, now=facts.cured_at)


def days_of(picture: ZonePicture, rows: Gathered) -> list[Day]:
    """What each day added, in order; summed up they give tested area as found and open flaws as they are now.

    Ground that was left out after it was tested is taken off on the day of the last acceptance.
    """
    tested: Counter[str] = Counter()
    for row in rows.coverage.get(picture.coating.pk, ()):
        if row.stage == picture.stage.name:
            tested.update(row.days)
    over = sum(tested.values()) - picture.found.tested_m2
    if picture.excluded and over > NEARLY:
        tested[_day(picture, max(each.accepted_at for each in picture.excluded))] -= over  # type: ignore[assignment]
    found: Counter[str] = Counter()
    settled: Counter[str] = Counter()
    patches = {patch.id: patch for patch in picture.patches}
    for flaw in picture.flaws:
        if flaw.same_as is not None:
            continue
        if flaw.status in OPEN_STATUSES:
            found[_day(picture, flaw.found_at)] += 1
        elif flaw.status in SETTLED and (patch := patches.get(flaw.patch_id)) and patch.since:  # type: ignore[arg-type]
            found[_day(picture, flaw.found_at)] += 1
            settled[_day(picture, patch.since)] += 1
    return [Day(day, tested[day], found[day], settled[day]) for day in sorted({*tested, *found, *settled})]


def _day(picture: ZonePicture, moment: datetime) -> str:
    return moment.astimezone(picture.zone.asset.zone_info).date().isoformat()


def _alike(one: Any, other: Any) -> bool:
    """Equal, with areas to within a square millimetre: another geometry library is no alarm."""
    if isinstance(one, float) and isinstance(other, int | float):
        return isclose(one, other, rel_tol=0, abs_tol=NEARLY)
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_alike(each, other[name]) for name, each in one.items())
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_alike, one, other))
    return bool(one == other)


def judged(tally: Tally, now: datetime, spoken: Spoken) -> tuple[Gate, ...]:
    """The gates of the tally's coating at a moment, in the reader's words; without the names behind them."""
    return tuple(gates.gates(tally.facts_at(now), spoken))
