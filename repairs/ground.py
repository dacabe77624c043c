"""A coating's ground for readers: as found and as left, in m2, with the untested parts and their spoken places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Literal
from uuid import UUID

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from inspections import tested
from inspections.coatings import Coating, Coverage
from mapping import coverage
from mapping.coverage import Event, Ground, TimedSwath
from mapping.surfaces import Surface
from mapping.surfaces.plane import areal
from mapping.zones import Exclusion, ExclusionDecision, Zone, accepted_exclusions
from repairs.gathered import Gathered, Swept
from repairs.work import Step

PartKind = Literal["gap", "lost", "held", "pending"]
PART_KINDS: tuple[PartKind, ...] = ("gap", "lost", "held", "pending")
WORKED = (Step.Kind.PREPARED, Step.Kind.COATED)


@dataclass(frozen=True)
class GroundPart:
    """A connected untested part of 1 cm2 or more: its spoken place, and plane metres of a point inside."""

    kind: PartKind
    said: str
    area_m2: float
    x: float
    y: float
    shape: BaseGeometry


@dataclass(frozen=True)
class SmallParts:
    """Parts below 1 cm2 of one kind, summed."""

    kind: PartKind
    count: int
    area_m2: float


@dataclass(frozen=True)
class GroundPicture:
    """Testable ground divided. percent and full are None, and words "nothing to test", where nothing is testable.

    holes counts the connected untested parts of any kind of 1 cm2 or more; parts lists them by kind, largest first.
    """

    seen: Literal["as found", "as left"]
    surface: Surface
    ground: Ground
    testable_m2: float
    tested_m2: float
    held_m2: float
    pending_m2: float
    lost_m2: float
    gap_m2: float
    percent: float | None
    words: str
    full: bool | None
    holes: int

    @cached_property
    def parts(self) -> tuple[GroundPart, ...]:
        return tuple(
            GroundPart(kind, self.surface.describe_region(shape), area, centre.x, centre.y, shape)
            for kind, listed in self._listings.items()
            for shape, area, centre in ((part.shape, part.area, part.centre) for part in listed.parts)
        )

    @cached_property
    def small(self) -> tuple[SmallParts, ...]:
        return tuple(
            SmallParts(kind, listed.small_count, listed.small_area)
            for kind, listed in self._listings.items()
            if listed.small_count
        )

    @cached_property
    def _listings(self) -> dict[PartKind, coverage.Listing]:
        return {kind: coverage.listing(self.surface, getattr(self.ground, kind)) for kind in PART_KINDS}

    @property
    def untested_m2(self) -> float:
        return self.held_m2 + self.pending_m2 + self.lost_m2 + self.gap_m2


@dataclass(frozen=True)
class ExcludedGround:
    """An exclusion the owner accepted; area_m2 is what it takes off over what earlier ones took."""

    id: UUID
    said: str
    reason: str
    area_m2: float
    shape: BaseGeometry
    accepted_by: str
    accepted_at: datetime


@dataclass(frozen=True)
class UndecidedExclusion:
    """An exclusion that waits for the owner's word."""

    id: UUID
    said: str
    reason: str
    area_m2: float
    shape: BaseGeometry
    drawn_by: str
    drawn_at: datetime


@dataclass(frozen=True)
class TestableGround:
    """The zone's ground less what the owner accepted as excluded."""

    shape: BaseGeometry
    excluded: tuple[ExcludedGround, ...]
    undecided: tuple[UndecidedExclusion, ...]
    decisions: tuple[ExclusionDecision, ...]


def testable_of(zone: Zone, exclusions: Sequence[Exclusion]) -> TestableGround:
    """The testable ground of a zone, with every exclusion on it: its unstruck ones as they were drawn."""
    pairs = accepted_exclusions(exclusions)
    taken = coverage.testable(zone.surface.outline, [exclusion.shape for exclusion, _ in pairs])
    excluded = tuple(
        ExcludedGround(
            exclusion.pk, exclusion.said, exclusion.reason, part.area, part.shape, decision.by.name, decision.at
        )
        for (exclusion, decision), part in zip(pairs, taken.excluded, strict=True)
    )
    decisions = [decision for exclusion in exclusions for decision in exclusion.decisions.all()]
    return TestableGround(
        taken.shape,
        excluded,
        tuple(_undecided(row) for row in exclusions if not row.decisions.all()),
        tuple(sorted(decisions, key=lambda row: (row.at, row.pk))),
    )


def _undecided(row: Exclusion) -> UndecidedExclusion:
    return UndecidedExclusion(row.pk, row.said, row.reason, row.shape.area, row.shape, row.drawn_by.name, row.drawn_at)


def found_ground(surface: Surface, rows: Sequence[Coverage], stage: str, testable: BaseGeometry) -> Ground:
    """Testable ground as found at a coat stage, from the coating's stored stretches."""
    whole = tested.ground_from(surface, (row for row in rows if row.stage == stage))
    if shapely.equals_exact(testable, surface.outline):  # nothing is left out, and stretches end where the zone does
        return Ground(*map(areal, whole))
    return clipped(whole, testable)


def left_ground(coating: Coating, rows: Gathered, testable: BaseGeometry, found: Ground) -> Ground:
    """Testable ground as left: as found less what was worked on or disturbed since, plus standing retests."""
    surface, margin = coating.zone.surface, coating.terms.as_left_margin
    events = [Event(surface.with_margin(event.shape, margin), event.at) for event in later_work(coating, rows)]
    retests = _timed(coating, rows.retested.get(coating.pk, ()))
    if not events and not retests:
        return found
    surveyed = _timed(coating, rows.surveyed.get(coating.pk, ()))
    return left_from(surface, testable, found, surveyed, events, retests)


def left_from(
    surface: Surface,
    testable: BaseGeometry,
    found: Ground,
    surveyed: Sequence[TimedSwath],
    events: Sequence[Event],
    retests: Sequence[TimedSwath],
) -> Ground:
    """Divide again only around events (with their margin) and retests, place by place; elsewhere as left is as found."""
    touched = shapely.union_all([event.shape for event in events] + [swath.shape for swath in retests])
    pieces = shapely.get_parts(areal(testable.intersection(touched)))
    near_surveyed, near_events, near_retests = (_near(pieces, rows) for rows in (surveyed, events, retests))
    shapes = [[shapely.difference(shape, touched)] for shape in found]
    for number, piece in enumerate(pieces):
        swaths = [surveyed[index] for index in near_surveyed[number]]
        later = [events[index] for index in near_events[number]]
        again = [retests[index] for index in near_retests[number]]
        divided = coverage.divide(piece, coverage.as_left(surface, swaths, later, again, 0.0))
        for kept, shape in zip(shapes, divided, strict=True):
            kept.append(shape)
    return Ground(*(areal(shapely.union_all(kept)) for kept in shapes))


def _near(pieces: NDArray[np.object_], rows: Sequence[TimedSwath] | Sequence[Event]) -> dict[int, list[int]]:
    """For each piece the indices of the rows whose shape meets it."""
    near: dict[int, list[int]] = defaultdict(list)
    if rows:
        pairs = shapely.STRtree([row.shape for row in rows]).query(pieces, predicate="intersects")
        for piece, row in pairs.T.tolist():
            near[piece].append(row)
    return near


def later_work(coating: Coating, rows: Gathered) -> list[Event]:
    """Patches at their latest preparation or coat, and disturbances."""
    worked: dict[UUID, datetime] = {}
    for step in rows.steps.get(coating.pk, ()):
        if step.kind in WORKED:
            worked[step.patch_id] = step.at  # in order of time, so the latest stays
    events = [Event(patch.shape, worked[patch.pk]) for patch in rows.patches.get(coating.pk, ()) if patch.pk in worked]
    return events + [Event(row.shape, row.at) for row in rows.disturbances.get(coating.pk, ())]


def _timed(coating: Coating, swept: Sequence[Swept]) -> list[TimedSwath]:
    """The swaths of the finished system made by the specified method."""
    wanted = (coating.terms.final_stage.name, coating.terms.method)
    return [row.swath for row in swept if (row.stage, row.method) == wanted]


def clipped(ground: Ground, testable: BaseGeometry) -> Ground:
    """The part of divided ground that is testable."""
    return Ground(*(areal(shapely.intersection(shape, testable)) for shape in ground))


def picture_of(surface: Surface, ground: Ground, seen: Literal["as found", "as left"]) -> GroundPicture:
    """Divided ground as readers see it."""
    share = coverage.tested_share(ground)
    # Parts of several kinds may lie side by side and make one hole, so holes are counted on their union.
    untested = ground.untested
    holes = 0 if untested.is_empty else len(coverage.listing(surface, untested).parts)
    return GroundPicture(
        seen=seen,
        surface=surface,
        ground=ground,
        testable_m2=ground.area,
        tested_m2=ground.stands.area,
        held_m2=ground.held.area,
        pending_m2=ground.pending.area,
        lost_m2=ground.lost.area,
        gap_m2=ground.gap.area,
        percent=None if share is None else 100 * share,
        words=coverage.share_words(share, holes == 0),
        full=None if share is None else holes == 0,
        holes=holes,
    )
