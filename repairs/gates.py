"""The gates a coating passes before release: what is true, what is missing, whose turn it is.

A pure function over facts. No gate is green without a name and a date behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, NamedTuple

from accounts.wording import noted, say, say_many
from inspections.arithmetic import Line
from inspections.film_judgement import FilmJudgement
from mapping.density import ContractVerdict
from repairs.feature_gate import FeatureCoverage, judge_features
from repairs.film_gate import judge_thickness
from repairs.run_gate import OpenPermit, judge_runs

State = Literal["green", "red", "waits"]
Whose = Literal["crew", "contractor", "owner", "lead"]
WHOSE = (noted("crew"), noted("contractor"), noted("owner"), noted("lead"))
Seen = Literal["as found", "as left"]
SEEN = (noted("as found"), noted("as left"))
PatchState = Literal["to do", "begun", "ready for retest", "failed", "accepted", "conceded"]

# An untested part below this is summed up, not a hole in full coverage (m2).
SMALLEST_PART_M2 = 1e-4


class Evidence(NamedTuple):
    """Who stood for it, when, and what it was."""

    who: str
    when: datetime
    what: str


class Concession(NamedTuple):
    """The owner's decision to let a gate that is not green pass."""

    who: str
    when: datetime
    because: str


@dataclass(frozen=True)
class StageCoverage:
    """Ground (m2) of one coat stage; the parts together are the testable area.

    required_percent 100 means full coverage: `holes` counts the connected untested parts (held,
    pending, lost or gap) of 1 cm2 or more.
    """

    stage: str
    seen: Seen
    required_percent: float
    testable_m2: float
    stands_m2: float
    held_m2: float
    pending_m2: float
    lost_m2: float
    gap_m2: float
    holes: int


@dataclass(frozen=True)
class PatchFact:
    """A patch by its spoken name (as painted or printed) and its state."""

    name: str
    state: PatchState


@dataclass(frozen=True)
class Facts:
    """All that the gates look at, for one coating.

    Parameters
    ----------
    now : for what depends on time.
    coverage : one row for each coat stage the specification asks coverage for.
    features : one row for each stage and measure that it asks coverage of welds, edges, nozzles or brackets for.
    held_swaths, pending_swaths : how many swaths are held, and pending.
    open_questions : for each question that is not answered, the run it is asked of, or what it is about.
    basis_questions : runs by label whose thickness readings are in question since, with what is in question.
    open_runs, sheets_out : names of test runs not closed and of field sheets not handed in
        (nor given up with a reason).
    permits : of the open runs that stand under one, until when it holds.
    undecided_exclusions, unclassified_flaws : by spoken name or tag.
    loose_flaws : tags of open flaws that count, in no patch, neither false indication nor conceded.
    patches : every patch of the coating.
    contract : the contract line; None when the specification states no limit.
    thickness : judgement of the finished film; None when the specification asks for none.
    files_awaited : evidence announced by a device that has not arrived.
    cured_at : when the last repair is cured; None when nothing has to cure.
    evidence, since, concessions : by gate code. since: when a gate last turned red.
    """

    now: datetime
    coverage: tuple[StageCoverage, ...]
    features: tuple[FeatureCoverage, ...] = ()
    held_swaths: int = 0
    pending_swaths: int = 0
    open_questions: tuple[str, ...] = ()
    basis_questions: tuple[tuple[str, Line], ...] = ()
    open_runs: tuple[str, ...] = ()
    permits: tuple[OpenPermit, ...] = ()
    sheets_out: tuple[str, ...] = ()
    undecided_exclusions: tuple[str, ...] = ()
    unclassified_flaws: tuple[str, ...] = ()
    loose_flaws: tuple[str, ...] = ()
    patches: tuple[PatchFact, ...] = ()
    contract: ContractVerdict | None = None
    thickness: FilmJudgement | None = None
    files_awaited: int = 0
    cured_at: datetime | None = None
    evidence: Mapping[str, tuple[Evidence, ...]] = field(default_factory=dict)
    since: Mapping[str, datetime] = field(default_factory=dict)
    concessions: Mapping[str, Concession] = field(default_factory=dict)


@dataclass(frozen=True)
class Gate:
    """One gate. whose is None when it is nobody's turn; since is None when not known."""

    code: str
    name: str
    state: State
    sentence: str
    whose: Whose | None
    since: datetime | None
    evidence: tuple[Evidence, ...]


class _Finding(NamedTuple):
    state: State
    sentence: str
    whose: Whose | None = None


def square_metres(area_m2: float) -> str:
    """Return an area in words, e.g. '21.4 m²'; what would read as zero keeps its square cm."""
    if 0 < area_m2 < 0.05:
        return say("{area_m2:.0f} cm²", area_m2=area_m2 * 1e4) if area_m2 >= SMALLEST_PART_M2 else say("under 1 cm²")
    return f"{area_m2:.1f} m²"


def gates(facts: Facts, area: Callable[[float], str] = square_metres) -> list[Gate]:
    """Judge every gate, in the order in which they are usually reached.

    `area` puts an area in m2 into the reader's words. A gate that passes but has no evidence is
    red: no green without a date and a name. A concession turns any gate that is not green into
    green and says so; it stays listed as the gate's evidence.
    """
    return [_gate(code, say(name), judge(facts, area), facts) for code, name, judge in _GATES]


def may_release(judged: list[Gate]) -> bool:
    """Say whether every gate is green."""
    return bool(judged) and all(gate.state == "green" for gate in judged)


def _gate(code: str, name: str, finding: _Finding, facts: Facts) -> Gate:
    evidence = facts.evidence.get(code, ())
    since = facts.since.get(code)
    if finding.state == "green" and not evidence:
        sentence = say("{sentence} But no name and date stand behind it yet.", sentence=finding.sentence)
        finding = _Finding("red", sentence, "lead")
    if finding.state != "green" and (conceded := facts.concessions.get(code)):
        because = conceded.because.rstrip(". ")
        sentence = say("Conceded because {because}. {finding}", because=because, finding=finding.sentence)
        proof = (
            *evidence,
            Evidence(conceded.who, conceded.when, say("conceded because {because}", because=because)),
        )
        return Gate(code, name, "green", sentence, None, conceded.when, proof)
    if finding.state == "green":
        since = max(row.when for row in evidence)
    return Gate(code, name, finding.state, finding.sentence, finding.whose, since, evidence)


def _coverage(facts: Facts, area: Callable[[float], str]) -> _Finding:
    if not facts.coverage:
        return _Finding("red", say("No coverage is recorded."), "crew")
    short = [row for row in facts.coverage if not _covered(row)]
    if not short:
        done = "; ".join(
            say(
                "{stage}: {area} of {area_2} tested, {seen}",
                stage=row.stage,
                area=area(row.stands_m2),
                area_2=area(row.testable_m2),
                seen=say(row.seen),
            )
            if row.testable_m2
            else say("{stage}: nothing to test", stage=row.stage)
            for row in facts.coverage
        )
        return _Finding("green", f"{_capital(done)}.")
    sentence = " ".join(_capital(_short_words(row, area)) for row in short)
    if any(row.gap_m2 >= SMALLEST_PART_M2 or row.lost_m2 >= SMALLEST_PART_M2 for row in short):
        return _Finding("red", sentence, "crew")
    held = any(row.held_m2 >= SMALLEST_PART_M2 for row in short)
    return _Finding("red", sentence, "owner" if held else "crew")


def _covered(row: StageCoverage) -> bool:
    if row.required_percent >= 100:
        return row.holes == 0
    return row.stands_m2 * 100 >= row.required_percent * row.testable_m2


def _short_words(row: StageCoverage, area: Callable[[float], str]) -> str:
    parts = (
        (row.gap_m2, say("never swept")),
        (row.lost_m2, say("lost")),
        (row.held_m2, say("held")),
        (row.pending_m2, say("pending")),
    )
    listed = ", ".join(f"{area(part)} {word}" for part, word in parts if part > 0)
    untested = area(sum(part for part, _ in parts))
    if row.required_percent >= 100:
        holes = say_many("{count} place", "{count} places", row.holes)
        return say(
            "{stage}, {seen}: {untested} not tested in {holes} ({listed}).",
            stage=row.stage,
            seen=say(row.seen),
            untested=untested,
            holes=holes,
            listed=listed,
        )
    share = 100 * row.stands_m2 / row.testable_m2
    return say(
        "{stage}, {seen}: {share:.1f} % tested, {required_percent:g} % asked ({listed}).",
        stage=row.stage,
        seen=say(row.seen),
        share=share,
        required_percent=row.required_percent,
        listed=listed,
    )


def _features(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    return _Finding(*judge_features(facts.features))


def _nothing_open(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    held, pending = facts.held_swaths, facts.pending_swaths
    if held:
        sentence = say_many("{count} swath is held for a decision", "{count} swaths are held for a decision", held)
        if pending:
            sentence += ", " + say_many("{count} waits for a check", "{count} wait for a check", pending)
        sentence += "."
        return _Finding("red", sentence, "owner")
    if pending:
        sentence = say_many(
            "{count} swath waits for the next check.", "{count} swaths wait for the next check.", pending
        )
        return _Finding("waits", sentence, "crew")
    return _Finding("green", say("Nothing is pending or held."))


def _questions(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.basis_questions:
        asked = "; ".join(say("run {run} {line}", run=run, line=str(line)) for run, line in facts.basis_questions[:5])
        sentence = say("{asked}: it has to be said what is to be done.", asked=_capital(asked))
        return _Finding("red", sentence, "lead")
    if facts.open_questions:
        sentence = say_many(
            "{count} question waits for an answer: {names}.",
            "{count} questions wait for an answer: {names}.",
            len(facts.open_questions),
            names=_names(list(dict.fromkeys(facts.open_questions))),
        )
        return _Finding("red", sentence, "lead")
    return _Finding("green", say("No question waits for an answer."))


def _runs_closed(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    return _Finding(*judge_runs(facts.open_runs, _names(facts.open_runs), facts.permits, facts.now))


def _exclusions(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.undecided_exclusions:
        sentence = say_many(
            "{count} exclusion waits for a decision: {names}.",
            "{count} exclusions wait for a decision: {names}.",
            len(facts.undecided_exclusions),
            names=_names(facts.undecided_exclusions),
        )
        return _Finding("red", sentence, "owner")
    return _Finding("green", say("Every exclusion is decided."))


def _classified(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.unclassified_flaws:
        sentence = say_many(
            "{count} indication is not yet looked at: {names}.",
            "{count} indications are not yet looked at: {names}.",
            len(facts.unclassified_flaws),
            names=_names(facts.unclassified_flaws),
        )
        return _Finding("red", sentence, "crew")
    return _Finding("green", say("Every flaw is classified."))


def _patches(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    by_state: dict[PatchState, list[str]] = {}
    for patch in facts.patches:
        by_state.setdefault(patch.state, []).append(patch.name)
    parts = []
    whose: Whose | None = None
    turns: tuple[tuple[PatchState, Whose], ...] = (
        ("to do", "contractor"),
        ("failed", "contractor"),
        ("begun", "contractor"),
        ("ready for retest", "crew"),
    )
    if facts.loose_flaws:
        loose = say_many(
            "{count} open flaw is in no patch", "{count} open flaws are in no patch", len(facts.loose_flaws)
        )
        parts.append(f"{loose}: {_names(facts.loose_flaws)}")
        whose = "lead"
    for state, turn in turns:
        if names := by_state.get(state):
            parts.append(f"{_in_state(state, len(names))}: {_names(names)}")
            whose = whose or turn
    if parts:
        return _Finding("red", f"{_capital('; '.join(parts))}.", whose)
    accepted = len(by_state.get("accepted", ()))
    conceded = len(by_state.get("conceded", ()))
    if not facts.patches:
        return _Finding("green", say("No patch is asked for, no flaw is open."))
    sentence = say_many("{count} patch accepted", "{count} patches accepted", accepted)
    if conceded:
        sentence += ", " + say_many("{count} conceded", "{count} conceded", conceded)
    return _Finding("green", f"{sentence}.")


def _in_state(state: PatchState, count: int) -> str:
    return {
        "to do": say_many("{count} patch not begun", "{count} patches not begun", count),
        "failed": say_many("{count} patch failed the retest", "{count} patches failed the retest", count),
        "begun": say_many("{count} patch begun", "{count} patches begun", count),
        "ready for retest": say_many("{count} patch ready for retest", "{count} patches ready for retest", count),
    }[state]


def _contract(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    line = facts.contract
    if line is None:
        return _Finding("green", say("The specification states no limit."))
    if line.verdict is None:
        return _Finding("waits", say("No verdict while nothing is tested."), "crew")
    flaws = say_many("{count} flaw found", "{count} flaws found", line.count)
    if line.verdict == "kept":
        return _Finding("green", say("{flaws}, {allowed} allowed.", flaws=flaws, allowed=line.allowed))
    return _Finding("red", say("{flaws}, only {allowed} allowed.", flaws=flaws, allowed=line.allowed), "owner")


def _thickness(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    return _Finding(*judge_thickness(facts.thickness))


def _sheets(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.sheets_out:
        sentence = say_many(
            "{count} field sheet is still out: {names}.",
            "{count} field sheets are still out: {names}.",
            len(facts.sheets_out),
            names=_names(facts.sheets_out),
        )
        return _Finding("red", sentence, "crew")
    return _Finding("green", say("All field sheets are handed in."))


def _files(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.files_awaited:
        sentence = say_many(
            "{count} photo or file has not arrived.", "{count} photos or files have not arrived.", facts.files_awaited
        )
        return _Finding("red", sentence, "crew")
    return _Finding("green", say("All photos and files have arrived."))


def _cure(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.cured_at is None:
        return _Finding("green", say("Nothing has to cure."))
    left = (facts.cured_at - facts.now).total_seconds()
    if left > 0:
        hours = f"{left / 3600:.1f} h" if left < 48 * 3600 else say("{left:.1f} days", left=left / 86400)
        return _Finding("waits", say("The last repair is cured in {hours}.", hours=hours))
    return _Finding("green", say("The last repair is cured."))


def _names(names: tuple[str, ...] | list[str], most: int = 5) -> str:
    listed = ", ".join(names[:most])
    return say("{listed} and {count} more", listed=listed, count=len(names) - most) if len(names) > most else listed


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


_Judge = Callable[[Facts, Callable[[float], str]], _Finding]
_GATES: tuple[tuple[str, str, _Judge], ...] = (
    ("runs_closed", noted("Test runs closed"), _runs_closed),
    ("sheets", noted("Field sheets handed in"), _sheets),
    ("files", noted("Evidence arrived"), _files),
    ("nothing_open", noted("Nothing pending or held"), _nothing_open),
    ("questions", noted("Questions answered"), _questions),
    ("exclusions", noted("Exclusions decided"), _exclusions),
    ("coverage", noted("Required coverage"), _coverage),
    ("features", noted("Welds, edges, nozzles, brackets"), _features),
    ("classified", noted("Flaws classified"), _classified),
    ("contract", noted("Contract line"), _contract),
    ("thickness", noted("Thickness accepted"), _thickness),
    ("patches", noted("Patches accepted or conceded"), _patches),
    ("cure", noted("Cure date passed"), _cure),
)
CODES: tuple[str, ...] = tuple(code for code, _, _ in _GATES)
NAMES: dict[str, str] = {code: name for code, name, _ in _GATES}
