"""A trace for readers: names and places of what was found. As many queries for a thousand lines as for one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from accounts.wording import say
from inspections.coatings import Atmosphere, Coating, Spot
from inspections.runs import Run, Standing
from repairs.release import Release
from repairs.trace import Trace
from repairs.trace_subjects import PARTS, Found
from repairs.work import Cycle


class Amount(NamedTuple):
    """Swept ground of a run by its standing; m2, swaths that overlap counted twice."""

    standing: str
    label: str
    number: int
    area_m2: float


@dataclass(frozen=True)
class RunLine:
    """A run that has to do with what was asked about. `checks`: how many checks of it do."""

    id: UUID
    coating: Coating
    label: str
    purpose: str
    stage: str
    at: datetime
    parts: tuple[str, ...]
    checks: int
    amounts: tuple[Amount, ...]

    @property
    def swept_m2(self) -> float:
        return sum(each.area_m2 for each in self.amounts)


class SpotLine(NamedTuple):
    """A thickness spot measured so; mean in um."""

    id: UUID
    coating: Coating
    said: str
    stage: str
    mean: float
    at: datetime
    part: str


class AirLine(NamedTuple):
    """Air and steel measured so, degC."""

    id: UUID
    coating: Coating
    air: float
    steel: tuple[float, ...]
    at: datetime


class CycleLine(NamedTuple):
    """A round of repair and retest that has to do with it."""

    id: UUID
    coating: Coating
    patch_id: UUID
    patch: str
    cycle: int
    outcome: str
    at: datetime
    part: str


class ReleaseLine(NamedTuple):
    """A standing release given after something of it was done."""

    id: UUID
    coating: Coating
    at: datetime
    owner: str


@dataclass(frozen=True)
class Lines:
    """A trace in words, each table in order of time."""

    runs: tuple[RunLine, ...]
    spots: tuple[SpotLine, ...]
    airs: tuple[AirLine, ...]
    cycles: tuple[CycleLine, ...]
    releases: tuple[ReleaseLine, ...]


def in_words(trace: Trace, most: int | None = None) -> Lines:
    """The trace with names; of each table the first `most` lines."""
    by_run: dict[UUID, list[Found]] = defaultdict(list)
    for row in trace.found:
        if row.leg in ("run", "check", "decision", "swept"):
            by_run[row.on].append(row)
    return Lines(
        tuple(_runs(trace, dict(list(by_run.items())[:most]))),
        tuple(_spots(trace, trace.of("spot")[:most])),
        tuple(_airs(trace, trace.of("air")[:most])),
        tuple(_cycles(trace, trace.of("cycle")[:most])),
        tuple(_releases(trace, trace.of("release")[:most])),
    )


def parts_in_words(parts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(say(PARTS[part]) for part in parts))


def _runs(trace: Trace, by_run: Mapping[UUID, Sequence[Found]]) -> Iterable[RunLine]:
    runs = Run.objects.filter(pk__in=by_run).select_related("sheet").in_bulk()
    for pk, found in by_run.items():
        run = runs[pk]
        yield RunLine(
            pk,
            trace.coatings[found[0].coating],
            run.label,
            run.get_purpose_display(),
            run.stage,
            run.opened_at,
            parts_in_words(row.part for row in found if row.leg != "swept"),
            sum(row.leg == "check" for row in found),
            tuple(
                Amount(row.part, str(Standing(row.part).label), row.number, row.area)
                for row in found
                if row.leg == "swept"
            ),
        )


def _spots(trace: Trace, found: Sequence[Found]) -> Iterable[SpotLine]:
    rows = Spot.objects.filter(pk__in=[row.id for row in found]).in_bulk()
    for row in found:
        spot = rows[row.id]
        yield SpotLine(
            row.id, trace.coatings[row.coating], spot.said, spot.stage, spot.mean, row.at, say(PARTS[row.part])
        )


def _airs(trace: Trace, found: Sequence[Found]) -> Iterable[AirLine]:
    if not found:
        return
    rows = Atmosphere.objects.filter(pk__in=[row.id for row in found]).in_bulk()
    for row in found:
        yield AirLine(row.id, trace.coatings[row.coating], rows[row.id].air, tuple(rows[row.id].steel), row.at)


def _cycles(trace: Trace, found: Sequence[Found]) -> Iterable[CycleLine]:
    rows = Cycle.objects.filter(pk__in=[row.id for row in found]).select_related("patch").in_bulk()
    for row in found:
        cycle = rows[row.id]
        outcome = str(Cycle.Outcome(cycle.outcome).label) if cycle.outcome else say("open")
        yield CycleLine(
            row.id,
            trace.coatings[row.coating],
            cycle.patch_id,
            str(cycle.patch),
            cycle.number,
            outcome,
            row.at,
            say(PARTS[row.part]),
        )


def _releases(trace: Trace, found: Sequence[Found]) -> Iterable[ReleaseLine]:
    rows = Release.objects.filter(pk__in=[row.id for row in found]).select_related("owner").in_bulk()
    for row in found:
        yield ReleaseLine(row.id, trace.coatings[row.coating], row.at, rows[row.id].owner.name)
