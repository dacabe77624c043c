"""High-voltage passes of a coating's ground, from its swaths: where there was more than one, and which runs made them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cached_property
from typing import NamedTuple
from uuid import UUID

import shapely
from django.db.models import QuerySet
from shapely.geometry.base import BaseGeometry

from accounts.languages import moment_words
from accounts.units import show
from accounts.wording import say, say_many
from inspections.coatings import Coating
from inspections.runs import Run, Swath
from inspections.sweep_passes import SweptOnce, joined, passes
from inspections.vocabulary import HIGH_VOLTAGE
from mapping.coverage import SMALLEST, listing


class EarlierPass(NamedTuple):
    """What another run swept at high voltage of some ground: m2, and when it ended the last of it."""

    run: Run
    area_m2: float
    at: datetime


class RepeatedPlace(NamedTuple):
    """One connected place that was swept by the same number of runs, as spoken, and which runs reach it."""

    times: int
    said: str
    area_m2: float
    shape: BaseGeometry
    runs: tuple[EarlierPass, ...]


class RepeatedGround(NamedTuple):
    """Ground swept more than once at high voltage at one coat stage: m2 by number of passes, and its places."""

    areas: dict[int, float]
    places: tuple[RepeatedPlace, ...]


NOTHING_REPEATED = RepeatedGround({}, ())


def high_voltage_swaths(coating: Coating, stage: str, until: datetime | None = None) -> QuerySet[Swath]:
    """Every swath of ground under high voltage at a coat stage, whatever it is worth as coverage; struck-out ones not."""
    rows = Swath.objects.filter(
        feature=None,
        run__sheet__coating=coating,
        run__method__in=HIGH_VOLTAGE,
        run__stage=stage,
        run__struck_at=None,
        struck_at=None,
    )
    return rows if until is None else rows.filter(ended_at__lte=until)


def repeated_ground(coating: Coating, stage: str, until: datetime | None = None) -> RepeatedGround:
    """Where two or more runs swept at high voltage at a stage, up to a moment.

    Only stretches that two runs reach are looked at: a zone of 17 000 swaths in one run costs one query without shapes.
    """
    rows = high_voltage_swaths(coating, stage, until)
    reached: dict[int, set[UUID]] = defaultdict(set)
    for run, low, high in rows.values_list("run", "stretch_low", "stretch_high").distinct():
        for stretch in range(low, high + 1):
            reached[stretch].add(run)
    twice = sorted(stretch for stretch, runs in reached.items() if len(runs) > 1)
    if not twice:
        return NOTHING_REPEATED
    surface = coating.zone.surface
    near = rows.filter(stretch_low__lte=twice[-1], stretch_high__gte=twice[0])
    swaths = list(near.values_list("stretch_low", "stretch_high", "run", "shape", "ended_at"))
    divided = [
        passes(
            surface.stretch(stretch),
            [SweptOnce(run, shape) for low, high, run, shape, _ in swaths if low <= stretch <= high],
        )
        for stretch in twice
    ]
    found = {count: shape for count, shape in joined(divided).items() if count > 1}
    over = Over([_Swept(*row[2:]) for row in swaths])
    places = tuple(
        RepeatedPlace(count, surface.describe_region(part.shape), part.area, part.shape, over.runs(part.shape))
        for count, shape in sorted(found.items(), reverse=True)
        for part in listing(surface, shape).parts
    )
    return RepeatedGround({count: shape.area for count, shape in found.items()}, places)


def earlier_passes(
    coating: Coating, stage: str, *, but: Run | None = None, stretches: tuple[int, int] | None = None
) -> Over:
    """What was swept at high voltage before, to be asked by place; `but` leaves one run out, `stretches` all others."""
    rows = high_voltage_swaths(coating, stage)
    if but is not None:
        rows = rows.exclude(run=but)
    if stretches is not None:
        rows = rows.filter(stretch_low__lte=stretches[1], stretch_high__gte=stretches[0])
    return Over([_Swept(*row) for row in rows.values_list("run", "shape", "ended_at")])


class _Swept(NamedTuple):
    run: UUID
    shape: BaseGeometry
    at: datetime


class Over:
    """Swaths that can be asked which of their runs reach a place."""

    def __init__(self, swaths: Sequence[_Swept]) -> None:
        self._swaths = swaths
        self._tree = shapely.STRtree([swath.shape for swath in swaths])

    @cached_property
    def _runs(self) -> dict[UUID, Run]:
        wanted = {swath.run for swath in self._swaths}
        return Run.objects.select_related("sheet__coating__zone__asset").in_bulk(wanted)

    @property
    def everywhere(self) -> tuple[EarlierPass, ...]:
        """The runs wherever they swept."""
        return self._told(range(len(self._swaths)), None)

    def runs(self, place: BaseGeometry) -> tuple[EarlierPass, ...]:
        """The runs that swept 1 cm2 or more of the place, in order of time."""
        return self._told(self._tree.query(place, predicate="intersects"), place)

    def _told(self, hits: Iterable[int], place: BaseGeometry | None) -> tuple[EarlierPass, ...]:
        by_run: dict[UUID, list[_Swept]] = defaultdict(list)
        for number in hits:
            swath = self._swaths[number]
            by_run[swath.run].append(swath)
        found = []
        for pk, swept in by_run.items():
            shape = shapely.union_all([each.shape for each in swept])
            area = (shape if place is None else shapely.intersection(shape, place)).area
            if area >= SMALLEST:
                found.append(EarlierPass(self._runs[pk], area, max(each.at for each in swept)))
        return tuple(sorted(found, key=lambda each: (each.at, each.run.pk)))


def runs_words(found: Iterable[EarlierPass]) -> str:
    """The runs with the moment of their last press there, by the asset's clock."""
    said = []
    for each in found:
        clock = each.run.sheet.coating.zone.asset.zone_info
        said.append(say("run {label}, {at}", label=each.run.label, at=moment_words(each.at.astimezone(clock))))
    return "; ".join(said)


def times_words(count: int) -> str:
    """How often, as a word: what is shown is never swept less than twice."""
    return say("twice") if count == 2 else say_many("{count} time", "{count} times", count)


def repeated_words(repeated: RepeatedGround, units: str) -> str:
    """How much was swept how often, in one sentence; empty where nothing was swept twice."""
    if not repeated.areas:
        return ""
    parts = [
        say("{times} {area}", times=times_words(count), area=show(area, "area", units))
        for count, area in sorted(repeated.areas.items())
    ]
    return say(
        "Swept more than once at high voltage: {parts}. Each pass at full voltage strains the film (common practice, no "
        "source); retests count, and so does ground that is lost.",
        parts=", ".join(parts),
    )


def warning_words(found: Sequence[EarlierPass], units: str) -> str:
    """The warning before another pass over ground that was under high voltage already; empty where it was not."""
    if not found:
        return ""
    return say(
        "Swept at high voltage before: {runs} (up to {area} of it). Another pass at full voltage strains the film (common "
        "practice, no source): sweep it again only where it has to be, and nothing refuses it.",
        runs=runs_words(found),
        area=show(max(each.area_m2 for each in found), "area", units),
    )
