"""How an area, a length and a film thickness are said in sentences of gates and pictures. No Django."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from accounts.wording import say
from inspections.arithmetic import Film, micrometres
from mapping.coverage import SMALLEST


def square_metres(area_m2: float) -> str:
    """Return an area in words, e.g. '21.4 m²'; what would read as zero keeps its square cm."""
    if 0 < area_m2 < 0.05:
        return say("{area_m2:.0f} cm²", area_m2=area_m2 * 1e4) if area_m2 >= SMALLEST else say("under 1 cm²")
    return f"{area_m2:.1f} m²"


def metres(length_m: float) -> str:
    """Return a length in words, to a centimetre."""
    return f"{length_m:.2f} m"


class Spoken(NamedTuple):
    """How a reader is told an area (m2), a length (m) and a film thickness (um)."""

    area: Callable[[float], str] = square_metres
    length: Callable[[float], str] = metres
    film: Film = micrometres


SI = Spoken()
