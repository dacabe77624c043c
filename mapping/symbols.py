"""What a drawn thing looks like: symbols, strokes, fills, hatches, letters and the words that go with them.

Styles are data and name colours by role ("ink", "open"), never by value, so that paper, screen, dark and
high contrast draw the same list. Colours of status: Okabe and Ito (2008), safe for colour-blind readers.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from accounts.wording import noted

STATUSES = ("open", "begun", "ready", "conceded", "accepted", "false", "struck")
"""Flaw statuses, the one that needs most attention first."""

UNSETTLED = frozenset({"open", "begun", "ready"})
"""Statuses that still want somebody's work."""

DOUBTS = ("unconfirmed", "by-test")
"""What a doubtful test leaves on a flaw: marks drawn around its symbol."""

FILM_CLASSES = ("thin", "thick", "out", "within")
"""What a thickness spot is by itself, the one that needs most attention first; out: it does not count."""

GROUND = ("tested", "gap", "pending", "held", "lost")
"""Styles of ground, in drawing order."""


@dataclass(frozen=True)
class Part:
    """One stroke of a symbol: a path of absolute M, L, C and Z in marks (1 mark = 1 px or 1 pt), y down."""

    path: str
    fill: str | None = None
    stroke: str | None = None
    width: float = 0.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Stroke:
    """A line's colour role, width and dashes in marks."""

    colour: str
    width: float
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Fill:
    """An area's fill role and edge; either may be missing."""

    fill: str | None
    edge: Stroke | None = None


@dataclass(frozen=True)
class Pattern:
    """A hatch: "level" lines, "slanted" lines or "dots", `step` marks apart, over a fill, with an edge."""

    kind: str
    stroke: Stroke
    step: float
    fill: str
    edge: Stroke


@dataclass(frozen=True)
class Letters:
    """How a text is set: size in marks, colour role, bold or not, with a rim of paper that parts it from lines."""

    size: float
    colour: str
    bold: bool = False
    rim: bool = True


def _circle(r: float, start: str = "M") -> str:
    k = round(r * 0.5523, 3)
    return (
        f"{start}0 {-r}C{k} {-r} {r} {-k} {r} 0C{r} {k} {k} {r} 0 {r}"
        f"C{-k} {r} {-r} {k} {-r} 0C{-r} {-k} {-k} {-r} 0 {-r}Z"
    )


def _right_half(r: float) -> str:
    k = round(r * 0.5523, 3)
    return f"M0 {-r}C{k} {-r} {r} {-k} {r} 0C{r} {k} {k} {r} 0 {r}Z"


def _diamond(r: float) -> str:
    return f"M0 {-r}L{r} 0L0 {r}L{-r} 0Z"


def _small(parts: tuple[Part, ...], factor: float = 0.55, shift: float = -12.0) -> tuple[Part, ...]:
    """A symbol made small and moved to the left end of a counting chip."""
    return tuple(
        Part(_moved(part.path, factor, shift), part.fill, part.stroke, part.width * factor, _scaled(part.dash, factor))
        for part in parts
    )


def _moved(path: str, factor: float, shift: float) -> str:
    numbers = iter(range(1_000_000))
    return re.sub(
        r"-?[\d.]+",
        lambda found: f"{round(float(found[0]) * factor + (shift if next(numbers) % 2 == 0 else 0.0), 3)}",
        path,
    )


def _scaled(dash: tuple[float, ...], factor: float) -> tuple[float, ...]:
    return tuple(length * factor for length in dash)


def _ring(colour: str) -> tuple[Part, ...]:
    """A coloured ring on card, outlined in ink 1.5 marks wide."""
    return (Part(_circle(8.0), fill="ink"), Part(_circle(6.5), fill=colour), Part(_circle(4.0), fill="card"))


CHIP_HALF = (19.0, 9.5)
"""Half width and height in marks of the chip that counts flaws."""

_CHIP = (
    "M-15 -9.5L15 -9.5C17.2 -9.5 19 -7.7 19 -5.5L19 5.5C19 7.7 17.2 9.5 15 9.5"
    "L-15 9.5C-17.2 9.5 -19 7.7 -19 5.5L-19 -5.5C-19 -7.7 -17.2 -9.5 -15 -9.5Z"
)

SYMBOLS: dict[str, tuple[Part, ...]] = {
    "open": (Part("M-7 -6L7 -6L0 7Z", "open", "ink", 1.5),),
    "begun": (*_ring("work"), Part(_right_half(6.5), fill="work")),
    "ready": (
        Part(_diamond(9.5), fill="ink"),
        Part(_diamond(7.4), fill="wait"),
        Part(_diamond(3.8), fill="card"),
    ),
    "accepted": (
        Part(_circle(8.0), fill="ink"),
        Part(_circle(6.5), fill="done"),
        Part(_circle(4.6), fill="card"),
        Part("M-2.8 0.2L-0.7 2.5L3.2 -2.4", stroke="ink", width=1.8),
    ),
    "conceded": (
        Part("M-6 -6L6 -6L6 6L-6 6Z", "card", "ink", 1.5),
        Part("M-3.5 0L3.5 0", stroke="ink", width=2.5),
    ),
    "false": (Part(_circle(6.0), "card", "soft", 1.8, (2.2, 2.1)),),
    "struck": (
        Part("M-5 -5L5 5M5 -5L-5 5", stroke="card", width=4.0),
        Part("M-5 -5L5 5M5 -5L-5 5", stroke="soft", width=1.5),
    ),
    "landmark": (Part("M-3.5 -3.5L3.5 -3.5L3.5 3.5L-3.5 3.5Z", "steel", "card", 1.0),),
    "untested-point": (
        Part("M-5 -5L5 -5L5 5L-5 5Z", "ink"),
        Part("M-3.7 -3.7L3.7 -3.7L3.7 3.7L-3.7 3.7Z", "open"),
        Part("M-1.5 -1.5L1.5 -1.5L1.5 1.5L-1.5 1.5Z", "card"),
    ),
    "cell": (Part(_CHIP, "card", "soft", 0.75),),
    "unconfirmed": (Part(_circle(12.0), None, "ink", 1.5, (4.0, 3.0)),),
    "by-test": (
        Part("M-12 -6L-12 -12L-6 -12M6 -12L12 -12L12 -6M12 6L12 12L6 12M-6 12L-12 12L-12 6", stroke="ink", width=1.5),
    ),
    "tick": (Part("M0 0L0 -5", stroke="soft", width=1.0),),
    "thin": (Part("M-8 -3L8 -3L8 3L-8 3Z", "open", "ink", 1.5),),
    "thick": (Part("M-3 -8L3 -8L3 8L-3 8Z", "wait", "ink", 1.5),),
    "within": (Part(_circle(6.0), "done", "ink", 1.5),),
    "out": (Part("M-5 -5L5 -5L5 5L-5 5Z", "card", "soft", 1.8, (2.5, 2.0)),),
    "next-place": (
        Part(_circle(7.0), "card", "steel", 1.8),
        Part("M0 -11L0 -3M0 3L0 11M-11 0L-3 0M3 0L11 0", stroke="steel", width=1.8),
    ),
}
SYMBOLS |= {f"small-{status}": _small(SYMBOLS[status]) for status in (*STATUSES, *FILM_CLASSES)}
"""Every symbol by style. Grey ones keep their own colour at the rim: it already holds the contrast an ink rim gives."""

LINES: dict[str, Stroke] = {
    "edge": Stroke("soft", 1.0),
    "grid": Stroke("line", 1.0),
    "weld": Stroke("soft", 1.5),
    "seam": Stroke("soft", 1.25, (12.0, 4.0)),
    "ridge": Stroke("steel", 2.0),
    "untested": Stroke("open", 3.5, (5.0, 3.0)),
    "landmark": Stroke("steel", 1.25, (6.0, 3.0)),
    "failed": Stroke("open", 2.0, (9.0, 4.0)),
    "bar-unsettled": Stroke("open", 4.0),
    "bar-settled": Stroke("soft", 4.0),
}

AREAS: dict[str, Fill] = {
    "paper": Fill("card"),
    "tested": Fill("tint"),
    "gap": Fill("card", Stroke("ink", 1.0)),
    "excluded": Fill("line", Stroke("soft", 1.0)),
    "swept-again": Fill(None, Stroke("steel", 2.0, (2.0, 3.0))),
    "patch": Fill(None, Stroke("ink", 1.5)),
    "patch-settled": Fill(None, Stroke("soft", 1.0)),
}

HATCHES: dict[str, Pattern] = {
    "pending": Pattern("level", Stroke("steel", 1.0), 6.0, "card", Stroke("steel", 1.0)),
    "held": Pattern("dots", Stroke("soft", 2.0), 6.0, "card", Stroke("soft", 1.0)),
    "lost": Pattern("slanted", Stroke("held", 2.0), 9.0, "card", Stroke("ink", 1.25, (5.0, 3.0))),
}

TEXTS: dict[str, Letters] = {
    "start": Letters(11.0, "ink", bold=True),
    "axis": Letters(11.0, "soft"),
    "side": Letters(11.0, "soft"),
    "landmark": Letters(11.0, "ink"),
    "tag": Letters(12.0, "ink"),
    "patch": Letters(11.0, "ink"),
    "reason": Letters(11.0, "ink", rim=False),
    "count": Letters(11.0, "ink", bold=True, rim=False),
}

WORDS: dict[str, str] = {
    "open": noted("open"),
    "begun": noted("repair begun"),
    "ready": noted("ready for retest"),
    "conceded": noted("conceded"),
    "accepted": noted("accepted"),
    "false": noted("false indication"),
    "struck": noted("struck out"),
    "unconfirmed": noted("unconfirmed: damp, salt, uncured film or a wet run may have faked it"),
    "by-test": noted("may be made by the test: too high a voltage"),
    "tested": noted("tested"),
    "gap": noted("gap: not swept"),
    "pending": noted("pending: next check not made yet"),
    "held": noted("held: waits for a decision"),
    "lost": noted("lost: sweep again"),
    "excluded": noted("excluded"),
    "swept-again": noted("swept more than once at high voltage; the figure says how often"),
    "patch": noted("patch"),
    "cell": noted("several flaws, counted; the symbol is the most urgent one"),
    "landmark": noted("nozzle, bracket or other landmark"),
    "weld": noted("weld"),
    "seam": noted("seam of plates"),
    "ridge": noted("edge"),
    "untested": noted("weld or edge not tested"),
    "untested-point": noted("nozzle or bracket not tested"),
    "thin": noted("thin: below what a spot may be"),
    "thick": noted("thick: above what a spot may be"),
    "out": noted("does not count: in doubt, incomplete or coated over"),
    "within": noted("within what a spot may be"),
    "next-place": noted("measure here next"),
    "failed": noted("bounds of a failed area"),
}
"""What each style means, for legends and for those who cannot see the colours."""


@dataclass(frozen=True)
class Marking:
    """What the marks of a sheet are: their classes, the most urgent first, and the words about them.

    unsettled : how many of the first classes the overview counts apart. bars, cell, keys : what the overview's bars
    count, what a counted cell is, and what the keys do. words : in the reader's language, in place of WORDS.
    """

    statuses: tuple[str, ...]
    unsettled: int
    bars: str
    cell: str
    keys: str
    words: Mapping[str, str] = field(default_factory=dict)


FLAW_MARKS = Marking(
    STATUSES,
    len(UNSETTLED),
    noted("Bars count flaws; the orange part is not settled."),
    WORDS["cell"],
    noted(
        "Sheet; arrow keys move, plus and minus zoom, full stop and comma go from flaw to flaw, Enter opens the one chosen"
    ),
)
FILM_MARKS = Marking(
    FILM_CLASSES,
    2,
    noted("Bars count thickness spots; the orange part is thinner or thicker than a spot may be."),
    noted("several spots, counted; the symbol is the one that needs most attention"),
    noted(
        "Thickness map; arrow keys move, plus and minus zoom, full stop and comma go from spot to spot, Enter opens the one "
        "chosen"
    ),
)

PRINT_PALETTE: dict[str, str] = {
    "paper": "#ffffff",
    "card": "#ffffff",
    "ink": "#17212b",
    "soft": "#56616c",
    "line": "#d9d6cc",
    "steel": "#1f4e79",
    "tint": "#dfe9ef",
    "open": "#d55e00",
    "work": "#e69f00",
    "wait": "#56b4e9",
    "done": "#009e73",
    "held": "#cc79a7",
}
"""Colours of the printed sheet by role."""
