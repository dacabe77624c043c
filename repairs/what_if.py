"""What would be lost if what was traced did not count: ground by zone and stage, patches, gates, releases. Writes nothing.

The picture of each zone is made twice by the same functions, from the rows as they are and from the rows without what
fell; what differs is the consequence. Nothing is estimated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils import timezone

from accounts.wording import say, say_many
from inspections.coatings import Coating
from inspections.terms import Stage
from inspections.tested import Ground
from mapping.coverage import SMALLEST
from mapping.features import Feature
from mapping.intervals import Intervals, minus, total
from mapping.surfaces.plane import Areal, areal
from repairs import ground
from repairs.fallen import Altered, Fallen, altered, fallen_of
from repairs.feature_ground import FeaturesPicture, features_at
from repairs.gates import Gate
from repairs.gathered import Gathered, gather
from repairs.packs import PatchPicture
from repairs.picture import ZonePicture, pictures_from
from repairs.spoken import SI, Spoken
from repairs.state import PatchState
from repairs.trace import Trace

MOST_ZONES = 40
"""Zones worked out at once: each is pictured twice, so a longer list is narrowed by days."""
Area = Callable[[float], str]


class TooMany(Exception):
    """More zones rest on it than are worked out at once; `count` of them."""

    def __init__(self, count: int) -> None:
        super().__init__(count)
        self.count = count


@dataclass(frozen=True)
class StageLoss:
    """Ground of one coat stage that would not stand any more: shape and m2, as release looks at it. `then` is all the
    ground as it would be divided. again: it can still be swept, because no later coat was tested over it."""

    stage: Stage
    seen: str
    shape: Areal
    area_m2: float
    then: Ground
    again: bool


@dataclass(frozen=True)
class FeatureLoss:
    """Metres along a weld or edge (or a nozzle, bracket: 1) that would not be tested any more."""

    feature: Feature
    stage: str
    parts: Intervals
    again: bool

    @property
    def amount(self) -> float:
        return total(self.parts)


@dataclass(frozen=True)
class PatchTurn:
    """A patch that would not be in the state it is in. repair: the repair itself would have to be done again."""

    patch: PatchPicture
    before: PatchState
    after: PatchState

    @property
    def repair(self) -> bool:
        return self.after == PatchState.FAILED


@dataclass(frozen=True)
class GateTurn:
    """A gate that would not be green any more."""

    before: Gate
    after: Gate


@dataclass(frozen=True)
class ZoneLoss:
    """What one zone would lose. spots: fallen thickness spots of the finished film."""

    coating: Coating
    now: ZonePicture
    then: ZonePicture
    stages: tuple[StageLoss, ...]
    features: tuple[FeatureLoss, ...]
    patches: tuple[PatchTurn, ...]
    gates: tuple[GateTurn, ...]
    spots: tuple[UUID, ...]

    @property
    def lost_m2(self) -> float:
        return sum(loss.area_m2 for loss in self.stages)

    @property
    def undermined(self) -> bool:
        """Whether a release that holds now would not any more."""
        return bool(self.now.release and not self.now.release.undermined and self.gates)

    @property
    def is_any(self) -> bool:
        return bool(self.stages or self.features or self.patches or self.gates)


@dataclass(frozen=True)
class WhatIf:
    """The consequences, zone by zone in the order of assets and zones; `zones` only those that would lose something."""

    trace: Trace
    fallen: Fallen
    at: datetime
    rows: Gathered
    altered: Altered
    zones: tuple[ZoneLoss, ...]

    @property
    def lost_m2(self) -> float:
        return sum(zone.lost_m2 for zone in self.zones)

    @property
    def reopened(self) -> tuple[PatchTurn, ...]:
        return tuple(turn for zone in self.zones for turn in zone.patches)

    @property
    def undermined(self) -> tuple[ZoneLoss, ...]:
        return tuple(zone for zone in self.zones if zone.undermined)


def what_if(trace: Trace, at: datetime | None = None, spoken: Spoken = SI) -> WhatIf:
    """What the current coatings of a trace would lose. Raises TooMany beyond MOST_ZONES coatings."""
    now = at or timezone.now()
    current = [coating for coating in trace.coatings.values() if coating.ended_at is None]
    if len(current) > MOST_ZONES:
        raise TooMany(len(current))
    current.sort(key=lambda row: (row.zone.asset.name, row.zone.order, row.zone.name))
    fallen = fallen_of(trace)
    rows = gather(current)
    without = altered(rows, fallen)
    before, after = pictures_from(rows, now, spoken), pictures_from(without.rows, now, spoken)
    zones = [_zone(was, would, rows, without.rows, fallen) for was, would in zip(before, after, strict=True)]
    return WhatIf(trace, fallen, now, rows, without, tuple(zone for zone in zones if zone.is_any))


def _zone(was: ZonePicture, would: ZonePicture, rows: Gathered, without: Gathered, fallen: Fallen) -> ZoneLoss:
    coating = was.coating
    swept = {run.stage for run in rows.runs.get(coating.pk, ()) if not run.is_struck}
    stages, features = [], []
    names = [stage.name for stage in coating.terms.stages]
    for number, stage in enumerate(coating.terms.stages):
        again = not swept & set(names[number + 1 :])
        if loss := _stage_loss(was, would, rows, without, stage, again):
            stages.append(loss)
        features += _feature_losses(
            features_at(coating, rows, stage.name), features_at(coating, without, stage.name), again
        )
    after = {patch.id: patch for patch in would.patches}
    patches = [
        PatchTurn(patch, patch.state, after[patch.id].state)
        for patch in was.patches
        if after[patch.id].state != patch.state
    ]
    gates = [
        GateTurn(before, then)
        for before, then in zip(was.gates, would.gates, strict=True)
        if before.state == "green" and then.state != "green"
    ]
    spots = [spot.pk for spot in rows.spots.get(coating.pk, ()) if spot.pk in fallen.spots]
    return ZoneLoss(coating, was, would, tuple(stages), tuple(features), tuple(patches), tuple(gates), tuple(spots))


def _stage_loss(
    was: ZonePicture, would: ZonePicture, rows: Gathered, without: Gathered, stage: Stage, again: bool
) -> StageLoss | None:
    coating = was.coating
    if was.left is not None and would.left is not None and stage == was.stage:
        before, then, seen = was.left.ground, would.left.ground, was.left.seen
    else:
        before, then = (
            ground.found_ground(coating.zone.surface, each.coverage.get(coating.pk, ()), stage.name, was.testable.shape)
            for each in (rows, without)
        )
        seen = "as found"
    shape = areal(before.stands.difference(then.stands))
    if shape.area < SMALLEST:
        return None
    return StageLoss(stage, seen, shape, shape.area, then, again)


def _feature_losses(was: FeaturesPicture, would: FeaturesPicture, again: bool) -> list[FeatureLoss]:
    found = []
    for before, then in zip(was.features, would.features, strict=True):
        parts = minus(before.now.stands, then.now.stands)
        if total(parts) > 0:
            found.append(FeatureLoss(before.feature, was.stage, parts, again))
    return found


def sentence_of(found: WhatIf, when: str, area: Area) -> str:
    """The plain consequence a page opens with. `when` says the days, "" for always."""
    subject, name = found.trace.subject, found.trace.subject.name
    if subject.kind == "person":
        always, for_days = say("If the work of {name} does not count", name=name), say("{condition}, {when}")
    else:
        always, for_days = say("If {name} is withdrawn", name=name), say("{condition} for {when}")
    condition = for_days.format(condition=always, when=when) if when else always
    parts = losses_in_words(found.zones, area)
    if not parts:
        return say("{condition}, no ground, patch, gate or release changes.", condition=condition)
    return f"{condition}, {joined(parts)}."


def losses_in_words(zones: Sequence[ZoneLoss], area: Area) -> list[str]:
    """What would be lost, one clause a kind of thing."""
    parts = []
    lost, bare = sum(zone.lost_m2 for zone in zones), [zone for zone in zones if zone.stages]
    if bare:
        parts.append(
            say_many("{area} in {count} zone is lost", "{area} in {count} zones is lost", len(bare), area=area(lost))
        )
    if features := [loss for zone in zones for loss in zone.features]:
        words = say_many("{count} feature is untested", "{count} features are untested", len(features))
        parts.append(words)
    turns = [turn for zone in zones for turn in zone.patches]
    if repairs := sum(turn.repair for turn in turns):
        parts.append(
            say_many("{count} patch has to be repaired again", "{count} patches have to be repaired again", repairs)
        )
    if again := len(turns) - repairs:
        parts.append(say_many("{count} patch reopens", "{count} patches reopen", again))
    if shut := sum(len(zone.gates) for zone in zones):
        parts.append(say_many("{count} gate is no longer green", "{count} gates are no longer green", shut))
    if undermined := [zone for zone in zones if zone.undermined]:
        names = ", ".join(zone.now.zone.name for zone in undermined[:3])
        more = len(undermined) - 3
        if more > 0:
            names = say("{names} and {count} more", names=names, count=more)
        words = say_many(
            "the release of {names} is undermined",
            "the releases of {names} are undermined",
            len(undermined),
            names=names,
        )
        parts.append(words)
    return parts


def joined(parts: Sequence[str]) -> str:
    """ "a, b and c"."""
    *most, last = parts
    return say("{most} and {last}", most=", ".join(most), last=last) if most else last
