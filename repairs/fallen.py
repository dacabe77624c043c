"""What would be if something did not count: a coating's rows without it, in memory. Writes nothing.

Standing, coverage, states and gates are worked out by the same functions as ever, on facts that leave out what fell.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from copy import copy
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.utils import timezone

from inspections import tested
from inspections.answers import Answer
from inspections.asking import asked_of
from inspections.instruments import Certificate
from inspections.questions import SPEED_CODES
from inspections.run_basis import basis_questions
from inspections.runs import Run, Standing, Swath
from repairs.gathered import Gathered
from repairs.trace import Trace, in_force
from repairs.trace_subjects import Found
from repairs.work import Cycle
from repairs.worked_out import along, coverage_rows, put_states, swept

PASSED = Cycle.Outcome.PASSED


@dataclass(frozen=True)
class Fallen:
    """What does not count any more, by id.

    uncalibrated: runs whose instrument has no certificate then. void: runs whose ground is lost outright. checks: not made.
    rulings: decisions on ground not made. spots and airs: not measured. undone: cycles whose repair does not hold. unsettled: cycles
    whose retest has to be done again.
    """

    uncalibrated: frozenset[UUID] = frozenset()
    void: frozenset[UUID] = frozenset()
    checks: frozenset[UUID] = frozenset()
    rulings: frozenset[UUID] = frozenset()
    spots: frozenset[UUID] = frozenset()
    airs: frozenset[UUID] = frozenset()
    undone: frozenset[UUID] = frozenset()
    unsettled: frozenset[UUID] = frozenset()


@dataclass(frozen=True)
class Altered:
    """The rows without what fell. `swaths` by coating are all that stand on it, as they would stand; `stood` is how those
    that changed stood before."""

    rows: Gathered
    swaths: Mapping[UUID, list[Swath]]
    stood: Mapping[UUID, str]


def fallen_of(trace: Trace) -> Fallen:
    """What falls with the subject of a trace, in its period."""
    if trace.subject.kind == "batch":
        return Fallen(undone=trace.ids("cycle", "batch"))
    if trace.subject.kind == "electrode":
        return Fallen(void=trace.ids("run", "electrode"))
    if trace.subject.kind == "person":
        return Fallen(
            void=trace.ids("run", "sweeper", "recorder"),
            rulings=trace.ids("decision"),
            spots=trace.ids("spot", "reader"),
            undone=trace.ids("cycle", "worker"),
            unsettled=trace.ids("cycle", "retester") | _needed_witness(trace),
        )
    vouched = _without_other_paper(trace)
    return Fallen(
        uncalibrated=frozenset(row.id for row in vouched if row.part == "detector"),
        checks=frozenset(row.id for row in vouched if row.leg == "check"),
        spots=frozenset(row.id for row in vouched if row.leg == "spot"),
        airs=frozenset(row.id for row in vouched if row.leg == "air"),
    )


def _without_other_paper(trace: Trace) -> list[Found]:
    """What an instrument did; of a certificate only where no other one was in force."""
    mine = [row for row in trace.found if row.leg in ("run", "check", "spot", "air")]
    if not isinstance(trace.subject.row, Certificate):
        return mine
    paper = trace.subject.row
    others = [each for each in paper.instrument.certificates.filter(struck_at=None) if each.pk != paper.pk]
    return [row for row in mine if in_force(others, trace.day_of(row)) is None]


def _needed_witness(trace: Trace) -> frozenset[UUID]:
    """Cycles that could be passed only because the person stood by: the firm that repaired retested or swept it."""
    rows = Cycle.objects.filter(pk__in=trace.ids("cycle", "witness")).select_related("retest__swath__run__recorder")
    return frozenset(
        row.pk
        for row in rows
        if row.worker_org_id in (row.retester_org_id, row.retest.swath.run.recorder.organisation_id)
    )


def altered(rows: Gathered, fallen: Fallen) -> Altered:
    """The rows of the gathered coatings as if what fell did not count."""
    runs = _judged_again(rows, fallen)
    swaths = _swaths(rows, runs)
    stood = _settle(runs, swaths, fallen)
    by_coating: dict[UUID, list[Swath]] = defaultdict(list)
    for swath in swaths:
        by_coating[swath.run.sheet.coating_id].append(swath)
    there = [run for some in rows.runs.values() for run in some]
    without = replace(
        rows,
        basis=basis_questions(there, without=fallen.spots) if fallen.spots else rows.basis,
        asked=asked_of(
            rows.coatings.values(),
            then={swath.pk: swath.standing for swath in swaths},
            without=fallen.checks | fallen.spots | fallen.airs,
        ),
        checks=_left(rows.checks, fallen.checks),
        rulings=_left(rows.rulings, fallen.rulings),
        spots=_left(rows.spots, fallen.spots),
        cycles={pk: [_cycle(cycle, fallen) for cycle in some] for pk, some in rows.cycles.items()},
    )
    return Altered(with_swaths(without, by_coating, set(stood)), by_coating, stood)


def with_swaths(rows: Gathered, by_coating: Mapping[UUID, list[Swath]], changed: set[UUID]) -> Gathered:
    """The rows with these swaths, and what follows from them; coverage only where a changed one reaches."""
    coverage = dict(rows.coverage)
    patches: dict[UUID, list[Any]] = {}
    for pk, coating in rows.coatings.items():
        swaths = by_coating.get(pk, [])
        touched = {
            (swath.run.stage, number)
            for swath in swaths
            if swath.pk in changed and swath.feature_id is None and swath.run.purpose == Run.Purpose.SURVEY
            for number in range(swath.stretch_low, swath.stretch_high + 1)
        }
        kept = [row for row in coverage.get(pk, ()) if (row.stage, row.stretch) not in touched]
        coverage[pk] = sorted([*kept, *coverage_rows(coating, swaths, touched)], key=lambda row: row.stretch)
        patches[pk] = [copy(patch) for patch in rows.patches.get(pk, ())]
        put_states(
            patches[pk],
            rows.cycles.get(pk, ()),
            rows.steps.get(pk, ()),
            rows.concessions.get(pk, ()),
            {swath.pk: swath.standing for swath in swaths},
        )
    return replace(
        rows,
        coverage=coverage,
        patches=patches,
        open_swaths=_by(by_coating, lambda some: [(s.standing, s.ended_at) for s in some if s.standing in OPEN]),
        retested=_by(by_coating, lambda some: swept(some, Run.Purpose.RETEST)),
        surveyed=_by(by_coating, lambda some: swept(some, Run.Purpose.SURVEY)),
        feature_sweeps=_by(by_coating, lambda some: [along(swath) for swath in some if swath.feature_id]),
    )


OPEN = (Standing.HELD, Standing.PENDING)


def _by(by_coating: Mapping[UUID, list[Swath]], of: Any) -> dict[UUID, Any]:
    return {pk: found for pk, some in by_coating.items() if (found := of(some))}


def _left(rows: Mapping[UUID, Any], gone: frozenset[UUID]) -> dict[UUID, Any]:
    return {pk: [row for row in some if row.pk not in gone] for pk, some in rows.items()}


def _cycle(cycle: Cycle, fallen: Fallen) -> Cycle:
    if cycle.pk in fallen.undone:
        cycle = copy(cycle)
        cycle.outcome = Cycle.Outcome.FAILED
    elif cycle.pk in fallen.unsettled and cycle.outcome == PASSED:
        cycle = copy(cycle)
        cycle._state.fields_cache["retest"] = None
    return cycle


def _judged_again(rows: Gathered, fallen: Fallen) -> dict[UUID, Run]:
    """The runs that have to be judged anew, each with what speaks for and against it; checks that fell are struck here."""
    there = {run.pk: run for some in rows.runs.values() for run in some if not run.is_struck}
    asked = fallen.uncalibrated | fallen.void
    found = Run.objects.filter(pk__in=there).select_related("recorder", "instrument", "electrode")
    reached = found.filter(verifications__in=fallen.checks) | found.filter(reinstatements__in=fallen.rulings)
    wanted = Run.objects.filter(pk__in=[*(asked & set(there)), *reached.values_list("pk", flat=True)])
    runs = wanted.select_related("recorder", "instrument", "electrode").prefetch_related(
        "instrument__certificates", "return_proofs", "verifications", "touch_tests", "events", "reinstatements"
    )
    now = timezone.now()
    for run in runs:
        run.sheet = there[run.pk].sheet
        run.sheet.coating = rows.coatings[run.sheet.coating_id]
        for check in run.verifications.all():
            check.struck_at = now if check.pk in fallen.checks else check.struck_at
        for ruling in run.reinstatements.all():
            # What was decided on the certificate of an instrument falls with the instrument.
            rests = run.pk in fallen.uncalibrated and ruling.grounds == ruling.Grounds.CERTIFICATE
            ruling.struck_at = now if rests or ruling.pk in fallen.rulings else ruling.struck_at
    return {run.pk: run for run in runs}


def _swaths(rows: Gathered, judged: Mapping[UUID, Run]) -> list[Swath]:
    """Every swath that stands on the coatings, each with its run: one query."""
    there = {run.pk: run for some in rows.runs.values() for run in some if not run.is_struck}
    found = list(
        Swath.objects.filter(run__sheet__coating__in=list(rows.coatings), run__struck_at=None, struck_at=None).order_by(
            "ended_at", "pk"
        )
    )
    for swath in found:
        swath.run = judged.get(swath.run_id, there[swath.run_id])
    return found


def _settle(runs: Mapping[UUID, Run], swaths: Iterable[Swath], fallen: Fallen) -> dict[UUID, str]:
    """Put each swath's standing by what is left of its run; how those that changed stood before."""
    mine: dict[UUID, list[Swath]] = {pk: [] for pk in runs}
    for swath in swaths:
        if swath.run_id in mine:
            mine[swath.run_id].append(swath)
    answers = Answer.objects.filter(run__in=runs, code__in=SPEED_CODES).order_by("at", "pk")
    said = dict(answers.values_list("key", "verdict"))
    stood: dict[UUID, str] = {}
    for pk, run in runs.items():
        facts = tested.facts_of(run)
        if pk in fallen.uncalibrated:
            facts = replace(facts, instrument_in_calibration=False)
        judged = tested.judge_by(run, mine[pk], facts, said)
        for swath in mine[pk]:
            standing = Standing.LOST if pk in fallen.void else judged[swath.pk].standing
            if standing != swath.standing:
                stood[swath.pk] = swath.standing
                swath.standing = standing
    return stood
