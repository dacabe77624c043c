"""Worksheets of testing: the air one works in."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.units import PercentField, TemperatureField, show
from accounts.wording import say
from accounts.worksheets import Answer, Figure, Source, WorksheetGiven, worksheet
from inspections.atmosphere import (
    DEW_POINT_MARGIN_C,
    HIGHEST_HUMIDITY_PERCENT,
    WorkVerdict,
    humidity_from_wet_bulb,
    work_may_go_on,
)

AIR = _("Air and film")
ASHRAE = Source("ASHRAE Handbook: Fundamentals, chapter 1, equations 5 and 6, by the library PsychroLib", "2017")
ASHRAE_WET = Source("ASHRAE Handbook: Fundamentals, chapter 1, equation 35, by the library PsychroLib", "2017")
MARGIN = Source("IMO MSC.215(82) and ISO 8502-4, from public copies and summaries")


class DewPointGiven(WorksheetGiven):
    air = TemperatureField(label=_("Air"), min_value=-60, max_value=80)
    humidity = PercentField(
        label=_("Relative humidity"), allow_null=True, default=None, help_text=_("Or give the wet bulb below.")
    )
    wet_bulb = TemperatureField(label=_("Wet bulb"), allow_null=True, default=None, help_text=_("At sea level."))
    steel = serializers.ListField(
        child=TemperatureField(),
        label=_("Steel readings"),
        max_length=100,
        default=list,
        help_text=_("The coldest one counts. Several are divided by spaces."),
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if (given["humidity"] is None) == (given["wet_bulb"] is None):
            raise serializers.ValidationError({"humidity": say("Give the humidity or the wet bulb: one of the two.")})
        return given


@worksheet(
    "dew-point",
    takes=DewPointGiven,
    title=_("Dew point"),
    about=_(
        "Whether work may go on in this air: the dew point (below freezing the frost point), how far the coldest steel "
        "is above it, and the humidity against its limit."
    ),
    part=AIR,
    example={"air": 18.0, "humidity": 62.0, "steel": [15.5, 16.2]},
)
def dew_point_worksheet(given: dict[str, Any], units: str) -> Answer:
    air = given["air"].value
    measured = ASHRAE_WET if given["humidity"] is None else Source("As typed", "", "plain arithmetic")
    try:
        humidity = (
            humidity_from_wet_bulb(air, given["wet_bulb"].value)
            if given["humidity"] is None
            else given["humidity"].value
        )
        verdict = work_may_go_on(air, humidity, [reading.value for reading in given["steel"]])
    except ValueError as problem:
        raise serializers.ValidationError(
            {"wet_bulb" if given["humidity"] is None else "humidity": str(problem)}
        ) from problem
    sentence = _air_words(verdict, units)
    return Answer(
        sentence,
        tuple(_figures(verdict, measured, units)),
        notes=(*verdict.notes, say("Measure again when the weather turns, and where the steel is coldest.")),
        cautions=(
            say(
                "These figures judge condensation only. The product data sheet's own limits of temperature come first."
            ),
        ),
        tone="done" if verdict.may_go_on else "open",
    )


def _air_words(verdict: WorkVerdict, units: str) -> str:
    if verdict.may_go_on:
        return say("In this air work may go on.")
    dew, margin = verdict.dew_point, verdict.margin_c
    name = say("frost point") if dew.over == "ice" else say("dew point")
    reasons = []
    if margin is None:
        reasons.append(say("No steel temperature was given."))
    elif margin < 0:
        reasons.append(say("The coldest steel is below the {name}: it is wet.", name=name))
    elif margin < DEW_POINT_MARGIN_C:
        gaps = {"margin": _difference(margin, units), "least": _difference(DEW_POINT_MARGIN_C, units), "name": name}
        reasons.append(say("The coldest steel is {margin} above the {name}; at least {least} is asked.", **gaps))
    if verdict.humidity_percent > HIGHEST_HUMIDITY_PERCENT:
        gaps = {"humidity": verdict.humidity_percent, "most": HIGHEST_HUMIDITY_PERCENT}
        reasons.append(say("Humidity is {humidity:.1f} %; at most {most:g} % is allowed.", **gaps))
    return " ".join((say("Work may not go on."), *reasons))


def _figures(verdict: WorkVerdict, measured: Source, units: str) -> list[Figure]:
    dew = verdict.dew_point
    name = say("frost point") if dew.over == "ice" else say("dew point")
    figures = [
        Figure(
            "dew_point", name, dew.celsius, "°C", show(dew.celsius, "celsius", units, 1),
            say("temperature at which this vapour is saturated, over ice") if dew.over == "ice"
            else say("temperature at which this vapour is saturated, over water"), ASHRAE,
        ),
        Figure(
            "humidity", say("relative humidity"), verdict.humidity_percent, "%", f"{verdict.humidity_percent:.1f} %",
            say("at most {most:g} %, the limit included", most=HIGHEST_HUMIDITY_PERCENT),
            measured if measured is ASHRAE_WET else MARGIN,
        ),
    ]  # fmt: skip
    if verdict.margin_c is not None:
        figures.append(
            Figure(
                "margin", say("coldest steel above it"), verdict.margin_c, "°C", _difference(verdict.margin_c, units),
                say("coldest steel {steel} less the {name}; at least {least} asked", name=name,
                    steel=show(verdict.coldest_steel_c, "celsius", units, 1), least=_difference(DEW_POINT_MARGIN_C, units)),
                MARGIN,
            )
        )  # fmt: skip
    return figures


def _difference(celsius: float, units: str) -> str:
    """A difference of temperatures: no zero to shift."""
    return f"{celsius * 1.8:.1f} °F" if units == "us" else f"{celsius:.1f} °C"
