"""What the gates would say once something was swept, repaired, measured and settled again, in memory. Writes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace
from typing import Literal, NamedTuple
from uuid import UUID

import shapely

from accounts.ids import new_id
from inspections import tested
from inspections.asking import Asked
from inspections.coatings import Coating, Spot
from inspections.runs import Run, Standing, Swath
from mapping.features import Feature
from mapping.surfaces.plane import Areal
from repairs.fallen import with_swaths
from repairs.gates import Gate
from repairs.packs import PatchPicture
from repairs.picture import pictures_from
from repairs.what_if import FeatureLoss, WhatIf, ZoneLoss
from repairs.work import Cycle, Retest

Purpose = Literal["survey", "retest"]


class Again(NamedTuple):
    """One sweep to make: how its press is said, how the part of it that is needed, its shape and m2, patches it retests."""

    purpose: Purpose
    said: str
    part_said: str
    shape: Areal
    area_m2: float
    patches: tuple[PatchPicture, ...]


def asked_anew(found: WhatIf, zone: ZoneLoss) -> list[Asked]:
    """Questions that would be open and are not now."""
    pk = zone.coating.pk
    before = {each.question.key for each in found.rows.asked.get(pk, ()) if each.is_open}
    return [each for each in found.altered.rows.asked.get(pk, ()) if each.is_open and each.question.key not in before]


def standing_retests(found: WhatIf, zone: ZoneLoss) -> dict[UUID, Swath]:
    """Patches whose last retest still stands though it is not settled any more, each with the swath of it."""
    swaths = {swath.pk: swath for swath in found.altered.swaths.get(zone.coating.pk, ())}
    there = {}
    for turn in zone.patches:
        last = turn.patch.cycle
        swath = swaths.get(last.swath_id) if last and last.swath_id and not turn.repair else None
        if swath is not None and swath.standing == Standing.STANDS:
            there[turn.patch.id] = swath
    return there


def gates_after(
    found: WhatIf,
    zone: ZoneLoss,
    sweeps: Sequence[tuple[str, Again]],
    features: Sequence[FeatureLoss],
    spots: Sequence[Spot],
) -> tuple[Gate, ...]:
    """The gates of the zone once these sweeps, each of a coat stage, and all the rest are done and stand."""
    rows, coating = found.altered.rows, zone.coating
    pk = coating.pk
    swaths = list(found.altered.swaths.get(pk, ()))
    changed: set[UUID] = set()
    retests = standing_retests(found, zone)
    for stage, sweep in sweeps:
        swath = _swath(found, coating, stage, sweep.purpose, sweep.shape)
        retests |= {patch.id: swath for patch in sweep.patches}
        swaths.append(swath)
        changed.add(swath.pk)
    for loss in features:
        swath = _swath(found, coating, loss.stage, "survey", shapely.Polygon(), loss.feature)
        swath.along = [list(part) for part in loss.parts] if loss.feature.is_line else []
        swaths.append(swath)
    again, answered = {spot.pk for spot in spots}, asked_anew(found, zone)
    kept = {spot.pk for spot in rows.spots.get(pk, ())} | again
    only = replace(
        rows,
        coatings={pk: coating},
        basis=found.rows.basis,
        asked={pk: [each for each in rows.asked.get(pk, ()) if each not in answered]},
        spots={pk: [spot for spot in found.rows.spots.get(pk, ()) if spot.pk in kept]},
        cycles={pk: [*rows.cycles.get(pk, ()), *_cycles(found, coating, retests)]},
    )
    (picture,) = pictures_from(with_swaths(only, {pk: swaths}, changed), found.at)
    return picture.gates


def _swath(
    found: WhatIf, coating: Coating, stage: str, purpose: Purpose, shape: Areal, feature: Feature | None = None
) -> Swath:
    """A swath that would be made now and would stand."""
    run = Run(stage=stage, purpose=purpose, method=coating.terms.method)
    swath = Swath(id=new_id(), run=run, shape=shape, area=shape.area, feature=feature, standing=Standing.STANDS)
    swath.started_at = swath.ended_at = found.at
    if feature is None:
        swath.stretch_low, swath.stretch_high = tested.stretch_range(coating.zone.surface, shape)
    return swath


def _cycles(found: WhatIf, coating: Coating, retests: Mapping[UUID, Swath]) -> Iterator[Cycle]:
    """A round of each patch that would be passed by its sweep."""
    patches = {patch.pk: patch for patch in found.rows.patches.get(coating.pk, ())}
    for pk, swath in retests.items():
        last = max((each.number for each in found.rows.cycles.get(coating.pk, ()) if each.patch_id == pk), default=0)
        cycle = Cycle(
            patch=copy(patches[pk]),
            number=last + 1,
            outcome=Cycle.Outcome.PASSED,
            settled_at=found.at,
            retester=coating.specification.issued_by,  # somebody: a gate asks for a name behind it
            retester_org=coating.zone.asset.organisation,
        )
        cycle._state.fields_cache["retest"] = Retest(cycle=cycle, swath=swath)
        yield cycle
