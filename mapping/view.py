"""How each kind of surface is seen by the person facing it: which way its axes run, its graticule and what is written at it.

u runs right from the zone's left end and v down, in metres; x and y are plane metres as stored. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from accounts.wording import say
from mapping.azimuth import print_azimuth
from mapping.positions import Chainage
from mapping.surfaces.deck import Deck
from mapping.surfaces.local import Sphere
from mapping.surfaces.panel import Panel
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from mapping.surfaces.polar import Polar

NICE: tuple[int, ...] = tuple(m * 10**e for e in range(6) for m in (1, 2, 5))
"""Steps that people count in."""
TURNS: tuple[int, ...] = (1, 2, 5, 10, 15, 30, 45, 90, 180)
"""Steps in degrees that people count in."""
PLAN_RATIO = 4.0
"""A surface without a seam that is less than this much longer than high is shown in one plan, not cut into rows."""
RIGHT, RIGHT_OF_PLAN = 12.0, 46.0
"""Marks kept free to the right of a row; a round plan is written at on both sides."""
_MOST_TICKS = 1000
_MOST_HEIGHTS = 8
_MOST_RINGS = 5
_FINE = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, *NICE)
_RAYS = 12

Point = tuple[float, float]


class Tick(NamedTuple):
    """A round place along u: `steps` counts the finest steps from zero, so that coarser axes pick multiples."""

    steps: int
    u: float
    text: str


class Name(NamedTuple):
    """A name of the graticule whose baseline `anchor` is (dx, dy) marks from (u, v)."""

    u: float
    v: float
    text: str
    dx: float
    dy: float
    anchor: str


@dataclass(frozen=True)
class View:
    """How plane metres become what a person facing the surface sees: u = step_x (x - x0), v = step_y (y - y0).

    Parameters
    ----------
    length, height : m to the right and down.
    wrap : "x" or "y", the axis that closes on itself, or "".
    plan : shown whole at true scale rather than cut into rows.
    around : the words for a stretched overview: how large it is.
    note : what is said beside distances, where they are not exact everywhere.
    outline : rings as seen where the zone does not fill its frame, else empty.
    side : what is written left of a row, (v, text), the most wanted first.
    grid : lines of the graticule as seen.
    names : names of the graticule inside the frame or close to it.
    ticks, strides : what is written along the top, and which multiples of the finest step it may be thinned to.
    print_start : what is written where a row starts at u; empty where there is nothing to say.
    """

    length: float
    height: float
    x0: float
    y0: float
    step_x: int
    step_y: int
    wrap: str
    plan: bool
    seen_from: str
    unit: float
    around: str
    note: str = ""
    right: float = RIGHT
    outline: tuple[tuple[Point, ...], ...] = ()
    side: tuple[tuple[float, str], ...] = ()
    grid: tuple[tuple[Point, ...], ...] = ()
    names: tuple[Name, ...] = ()
    ticks: tuple[Tick, ...] = ()
    strides: tuple[int, ...] = NICE
    print_start: Callable[[float], str] = field(default=lambda u: "", compare=False)

    def seen(self, x: float, y: float) -> Point:
        """Where the plane point (x, y) is drawn; over the seam where there is one."""
        u, v = self.step_x * (round(x, 3) - self.x0), self.step_y * (round(y, 3) - self.y0)
        return u % self.length if self.wrap == "x" else u, v % self.height if self.wrap == "y" else v

    def plane(self, u: float, v: float) -> Point:
        """The plane point drawn at (u, v)."""
        x, y = self.x0 + self.step_x * u, self.y0 + self.step_y * v
        return x % self.length if self.wrap == "x" else x, y % self.height if self.wrap == "y" else y

    def length_words(self, metres: float) -> str:
        """A length in the unit that the asset's positions are written in."""
        return _length_words(metres, self.unit)


def view_of(surface: Surface) -> View:
    """How a surface is seen by the person facing it.

    Pipes run to the right, down the page 12-3-6-9-12 outside and 12-9-6-3-12 inside. Strakes and spheres: azimuth to the
    right inside, to the left outside. Disks, cones, decks: as seen from above; from below mirrored left to right. Panels:
    their own x right, y up.
    """
    left, low, right, high = surface.outline.bounds
    us, vs = surface.to_view(np.array([left, right]), np.array([low, high]))
    step_x, step_y = (1 if ends[1] > ends[0] else -1 for ends in (us, vs))
    wrap = surface.wrap_axis or ""
    length, height = right - left, high - low
    unit = surface.chainage.unit
    base = View(
        length=length if wrap == "x" else round(length, 6),
        height=height,
        x0=left if step_x == 1 else right,
        y0=low if step_y == 1 else high,
        step_x=step_x,
        step_y=step_y,
        wrap=wrap,
        plan=not wrap and length < PLAN_RATIO * height,
        seen_from=surface.seen_from,
        unit=unit,
        around=say(
            "{length} along, {height} around" if wrap == "y" else "{length} wide, {height} high",
            length=_length_words(length, unit),
            height=_length_words(height, unit),
        ),
        note=surface.distance_note,
    )
    if isinstance(surface, Pipe):
        return _of_pipe(base, surface)
    if isinstance(surface, Polar):
        return _of_polar(base, surface)
    if isinstance(surface, Deck):
        return _of_deck(base, surface)
    if isinstance(surface, Panel):
        return _of_panel(base, surface)
    return _of_ring(base, surface)


def _of_pipe(view: View, pipe: Pipe) -> View:
    outside = pipe.face == "outside"
    clock = ("12:00", "3:00", "6:00", "9:00", "12:00")
    side = [(i * view.height / 4, text) for i, text in enumerate(clock if outside else reversed(clock))]
    return replace(
        view,
        side=_halving(side),
        grid=_levels(view, [v for v, _ in side[1:-1]]),
        ticks=_ticks_along(view, lambda x: pipe.chainage.print(x).removesuffix(".00")),
        print_start=lambda u: pipe.chainage.print(view.plane(u, 0.0)[0]),
    )


def _of_ring(view: View, surface: Surface) -> View:
    """A strake or a sphere: azimuths along the top, heights at the side."""
    measure = surface.chainage.print_measure
    if isinstance(surface, Sphere):
        unit = surface.chainage.unit_word
        top, place = surface.top, lambda up: surface.read_place(f"0 deg, {measure(up)} {unit} up").y
    else:
        top, place = view.height, float
    written = _heights(view, surface.chainage, top, place)
    ticks = [Tick(turn, view.seen(turn / 360 * view.length, 0.0)[0], f"{turn}°") for turn in range(360)]

    def azimuth(u: float) -> str:
        return print_azimuth(view.plane(u, 0.0)[0] / view.length)

    return replace(
        view,
        side=_halving(written),
        grid=_levels(view, [v for v, _ in written[1:-1]]),
        ticks=tuple(sorted(ticks, key=lambda tick: tick.u)),
        strides=TURNS,
        print_start=azimuth,
    )


def _of_panel(view: View, panel: Panel) -> View:
    written = _heights(view, panel.chainage, view.height, float)
    measure = panel.chainage.print_measure
    ticks = _ticks_along(view, lambda x: measure(x).removesuffix(".00"))
    return replace(
        view,
        side=_halving(written),
        grid=_levels(view, [v for v, _ in written[1:-1]]),
        ticks=ticks,
        print_start=lambda u: f"x {measure(view.plane(u, 0.0)[0])} {panel.chainage.unit_word}",
    )


def _of_deck(view: View, deck: Deck) -> View:
    letters = zip(deck.lettered.names, deck.lettered.at, strict=True)
    numbers = zip(deck.numbered.names, deck.numbered.at, strict=True)
    across = sorted((view.seen(at, view.y0)[0], name) for name, at in letters)
    down = sorted((view.seen(view.x0, at)[1], name) for name, at in numbers)
    ticks = tuple(Tick(0, u, name) for u, name in across if -1e-3 <= u <= view.length + 1e-3)
    side = [(v, name) for v, name in down if -1e-3 <= v <= view.height + 1e-3]

    def start(u: float) -> str:
        letter, offset = deck.lettered.print(view.plane(u, 0.0)[0], deck.chainage)
        return letter if float(offset) == 0 else f"{letter} {offset}"

    upright = tuple(((tick.u, 0.0), (tick.u, view.height)) for tick in ticks)
    return replace(
        view,
        outline=_outline(view, deck) if deck.corners else (),
        side=_halving(side),
        grid=(*upright, *_levels(view, [v for v, _ in side])),
        ticks=ticks,
        strides=(1,),
        print_start=start,
    )


def _of_polar(view: View, polar: Polar) -> View:
    """Rings at round distances and rays at round azimuths, each named."""
    unit = polar.chainage.unit
    spoken = polar.outer / polar.scale / unit, (polar.outer - polar.inner) / polar.scale / unit
    step = next(nice for nice in _FINE if spoken[1] / nice <= _MOST_RINGS)
    rings = [n * step for n in range(1, math.ceil(spoken[0] / step - 1e-9))]
    rings = [ring for ring in rings if polar.inner + 1e-6 < ring * unit * polar.scale < polar.outer - 1e-6]
    whole = polar.turn > 2 * math.pi - 0.15
    rays = list(range(_RAYS)) if whole else list(range(_RAYS + 1))
    grid = [
        tuple(_seen_at(view, polar, turn, ring * unit * polar.scale) for turn in np.linspace(0, 1, 181))
        for ring in rings
    ]
    grid += [tuple(_seen_at(view, polar, ray / _RAYS, away) for away in (polar.inner, polar.outer)) for ray in rays]
    names = [_ray_name(view, polar, ray) for ray in rays]
    for ring in rings:
        u, v = _seen_at(view, polar, 0.0, ring * unit * polar.scale)
        names.append(Name(u, v, f"{ring:g} {polar.chainage.unit_word}", 3.0, -3.0, "start"))
    return replace(view, right=RIGHT_OF_PLAN, outline=_outline(view, polar), grid=tuple(grid), names=tuple(names))


def _seen_at(view: View, polar: Polar, turn: float, away: float) -> Point:
    """Where an azimuth (fraction of a turn, 1 being the far side of the seam) and a distance (m) are drawn."""
    angle = turn * polar.turn
    x, y = away * math.sin(angle), away * math.cos(angle)
    return round(view.step_x * (x - view.x0), 3), round(view.step_y * (y - view.y0), 3)


def _ray_name(view: View, polar: Polar, ray: int) -> Name:
    """The name of an azimuth, outside the edge that it runs to."""
    u, v = _seen_at(view, polar, ray / _RAYS, polar.outer)
    angle = ray / _RAYS * polar.turn
    out, down = round(view.step_x * math.sin(angle), 3), round(view.step_y * math.cos(angle), 3)
    anchor = "middle" if abs(out) < 0.3 else "start" if out > 0 else "end"
    text = f"{ray * 360 // _RAYS % 360}°"
    return Name(u, v, text, round(7.0 * out, 3), round(4.0 + 9.0 * down, 3), anchor)


def _outline(view: View, surface: Surface) -> tuple[tuple[Point, ...], ...]:
    rings = (surface.outline.exterior, *surface.outline.interiors)
    origin, step = (view.x0, view.y0), (view.step_x, view.step_y)
    seen = [np.round((np.asarray(ring.coords) - origin) * step, 3) + 0.0 for ring in rings]
    return tuple(tuple((u, v) for u, v in ring.tolist()) for ring in seen)


def _ticks_along(view: View, print_: Callable[[float], str]) -> tuple[Tick, ...]:
    step = next(nice for nice in NICE if view.length / (nice * view.unit) <= _MOST_TICKS) * view.unit
    ends = sorted((view.x0, view.x0 + view.step_x * view.length))
    ticks = []
    for index in range(math.ceil(ends[0] / step - 1e-9), math.floor(ends[1] / step + 1e-9) + 1):
        ticks.append(Tick(index, round(view.step_x * (index * step - view.x0), 6), print_(index * step)))
    return tuple(sorted(ticks, key=lambda tick: tick.u))


def _heights(view: View, chainage: Chainage, top: float, place: Callable[[float], float]) -> list[tuple[float, str]]:
    """Round heights and both edges, up the page, as (v, text); `place` gives the y of a height as it is spoken (m)."""
    step = next(nice for nice in _FINE if top / view.unit / nice <= _MOST_HEIGHTS) * view.unit
    between = [n * step for n in range(1, math.ceil(top / step - 1e-9))]
    texts = [f"{float(chainage.print_measure(height)):g}" for height in between]
    texts = [f"0 {chainage.unit_word}", *texts, chainage.print_measure(top)]
    heights = (0.0, *between, top)
    return [
        (round(view.step_y * (place(height) - view.y0), 6), text) for height, text in zip(heights, texts, strict=True)
    ]


def _levels(view: View, down: Iterable[float]) -> tuple[tuple[Point, ...], ...]:
    return tuple(((0.0, v), (view.length, v)) for v in down)


def _halving(written: Sequence[tuple[float, str]]) -> tuple[tuple[float, str], ...]:
    """In the order of who gets room first: the ends, the middle, the middles of the halves and so on."""
    if len(written) < 3:
        return tuple(written)
    order, spans = [0, len(written) - 1], [(0, len(written) - 1)]
    while spans:
        wider = []
        for low, high in spans:
            if high - low > 1:
                middle = (low + high) // 2
                order.append(middle)
                wider += [(low, middle), (middle, high)]
        spans = wider
    return tuple(written[place] for place in order)


def _length_words(metres: float, unit: float) -> str:
    return f"{round(metres / unit, 2):g} {'m' if unit == 1.0 else 'ft'}"
