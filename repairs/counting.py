"""Flaws of a coating for readers: status, which count as found at a coat stage, and why the others do not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from math import hypot, sqrt
from uuid import UUID

import numpy as np
import shapely
from scipy.spatial import cKDTree  # type: ignore[import-untyped]
from shapely.geometry.base import BaseGeometry

from accounts.wording import noted, say
from inspections.coatings import Coating
from inspections.flaws import NEVER_COUNT, Flaw, FlawKind
from inspections.runs import Run
from inspections.terms import METHODS, Terms
from mapping.density import ContractLimit, Sides
from mapping.surfaces import Surface
from repairs.gathered import Gathered
from repairs.state import OPEN_STATUSES, FlawStatus, PatchState, flaw_status

Marks = Mapping[UUID, tuple[str, ...]]

_PURPOSE_WORDS: Mapping[str, str] = {
    Run.Purpose.AUDIT: noted("found by an audit"),
    Run.Purpose.RETEST: noted("found at a retest"),
    Run.Purpose.VISUAL: noted("found in a visual run"),
}


@dataclass(frozen=True)
class FlawPicture:
    """One flaw. Sizes and give_or_take in m, depth in um. why_not says why it is not counted ("" when it is).

    marks are what a doubtful test leaves on it ("may be made by the test", "unconfirmed").
    same_as is the tag of the flaw it repeats, by a person's word or by nearness; such a flaw is never open by itself.
    """

    id: UUID
    tag: str
    said: str
    x: float
    y: float
    give_or_take: float
    size_x: float
    size_y: float
    depth: float | None
    kind: str
    kind_label: str
    found_by: str
    found_at: datetime
    run_id: UUID
    run_label: str
    purpose: str
    stage: str
    status: FlawStatus
    patch_id: UUID | None
    patch_number: int | None
    same_as: str | None
    counted: bool
    why_not: str
    marks: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        return self.status in OPEN_STATUSES and self.same_as is None


def flaws_of(
    coating: Coating, gathered: Gathered, stage: str, standing: BaseGeometry, marks: Marks
) -> tuple[FlawPicture, ...]:
    """Every flaw of the coating in order of finding; `standing` is the standing ground as found at the stage."""
    rows = gathered.flaws.get(coating.pk, ())
    if not rows:
        return ()
    shapely.prepare(standing)
    places = np.array([(row.x, row.y) for row in rows])
    inside = shapely.intersects_xy(standing, places[:, 0], places[:, 1])
    terms = coating.terms
    kinds = {word.about: FlawKind(word.kind) for word in gathered.looks.get(coating.pk, ())}
    by_pk = {patch.pk: patch for patch in gathered.patches.get(coating.pk, ())}
    patched = {link.flaw_id: by_pk[link.patch_id] for link in gathered.links.get(coating.pk, ())}
    states = {flaw: PatchState(patch.state) for flaw, patch in patched.items()}
    statuses = {
        row.pk: flaw_status(row.is_struck, kinds.get(row.pk, FlawKind.INDICATION), states.get(row.pk)) for row in rows
    }
    listed = []
    for row, covered in zip(rows, inside, strict=True):
        kind, patch = kinds.get(row.pk, FlawKind.INDICATION), patched.get(row.pk)
        why_not = _why_not(row, kind, terms, stage, bool(covered))
        listed.append(
            FlawPicture(
                id=row.pk,
                tag=row.tag,
                said=row.said,
                x=row.x,
                y=row.y,
                give_or_take=row.give_or_take,
                size_x=row.size_x,
                size_y=row.size_y,
                depth=row.depth,
                kind=kind.value,
                kind_label=str(kind.label),
                found_by=row.found_by,
                found_at=row.found_at,
                run_id=row.run_id,
                run_label=row.run.label,
                purpose=row.run.purpose,
                stage=row.run.stage,
                status=_status(row, statuses),
                patch_id=patch.pk if patch else None,
                patch_number=patch.number if patch else None,
                same_as=row.same_as.tag if row.same_as else None,
                counted=not why_not,
                why_not=why_not,
                marks=marks.get(row.pk, ()),
            )
        )
    return _merged(coating.zone.surface, listed)


def _status(row: Flaw, statuses: Mapping[UUID, FlawStatus]) -> FlawStatus:
    """A flaw that is the same as another is repaired with it."""
    own = statuses[row.pk]
    return statuses[row.same_as_id] if row.same_as_id and own == FlawStatus.OPEN else own


def _why_not(row: Flaw, kind: FlawKind, terms: Terms, stage: str, covered: bool) -> str:
    """Why a flaw does not count as found at the stage; empty when it does."""
    if row.struck_at is not None:
        return say("struck out")
    if row.same_as is not None:
        return say("the same as {tag}", tag=row.same_as.tag)
    if not _kind_counts(kind, terms):
        return say("{kind} does not count", kind=kind.label)
    if row.run.purpose != Run.Purpose.SURVEY:
        return say(_PURPOSE_WORDS[row.run.purpose])
    if row.run.stage != stage:
        return say("found at the stage {stage}", stage=row.run.stage)
    if row.found_by == Flaw.FoundBy.GAUGE or (terms.method != "visual" and row.found_by != Flaw.FoundBy.ELECTRICAL):
        return say("found by {found_by} means", found_by=row.get_found_by_display())
    if row.run.method != terms.method:
        return say(
            "found by {method}, {asked} is specified",
            method=say(METHODS[row.run.method]),
            asked=say(METHODS[terms.method]),
        )
    if row.run.struck_at is not None:
        return say("its run is struck out")
    return "" if covered else say("outside standing coverage")


def _kind_counts(kind: str, terms: Terms) -> bool:
    """An indication not yet looked at always counts."""
    if kind == FlawKind.INDICATION:
        return True
    return kind not in NEVER_COUNT if terms.counting_kinds is None else kind in terms.counting_kinds


def _merged(surface: Surface, listed: list[FlawPicture]) -> tuple[FlawPicture, ...]:
    """Counted flaws of different runs nearer than their joint uncertainty are one: the first found counts."""
    counted = [index for index, flaw in enumerate(listed) if flaw.counted]
    if len({listed[index].run_id for index in counted}) < 2:
        return tuple(listed)
    for index, first in _found_again(surface, [listed[index] for index in counted]).items():
        again, original = listed[counted[index]], listed[counted[first]]
        why_not = say("found again within the joint uncertainty: the same as {tag}", tag=original.tag)
        # One that is repaired or conceded speaks for itself only: what is found there afterwards is open.
        same_as = original.tag if original.is_open else again.same_as
        listed[counted[index]] = replace(again, counted=False, same_as=same_as, why_not=why_not)
    return tuple(listed)


def _found_again(surface: Surface, flaws: list[FlawPicture]) -> dict[int, int]:
    """Index of each flaw found again -> index of the flaw it repeats; `flaws` in order of finding."""
    x, y = np.array([(flaw.x, flaw.y) for flaw in flaws]).T
    reach = sqrt(2) * max(flaw.give_or_take for flaw in flaws)
    pairs = cKDTree(surface.in_space(x, y)).query_pairs(reach, output_type="ndarray")
    repeats: dict[int, int] = {}
    for first, second in sorted(map(tuple, pairs.tolist())):
        one, other = flaws[first], flaws[second]
        if one.run_id == other.run_id or first in repeats or second in repeats:
            continue
        apart = float(surface.distance(one.x, one.y, other.x, other.y))
        if apart <= hypot(one.give_or_take, other.give_or_take):
            repeats[second] = first
    return repeats


def limit_of(terms: Terms) -> ContractLimit | None:
    """The specification's holiday limit as the contract line takes it."""
    limit = terms.holiday_limit
    return ContractLimit(limit.count, limit.per, limit.unit, limit.integer_rule) if limit else None  # type: ignore[arg-type]


def sides_of(terms: Terms) -> Sides:
    """By which bounds a sample demonstrates the specification's limit."""
    return terms.holiday_limit.bounds if terms.holiday_limit else "two-sided"  # type: ignore[return-value]
