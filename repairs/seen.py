"""An asset's drawing on its page: the zones as parts of it, and the display list as paths for SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from accounts.wording import say, say_many
from mapping.assembly import draw_asset
from mapping.elevation import SIGNS, AssetDrawing, Group, Lettering, Part, Piece, Point, Rings
from mapping.elevation_paint import GROUND_WORDS, STATE_WORDS
from mapping.zones import Zone
from repairs.picture import ZonePicture

_DOT = 2.4


class Shown(NamedTuple):
    """A piece ready for the template; paths are SVG's."""

    id: str
    words: str
    state: str
    outline: str
    tested: str
    doubtful: str
    dots: str
    chip: Point | None
    sign: str
    sign_x: float
    sign_y: float
    label: Lettering | None


class ShownGroup(NamedTuple):
    words: str
    height: float
    pieces: list[Shown]
    lettering: tuple[Lettering, ...]
    lines: list[str]


class ShownDrawing(NamedTuple):
    groups: list[ShownGroup]


class Entry(NamedTuple):
    """One line of the legend; the picture is safe markup without styles."""

    svg: str
    words: str


def part_of(zone: Zone, picture: ZonePicture | None, state: str, state_word: str) -> Part:
    """A zone as a part of its asset's drawing, with the words that say the same."""
    if picture is None:
        return Part(
            str(zone.pk), zone.name, zone.surface, state, say("{name}: {state}.", name=zone.name, state=state_word)
        )
    flaws = [(flaw.x, flaw.y) for flaw in picture.flaws if flaw.is_open]
    words = say(
        "{name}: {state}. {coverage}. {flaws}.",
        name=zone.name,
        state=state_word,
        coverage=picture.ground.words,
        flaws=say_many("{count} flaw open", "{count} flaws open", len(flaws)),
    )
    return Part(str(zone.pk), zone.name, zone.surface, state, words, picture.ground.ground, flaws)


def shown(drawing: AssetDrawing) -> ShownDrawing:
    return ShownDrawing([_group(group) for group in drawing.groups])


def drawn(parts: Sequence[Part]) -> tuple[ShownDrawing, list[Entry]]:
    """The drawing and its legend."""
    drawing = draw_asset(parts)
    return shown(drawing), legend_of(drawing)


def legend_of(drawing: AssetDrawing) -> list[Entry]:
    return [
        Entry(_swatch(name), say(words))
        for name, words in {**GROUND_WORDS, **STATE_WORDS}.items()
        if name in drawing.shown
    ]


def _group(group: Group) -> ShownGroup:
    return ShownGroup(
        group.words,
        group.height,
        [_piece(piece) for piece in group.pieces],
        group.lettering,
        [_path([line], closed=False) for line in group.lines],
    )


def _piece(piece: Piece) -> Shown:
    x, y = piece.chip or (0.0, 0.0)
    part = piece.part
    return Shown(
        part.id,
        part.words,
        part.state,
        _path(piece.outline),
        "".join(_path(rings) for rings in piece.tested),
        "".join(_path(rings) for rings in piece.doubtful),
        "".join(f"M{x:.1f} {y:.1f}m-{_DOT} 0a{_DOT} {_DOT} 0 1 0 {2 * _DOT} 0a{_DOT} {_DOT} 0 1 0 -{2 * _DOT} 0Z" for x, y in piece.dots),
        piece.chip,
        piece.sign,
        x + 7,
        y + 11,
        piece.label,
    )  # fmt: skip


def _path(rings: Rings | Iterable[Sequence[Point]], *, closed: bool = True) -> str:
    end = "Z" if closed else ""
    return "".join("M" + "L".join(f"{x:g} {y:g}" for x, y in ring) + end for ring in rings)


def _swatch(name: str) -> str:
    square = "M1 1H15V15H1Z"
    if name in STATE_WORDS:
        drawn = f'<path class="seen-state {name} seen-chip" d="{square}"/><text class="seen-sign" x="8" y="12" text-anchor="middle">{SIGNS[name]}</text>'
    elif name == "flaw":
        drawn = '<circle class="seen-flaw" cx="8" cy="8" r="3"/>'
    elif name == "tested":
        drawn = f'<path class="seen-tested" d="{square}"/><path class="seen-edge" d="{square}"/>'
    else:
        drawn = f'<path class="seen-doubt" d="{square}"/><path class="seen-hatch" fill="url(#seen-slanted)" d="{square}"/><path class="seen-edge" d="{square}"/>'
    return f'<svg class="seen-swatch" viewBox="0 0 16 16" width="18" height="18" aria-hidden="true">{drawn}</svg>'
