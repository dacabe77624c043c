"""Checks of the sizes that surfaces are made of: what is missing, unknown, no number or out of range. No Django."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from accounts.wording import say
from mapping.surfaces.plane import SurfaceError

DIAMETERS = (0.01, 50.0)
AGREEMENT = 0.002


def check_names(kind: str, json: Mapping[str, Any], required: Sequence[str], optional: Sequence[str] = ()) -> None:
    """Raises SurfaceError for a name that a surface of this kind does not have, or one that is missing."""
    names = (*required, *optional)
    for name in json:
        if name not in names:
            raise SurfaceError(
                name, say("{name} is not allowed: {kind} has {names}", name=name, kind=kind, names=", ".join(names))
            )
    for name in required:
        if json.get(name) is None:
            raise SurfaceError(
                name, say("{name} is missing: {kind} has {names}", name=name, kind=kind, names=", ".join(names))
            )


def check_numbers(json: Mapping[str, Any], names: Sequence[str]) -> None:
    """Raises SurfaceError for one of these that is given and no number."""
    for name in names:
        if json.get(name) is not None:
            number(name, json[name])


def number(name: str, value: object, unit: str = "metres") -> float:
    """The value, when it is a number. Raises SurfaceError otherwise."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SurfaceError(
            name, say("{name} {value!r} is not allowed: a number of {unit}", name=name, value=value, unit=unit)
        )
    return value


def within(name: str, value: float, low: float, high: float, unit: str = "m") -> None:
    """Raises SurfaceError for a value outside `low` to `high`."""
    if not low <= value <= high:
        raise SurfaceError(
            name,
            say(
                "{name} {value!r} is not allowed: {low:g} to {high:g} {unit}",
                name=name,
                value=value,
                low=low,
                high=high,
                unit=unit,
            ),
        )


def one_of(name: str, value: object, *allowed: str) -> None:
    """Raises SurfaceError for a word that is not allowed."""
    if value not in allowed:
        raise SurfaceError(
            name,
            say("{name} {value!r} is not allowed: {allowed}", name=name, value=value, allowed=" or ".join(allowed)),
        )


def check_around(kind: str, diameter: float | None, circumference: float | None, low: float, high: float) -> None:
    """Raises SurfaceError where there is neither diameter nor circumference (m), or they differ by more than 0.2 %."""
    if diameter is None and circumference is None:
        raise SurfaceError("diameter", say("{kind} needs a diameter or a measured circumference, in metres", kind=kind))
    if diameter is not None and not low <= diameter <= high:
        raise SurfaceError(
            "diameter",
            say("diameter {diameter!r} is not allowed: {low} to {high} m", diameter=diameter, low=low, high=high),
        )
    if circumference is not None and not low * math.pi <= circumference <= high * math.pi:
        raise SurfaceError(
            "circumference",
            say(
                "circumference {circumference!r} is not allowed: {low:.4f} to {high:.4f} m",
                circumference=circumference,
                low=low * math.pi,
                high=high * math.pi,
            ),
        )
    if diameter is not None and circumference is not None:
        computed = math.pi * diameter
        if abs(circumference - computed) > AGREEMENT * computed * (1 + 1e-9):
            raise SurfaceError(
                "circumference",
                say(
                    "circumference {circumference:g} m and diameter {diameter:g} m (which gives "
                    "{computed:.4f} m) differ by more than 0.2 %: measure again or give one of them",
                    circumference=circumference,
                    diameter=diameter,
                    computed=computed,
                ),
            )


def length_around(diameter: float | None, circumference: float | None) -> float:
    """The circumference (m): as measured where it was, else of the diameter."""
    return circumference if circumference is not None else math.pi * (diameter or 0.0)
