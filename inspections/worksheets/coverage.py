"""The worksheet of coverage: swaths with their times and the checks around them, divided into what counts and what does not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple, cast

from django.utils.translation import gettext_lazy as _

from accounts.units import plain, show
from accounts.wording import noted, say, say_many
from accounts.worksheets import Answer, Cell, Column, Figure, Source, Table, Tone, cut, worksheet
from inspections.causes import causes_in_words
from inspections.standing import Check, CheckDue, Event, Method, Outcome, RunFacts, Standing, Sweep, standings
from inspections.worksheets.swept import DAY, CoverageGiven
from mapping.coverage import Ground, Listing, divide, is_full, listing, share_words, testable, tested_share
from mapping.surface_forms import KIND_WORDS
from mapping.surfaces import Surface
from mapping.surfaces.plane import Areal
from mapping.worksheets.asked import example_on
from mapping.worksheets.drawing import picture, told_shape
from mapping.worksheets.places import GEOMETRY

TESTING = _("Testing")
TRUTH = Source(noted("Checks before and after decide what a sweep is worth"), "", "common practice")
UNION = Source(noted("Area of the union of shapes on the unrolled plane"), "", "plain arithmetic")
LISTED = 40
GROUND_NAMES = {
    "stands": noted("tested"),
    "held": noted("held"),
    "pending": noted("pending"),
    "lost": noted("lost"),
    "gap": noted("not swept"),
}
GROUND_HOW = {
    "stands": noted("union of what stands, inside the testable area"),
    "held": noted("waits for a decision; less what stands"),
    "pending": noted("waits for the next check; less what stands or is held"),
    "lost": noted("swept, but not proven; less all above"),
    "gap": noted("testable area that no swath reached"),
}
STYLE_OF = {"stands": "tested"}
SWEPT = {
    "pipe": ("1+000.00 to 1+040.00", "1+040.00 to 1+062.00", "1+070.00 to 1+096.00, 9:00 to 3:00"),
    "bend": ("1+000.00 to 1+001.00", "1+001.00 to 1+001.60", "1+001.80 to 1+002.40, 9:00 to 3:00"),
    "strake": ("0 deg to 150 deg", "150 deg to 200 deg", "220 deg to 300 deg, 0.00 to 1.20 m up"),
    "disk": ("r 0.00 to 6.00 m", "r 6.00 to 9.00 m", "r 9.00 to 18.30 m, 0 deg to 90 deg"),
    "annulus": ("r 16.00 to 17.00 m", "r 17.00 to 17.60 m", "r 17.60 to 18.30 m, 0 deg to 90 deg"),
    "cone": ("slant 1.01 to 6.00 m", "slant 6.00 to 9.00 m", "slant 9.00 to 18.00 m, 0 deg to 90 deg"),
    "deck": ("bay A-1", "bay A-2", "B-1 to C-3"),
    "panel": ("x 0.00 to 1.50", "x 1.50 to 2.50", "x 2.50 to 4.00, y 0.00 to 1.00"),
    "head": ("r 0.00 to 0.80 m", "r 0.80 to 1.20 m", "r 1.20 to 2.10 m, 0 deg to 90 deg"),
    "sphere": ("0 deg to 150 deg", "150 deg to 200 deg", "220 deg to 300 deg, 0.00 to 3.00 m up"),
}
TIMES = (("08:10", "09:20"), ("09:40", "10:30"), ("10:50", "11:20"))
CHECKS = "08:00; good\n09:30; good\n10:40; low\n11:30; good"


class Judged(NamedTuple):
    """A swath with its ground and what it is worth."""

    line: dict[str, Any]
    standing: Standing


@worksheet(
    "coverage",
    takes=CoverageGiven,
    title=_("Coverage"),
    about=_(
        "What was swept, when, and how the instrument was checked: which ground counts as tested, which is pending, held "
        "or lost and why, and where the gaps are."
    ),
    part=TESTING,
    example={"closed": True, "checks": CHECKS},
    variants=KIND_WORDS,
    examples={
        kind: example_on(
            kind,
            swaths="\n".join(
                f"{begin}; {end}; {place}" for (begin, end), place in zip(TIMES, SWEPT[kind], strict=True)
            ),
        )
        for kind in KIND_WORDS
    },
)
def coverage(given: dict[str, Any], units: str) -> Answer:
    surface: Surface = given["surface"]
    judged = _judged(given)
    left = testable(cast(Areal, surface.outline), [line["shape"] for line in given["exclusions"]])
    ground = divide(left.shape, [(each.line["shape"], each.standing.standing) for each in judged])
    areas = {name: float(getattr(ground, name).area) for name in GROUND_NAMES}
    full = is_full(surface, ground)
    words = share_words(tested_share(ground), bool(full))
    listed = {name: listing(surface, getattr(ground, name)) for name in ("gap", "lost", "held", "pending")}
    figures = [
        Figure("true", say("true area"), surface.area, "m²", show(surface.area, "area", units), surface.limits_text(), GEOMETRY),
        Figure(
            "testable", say("testable"), float(left.shape.area), "m²", show(left.shape.area, "area", units),
            say("true area less what is excluded: {area}", area=show(sum(each.area for each in left.excluded), "area", units)),
            UNION,
        ),
        *(
            Figure(name, say(GROUND_NAMES[name]), area, "m²", show(area, "area", units), say(GROUND_HOW[name]),
                   UNION if name in ("stands", "gap") else TRUTH)
            for name, area in areas.items()
        ),
        Figure("coverage", say("coverage"), areas["stands"] / left.shape.area if left.shape.area else None, "", words,
               say("tested over testable, cut off and never rounded up"), UNION),
    ]  # fmt: skip
    shown = [(STYLE_OF.get(name, name), getattr(ground, name)) for name in GROUND_NAMES]
    return Answer(
        _sentence(surface, ground, listed["gap"], words, full, units),
        tuple(figures),
        (_standing_table(judged, units), *_places(surface, listed, units)),
        notes=tuple(
            filter(
                None,
                (say("Ground is divided without overlap: tested, held, pending, lost, gap."), surface.distance_note),
            )
        ),
        shapes=tuple(
            told_shape(name, say(GROUND_NAMES[name]), getattr(ground, name)) for name, area in areas.items() if area > 0
        ),
        drawing=picture(surface, [*shown, *(("excluded", each.shape) for each in left.excluded)]),
        tone=_tone(full, areas),
    )


def _tone(full: bool | None, areas: dict[str, float]) -> Tone:
    if full is None:
        return ""
    return "done" if full else "open" if areas["gap"] + areas["lost"] > 0 else "held"


def _judged(given: dict[str, Any]) -> list[Judged]:
    facts = RunFacts(
        method=cast(Method, given["method"]),
        closed=given["closed"],
        instrument_in_calibration=not given["out_of_calibration"],
        proven_islands=frozenset() if given["no_return"] else frozenset([""]),
        voltage_below_band=given["below_band"],
        voltage_above_band=given["above_band"],
        surface_damp_or_salty=given["damp"],
        film_uncured=given["uncured"],
        check_interval_s=None if given["interval"] is None else 3600 * plain(given["interval"]),
    )
    order = {
        at: number for number, at in enumerate(sorted({line["at"] for line in (*given["checks"], *given["events"])}))
    }
    checks = [
        Check(number, order[line["at"]], line["at"], cast(Outcome, line["outcome"]))
        for number, line in enumerate(given["checks"])
    ]
    dues = [CheckDue(order[line["at"]], line["at"], cast(Event, line["event"])) for line in given["events"]]
    sweeps = [
        Sweep(number, 0, 0, line["begin"], line["end"], hand_timed=True) for number, line in enumerate(given["swaths"])
    ]
    found = standings(facts, checks, dues, sweeps)
    return [Judged(line, found[number]) for number, line in enumerate(given["swaths"])]


def _sentence(surface: Surface, ground: Ground, gaps: Listing, words: str, full: bool | None, units: str) -> str:
    if full is None:
        return say("There is nothing to test.")
    if full:
        return say("Tested in full: 100 %.")
    sentences = [say("{words} is tested; {area} is not.", words=words, area=show(ground.untested.area, "area", units))]
    if gaps.parts:
        where = surface.describe_region(gaps.parts[0].shape)
        sentences.append(
            say_many("{count} gap: {where}.", "{count} gaps, the largest: {where}.", len(gaps.parts), where=where)
        )
    return " ".join(sentences)


def _standing_table(judged: Sequence[Judged], units: str) -> Table:
    columns = (
        Column("ground", say("ground")), Column("from", say("from")), Column("to", say("to")),
        Column("area", say("area"), "m²"), Column("standing", say("what it is worth")), Column("why", say("why")),
    )  # fmt: skip
    rows = []
    for line, standing in judged:
        why = causes_in_words("; ".join(cause.words for cause in standing.causes)) or say("between two good checks")
        rows.append(
            (
                Cell(line["said"], line["said"]),
                Cell(line["begin"].isoformat(), _clock(line["begin"])),
                Cell(line["end"].isoformat(), _clock(line["end"])),
                Cell(float(line["shape"].area), show(line["shape"].area, "area", units)),
                Cell(standing.standing, say(standing.standing)),
                Cell(why, why),
            )
        )
    return cut(Table("swaths", say("What each sweep is worth"), columns, tuple(rows), TRUTH), LISTED)


def _clock(at: datetime) -> str:
    return f"{at:%H:%M}" if at.date() == DAY.date() else f"{at:%Y-%m-%d %H:%M}"


def _places(surface: Surface, listings: Mapping[str, Listing], units: str) -> list[Table]:
    """Where the ground is that does not count, kind by kind."""
    columns = (Column("place", say("place")), Column("area", say("area"), "m²"))
    tables = []
    for name, listed in listings.items():
        rows = [
            (
                Cell(where := surface.describe_region(part.shape), where),
                Cell(part.area, show(part.area, "area", units, 2)),
            )
            for part in listed.parts[:LISTED]
        ]
        if listed.small_count:
            below = say_many("{count} part below 1 cm²", "{count} parts below 1 cm²", listed.small_count)
            rows.append((Cell(below, below), Cell(listed.small_area, f"{1e4 * listed.small_area:.2f} cm²")))
        if rows:
            title = say("Where it is {what}", what=say(GROUND_NAMES[name]))
            beyond = max(len(listed.parts) - LISTED, 0)
            tables.append(Table(name, title, columns, tuple(rows), UNION if name == "gap" else TRUTH, beyond))
    return tables
