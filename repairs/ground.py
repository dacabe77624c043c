"""A coating's ground for readers: as found and as left, in m2, with the untested parts and their spoken places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

import numpy as np
import shapely
from django.db.models import Max, Q
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from inspections import tested
from inspections.coatings import Coating, Disturbance
from inspections.runs import Run
from mapping import coverage
from mapping.coverage import Event, Ground, TimedSwath
from mapping.surfaces import Surface
from mapping.surfaces.plane import areal
from mapping.zones import Exclusion, ExclusionDecision, Zone, accepted_exclusions
from repairs.work import Patch, Step

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
    parts: tuple[GroundPart, ...]
    small: tuple[SmallParts, ...]

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


def testable_of(zone: Zone) -> TestableGround:
    """The testable ground of a zone, with every exclusion on it."""
    pairs = accepted_exclusions(zone)
    taken = coverage.testable(zone.surface.outline, [exclusion.shape for exclusion, _ in pairs])
    excluded = tuple(
        ExcludedGround(
            exclusion.pk, exclusion.said, exclusion.reason, part.area, part.shape, decision.by.name, decision.at
        )
        for (exclusion, decision), part in zip(pairs, taken.excluded, strict=True)
    )
    open_ones = (
        zone.exclusions.filter(struck_at=None, decisions=None).select_related("drawn_by").order_by("drawn_at", "pk")
    )
    decisions = ExclusionDecision.objects.filter(exclusion__zone=zone, exclusion__struck_at=None).select_related("by")
    return TestableGround(
        taken.shape, excluded, tuple(_undecided(row) for row in open_ones), tuple(decisions.order_by("at", "pk"))
    )


def _undecided(row: Exclusion) -> UndecidedExclusion:
    return UndecidedExclusion(row.pk, row.said, row.reason, row.shape.area, row.shape, row.drawn_by.name, row.drawn_at)


def found_ground(coating: Coating, stage: str, testable: BaseGeometry) -> Ground:
    """Testable ground as found at a coat stage."""
    return clipped(tested.ground_of(coating, stage), testable)


def left_ground(coating: Coating, stage: str, testable: BaseGeometry, found: Ground) -> Ground:
    """Testable ground as left: as found less what was worked on or disturbed since, plus standing retests."""
    surface, margin = coating.zone.surface, coating.terms.as_left_margin
    events = [Event(surface.with_margin(event.shape, margin), event.at) for event in later_work(coating)]
    retests = _timed(coating, stage, Run.Purpose.RETEST)
    if not events and not retests:
        return found
    surveyed = _timed(coating, stage, Run.Purpose.SURVEY)
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


def later_work(coating: Coating) -> list[Event]:
    """Patches at their latest preparation or coat, and disturbances."""
    worked = Q(cycles__steps__kind__in=WORKED, cycles__steps__struck_at=None)
    patches = Patch.objects.filter(coating=coating).annotate(worked_at=Max("cycles__steps__at", filter=worked))
    events = [Event(patch.shape, patch.worked_at) for patch in patches if patch.worked_at is not None]
    disturbed = Disturbance.objects.filter(coating=coating, struck_at=None)
    return events + [Event(shape, at) for shape, at in disturbed.values_list("shape", "at")]


def _timed(coating: Coating, stage: str, purpose: str) -> list[TimedSwath]:
    rows = tested.swaths_of(coating, stage, purpose).values_list("shape", "standing", "started_at")
    return [TimedSwath(*row) for row in rows]


def clipped(ground: Ground, testable: BaseGeometry) -> Ground:
    """The part of divided ground that is testable."""
    return Ground(*(areal(shapely.intersection(shape, testable)) for shape in ground))


def picture_of(surface: Surface, ground: Ground, seen: Literal["as found", "as left"]) -> GroundPicture:
    """Divided ground as readers see it."""
    share = coverage.tested_share(ground)
    parts: list[GroundPart] = []
    small: list[SmallParts] = []
    for kind in PART_KINDS:
        listed = coverage.listing(surface, getattr(ground, kind))
        parts += [
            GroundPart(kind, surface.describe_region(part.shape), part.area, part.centre.x, part.centre.y, part.shape)
            for part in listed.parts
        ]
        if listed.small_count:
            small.append(SmallParts(kind, listed.small_count, listed.small_area))
    # Parts of several kinds may lie side by side and make one hole, so holes are counted on their union.
    holes = len(coverage.listing(surface, ground.untested).parts) if parts or small else 0
    return GroundPicture(
        seen=seen,
        ground=ground,
        testable_m2=ground.area,
        tested_m2=ground.stands.area,
        held_m2=ground.held.area,
        pending_m2=ground.pending.area,
        lost_m2=ground.lost.area,
        gap_m2=ground.gap.area,
        percent=None if share is None else 100 * share,
        words=coverage.coverage_words(surface, ground),
        full=None if share is None else holes == 0,
        holes=holes,
        parts=tuple(parts),
        small=tuple(small),
    )
