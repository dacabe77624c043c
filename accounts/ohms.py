"""A resistance as it is marked on a resistor. No Django."""

from __future__ import annotations

_STEPS = ((1_000_000, "MΩ"), (1_000, "kΩ"))


def in_ohms(ohms: float) -> str:
    """Return a resistance (Ω) in the largest unit that it reaches, with no more decimals than it has.

    >>> in_ohms(80_000), in_ohms(78_500), in_ohms(470), in_ohms(2_200_000)
    ('80 kΩ', '78.5 kΩ', '470 Ω', '2.2 MΩ')
    """
    factor, unit = next(((factor, unit) for factor, unit in _STEPS if abs(ohms) >= factor), (1, "Ω"))
    figure = f"{ohms / factor:.6f}".rstrip("0").rstrip(".")
    return f"{figure} {unit}"
