"""Which zones of an asset belong together and how each is seen: ribbons, tanks, decks, and what stands by itself. No Django."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.elevation import (
    SMALL,
    WIDTH,
    AssetDrawing,
    Band,
    Frame,
    Group,
    Lettering,
    Part,
    Piece,
    Projection,
    even,
    flat,
    piece_of,
    scaled_to,
    wound,
)
from mapping.labels import place_along
from mapping.surfaces.cone import Cone
from mapping.surfaces.deck import Deck
from mapping.surfaces.disk import Disk
from mapping.surfaces.local import Head, Sphere
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from mapping.surfaces.strake import Strake

IN_A_ROW = 8
"""Zones of a pipeline in one row of its ribbon."""
RIBBON = 44.0
"""Marks: height of a ribbon, whatever the pipe's girth."""
SAME = 0.02
"""Strakes whose diameters differ by less than this share stand on each other."""
NEAR = 0.25
"""A roof or floor belongs to the shell whose diameter is nearest, within this share."""
_GAP = 26.0
_MOST = 300.0


def draw_asset(parts: Sequence[Part]) -> AssetDrawing:
    """An asset as one sees it: pipelines first, then tanks, decks, and what stands by itself; empty without zones."""
    pipes = [part for part in parts if isinstance(part.surface, Pipe)]
    decks = [part for part in parts if isinstance(part.surface, Deck)]
    tanks = _tanks([part for part in parts if isinstance(part.surface, Strake)])
    rest = [part for part in parts if not isinstance(part.surface, Pipe | Deck | Strake)]
    alone = [part for part in rest if not _given_to(tanks, part)]
    return AssetDrawing(
        (*_ribbons(pipes), *(group for tank in tanks for group in _tank(tank)), *_decks(decks), *_alone(alone)),
    )


# Pipelines


def _ribbons(parts: Sequence[Part]) -> Iterator[Group]:
    """Rows of about equally many zones; rows of one line share a scale; lines that run side by side follow each other."""
    tracks: list[list[Part]] = []
    for part in sorted(parts, key=lambda part: part.surface.outline.bounds[0]):
        start = part.surface.outline.bounds[0]
        track = next((each for each in tracks if each[-1].surface.outline.bounds[2] <= start + 1e-6), None)
        if track is None:
            tracks.append([part])
        else:
            track.append(part)
    for track in tracks:
        count = even(len(track), IN_A_ROW)
        rows = [track[place : place + count] for place in range(0, len(track), count)]
        longest = max(row[-1].surface.outline.bounds[2] - row[0].surface.outline.bounds[0] for row in rows)
        for number, row in enumerate(rows):
            yield _ribbon(
                row,
                (WIDTH - 2) / longest,
                say("Along the line, true to scale; the way around is stretched.") if number == 0 else "",
            )


def _ribbon(row: Sequence[Part], scale: float, words: str) -> Group:
    first, last = row[0].surface, row[-1].surface
    start, end = first.outline.bounds[0], last.outline.bounds[2]
    top = 20.0
    pieces = []
    for part in row:
        left, _, right, _ = part.surface.outline.bounds
        outline, project = wound(part.surface, right - left, 1.0)
        frame = Frame(scale, RIBBON, 1 + (left - start) * scale, top)
        middle = 1 + ((left + right) / 2 - start) * scale
        pieces.append(piece_of(part, outline, project, frame, Band(middle, top + RIBBON + 18, (right - left) * scale)))
    wanted = [(0.0, first.chainage.print(start)), ((end - start) * scale, last.chainage.print(end))]
    lettering = tuple(
        Lettering(1 + px + placed.dx, 13.0, text, placed.anchor)
        for px, text, placed in place_along(wanted, (end - start) * scale + 1, SMALL)
    )
    middle_line = top + RIBBON / 2
    gaps = tuple(
        ((1 + (one.surface.outline.bounds[2] - start) * scale, middle_line), (1 + (other.surface.outline.bounds[0] - start) * scale, middle_line))
        for one, other in pairwise(row)
        if other.surface.outline.bounds[0] - one.surface.outline.bounds[2] > 1e-6
    )  # fmt: skip
    return Group(words, top + RIBBON + 28.0, tuple(pieces), lettering, gaps)


# Tanks


@dataclass
class _Tank:
    """Strakes that stand on each other, from the bottom up, with what covers and what closes them."""

    face: str
    diameter: float
    strakes: list[Part]
    roofs: list[Part] = field(default_factory=list)
    floors: list[Part] = field(default_factory=list)


def _tanks(parts: Sequence[Part]) -> list[_Tank]:
    tanks: list[_Tank] = []
    for part in sorted(parts, key=lambda part: (part.surface.face, _number(part), part.name)):
        diameter = part.surface.outline.bounds[2] / math.pi
        for tank in tanks:
            alike = abs(tank.diameter - diameter) <= SAME * diameter and tank.face == part.surface.face
            if alike and _number(tank.strakes[-1]) < _number(part):
                tank.strakes.append(part)
                break
        else:
            tanks.append(_Tank(part.surface.face, diameter, [part]))
    return tanks


def _number(part: Part) -> int:
    return part.surface.number if isinstance(part.surface, Strake) else 0


def _given_to(tanks: Sequence[_Tank], part: Part) -> bool:
    """Give a roof or a floor to the tank it fits best; False where none does."""
    surface = part.surface
    if isinstance(surface, Head) or not isinstance(surface, Disk | Cone):
        return False
    wide = surface.diameter
    fitting = [tank for tank in tanks if abs(tank.diameter - wide) <= NEAR * tank.diameter]
    if not fitting:
        return False
    covers = _covers(surface)

    def order(tank: _Tank) -> tuple[bool, float, int]:
        held = tank.roofs if covers else tank.floors
        return tank.face != surface.face, abs(tank.diameter - wide), len(held)

    tank = min(fitting, key=order)
    (tank.roofs if covers else tank.floors).append(part)
    return True


def _covers(surface: Disk | Cone) -> bool:
    """Whether it is over the head of whoever stands inside: a roof rather than a floor."""
    return (surface.face == "outside") == (surface.viewed == "above")


def _tank(tank: _Tank) -> Iterator[Group]:
    """The shell with what covers it, and beside it the flat floor: together they would leave half a wide page empty."""
    heights = [part.surface.outline.bounds[3] for part in tank.strakes]
    cones = [part for part in tank.roofs if isinstance(part.surface, Cone)]
    hoppers = [part for part in tank.floors if isinstance(part.surface, Cone)]
    roof, hopper = (
        max((part.surface.height for part in some if isinstance(part.surface, Cone)), default=0.0)
        for some in (cones, hoppers)
    )
    widest = max(
        [tank.diameter, *(part.surface.diameter for part in (*cones, *hoppers) if isinstance(part.surface, Cone))]
    )
    scale = scaled_to(widest, sum(heights) + roof + hopper, _MOST)
    left, top, middle = (WIDTH - tank.diameter * scale) / 2, 18.0, WIDTH / 2
    pieces: list[Piece] = []
    plans = [part for part in tank.roofs if part not in cones]
    if plans:
        placed, top = _plans(plans, scale, top)
        pieces += placed
        top += _GAP
    for part in cones:
        outline, project = _profile(part.surface, upright=True)
        high = part.surface.height if isinstance(part.surface, Cone) else 0.0
        pieces.append(piece_of(part, outline, project, Frame(scale, scale, middle, top + (roof - high) * scale)))
    top += roof * scale
    for part, height in zip(reversed(tank.strakes), reversed(heights), strict=True):
        outline, project = wound(part.surface, tank.diameter, height)
        pieces.append(piece_of(part, outline, project, Frame(scale, scale, left, top)))
        top += height * scale
    for part in hoppers:
        outline, project = _profile(part.surface, upright=False)
        pieces.append(piece_of(part, outline, project, Frame(scale, scale, middle, top)))
    top += hopper * scale
    yield Group(_tank_words(tank), top + 14.0, tuple(pieces))
    floors = [part for part in tank.floors if part not in hoppers]
    if floors:
        placed, bottom = _plans(floors, scale, 18.0)
        yield Group(say("Floor as a plan, azimuth 0 at the top."), bottom + 14.0, tuple(placed))


def _tank_words(tank: _Tank) -> str:
    seen = (
        say("Shell seen from inside, azimuth to the right: all the way round, squeezed to the tank's width.")
        if tank.face == "inside"
        else say("Shell seen from outside, azimuth to the left: all the way round, squeezed to the tank's width.")
    )
    if not any(isinstance(part.surface, Disk) for part in tank.roofs):
        return seen
    return f"{seen} {say('Flat roof as a plan, azimuth 0 at the top.')}"


def _profile(surface: Surface, *, upright: bool) -> tuple[BaseGeometry, Projection]:
    """A cone from the side, about its axis: all the way round, squeezed to its outline; its wide end at the shell."""
    assert isinstance(surface, Cone)
    wide, narrow, height = surface.diameter / 2, surface.cut_diameter / 2, surface.height
    way = 1 if surface.face == "inside" else -1

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        turn, away = surface.from_plane(points[:, 0], points[:, 1])
        share = (surface.outer - away) / (surface.outer - surface.inner)
        across = way * (2 * turn - 1) * wide * away / surface.outer
        return np.column_stack((across, height * (1 - share if upright else share)))

    ends = [(-wide, height), (wide, height), (narrow, 0.0), (-narrow, 0.0)]
    outline = shapely.Polygon([(x, y if upright else height - y) for x, y in ends])
    return shapely.make_valid(outline), project


def _plans(parts: Sequence[Part], scale: float, top: float) -> tuple[list[Piece], float]:
    """Round plans: rings about one centre where they leave room for each other, else one under the other."""
    rounds: list[list[Part]] = []
    for part in sorted(parts, key=lambda part: part.surface.outline.bounds[2]):
        within = next((each for each in rounds if not any(_meet(one, part) for one in each)), None)
        if within is None:
            rounds.append([part])
        else:
            within.append(part)
    pieces = []
    for some in rounds:
        radius = max(part.surface.outline.bounds[2] for part in some)
        frame = Frame(scale, scale, WIDTH / 2, top + radius * scale)
        top += 2 * radius * scale + _GAP
        for part in some:
            ring = bool(part.surface.outline.interiors)  # its middle is another zone: its name goes under the plan
            pieces.append(piece_of(part, *flat(part.surface), frame, Band(WIDTH / 2, top - 8, WIDTH) if ring else None))
            top += 20 if ring else 0
    return pieces, top - _GAP


def _meet(one: Part, other: Part) -> bool:
    shared = one.surface.outline.intersection(other.surface.outline).area
    return bool(shared > 0.01 * min(one.surface.area, other.surface.area))


# Decks


def _decks(parts: Sequence[Part]) -> Iterator[Group]:
    """Zones of one bridge lie on one grid; those that would cover each other, or are seen otherwise, stand apart."""
    plans: dict[tuple[str, str, str], list[list[Part]]] = defaultdict(list)
    for part in parts:
        deck = part.surface
        assert isinstance(deck, Deck)
        sharing = plans[deck.viewed, deck.numbers_run, deck.face]
        free = next((each for each in sharing if not any(_meet(one, part) for one in each)), None)
        if free is None:
            sharing.append([part])
        else:
            free.append(part)
    for some in plans.values():
        yield from (_deck(each) for each in some)


def _deck(parts: Sequence[Part]) -> Group:
    seen = [flat(part.surface) for part in parts]
    left, low, right, high = shapely.total_bounds([outline for outline, _ in seen])
    scale = scaled_to(right - left, high - low, room=WIDTH - 30.0)
    frame = Frame(scale, scale, (WIDTH + 18 - (right - left) * scale) / 2 - left * scale, 22.0 - low * scale)
    pieces = [piece_of(part, *way, frame) for part, way in zip(parts, seen, strict=True)]
    deck = parts[0].surface
    assert isinstance(deck, Deck)
    step = 1 if deck.viewed == "above" else -1
    letters = {
        name: step * at
        for part in parts
        if isinstance(part.surface, Deck)
        for name, at in zip(part.surface.lettered.names, part.surface.lettered.at, strict=True)
    }
    down = -1 if deck.numbers_run == "up" else 1
    numbers = {
        name: down * at
        for part in parts
        if isinstance(part.surface, Deck)
        for name, at in zip(part.surface.numbered.names, part.surface.numbered.at, strict=True)
    }
    wanted = sorted(
        (frame.left + at * scale, name) for name, at in letters.items() if left - 1e-3 <= at <= right + 1e-3
    )
    lettering = [Lettering(px + at.dx, 15.0, text, at.anchor) for px, text, at in place_along(wanted, WIDTH, SMALL)]
    taken = -math.inf
    for y, name in sorted(
        (frame.top + at * scale, name) for name, at in numbers.items() if low - 1e-3 <= at <= high + 1e-3
    ):
        if y - taken >= 13.0:
            taken = y
            lettering.append(Lettering(frame.left + left * scale - 6, y + 4, name, "end"))
    return Group(f"{deck.seen_from}.", 22.0 + (high - low) * scale + 14.0, tuple(pieces), tuple(lettering))


# What stands by itself


def _alone(parts: Sequence[Part]) -> Iterator[Group]:
    kinds: dict[str, list[Part]] = defaultdict(list)
    for part in parts:
        kinds[part.surface.kind].append(part)
    for some in kinds.values():
        yield _cells(some)


def _cells(parts: Sequence[Part]) -> Group:
    """Zones of one kind side by side at one scale, each with its name under it."""
    seen = [_by_itself(part.surface) for part in parts]
    sizes = [(o.bounds[2] - o.bounds[0], o.bounds[3] - o.bounds[1]) for o, _ in seen]
    columns = even(len(parts), 2 if len(parts) <= 4 else 4 if len(parts) <= 24 else 8)
    cell = WIDTH / columns
    scale = scaled_to(max(w for w, _ in sizes), max(h for _, h in sizes), 240.0, cell - 12)
    pieces: list[Piece] = []
    top = 10.0
    for row in range(0, len(parts), columns):
        high = max(h for _, h in sizes[row : row + columns]) * scale
        for place in range(row, min(row + columns, len(parts))):
            outline, project = seen[place]
            wide, tall = sizes[place]
            left = (place - row + 0.5) * cell - wide * scale / 2 - outline.bounds[0] * scale
            frame = Frame(scale, scale, left, top + high - tall * scale - outline.bounds[1] * scale)
            band = Band((place - row + 0.5) * cell, top + high + 17, cell - 8)
            pieces.append(piece_of(parts[place], outline, project, frame, band))
        top += high + 30
    return Group(_cell_words(parts[0].surface), top + 4, tuple(pieces))


def _cell_words(surface: Surface) -> str:
    if isinstance(surface, Sphere | Cone):
        return say("Seen from the side: all the way round, squeezed to the outline. True to scale among themselves.")
    return say("{seen_from}. True to scale among themselves.", seen_from=surface.seen_from)


def _by_itself(surface: Surface) -> tuple[BaseGeometry, Projection]:
    if isinstance(surface, Cone):
        return _profile(surface, upright=_covers(surface))
    if isinstance(surface, Sphere):
        return _ball(surface)
    return flat(surface)


def _ball(sphere: Sphere) -> tuple[BaseGeometry, Projection]:
    """A sphere from the side about its middle: all the way round, squeezed to its outline."""
    radius = sphere.radius
    way = 1 if sphere.face == "inside" else -1

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        up = points[:, 1] - radius
        half = np.sqrt(np.clip(radius**2 - up**2, 0, None))
        return np.column_stack((way * (2 * points[:, 0] / sphere.period - 1) * half, -up))

    return shapely.Point(0, 0).buffer(radius, 32), project
