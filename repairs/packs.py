"""Patches of a coating for readers: state and since when, whose turn, steps, and the window of what comes next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple
from uuid import UUID

from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from inspections.coatings import Coating
from inspections.terms import Terms
from repairs import timing
from repairs.gate_facts import Whose
from repairs.gathered import Gathered
from repairs.state import PatchState
from repairs.windows import NextStep
from repairs.work import Cycle, Patch, Step

if TYPE_CHECKING:
    from repairs.state import StatedPatch

_WHOSE: dict[PatchState, Whose] = {
    PatchState.TO_DO: "contractor",
    PatchState.BEGUN: "contractor",
    PatchState.FAILED: "contractor",
    PatchState.READY: "crew",
    PatchState.REOPENED: "crew",
    PatchState.RETEST_WAITS: "crew",
}
_WORKING = frozenset({PatchState.TO_DO, PatchState.BEGUN, PatchState.FAILED, PatchState.READY})


@dataclass(frozen=True)
class StepPicture:
    """A recorded step; films in um. warning says what was outside its window or turn ("" when nothing was)."""

    id: UUID
    cycle: int
    kind: str
    words: str
    coat: int | None
    at: datetime
    by: str
    organisation: str
    product: str
    batch: str
    mixed_at: datetime | None
    wet: float | None
    dry: float | None
    note: str
    warning: str


@dataclass(frozen=True)
class CyclePicture:
    """A round of repair and retest. swath_id is the retest's swath once it is settled by one."""

    id: UUID
    number: int
    opened_at: datetime
    outcome: str | None
    settled_at: datetime | None
    retester: str
    retester_organisation: str
    witness: str
    note: str
    swath_id: UUID | None
    steps: tuple[StepPicture, ...]


class Conceded(NamedTuple):
    """The owner's concession of a patch."""

    id: UUID
    owner: str
    at: datetime
    reason: str


@dataclass(frozen=True)
class PatchPicture:
    """One standing patch. next is what comes next with its window; None when no work is due. since: when it came into
    its state, None when that is not known. retest_place: what to sweep, for a patch that waits for its retest.
    """

    coating: Coating
    id: UUID
    number: int
    name: str
    state: PatchState
    label: str
    since: datetime | None
    whose: Whose | None
    said: str
    area_m2: float
    shape: BaseGeometry
    contractor_id: UUID
    contractor: str
    issued_at: datetime
    issued_by: str
    flaws: tuple[str, ...]
    cycles: tuple[CyclePicture, ...]
    failures: int
    limit_reached: bool
    next: NextStep | None
    retest_from: datetime | None
    conceded: Conceded | None

    @cached_property
    def retest_place(self) -> str:
        return retest_place(self.coating, self.shape) if self.whose == "crew" else ""

    @property
    def cycle(self) -> CyclePicture | None:
        return self.cycles[-1] if self.cycles else None


def patches_of(coating: Coating, rows: Gathered, at: datetime) -> tuple[PatchPicture, ...]:
    """The coating's standing patches by number, their windows as seen at `at`."""
    patched = {link.flaw_id: link.patch_id for link in rows.links.get(coating.pk, ())}
    tags: dict[UUID, list[str]] = defaultdict(list)
    for flaw in sorted(rows.flaws.get(coating.pk, ()), key=lambda flaw: (flaw.sheet.letter, flaw.number)):
        if flaw.pk in patched:
            tags[patched[flaw.pk]].append(flaw.tag)
    steps: dict[UUID, list[Step]] = defaultdict(list)
    for step in rows.steps.get(coating.pk, ()):
        steps[step.cycle_id].append(step)
    cycles: dict[UUID, list[Cycle]] = defaultdict(list)
    for cycle in rows.cycles.get(coating.pk, ()):
        cycles[cycle.patch_id].append(cycle)
    conceded = {
        row.patch_id: Conceded(row.pk, row.owner.name, row.at, row.reason)
        for row in rows.concessions.get(coating.pk, ())
        if row.patch_id
    }
    return tuple(
        _patch(coating, patch, tags[patch.pk], cycles[patch.pk], steps, conceded.get(patch.pk), at)
        for patch in rows.patches.get(coating.pk, ())
        if not patch.is_struck
    )


def retest_place(coating: Coating, shape: BaseGeometry) -> str:
    """Where to sweep at the retest: the patch with the margin that the work around it took away, as spoken."""
    surface = coating.zone.surface
    return surface.describe_region(surface.with_margin(shape, coating.terms.as_left_margin))


def _patch(
    coating: Coating,
    patch: StatedPatch,
    tags: Sequence[str],
    cycles: Sequence[Cycle],
    steps: dict[UUID, list[Step]],
    conceded: Conceded | None,
    at: datetime,
) -> PatchPicture:
    terms = coating.terms
    state = PatchState(patch.state)
    last = cycles[-1] if cycles else None
    current = steps[last.pk] if last and last.outcome is None else []
    failures = sum(cycle.outcome == Cycle.Outcome.FAILED for cycle in cycles)
    return PatchPicture(
        coating=coating,
        id=patch.pk,
        number=patch.number,
        name=str(patch),
        state=state,
        label=str(state.label),
        since=_since(patch, state, last, current, conceded),
        whose=_WHOSE.get(state),
        said=patch.said,
        area_m2=patch.area,
        shape=patch.shape,
        contractor_id=patch.contractor_id,
        contractor=patch.contractor.name,
        issued_at=patch.issued_at,
        issued_by=patch.issued_by.name,
        flaws=tuple(tags),
        cycles=tuple(_cycle(cycle, terms, steps[cycle.pk]) for cycle in cycles),
        failures=failures,
        limit_reached=terms.cycle_limit is not None and failures >= terms.cycle_limit,
        next=timing.next_of(terms, current, at) if state in _WORKING else None,
        retest_from=timing.retest_from(terms, current),
        conceded=conceded,
    )


def _since(
    patch: Patch, state: PatchState, last: Cycle | None, current: Sequence[Step], conceded: Conceded | None
) -> datetime | None:
    if state == PatchState.CONCEDED and conceded:
        return conceded.at
    if state == PatchState.READY:
        return max(step.at for step in current if step.kind == Step.Kind.HANDED_OVER)
    if state == PatchState.BEGUN:
        return current[0].at
    if state == PatchState.FAILED and last:
        return last.opened_at if last.outcome is None else last.settled_at
    if state in (PatchState.ACCEPTED, PatchState.RETEST_WAITS) and last:
        return last.settled_at
    if state == PatchState.TO_DO:
        return last.settled_at if last else patch.issued_at
    return None


def _cycle(cycle: Cycle, terms: Terms, steps: Sequence[Step]) -> CyclePicture:
    warnings = timing.warnings(terms, steps)
    return CyclePicture(
        id=cycle.pk,
        number=cycle.number,
        opened_at=cycle.opened_at,
        outcome=cycle.outcome,
        settled_at=cycle.settled_at,
        retester=cycle.retester.name if cycle.retester else "",
        retester_organisation=cycle.retester_org.name if cycle.retester_org else "",
        witness=cycle.witness.name if cycle.witness else "",
        note=cycle.note,
        swath_id=cycle.retest.swath_id if hasattr(cycle, "retest") else None,
        steps=tuple(
            StepPicture(
                id=step.pk,
                cycle=cycle.number,
                kind=step.kind,
                words=_words(step, terms),
                coat=step.coat,
                at=step.at,
                by=step.by.name,
                organisation=step.organisation.name,
                product=step.product,
                batch=step.batch,
                mixed_at=step.mixed_at,
                wet=step.wet,
                dry=step.dry,
                note=step.note,
                warning=warnings.get(done, ""),
            )
            for step, done in zip(steps, timing.done(steps), strict=True)
        ),
    )


def _words(step: Step, terms: Terms) -> str:
    if step.kind == Step.Kind.COATED and step.coat and step.coat <= len(terms.repair_coats):
        return say("coat {coat}, {name}", coat=step.coat, name=terms.repair_coats[step.coat - 1].name)
    return str(Step.Kind(step.kind).label)
