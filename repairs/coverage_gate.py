"""The gate on required coverage: which coat stage is tested as far as the specification asks, what is missing, whose turn.

A pure function over facts, as the other gates.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from accounts.wording import say, say_many
from mapping.coverage import SMALLEST
from repairs.gate_facts import StageCoverage

Area = Callable[[float], str]
Turn = Literal["crew", "owner"]


def judge_coverage(rows: Sequence[StageCoverage], area: Area) -> tuple[Literal["green", "red"], str, Turn | None]:
    """State, sentence and whose turn it is (None: nobody's), of what each stage asks; `area` puts m2 into words.

    Gaps and lost ground wait for the crew; where only held ground is left, the owner decides.
    """
    if not rows:
        return "red", say("No coverage is recorded."), "crew"
    short = [row for row in rows if not _covered(row)]
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
            for row in rows
        )
        return "green", f"{_capital(done)}.", None
    sentence = " ".join(_capital(_short_words(row, area)) for row in short)
    if any(row.gap_m2 >= SMALLEST or row.lost_m2 >= SMALLEST for row in short):
        return "red", sentence, "crew"
    held = any(row.held_m2 >= SMALLEST for row in short)
    return "red", sentence, "owner" if held else "crew"


def _covered(row: StageCoverage) -> bool:
    if row.required_percent >= 100:
        return row.holes == 0
    return row.stands_m2 * 100 >= row.required_percent * row.testable_m2


def _short_words(row: StageCoverage, area: Area) -> str:
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


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
