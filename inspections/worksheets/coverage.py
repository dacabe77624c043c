"""The worksheet of coverage: swaths with their times and the checks around them, divided into what counts and what does not."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, NamedTuple, cast

import shapely
from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.lines import LinesField
from accounts.units import DurationHoursField, plain, show
from accounts.wording import noted, say, say_many
from accounts.worksheets import Answer, Cell, Column, Figure, Source, Table, Tone, cut, worksheet
from inspections.daytimes import read_time
from inspections.standing import Check, CheckDue, Event, Method, Outcome, RunFacts, Standing, Sweep, standings
from inspections.terms import METHODS
from mapping.coverage import Ground, Listing, divide, is_full, listing, share_words, testable, tested_share
from mapping.surface_forms import KIND_WORDS
from mapping.surfaces import Surface
from mapping.surfaces.plane import Areal
from mapping.worksheets.asked import OnSurfaceGiven, example_on
from mapping.worksheets.drawing import picture, told_shape
from mapping.worksheets.places import GEOMETRY

TESTING = _("Testing")
TRUTH = Source("Checks before and after decide what a sweep is worth", "", "common practice")
UNION = Source("Area of the union of shapes on the unrolled plane", "", "plain arithmetic")
DAY = datetime(2000, 1, 1, tzinfo=UTC)
MOST_SWATHS, MOST_CHECKS, MOST_POINTS = 100, 150, 200
LISTED = 40
OUTCOMES = {"good": _("good"), "low": _("failed low"), "high": _("failed high")}
EVENTS = {
    "battery": _("battery changed"),
    "electrode": _("electrode changed"),
    "lead": _("lead changed"),
    "setting": _("setting changed"),
    "operator": _("operator changed"),
    "drop": _("instrument dropped"),
}
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
_POINT = re.compile(r"(-?\d{1,7}(?:\.\d{1,6})?) +(-?\d{1,7}(?:\.\d{1,6})?)", re.ASCII)
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


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string", "maxLength": 4000},
            {
                "type": "array",
                "maxItems": MOST_POINTS,
                "items": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2},
            },
        ],
        "description": "Ground as spoken; or the corners of a shape in plane metres, as [x, y] or as text: plane 0 0, 4 0, 4 2.",
    }
)
class GroundField(serializers.Field):
    """Spoken ground, or the corners of a shape in plane metres. Gives text or a polygon; the surface reads it later."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, str) and data.strip().lower().startswith("plane "):
            found = [_POINT.fullmatch(point.strip()) for point in data.strip()[6:].split(",")]
            if not all(found):
                raise serializers.ValidationError(say("Write corners in metres as: plane 0 0, 4 0, 4 2."))
            data = [[float(point[1]), float(point[2])] for point in found if point]
        if isinstance(data, str):
            if len(data) > 200:
                raise serializers.ValidationError(
                    say("This has {count} characters; at most 200 are read.", count=len(data))
                )
            return data.strip()
        return _polygon(data)

    def to_representation(self, value: Any) -> Any:
        return value


def _polygon(points: Any) -> shapely.Polygon:
    numbers = isinstance(points, list) and all(
        isinstance(point, list)
        and len(point) == 2
        and all(type(each) in (int, float) and abs(each) < 1e7 for each in point)
        for point in points
    )
    if not numbers or not 3 <= len(points) <= MOST_POINTS:
        raise serializers.ValidationError(
            say("A shape has 3 to {most} corners, each [x, y] in metres.", most=MOST_POINTS)
        )
    polygon = shapely.Polygon(points)
    if not polygon.is_valid:
        raise serializers.ValidationError(say("The shape crosses itself: give its corners in order."))
    return polygon


@extend_schema_field({"type": "string", "maxLength": 40, "description": "A clock time, or a date with a time."})
class MomentField(serializers.Field):
    """A clock time, or a date with a time. Gives a moment; a bare clock time is of one and the same day."""

    def to_internal_value(self, data: Any) -> datetime:
        text = str(data).strip()[:40]
        try:
            if "-" in text:
                moment = datetime.fromisoformat(text.replace(" ", "T", 1))
                return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
            return datetime.combine(DAY, read_time(text), tzinfo=UTC)
        except ValueError:
            raise serializers.ValidationError(
                say('"{said}" is no time: write 08:10, or 2031-05-14 08:10.', said=text[:40])
            ) from None

    def to_representation(self, value: Any) -> Any:
        return value


class SwathGiven(serializers.Serializer):
    """One sweep: when, and the ground."""

    begin = MomentField(label=_("from"))
    end = MomentField(label=_("to"))
    place = GroundField(label=_("ground"))

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if given["end"] <= given["begin"]:
            raise serializers.ValidationError(
                {"end": say("It ends before it begins. Past midnight, write the date too.")}
            )
        return given


class CheckGiven(serializers.Serializer):
    at = MomentField(label=_("at"))
    outcome = serializers.ChoiceField(label=_("outcome"), choices=list(OUTCOMES.items()))


class EventGiven(serializers.Serializer):
    at = MomentField(label=_("at"))
    event = serializers.ChoiceField(label=_("event"), choices=list(EVENTS.items()))


class ExclusionGiven(serializers.Serializer):
    reason = serializers.CharField(label=_("reason"), max_length=120)
    place = GroundField(label=_("ground"))


class CoverageGiven(OnSurfaceGiven):
    swaths = LinesField(
        SwathGiven, most=MOST_SWATHS, rows=6, label=_("Swept"),
        help_text=_("One a line: from; to; ground as spoken. A drawn shape: plane 0 0, 4 0, 4 2 in metres."),
    )  # fmt: skip
    checks = LinesField(
        CheckGiven, most=MOST_CHECKS, rows=5, required=False, default=list, label=_("Checks of the instrument"),
        help_text=_("One a line: at; good, low or high."),
    )  # fmt: skip
    closed = serializers.BooleanField(
        label=_("The run is closed"), default=False, help_text=_("Then a check that was not made is missing.")
    )
    interval = DurationHoursField(
        label=_("Check at least every"), min_value=0.01, max_value=240, page_unit="min", allow_null=True, default=None,
        help_text=_("Left empty where the specification asks for none."),
    )  # fmt: skip
    method = serializers.ChoiceField(
        label=_("Method"), choices=list(METHODS.items()), default="high_voltage_dc", style={"later": True}
    )
    exclusions = LinesField(
        ExclusionGiven, most=40, rows=3, required=False, default=list, label=_("Excluded, accepted by the owner"),
        help_text=_("One a line: reason; ground."),
    )  # fmt: skip
    events = LinesField(
        EventGiven, most=40, rows=3, required=False, default=list, label=_("Events after which a check is due"),
        help_text=_("One a line: at; battery, electrode, lead, setting, operator or drop."),
    )  # fmt: skip
    out_of_calibration = serializers.BooleanField(
        label=_("Instrument out of calibration"), default=False, style={"later": True}
    )
    no_return = serializers.BooleanField(label=_("Return not proven"), default=False, style={"later": True})
    below_band = serializers.BooleanField(label=_("Voltage set below the band"), default=False, style={"later": True})
    above_band = serializers.BooleanField(label=_("Voltage set above the band"), default=False, style={"later": True})
    damp = serializers.BooleanField(label=_("Surface damp or salty"), default=False, style={"later": True})
    uncured = serializers.BooleanField(label=_("Film not cured"), default=False, style={"later": True})

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        for name in ("exclusions", "events"):
            fields[name].style |= {"later": True}
        return fields

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        given = super().validate(given)
        shapes = [line["place"] for line in (*given["swaths"], *given["exclusions"])]
        drawn = [shape for shape in shapes if isinstance(shape, shapely.Polygon)]
        points = int(shapely.get_num_coordinates(drawn).sum()) if drawn else 0
        if points > MOST_POINTS + len(drawn):
            raise serializers.ValidationError(
                {"swaths": say("The drawn shapes have {points} corners together; at most {most} are taken.",
                               points=points - len(drawn), most=MOST_POINTS)}
            )  # fmt: skip
        for name in ("swaths", "exclusions"):
            given[name] = _on(given["surface"], name, given[name])
        return given


def _on(surface: Surface, field: str, lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The lines with their ground as folded shapes."""
    placed, wrong = [], {}
    for number, line in enumerate(lines):
        said = line["place"]
        try:
            shape = surface.read_region(said) if isinstance(said, str) else surface.fold(said)
            if shape.is_empty:
                raise ValueError(say("It lies off the zone: {limits}.", limits=surface.limits_text()))
        except ValueError as problem:
            wrong[str(number)] = {"place": [str(problem)]}
            continue
        placed.append(
            {**line, "shape": shape, "said": said if isinstance(said, str) else surface.describe_region(shape)}
        )
    if wrong:
        raise serializers.ValidationError({field: wrong})
    return placed


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
        why = "; ".join(cause.words for cause in standing.causes) or say("between two good checks")
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
