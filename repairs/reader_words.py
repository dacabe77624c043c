"""How sentences of gates and pictures are told to a reader of SI or US units."""

from __future__ import annotations

from accounts.units import show
from repairs.film_words import in_units
from repairs.spoken import SI, Spoken

_SMALL_FT2 = 0.5
_IN2_PER_M2 = 1 / 0.0254**2
_FT2 = 0.3048**2


def said_in(units: str) -> Spoken:
    """`units` is "si" or "us"; what would read as zero is said in cm² or in²."""
    return _US if units == "us" else SI


def _square_feet(area_m2: float) -> str:
    if 0 < area_m2 / _FT2 < _SMALL_FT2:
        return f"{area_m2 * _IN2_PER_M2:.1f} in²"
    return show(area_m2, "area", "us")


_US = Spoken(_square_feet, lambda length_m: show(length_m, "metres", "us"), in_units("us"))
