"""What the gates look at, gathered from the rows: the facts, since when, and who stands behind each with which date."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.wording import say
from inspections.asking import Asked
from inspections.coatings import Coating
from inspections.film_judgement import FilmJudgement
from inspections.flaws import FlawKind
from inspections.noted_runs import chain_of
from inspections.runs import Run
from mapping.density import ContractVerdict
from repairs.counting import FlawPicture
from repairs.feature_gate import FeatureCoverage
from repairs.gate_facts import Concession as Conceded
from repairs.gate_facts import Evidence, Facts, PatchFact, StageCoverage
from repairs.gathered import Gathered, Word
from repairs.ground import GroundPicture, TestableGround
from repairs.packs import PatchPicture
from repairs.run_gate import OpenPermit
from repairs.state import FlawStatus, gate_state
from repairs.work import Step


@dataclass(frozen=True)
class Seen:
    """What the picture has worked out already and the gates judge."""

    at: datetime
    grounds: Sequence[tuple[str, float, GroundPicture]]
    testable: TestableGround
    flaws: Sequence[FlawPicture]
    patches: Sequence[PatchPicture]
    contract: ContractVerdict | None
    thickness: FilmJudgement | None
    features: tuple[FeatureCoverage, ...] = ()


def facts_of(coating: Coating, rows: Gathered, seen: Seen) -> Facts:
    """The facts of every gate."""
    runs = [run for run in rows.runs.get(coating.pk, ()) if not run.is_struck]
    sheets = rows.sheets.get(coating.pk, ())
    open_swaths = rows.open_swaths.get(coating.pk, ())
    open_runs = [run for run in runs if run.closed_at is None]
    unanswered = [each for each in rows.asked.get(coating.pk, ()) if each.is_open]
    out = [sheet for sheet in sheets if sheet.is_out]
    unlooked = [flaw for flaw in seen.flaws if _unlooked(flaw)]
    loose = [flaw for flaw in seen.flaws if flaw.is_open and flaw.patch_id is None]
    failed = seen.thickness is not None and seen.thickness.verdict == "not accepted"
    spots = rows.spots.get(coating.pk, ())
    waiting = [patch for patch in seen.patches if patch.whose is not None]
    since = {
        "runs_closed": _first(run.opened_at for run in open_runs),
        "sheets": _first(sheet.taken_at for sheet in out),
        "nothing_open": _first(ended_at for _, ended_at in open_swaths),
        "questions": _first(each.question.since for each in unanswered),
        "exclusions": _first(row.drawn_at for row in seen.testable.undecided),
        "coverage": coating.begun_at if any(picture.holes for _, _, picture in seen.grounds) else None,
        "features": coating.begun_at if any(row.missing or not row.marked for row in seen.features) else None,
        "classified": _first(flaw.found_at for flaw in unlooked),
        "contract": _first(flaw.found_at for flaw in seen.flaws if flaw.counted),
        "thickness": spots[-1].at if failed and spots else coating.begun_at if seen.thickness else None,
        "patches": _first([flaw.found_at for flaw in loose] + [patch.since for patch in waiting if patch.since]),
    }
    return Facts(
        now=seen.at,
        coverage=tuple(_stage_coverage(*row) for row in seen.grounds),
        features=seen.features,
        held_swaths=sum(standing == "held" for standing, _ in open_swaths),
        pending_swaths=sum(standing == "pending" for standing, _ in open_swaths),
        open_questions=tuple(_about(each) for each in unanswered),
        basis_questions=tuple((run.label, question.line) for run in runs for question in rows.basis.get(run.pk, ())),
        open_runs=tuple(run.label for run in open_runs),
        permits=tuple(
            OpenPermit(run.label, chain[-1].name, chain[-1].expires_at)
            for run in open_runs
            if (chain := chain_of(run, rows.permits.get(coating.pk, ())))
        ),
        sheets_out=tuple(sheet.letter for sheet in out),
        undecided_exclusions=tuple(row.said for row in seen.testable.undecided),
        unclassified_flaws=tuple(flaw.tag for flaw in unlooked),
        loose_flaws=tuple(flaw.tag for flaw in loose),
        patches=tuple(
            PatchFact(str(patch.number), state) for patch in seen.patches if (state := gate_state(patch.state))
        ),
        contract=seen.contract,
        thickness=seen.thickness,
        cured_at=_cured_at(coating, seen.patches),
        evidence=_evidence(coating, rows, seen, runs),
        since={code: time for code, time in since.items() if time is not None},
        concessions={
            row.gate: Conceded(row.owner.name, row.at, row.reason)
            for row in rows.concessions.get(coating.pk, ())
            if row.gate
        },
    )


def _about(asked: Asked) -> str:
    return asked.run.label if asked.run else say(asked.question.kind.title)


def _unlooked(flaw: FlawPicture) -> bool:
    return flaw.kind == FlawKind.INDICATION and flaw.status != FlawStatus.STRUCK and flaw.same_as is None


def _stage_coverage(stage: str, required: float, picture: GroundPicture) -> StageCoverage:
    return StageCoverage(
        stage=stage,
        seen=picture.seen,
        required_percent=required,
        testable_m2=picture.testable_m2,
        stands_m2=picture.tested_m2,
        held_m2=picture.held_m2,
        pending_m2=picture.pending_m2,
        lost_m2=picture.lost_m2,
        gap_m2=picture.gap_m2,
        holes=picture.holes,
    )


def _evidence(coating: Coating, rows: Gathered, seen: Seen, runs: Sequence[Run]) -> dict[str, tuple[Evidence, ...]]:
    """The last word on each gate. Where a gate asks nothing, who handed in the last sheet stands for that."""
    specification, sheets = coating.specification, rows.sheets.get(coating.pk, ())
    issued = Evidence(
        specification.issued_by.name,
        specification.issued_at,
        say("{specification} issued", specification=specification),
    )
    hand_in = _last(
        Evidence(sheet.person.name, at, say("{sheet} handed in", sheet=sheet))
        for sheet in sheets
        if (at := sheet.handed_in_at)
    )
    closed = _last(
        Evidence(run.recorder.name, run.closed_at, say("{run} closed", run=run)) for run in runs if run.closed_at
    )
    decided = _last(Evidence(row.by.name, row.at, say("exclusion decided")) for row in seen.testable.decisions)
    cured = [step for step in rows.steps.get(coating.pk, ()) if step.kind == Step.Kind.CURED]
    checked = _last(
        (
            *_latest(rows.checks.get(coating.pk, ()), say("check of the output")),
            *_latest(rows.rulings.get(coating.pk, ()), say("decision on ground")),
        )
    )
    answered = _last(
        Evidence(answer.by.name, answer.at, say("question answered"))
        for each in rows.asked.get(coating.pk, ())
        if (answer := each.answer)
    )
    spots = rows.spots.get(coating.pk, ())
    measured = (Evidence(spots[-1].sheet.person.name, spots[-1].at, say("thickness measured")),) if spots else ()
    settled = [
        Evidence(cycle.retester, cycle.settled_at, f"{patch.name} {say(str(cycle.outcome))}")
        for patch in seen.patches
        for cycle in patch.cycles
        if cycle.settled_at and cycle.retester
    ]
    settled += [
        Evidence(row.owner, row.at, say("{patch} conceded", patch=patch.name))
        for patch in seen.patches
        if (row := patch.conceded)
    ]
    return {
        "runs_closed": closed,
        "sheets": hand_in,
        "files": hand_in,
        "nothing_open": checked or closed,
        "questions": answered or closed,
        "exclusions": decided or hand_in,
        "coverage": closed,
        "features": closed if seen.features else (issued,),
        "classified": _latest(rows.looks.get(coating.pk, ()), say("flaw classified")) or hand_in,
        "contract": (issued, *closed),
        "thickness": measured if seen.thickness else (issued,),
        "patches": _last(settled) or hand_in,
        "cure": _last(Evidence(step.by.name, step.at, say("cured")) for step in cured[-1:]) or hand_in,
    }


def _latest(words: Sequence[Word], what: str) -> tuple[Evidence, ...]:
    return (Evidence(words[-1].by, words[-1].at, what),) if words else ()


def _last(found: Iterable[Evidence]) -> tuple[Evidence, ...]:
    last = max(found, key=lambda row: row.when, default=None)
    return (last,) if last else ()


def _first(times: Iterable[datetime]) -> datetime | None:
    return min(times, default=None)


def _cured_at(coating: Coating, patches: Sequence[PatchPicture]) -> datetime | None:
    """When the last coat put on any patch is through the cure asked for."""
    coated = [
        step.at for patch in patches for cycle in patch.cycles for step in cycle.steps if step.kind == Step.Kind.COATED
    ]
    return max(coated) + timedelta(hours=coating.terms.cure_before_retest_h) if coated else None
