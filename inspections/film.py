"""Wet film, dry film and the paint it takes.

Thickness is in micrometres; shares are of the volume of paint, 0 to 1. No Django.
"""

from __future__ import annotations

from math import isfinite
from typing import NamedTuple

SOURCE = "volume solids as ISO 3233-1 and ASTM D2697 define it; the arithmetic is common practice"


class PaintNeeded(NamedTuple):
    """Litres for one coat: of dry film, of paint without loss, and with the loss."""

    dry_litres: float
    without_loss: float
    litres: float


def dry_from_wet(wet_um: float, solids_percent: float, thinner_fraction: float = 0.0) -> float:
    """Return the dry film (um) that a wet film (um) leaves.

    Parameters
    ----------
    wet_um : wet film thickness, um, above 0.
    solids_percent : volume solids of the paint as delivered, above 0 to 100 %.
    thinner_fraction : volume of thinner per volume of paint, 0 to 1.

    Notes
    -----
    DFT = WFT * volume solids / (1 + thinner fraction). Raises ValueError naming the argument, its value and what is allowed.

    Examples
    --------
    >>> dry_from_wet(200, 60)
    120.0
    """
    _above_zero("wet_um", wet_um)
    return wet_um * _solids(solids_percent) / (1 + _thinner(thinner_fraction))


def wet_for_dry(dry_um: float, solids_percent: float, thinner_fraction: float = 0.0) -> float:
    """Return the wet film (um) to apply for a dry film (um): WFT = DFT * (1 + thinner fraction) / volume solids.

    Raises ValueError naming the argument, its value and what is allowed.

    >>> round(wet_for_dry(120, 60, 0.1), 1)
    220.0
    """
    _above_zero("dry_um", dry_um)
    return dry_um * (1 + _thinner(thinner_fraction)) / _solids(solids_percent)


def paint_needed(area_m2: float, dry_um: float, solids_percent: float, loss_percent: float = 0.0) -> PaintNeeded:
    """Return the paint (litres, before thinning) that one coat takes.

    Parameters
    ----------
    area_m2 : m2, above 0.
    dry_um : dry film thickness, um, above 0.
    solids_percent : volume solids, above 0 to 100 %.
    loss_percent : paint that does not stay on the surface, 0 to below 100 %.

    Notes
    -----
    Litres = area * DFT / (10 * volume solids % * (1 - loss)). Raises ValueError naming the argument, value and what is allowed.

    Examples
    --------
    >>> paint_needed(100, 120, 60, 20).litres
    25.0
    """
    _above_zero("area_m2", area_m2)
    _above_zero("dry_um", dry_um)
    solids = _solids(solids_percent)
    if not (isfinite(loss_percent) and 0 <= loss_percent < 100):
        raise ValueError(f"loss_percent is {loss_percent}; it must be from 0 to below 100")
    dry = area_m2 * dry_um / 1000
    without = dry / solids
    return PaintNeeded(dry, without, without / (1 - loss_percent / 100))


def _solids(percent: float) -> float:
    if not (isfinite(percent) and 0 < percent <= 100):
        raise ValueError(f"solids_percent is {percent}; it must be above 0 and at most 100")
    return percent / 100


def _thinner(fraction: float) -> float:
    if not (isfinite(fraction) and 0 <= fraction <= 1):
        raise ValueError(f"thinner_fraction is {fraction}; it must be from 0 to 1, by volume of paint")
    return fraction


def _above_zero(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value}; it must be above 0")
