"""Whether thickness readings can be what was read: what no such film is, and what was perhaps read in another unit.

A unit is asked about, never decided. No Django.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from accounts.wording import noted
from inspections.arithmetic import Figure, Line, Name

UM_PER = {"um": Fraction(1), "mm": Fraction(1000), "mil": Fraction("25.4")}
SHOWN = {"um": "µm", "mm": "mm", "mil": "mil"}
SOURCE = "own choice: asked below a fifth and above five times what is asked for, where another unit would fit"
# The thickest film of each family that is taken for a reading, um; generous, common practice, no source.
MOST_UM = {
    "fusion-bonded epoxy": 3_000,
    "three-layer polyolefin": 12_000,
    "tank lining": 12_000,
    "pipeline": 25_000,
    "other": 25_000,
}
_FAR = (Fraction(1, 5), Fraction(5))
_NEAR = (Fraction(2, 5), Fraction(5, 2))


def unit_question(readings_um: Sequence[float], unit: str, asked_um: float) -> Line | None:
    """Return the question whether another unit was meant; None where there is no reason to ask.

    Parameters
    ----------
    readings_um : the readings of one spot or file, um, as they were read in `unit` ("um", "mm", "mil").
    asked_um : what the specification asks for at the coat stage, um; 0 where it asks for nothing, then nothing is asked.

    Notes
    -----
    Asked where the mean is below a fifth or above five times what is asked for, and the same number in another unit lies
    between 40 % and 250 % of it. Own choice.

    Examples
    --------
    >>> str(unit_question([12.0], "um", 300.0))
    '12 µm is 4 % of the 300 µm asked for; 12 mil would be 304.8 µm: was it mil?'
    >>> unit_question([290.0], "um", 300.0) is None
    True
    """
    if unit not in UM_PER or asked_um <= 0 or not readings_um:
        return None
    mean = sum((Fraction(str(um)) for um in readings_um), Fraction()) / len(readings_um)
    share = mean / Fraction(str(asked_um))
    if _FAR[0] <= share <= _FAR[1]:
        return None
    number = mean / UM_PER[unit]
    fits = [
        (abs(number * factor / Fraction(str(asked_um)) - 1), other)
        for other, factor in UM_PER.items()
        if other != unit and _NEAR[0] <= number * factor / Fraction(str(asked_um)) <= _NEAR[1]
    ]
    if not fits:
        return None
    _, other = min(fits)
    written = f"{float(number):.4g}"
    figures = (
        Figure("share", float(f"{float(share * 100):.2g}"), "%"),
        Figure("asked", float(asked_um), "um"),
        Figure("meant", float(number * UM_PER[other]), "um"),
    )
    names = (
        Name("said", f"{written} {SHOWN[unit]}"),
        Name("other", f"{written} {SHOWN[other]}"),
        Name("unit", SHOWN[other]),
    )
    words = noted("{said} is {share} of the {asked} asked for; {other} would be {meant}: was it {unit}?")
    return Line(words, figures, names)
