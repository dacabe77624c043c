"""What is true of a film in one sentence, and its arithmetic in the reader's unit."""

from __future__ import annotations

from accounts.units import show
from accounts.wording import say
from inspections.arithmetic import Film, micrometres
from inspections.film_judgement import FilmJudgement

MOST_LINES = 4


def in_units(units: str) -> Film:
    """How a thickness is said in lines of arithmetic: finer than elsewhere, so that borders can be followed."""
    if units != "us":
        return micrometres
    return lambda um: show(um, "film", "us", 2)


def film_sentence(judged: FilmJudgement | None, testable_m2: float, units: str, measure_next: str = "") -> str:
    """What is true of the film, and what stands in the way; `measure_next` is where the next spot is best taken."""
    if judged is None:
        if testable_m2 <= 0:
            return say("Nothing of this zone is testable, so there is no film to judge.")
        return say("The specification names no standard by which thickness is judged; readings are kept and shown.")
    said = in_units(units)
    standard = judged.standard
    if judged.level is not None:
        standard = say("{standard}, level {level}", standard=judged.standard, level=judged.level)
    if judged.verdict == "accepted":
        return say("Accepted by {standard}.", standard=standard)
    if judged.verdict == "not accepted":
        lines = [
            say("area {area}: {line}", area=area, line=line.said(said)) if area else line.said(said)
            for area, line in judged.against
        ]
        return say("Not accepted by {standard}: {failed}.", standard=standard, failed=_few(lines))
    missing = _few([line.said(said) for line in judged.missing])
    words = say("Not judged yet by {standard}: {missing}.", standard=standard, missing=missing)
    if measure_next:
        words += " " + say("Measure next at {place}.", place=measure_next)
    return words


def _few(lines: list[str]) -> str:
    shown = "; ".join(lines[:MOST_LINES])
    if len(lines) > MOST_LINES:
        return say("{listed}; and {count} more", listed=shown, count=len(lines) - MOST_LINES)
    return shown
