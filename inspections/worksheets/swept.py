"""What the worksheet of coverage is given: ground and times as they are typed, one line each."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

import shapely
from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.languages import spoken
from accounts.lines import LinesField
from accounts.units import DurationHoursField
from accounts.wording import say
from inspections.daytimes import read_time
from inspections.vocabulary import METHODS
from mapping.surfaces import Surface
from mapping.worksheets.asked import OnSurfaceGiven

EVENTS = {
    "battery": _("battery changed"),
    "electrode": _("electrode changed"),
    "lead": _("lead changed"),
    "setting": _("setting changed"),
    "operator": _("operator changed"),
    "drop": _("instrument dropped"),
}
OUTCOMES = {"good": _("good"), "low": _("failed low"), "high": _("failed high")}
DAY = datetime(2000, 1, 1, tzinfo=UTC)
MOST_SWATHS, MOST_CHECKS, MOST_POINTS = 100, 150, 200
_POINT = re.compile(r"(-?\d{1,7}(?:\.\d{1,6})?) +(-?\d{1,7}(?:\.\d{1,6})?)", re.ASCII)


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
        label=_("Method"), choices=spoken(METHODS), default="high_voltage_dc", style={"later": True}
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
