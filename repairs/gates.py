"""The gates a coating passes before release: what is true, what is missing, whose turn it is.

A pure function over facts. No gate is green without a name and a date behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, NamedTuple

from accounts.wording import say
from inspections.thickness import ThicknessVerdict
from mapping.density import ContractVerdict
from repairs.feature_gate import FeatureCoverage, judge_features

State = Literal["green", "red", "waits"]
Whose = Literal["crew", "contractor", "owner", "lead"]
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
    seen: Literal["as found", "as left"]
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
    open_runs, sheets_out : names of test runs not closed and of field sheets not handed in
        (nor given up with a reason).
    undecided_exclusions, unclassified_flaws : by spoken name or tag.
    loose_flaws : tags of open flaws that count, in no patch, neither false indication nor conceded.
    patches : every patch of the coating.
    contract : the contract line; None when the specification states no limit.
    thickness : verdict; None when the specification asks for none.
    files_awaited : evidence announced by a device that has not arrived.
    cured_at : when the last repair is cured; None when nothing has to cure.
    evidence, since, concessions : by gate code. since: when a gate last turned red.
    """

    now: datetime
    coverage: tuple[StageCoverage, ...]
    features: tuple[FeatureCoverage, ...] = ()
    held_swaths: int = 0
    pending_swaths: int = 0
    open_runs: tuple[str, ...] = ()
    sheets_out: tuple[str, ...] = ()
    undecided_exclusions: tuple[str, ...] = ()
    unclassified_flaws: tuple[str, ...] = ()
    loose_flaws: tuple[str, ...] = ()
    patches: tuple[PatchFact, ...] = ()
    contract: ContractVerdict | None = None
    thickness: ThicknessVerdict | None = None
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
        return f"{area_m2 * 1e4:.0f} cm²" if area_m2 >= SMALLEST_PART_M2 else "under 1 cm²"
    return f"{area_m2:.1f} m²"


def gates(facts: Facts, area: Callable[[float], str] = square_metres) -> list[Gate]:
    """Judge every gate, in the order in which they are usually reached.

    `area` puts an area in m2 into the reader's words. A gate that passes but has no evidence is
    red: no green without a date and a name. A concession turns any gate that is not green into
    green and says so; it stays listed as the gate's evidence.
    """
    return [_gate(code, name, judge(facts, area), facts) for code, name, judge in _GATES]


def may_release(judged: list[Gate]) -> bool:
    """Say whether every gate is green."""
    return bool(judged) and all(gate.state == "green" for gate in judged)


def _gate(code: str, name: str, finding: _Finding, facts: Facts) -> Gate:
    evidence = facts.evidence.get(code, ())
    since = facts.since.get(code)
    if finding.state == "green" and not evidence:
        sentence = f"{finding.sentence} But no name and date stand behind it yet."
        finding = _Finding("red", sentence, "lead")
    if finding.state != "green" and (conceded := facts.concessions.get(code)):
        because = conceded.because.rstrip(". ")
        sentence = say("Conceded because {because}. {finding}", because=because, finding=finding.sentence)
        proof = (
            *evidence,
            Evidence(conceded.who, conceded.when, f"conceded because {because}"),
        )
        return Gate(code, name, "green", sentence, None, conceded.when, proof)
    if finding.state == "green":
        since = max(row.when for row in evidence)
    return Gate(code, name, finding.state, finding.sentence, finding.whose, since, evidence)


def _coverage(facts: Facts, area: Callable[[float], str]) -> _Finding:
    if not facts.coverage:
        return _Finding("red", "No coverage is recorded.", "crew")
    short = [row for row in facts.coverage if not _covered(row)]
    if not short:
        done = "; ".join(
            f"{row.stage}: {area(row.stands_m2)} of {area(row.testable_m2)} tested, {row.seen}"
            if row.testable_m2
            else f"{row.stage}: nothing to test"
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
        (row.gap_m2, "never swept"),
        (row.lost_m2, "lost"),
        (row.held_m2, "held"),
        (row.pending_m2, "pending"),
    )
    listed = ", ".join(f"{area(part)} {word}" for part, word in parts if part > 0)
    untested = area(sum(part for part, _ in parts))
    if row.required_percent >= 100:
        holes = _count(row.holes, "place", "places")
        return f"{row.stage}, {row.seen}: {untested} not tested in {holes} ({listed})."
    share = 100 * row.stands_m2 / row.testable_m2
    return f"{row.stage}, {row.seen}: {share:.1f} % tested, {row.required_percent:g} % asked ({listed})."


def _features(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    return _Finding(*judge_features(facts.features))


def _nothing_open(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    held, pending = facts.held_swaths, facts.pending_swaths
    if held:
        more = f", {_count(pending, 'waits', 'wait')} for a check" if pending else ""
        sentence = f"{_count(held, 'swath is', 'swaths are')} held for a decision{more}."
        return _Finding("red", sentence, "owner")
    if pending:
        sentence = f"{_count(pending, 'swath waits', 'swaths wait')} for the next check."
        return _Finding("waits", sentence, "crew")
    return _Finding("green", "Nothing is pending or held.")


def _runs_closed(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.open_runs:
        count = _count(len(facts.open_runs), "test run is", "test runs are")
        return _Finding("red", f"{count} not closed: {_names(facts.open_runs)}.", "crew")
    return _Finding("green", "All test runs are closed.")


def _exclusions(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.undecided_exclusions:
        count = _count(len(facts.undecided_exclusions), "exclusion waits", "exclusions wait")
        names = _names(facts.undecided_exclusions)
        return _Finding("red", f"{count} for a decision: {names}.", "owner")
    return _Finding("green", "Every exclusion is decided.")


def _classified(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.unclassified_flaws:
        count = _count(len(facts.unclassified_flaws), "indication is", "indications are")
        names = _names(facts.unclassified_flaws)
        return _Finding("red", f"{count} not yet looked at: {names}.", "crew")
    return _Finding("green", "Every flaw is classified.")


def _patches(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    by_state: dict[PatchState, list[str]] = {}
    for patch in facts.patches:
        by_state.setdefault(patch.state, []).append(patch.name)
    parts = []
    whose: Whose | None = None
    turns: tuple[tuple[PatchState, str, Whose], ...] = (
        ("to do", "not begun", "contractor"),
        ("failed", "failed the retest", "contractor"),
        ("begun", "begun", "contractor"),
        ("ready for retest", "ready for retest", "crew"),
    )
    if facts.loose_flaws:
        count = _count(len(facts.loose_flaws), "open flaw is", "open flaws are")
        parts.append(f"{count} in no patch: {_names(facts.loose_flaws)}")
        whose = "lead"
    for state, words, turn in turns:
        if names := by_state.get(state):
            parts.append(f"{_count(len(names), 'patch', 'patches')} {words}: {_names(names)}")
            whose = whose or turn
    if parts:
        return _Finding("red", f"{_capital('; '.join(parts))}.", whose)
    accepted = len(by_state.get("accepted", ()))
    conceded = len(by_state.get("conceded", ()))
    if not facts.patches:
        return _Finding("green", "No patch is asked for, no flaw is open.")
    more = f", {conceded} conceded" if conceded else ""
    return _Finding("green", f"{_count(accepted, 'patch', 'patches')} accepted{more}.")


def _contract(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    line = facts.contract
    if line is None:
        return _Finding("green", "The specification states no limit.")
    if line.verdict is None:
        return _Finding("waits", "No verdict while nothing is tested.", "crew")
    flaws = _count(line.count, "flaw", "flaws")
    if line.verdict == "kept":
        return _Finding("green", f"{flaws} found, {line.allowed} allowed.")
    return _Finding("red", f"{flaws} found, only {line.allowed} allowed.", "owner")


def _thickness(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    verdict = facts.thickness
    if verdict is None:
        return _Finding("green", "The specification asks for no thickness.")
    if verdict.verdict == "accepted":
        return _Finding(
            "green",
            f"{_count(len(verdict.areas), 'area measurement', 'area measurements')} accepted.",
        )
    if verdict.verdict == "not judged":
        return _Finding("red", f"Not judged: {'; '.join(verdict.missing)}.", "crew")
    failed = [
        f"{f'area {result.area}: ' if result.area else ''}{line}"
        for result in verdict.areas
        if result.verdict == "not accepted"
        for line in result.arithmetic
        if "outside" in line
    ]
    return _Finding("red", f"Not accepted: {'; '.join(failed)}.", "owner")


def _sheets(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.sheets_out:
        count = _count(len(facts.sheets_out), "field sheet is", "field sheets are")
        return _Finding("red", f"{count} still out: {_names(facts.sheets_out)}.", "crew")
    return _Finding("green", "All field sheets are handed in.")


def _files(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.files_awaited:
        count = _count(facts.files_awaited, "photo or file has", "photos or files have")
        return _Finding("red", f"{count} not arrived.", "crew")
    return _Finding("green", "All photos and files have arrived.")


def _cure(facts: Facts, _area: Callable[[float], str]) -> _Finding:
    if facts.cured_at is None:
        return _Finding("green", "Nothing has to cure.")
    left = (facts.cured_at - facts.now).total_seconds()
    if left > 0:
        hours = f"{left / 3600:.1f} h" if left < 48 * 3600 else f"{left / 86400:.1f} days"
        return _Finding("waits", f"The last repair is cured in {hours}.")
    return _Finding("green", "The last repair is cured.")


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _names(names: tuple[str, ...] | list[str], most: int = 5) -> str:
    listed = ", ".join(names[:most])
    return f"{listed} and {len(names) - most} more" if len(names) > most else listed


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


_Judge = Callable[[Facts, Callable[[float], str]], _Finding]
_GATES: tuple[tuple[str, str, _Judge], ...] = (
    ("runs_closed", "Test runs closed", _runs_closed),
    ("sheets", "Field sheets handed in", _sheets),
    ("files", "Evidence arrived", _files),
    ("nothing_open", "Nothing pending or held", _nothing_open),
    ("exclusions", "Exclusions decided", _exclusions),
    ("coverage", "Required coverage", _coverage),
    ("features", "Welds, edges, nozzles, brackets", _features),
    ("classified", "Flaws classified", _classified),
    ("contract", "Contract line", _contract),
    ("thickness", "Thickness accepted", _thickness),
    ("patches", "Patches accepted or conceded", _patches),
    ("cure", "Cure date passed", _cure),
)
CODES: tuple[str, ...] = tuple(code for code, _, _ in _GATES)
NAMES: dict[str, str] = {code: name for code, name, _ in _GATES}
