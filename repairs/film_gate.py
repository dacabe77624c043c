"""The gate on film thickness: accepted by the specification's standard or not, what is missing, whose turn.

A pure function over what was judged, as the other gates.
"""

from __future__ import annotations

from typing import Literal

from accounts.wording import say, say_many
from inspections.arithmetic import Film
from inspections.film_judgement import PA2, FilmJudgement

MOST_LINES = 6


def judge_thickness(
    film: FilmJudgement | None, said: Film
) -> tuple[Literal["green", "red"], str, Literal["crew", "owner", "lead"] | None]:
    """State, sentence and whose turn it is (None: nobody's); without a judgement the specification asks for none.

    `said` puts a thickness in um into the reader's words. A film that is not accepted waits for the owner. One that cannot be judged yet waits for the crew's readings, or for
    the lead where spots in doubt might be enough.
    """
    if film is None:
        return "green", say("The specification asks for no thickness."), None
    notes = "".join(f" {_capital(line.said(said))}." for line in film.notes)
    if film.verdict == "accepted":
        return "green", _accepted(film) + notes, None
    if film.verdict == "not judged":
        sentence = say("Not judged: {missing}.", missing=_listed([line.said(said) for line in film.missing]))
        return "red", sentence + notes, "lead" if film.doubtful else "crew"
    failed = [
        say("area {area}: {line}", area=area, line=line.said(said)) if area else line.said(said)
        for area, line in film.against
    ]
    return "red", say("Not accepted: {failed}.", failed=_listed(failed)) + notes, "owner"


def _accepted(film: FilmJudgement) -> str:
    if film.standard == PA2:
        return say_many("{count} area measurement accepted.", "{count} area measurements accepted.", len(film.areas))
    return say_many(
        "{count} reading accepted by {standard}.",
        "{count} readings accepted by {standard}.",
        film.taken_readings,
        standard=film.standard,
    )


def _listed(lines: list[str]) -> str:
    shown = "; ".join(lines[:MOST_LINES])
    if len(lines) > MOST_LINES:
        return say("{listed}; and {count} more", listed=shown, count=len(lines) - MOST_LINES)
    return shown


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
