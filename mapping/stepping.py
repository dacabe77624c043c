"""Naming a place by steps from what one sees: where each axis may start, its unit and its buttons. No Django."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol

from accounts.wording import say
from mapping.axes import AXES, Gridline, print_gridline, spoken
from mapping.surfaces.deck import Deck
from mapping.surfaces.plane import Surface
from mapping.surfaces.polar import Polar
from mapping.surfaces.strake import Strake

METRE_STEPS = (10.0, 1.0, 0.1, 0.01)
DEGREE_STEPS = (10.0, 1.0, 0.1)
HOURS = tuple(range(1, 13))


class Seen(Protocol):
    """A landmark: a line across the surface, or a point."""

    x: Any
    y: Any

    def gridline_on(self, surface: Surface) -> Gridline | None: ...


class Start(NamedTuple):
    """Where steps along an axis may start: its name and its value, in the unit of the axis."""

    name: str
    value: float


class Steps(NamedTuple):
    """How one axis is asked: `unit` as printed, `scale` its value in m (1 for degrees and hours); `dial` for hours."""

    axis: int
    name: str
    unit: str
    scale: float
    starts: list[Start]
    buttons: list[tuple[str, float]]
    dial: tuple[int, ...]


def steps_of(surface: Surface, marks: Sequence[Seen]) -> tuple[Steps, Steps]:
    """Both axes of a surface with where they may start: its edges, its own lines, and landmarks on it."""
    return _steps(surface, 0, marks), _steps(surface, 1, marks)


def _steps(surface: Surface, axis: int, marks: Sequence[Seen]) -> Steps:
    asked = AXES[surface.kind][axis]
    if asked.unit == "h":
        return Steps(axis, say(asked.name), "h", 1.0, [], [], HOURS)
    scale = surface.chainage.unit if asked.unit == "m" else 1.0
    unit = surface.chainage.unit_word if asked.unit == "m" else "deg"
    sizes = METRE_STEPS if asked.unit == "m" else DEGREE_STEPS
    buttons = [(f"{sign} {size:g} {unit}", way * size) for size in sizes for sign, way in (("\u2212", -1), ("+", 1))]
    starts = [*_own(surface, axis), *_seen(surface, axis, marks)]
    return Steps(axis, say(asked.name), unit, scale, starts, buttons, ())


def _own(surface: Surface, axis: int) -> list[Start]:
    """The edges and lines that the surface has by itself."""
    if isinstance(surface, Deck):
        lines = surface.lettered if axis == 0 else surface.numbered
        return [Start(say("line {name}", name=name), at) for name, at in zip(lines.names, lines.at, strict=True)]
    if isinstance(surface, Polar):
        if axis == 0:
            return [Start(say("azimuth 0"), 0.0)]
        inner = surface.inner / surface.scale
        middle = say("the apex") if surface.kind == "cone" else say("the middle")
        return [Start(middle if inner == 0 else say("its inner edge"), inner)]
    if axis == 1:
        return [Start(say("the lower edge") if surface.kind != "sphere" else say("the lowest point"), 0.0)]
    if surface.kind in ("pipe", "bend"):
        low, _, high, _ = surface.outline.bounds
        return [Start(say("start, {said}", said=surface.chainage.print(low)), low),
                Start(say("end, {said}", said=surface.chainage.print(high)), high)]  # fmt: skip
    if surface.kind == "panel":
        return [Start(say("the left edge"), 0.0)]
    starts = [Start(say("azimuth 0"), 0.0)]
    if isinstance(surface, Strake):
        starts += [
            Start(
                say("plate {number}, {azimuth} deg", number=number, azimuth=f"{azimuth:g}"),
                azimuth / 360 * surface.period,
            )
            for number, azimuth in enumerate(surface.plates, 1)
        ]
    return starts


def _seen(surface: Surface, axis: int, marks: Sequence[Seen]) -> list[Start]:
    starts = []
    for mark in marks:
        line = mark.gridline_on(surface)
        if line is not None and line.axis != axis:
            continue
        value = line.at if line is not None else spoken(surface, mark.x, mark.y or 0.0)[axis]
        said = print_gridline(surface, Gridline(0 if axis == 0 else 1, value))
        starts.append(Start(f"{mark}, {said}", value))
    return starts


def as_json(steps: Steps) -> dict[str, Any]:
    """What the page's script needs of an axis."""
    return {"axis": steps.axis, "unit": steps.unit, "scale": steps.scale, "dial": bool(steps.dial)}
