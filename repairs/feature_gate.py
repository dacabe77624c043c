"""The gate on welds, edges, nozzles and brackets: what the specification asks of them, what is missing, whose turn.

A pure function over facts, as the other gates. Coverage there is metres of line and counts, not area.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from accounts.wording import say

MOST_NAMES = 8


@dataclass(frozen=True)
class FeatureCoverage:
    """What one coat stage asks of welds and edges (measure "line", m) or of nozzles and brackets ("count", how many).

    The parts together are testable; marked: how many features of any kind the zone has; missing: those not tested whole, by name.
    """

    stage: str
    seen: Literal["as found", "as left"]
    measure: Literal["line", "count"]
    required_percent: float
    marked: int
    testable: float
    stands: float
    held: float
    pending: float
    lost: float
    gap: float
    missing: tuple[str, ...] = ()


def judge_features(
    rows: Sequence[FeatureCoverage], length: Callable[[float], str]
) -> tuple[Literal["green", "red"], str, Literal["crew", "owner", "lead"] | None]:
    """State, sentence and whose turn it is (None: nobody's), of what every stage asks; no rows: nothing is asked.
    `length` puts metres of line into the reader's words.

    Asked in full, no untested part of 1 cm or more may be left on any feature; asked in part, the share tested counts.
    Where coverage is asked and no feature of any kind is marked, the lead marks them (or the owner concedes that there are
    none): a list that nobody made proves nothing. Common practice, no source.
    """
    if not rows:
        return "green", say("The specification asks for no coverage of welds, edges, nozzles or brackets."), None
    if not any(row.marked for row in rows):
        return "red", say("Coverage of welds, edges or fittings is asked, but none is marked on this zone."), "lead"
    short = [row for row in rows if not _covered(row)]
    if not short:
        return "green", " ".join(_done(row, length) for row in rows), None
    sentence = " ".join(_short(row, length) for row in short)
    waits_for_crew = any(row.gap + row.lost > 0 for row in short) or not any(row.held > 0 for row in short)
    return "red", sentence, "crew" if waits_for_crew else "owner"


def _covered(row: FeatureCoverage) -> bool:
    if row.required_percent >= 100:
        return not row.missing
    return row.stands * 100 >= row.required_percent * row.testable


def _done(row: FeatureCoverage, length: Callable[[float], str]) -> str:
    if not row.testable:
        sentence = (
            say("{stage}, {seen}: no weld or edge to test.", **_gaps(row))
            if row.measure == "line"
            else say("{stage}, {seen}: no nozzle or bracket to test.", **_gaps(row))
        )
        return sentence[:1].upper() + sentence[1:]
    sentence = (
        say(
            "{stage}, {seen}: {stands} of {testable} of weld and edge tested.",
            **{**_gaps(row), "stands": length(row.stands), "testable": length(row.testable)},
        )
        if row.measure == "line"
        else say("{stage}, {seen}: {stands:.0f} of {testable:.0f} nozzles and brackets tested.", **_gaps(row))
    )
    return sentence[:1].upper() + sentence[1:]


def _gaps(row: FeatureCoverage) -> dict[str, object]:
    return {"stage": row.stage, "seen": say(row.seen), "stands": row.stands, "testable": row.testable}


def _short(row: FeatureCoverage, length: Callable[[float], str]) -> str:
    said = [_done(row, length)]
    if row.required_percent < 100:
        said.append(say("{share:g} % are asked.", share=row.required_percent))
    listed = ", ".join(row.missing[:MOST_NAMES])
    if len(row.missing) > MOST_NAMES:
        listed = say("{names} and {count} more", names=listed, count=len(row.missing) - MOST_NAMES)
    return " ".join([*said, say("Not tested whole: {names}.", names=listed)])
