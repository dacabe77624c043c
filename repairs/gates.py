"""The gates a coating passes before release: what is true, what is missing, whose turn it is.

A pure function over facts. No gate is green without a name and a date behind it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from accounts.wording import noted, say, say_many
from repairs.coverage_gate import judge_coverage
from repairs.feature_gate import judge_features
from repairs.film_gate import judge_thickness
from repairs.gate_facts import Evidence, Facts, PatchState, State, Whose
from repairs.run_gate import judge_runs
from repairs.spoken import SI, Spoken


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


def gates(facts: Facts, spoken: Spoken = SI) -> list[Gate]:
    """Judge every gate, in the order in which they are usually reached.

    `spoken` puts areas, lengths and thickness into the reader's words. A gate that passes but has no evidence is
    red: no green without a date and a name. A concession turns any gate that is not green into
    green and says so; it stays listed as the gate's evidence.
    """
    return [_gate(code, say(name), judge(facts, spoken), facts) for code, name, judge in _GATES]


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


def _coverage(facts: Facts, spoken: Spoken) -> _Finding:
    return _Finding(*judge_coverage(facts.coverage, spoken.area))


def _features(facts: Facts, spoken: Spoken) -> _Finding:
    return _Finding(*judge_features(facts.features, spoken.length))


def _nothing_open(facts: Facts, _spoken: Spoken) -> _Finding:
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


def _questions(facts: Facts, spoken: Spoken) -> _Finding:
    if facts.basis_questions:
        asked = "; ".join(
            say("run {run} {line}", run=run, line=line.said(spoken.film)) for run, line in facts.basis_questions[:5]
        )
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


def _runs_closed(facts: Facts, _spoken: Spoken) -> _Finding:
    return _Finding(*judge_runs(facts.open_runs, _names(facts.open_runs), facts.permits, facts.now))


def _exclusions(facts: Facts, _spoken: Spoken) -> _Finding:
    if facts.undecided_exclusions:
        sentence = say_many(
            "{count} exclusion waits for a decision: {names}.",
            "{count} exclusions wait for a decision: {names}.",
            len(facts.undecided_exclusions),
            names=_names(facts.undecided_exclusions),
        )
        return _Finding("red", sentence, "owner")
    return _Finding("green", say("Every exclusion is decided."))


def _classified(facts: Facts, _spoken: Spoken) -> _Finding:
    if facts.unclassified_flaws:
        sentence = say_many(
            "{count} indication is not yet looked at: {names}.",
            "{count} indications are not yet looked at: {names}.",
            len(facts.unclassified_flaws),
            names=_names(facts.unclassified_flaws),
        )
        return _Finding("red", sentence, "crew")
    return _Finding("green", say("Every flaw is classified."))


def _patches(facts: Facts, _spoken: Spoken) -> _Finding:
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


def _contract(facts: Facts, _spoken: Spoken) -> _Finding:
    line = facts.contract
    if line is None:
        return _Finding("green", say("The specification states no limit."))
    if line.verdict is None:
        return _Finding("waits", say("No verdict while nothing is tested."), "crew")
    flaws = say_many("{count} flaw found", "{count} flaws found", line.count)
    if line.verdict == "kept":
        return _Finding("green", say("{flaws}, {allowed} allowed.", flaws=flaws, allowed=line.allowed))
    return _Finding("red", say("{flaws}, only {allowed} allowed.", flaws=flaws, allowed=line.allowed), "owner")


def _thickness(facts: Facts, spoken: Spoken) -> _Finding:
    return _Finding(*judge_thickness(facts.thickness, spoken.film))


def _sheets(facts: Facts, _spoken: Spoken) -> _Finding:
    if facts.sheets_out:
        sentence = say_many(
            "{count} field sheet is still out: {names}.",
            "{count} field sheets are still out: {names}.",
            len(facts.sheets_out),
            names=_names(facts.sheets_out),
        )
        return _Finding("red", sentence, "crew")
    return _Finding("green", say("All field sheets are handed in."))


def _files(facts: Facts, _spoken: Spoken) -> _Finding:
    if facts.files_awaited:
        sentence = say_many(
            "{count} photo or file has not arrived.", "{count} photos or files have not arrived.", facts.files_awaited
        )
        return _Finding("red", sentence, "crew")
    return _Finding("green", say("All photos and files have arrived."))


def _cure(facts: Facts, _spoken: Spoken) -> _Finding:
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


_Judge = Callable[[Facts, Spoken], _Finding]
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
