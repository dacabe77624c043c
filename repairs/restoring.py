"""How what would be lost comes back: evidence first, then the smallest set of sweeps, spots and repairs. Writes nothing.

Sweeps are chosen among what one press marks: the swaths as they were made, the lanes of the zone, and the patches. What
is chosen is then put onto the rows in memory and every gate judged again, so that it is shown to do what it says.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import NamedTuple
from uuid import UUID

import numpy as np
import shapely

from inspections.coatings import Coating, Spot
from inspections.pages.runs import bays_of
from inspections.runs import Run
from inspections.terms import Stage
from mapping.bays import lanes_of
from mapping.coverage import SMALLEST
from mapping.positions import PositionError
from mapping.surfaces.plane import Areal, areal
from repairs.done_again import Again, asked_anew, gates_after, standing_retests
from repairs.film import judgement_of
from repairs.gates import Gate
from repairs.packs import PatchPicture
from repairs.retest_set import Pieces, cut, fewest
from repairs.what_if import FeatureLoss, StageLoss, WhatIf, ZoneLoss

MOST_SWEEPS = 800
"""Sweeps to choose from at once; lanes beyond that are left out, and the set is then not called the smallest."""
ALL_TRIED = 8
"""Spots up to which every choice of them is tried."""


class Press(NamedTuple):
    """What one press could mark: how it is said, and what of the ground in question it covers."""

    said: str
    shape: Areal


@dataclass(frozen=True)
class StageSet:
    """The sweeps for one coat stage. least: no set of fewer does; beyond_m2: needed, but reached by no press."""

    stage: Stage
    sweeps: tuple[Again, ...]
    least: int
    proven: bool
    beyond_m2: float

    @property
    def area_m2(self) -> float:
        return sum(sweep.area_m2 for sweep in self.sweeps)


@dataclass(frozen=True)
class ZoneSet:
    """All that is done again on one zone. settled: patches whose retest still stands, to be settled again by somebody else.
    answers: runs whose voltage rests on readings that fell: it has to be said what is to be done.
    questioned: runs of which something is asked then that was not, such as whether air and steel were measured.
    only_evidence: ground under later coats, which no sweep reaches any more.

    restored and shut: the gates that would be green again after it, and those that would not.
    """

    zone: ZoneLoss
    stages: tuple[StageSet, ...]
    features: tuple[FeatureLoss, ...]
    spots: tuple[Spot, ...]
    spots_proven: bool
    repairs: tuple[PatchPicture, ...]
    settled: tuple[PatchPicture, ...]
    answers: tuple[Run, ...]
    questioned: tuple[Run, ...]
    only_evidence: tuple[StageLoss, ...]
    restored: tuple[Gate, ...]
    shut: tuple[Gate, ...]

    @property
    def sweeps(self) -> tuple[Again, ...]:
        return tuple(sweep for stage in self.stages for sweep in stage.sweeps)

    @property
    def number(self) -> int:
        """Things to do."""
        done = (self.sweeps, self.features, self.spots, self.repairs, self.settled, self.answers, self.questioned)
        return sum(map(len, done))

    @property
    def proven(self) -> bool:
        return self.spots_proven and all(stage.proven for stage in self.stages)

    @property
    def area_m2(self) -> float:
        return sum(stage.area_m2 for stage in self.stages)


def restoring(found: WhatIf) -> tuple[ZoneSet, ...]:
    """The smallest set for each zone that would lose something; zones do not share sweeps, so together it is smallest."""
    return tuple(_zone(found, zone) for zone in found.zones)


def _zone(found: WhatIf, zone: ZoneLoss) -> ZoneSet:
    turned = {turn.after.code for turn in zone.gates}
    # The contract line rests on what surveys find: where it turned, a survey has to sweep again what it rested on.
    stages = tuple(_stages(found, zone, with_found="contract" in turned))
    patches, settled = {turn.patch.id: turn.patch for turn in zone.patches}, standing_retests(found, zone)
    features = tuple(_features(zone))
    spots, proven = _spots(found, zone)
    sweeps = [(stage.stage.name, sweep) for stage in stages for sweep in stage.sweeps]
    made = gates_after(found, zone, sweeps, features, spots)
    return ZoneSet(
        zone,
        stages,
        features,
        spots,
        proven,
        tuple(turn.patch for turn in zone.patches if turn.repair),
        tuple(patches[pk] for pk in settled),
        tuple(run for run in found.rows.runs.get(zone.coating.pk, ()) if _is_asked_anew(found, run)),
        tuple({each.run.pk: each.run for each in asked_anew(found, zone) if each.run}.values()),
        tuple(loss for loss in zone.stages if not loss.again),
        tuple(gate for gate in made if gate.code in turned and gate.state == "green"),
        tuple(gate for gate in made if gate.code in turned and gate.state != "green"),
    )


def _is_asked_anew(found: WhatIf, run: Run) -> bool:
    return run.pk in found.altered.rows.basis and run.pk not in found.rows.basis


# Sweeps


def _stages(found: WhatIf, zone: ZoneLoss, *, with_found: bool) -> Iterator[StageSet]:
    terms = zone.coating.terms
    losses = {loss.stage.name: loss for loss in zone.stages if loss.again}
    for stage in terms.stages:
        final = stage is terms.final_stage
        there = standing_retests(found, zone)
        patches = [turn.patch for turn in zone.patches if turn.patch.id not in there] if final else []
        loss = losses.get(stage.name)
        if loss is not None or patches:
            yield _stage(found, zone, stage, loss, patches, with_found and final)


def _stage(
    found: WhatIf,
    zone: ZoneLoss,
    stage: Stage,
    loss: StageLoss | None,
    patches: Sequence[PatchPicture],
    with_found: bool,
) -> StageSet:
    coating, surface = zone.coating, zone.coating.zone.surface
    ground = loss.shape if loss else shapely.Polygon()
    margin = coating.terms.as_left_margin
    places = [surface.with_margin(patch.shape, margin) for patch in patches]
    need = _needed(zone, loss)
    of_survey = _lost_as_found(zone) if with_found else shapely.Polygon()
    target = areal(shapely.union_all([ground, of_survey, *places]))
    presses, all_there = _presses(found, zone, stage, target, places)
    if not presses:
        return StageSet(stage, (), 0, all_there, ground.area if need is None else 0.0)
    shapes = [press.shape for press in presses]
    serves = np.array(
        [[patch.shape.difference(shape).area < SMALLEST for patch in patches] for shape in shapes], dtype=bool
    ).reshape(len(shapes), len(patches))
    # Each press may be made in a survey run; in a retest run it settles the patches that it covers.
    again = np.flatnonzero(serves.any(axis=1))
    which = np.concatenate((np.arange(len(presses)), again)).astype(int)
    retest = np.arange(len(which)) >= len(presses)
    pieces = cut(ground if need is None or need > 0 else shapely.Polygon(), shapes)
    also = cut(of_survey, shapes)
    cover = fewest(
        Pieces(pieces.areas, pieces.reached[which], pieces.beyond),
        serves[which] & retest[:, None],
        [shapes[press].area for press in which],
        None if need is None else min(need, float(pieces.areas.sum())),
        Pieces(also.areas, also.reached[which] & ~retest[:, None], also.beyond),
    )
    return StageSet(
        stage,
        tuple(
            Again(
                "retest" if retest[chosen] else "survey",
                presses[which[chosen]].said,
                surface.describe_region(shapes[which[chosen]]),
                shapes[which[chosen]],
                shapes[which[chosen]].area,
                tuple(patch for patch, served in zip(patches, serves[which[chosen]], strict=True) if served)
                if retest[chosen]
                else (),
            )
            for chosen in cover.chosen
        ),
        cover.least,
        cover.proven and all_there,
        pieces.beyond if need is None else 0.0,
    )


def _needed(zone: ZoneLoss, loss: StageLoss | None) -> float | None:
    """m2 of the lost ground that have to come back; None: all of it."""
    if loss is None:
        return 0.0
    asked = loss.stage.required_coverage_percent
    turned = {turn.after.code for turn in zone.gates}
    if "coverage" in turned and asked < 100:
        return max(0.0, asked / 100 * loss.then.area - loss.then.stands.area)
    green = {gate.code for gate in zone.now.gates if gate.state == "green"}
    if "coverage" in green and "coverage" not in turned:
        return 0.0  # what is left is enough for what is asked
    return None


def _lost_as_found(zone: ZoneLoss) -> Areal:
    return areal(zone.now.found.ground.stands.difference(zone.then.found.ground.stands))


def _presses(
    found: WhatIf, zone: ZoneLoss, stage: Stage, target: Areal, places: Sequence[Areal]
) -> tuple[list[Press], bool]:
    """What could be pressed to sweep some of the target: lost swaths, patches, lanes; and whether that is all of it."""
    coating, surface = zone.coating, zone.coating.zone.surface
    lost = [
        swath
        for swath in found.altered.swaths.get(coating.pk, ())
        if swath.pk in found.altered.stood and swath.feature_id is None and swath.run.stage == stage.name
    ]
    presses = {swath.said: swath.shape for swath in lost}
    presses |= {surface.describe_region(place): place for place in places}
    all_there = True
    for said in _lanes(coating, [swath.run for swath in lost], target):
        if said in presses:
            continue
        if len(presses) >= MOST_SWEEPS:
            all_there = False
            break
        try:
            presses[said] = surface.read_region(said)
        except PositionError:
            continue  # a curved or skewed outline leaves no ground in this lane
    shapely.prepare(target)
    near = [
        Press(said, areal(shape.intersection(target))) for said, shape in presses.items() if target.intersects(shape)
    ]
    return [press for press in near if press.shape.area > SMALLEST], all_there


def _lanes(coating: Coating, runs: Sequence[Run], target: Areal) -> Iterator[str]:
    """How the lanes of the bays that hold some of the target are said, for each electrode that swept what is lost."""
    zone, surface = coating.zone, coating.zone.surface
    widths = sorted({run.electrode.width for run in runs if run.electrode is not None}, reverse=True)
    bays = bays_of(zone) if widths and surface.has_lanes else []
    near = [bay for bay in bays if not bay.said or not surface.read_region(bay.said).disjoint(target)]
    for width in widths:
        for bay in near:
            for said, _ in lanes_of(surface, bay, width, min(coating.terms.electrode_overlap, width / 2)):
                yield said


# Features and spots


def _features(zone: ZoneLoss) -> Iterator[FeatureLoss]:
    """Which features to sweep again: each is one sweep, so of a share asked for the longest are the fewest."""
    asked = {(row.stage, row.measure): row for row in zone.then.facts.features}
    turned = {turn.after.code for turn in zone.gates}
    was_green = {gate.code for gate in zone.now.gates if gate.state == "green"}
    for measure in ("line", "count"):
        mine = [loss for loss in zone.features if loss.again and loss.feature.is_line == (measure == "line")]
        for stage in dict.fromkeys(loss.stage for loss in mine):
            row = asked.get((stage, measure))
            short = row.required_percent / 100 * row.testable - row.stands if row else 0.0
            whole = "features" not in was_green or (row is not None and row.required_percent >= 100)
            for loss in sorted(mine, key=lambda each: -each.amount):
                if loss.stage == stage and (whole or ("features" in turned and short > 1e-9)):
                    yield loss
                    short -= loss.amount


def _spots(found: WhatIf, zone: ZoneLoss) -> tuple[tuple[Spot, ...], bool]:
    """The fewest spots to take again so that thickness is accepted again, if they read as before; and whether proven."""
    if "thickness" not in {turn.after.code for turn in zone.gates}:
        return (), True
    coating = zone.coating
    taken = found.rows.spots.get(coating.pk, ())
    fell = [spot for spot in taken if spot.pk in zone.spots]

    def accepted(kept: frozenset[UUID]) -> bool:
        rows = [spot for spot in taken if spot.pk not in zone.spots or spot.pk in kept]
        film = replace(found.altered.rows, spots={coating.pk: rows})
        verdict = judgement_of(coating, film, coating.terms.final_stage, zone.now.testable_m2)
        return verdict is not None and verdict.verdict == "accepted"

    if len(fell) <= ALL_TRIED:
        for size in range(1, len(fell) + 1):
            for some in combinations(fell, size):
                if accepted(frozenset(spot.pk for spot in some)):
                    return some, True
    kept = [spot.pk for spot in fell]
    for pk in list(kept):
        if accepted(frozenset(kept) - {pk}):
            kept.remove(pk)
    return tuple(spot for spot in fell if spot.pk in kept), len(kept) == 1
