"""A coating's ground for readers: as found and as left, in m2, with the untested parts and their spoken places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

import shapely
from django.db.models import Max, Q
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
class Testable:
    """The zone's ground less what the owner accepted as excluded."""

    shape: BaseGeometry
    excluded: tuple[ExcludedGround, ...]
    undecided: tuple[UndecidedExclusion, ...]
    decisions: tuple[ExclusionDecision, ...]


def testable_of(zone: Zone) -> Testable:
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
    return Testable(
        taken.shape, excluded, tuple(_undecided(row) for row in open_ones), tuple(decisions.order_by("at", "pk"))
    )


def _undecided(row: Exclusion) -> UndecidedExclusion:
    return UndecidedExclusion(row.pk, row.said, row.reason, row.shape.area, row.shape, row.drawn_by.name, row.drawn_at)


def found_ground(coating: Coating, stage: str, testable: BaseGeometry) -> Ground:
    """Testable ground as found at a coat stage."""
    return clipped(tested.ground_of(coating, stage), testable)


def left_ground(coating: Coating, stage: str, testable: BaseGeometry, found: Ground) -> Ground:
    """Testable ground as left: as found less what was worked on or disturbed since, plus standing retests.

    Only the neighbourhood of later work and retests is divided again; elsewhere as left is as found.
    """
    surface, margin = coating.zone.surface, coating.terms.as_left_margin
    events = later_work(coating)
    retests = _timed(coating, stage, Run.Purpose.RETEST)
    if not events and not retests:
        return found
    touched = areal(
        shapely.union_all(
            [surface.with_margin(event.shape, margin) for event in events] + [swath.shape for swath in retests]
        )
    )
    near = areal(testable.intersection(touched))
    swaths = _near(_timed(coating, stage, Run.Purpose.SURVEY), near)
    again = coverage.divide(near, coverage.as_left(surface, swaths, events, retests, margin))
    kept = [shapely.difference(shape, touched) for shape in found]
    return Ground(*(areal(shapely.union_all([old, new])) for old, new in zip(kept, again, strict=True)))


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


def _near(swaths: Sequence[TimedSwath], ground: BaseGeometry) -> list[TimedSwath]:
    if not swaths or ground.is_empty:
        return []
    shapes = [swath.shape for swath in swaths]
    shapely.prepare(ground)
    return [swath for swath, meets in zip(swaths, shapely.intersects(ground, shapes), strict=True) if meets]


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
