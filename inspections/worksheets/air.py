"""Worksheets of painting: the air one works in, and the film one puts on."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.units import AreaField, FilmField, PercentField, TemperatureField, plain, show
from accounts.wording import noted, say
from accounts.worksheets import Answer, Figure, Source, WorksheetGiven, worksheet
from inspections.air import apart, degrees_in
from inspections.atmosphere import (
    DEW_POINT_MARGIN_C,
    HIGHEST_HUMIDITY_PERCENT,
    WorkVerdict,
    humidity_from_wet_bulb,
    work_may_go_on,
)
from inspections.film import dry_from_wet, paint_needed, wet_for_dry

AIR = _("Air and film")
ASHRAE = Source(noted("ASHRAE Handbook: Fundamentals, chapter 1, equations 5 and 6, by the library PsychroLib"), "2017")
ASHRAE_WET = Source(noted("ASHRAE Handbook: Fundamentals, chapter 1, equation 35, by the library PsychroLib"), "2017")
MARGIN = Source(noted("IMO MSC.215(82) and ISO 8502-4, from public copies and summaries"))


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
        notes=(
            *verdict.notes(degrees_in(units)),
            say("Measure again when the weather turns, and where the steel is coldest."),
        ),
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
        gaps = {"margin": apart(margin, units), "least": apart(DEW_POINT_MARGIN_C, units), "name": name}
        reasons.append(say("The coldest steel is {margin} above the {name}; at least {least} is asked.", **gaps))
    if verdict.humidity_percent > HIGHEST_HUMIDITY_PERCENT:
        humidity, most = verdict.humidity_percent, HIGHEST_HUMIDITY_PERCENT
        reasons.append(
            say("Humidity is {humidity:.1f} %; at most {most:g} % is allowed.", humidity=humidity, most=most)
        )
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
                "margin", say("coldest steel above it"), verdict.margin_c, "°C", apart(verdict.margin_c, units),
                say("coldest steel {steel} less the {name}; at least {least} asked", name=name,
                    steel=show(verdict.coldest_steel_c, "celsius", units, 1), least=apart(DEW_POINT_MARGIN_C, units)),
                MARGIN,
            )
        )  # fmt: skip
    return figures


SOLIDS = Source(noted("ISO 3233-1 and ASTM D2697 define volume solids; the arithmetic"), "", "common practice")


class FilmGiven(WorksheetGiven):
    wet = FilmField(
        label=_("Wet film"),
        min_value=1,
        max_value=20_000,
        allow_null=True,
        default=None,
        help_text=_("By comb or wheel."),
    )
    dry = FilmField(
        label=_("Dry film asked for"), min_value=1, max_value=20_000, allow_null=True, default=None,
        help_text=_("Give the wet film, the dry film, or both."),
    )  # fmt: skip
    solids = PercentField(label=_("Volume solids"), min_value=1, help_text=_("From the product data sheet, as mixed."))
    thinner = PercentField(label=_("Thinner added"), default=0.0, help_text=_("By volume of paint."))
    area = AreaField(label=_("Area"), min_value=0.0001, max_value=1e8, allow_null=True, default=None)
    loss = PercentField(
        label=_("Loss"),
        max_value=95,
        default=0.0,
        help_text=_("Overspray, profile, what stays in cans: an estimate of yours."),
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if given["wet"] is None and given["dry"] is None:
            raise serializers.ValidationError({"wet": say("Give the wet film, the dry film, or both.")})
        return given


@worksheet(
    "film",
    takes=FilmGiven,
    title=_("Wet film, dry film and paint"),
    about=_("The dry film a wet film leaves, the wet film to apply for a dry one, and the paint one coat takes."),
    part=AIR,
    example={"wet": 220.0, "dry": 125.0, "solids": 62.0, "thinner": 5.0, "area": 85.0, "loss": 30.0},
)
def film_worksheet(given: dict[str, Any], units: str) -> Answer:
    solids, loss = plain(given["solids"]), plain(given["loss"])
    thinner = plain(given["thinner"]) / 100
    wet, dry, area = plain(given["wet"]), plain(given["dry"]), plain(given["area"])
    figures, sentences = [], []
    gaps = {"solids": solids, "thinner": 100 * thinner}
    if wet is not None:
        left = dry_from_wet(wet, solids, thinner)
        shown = show(left, "film", units)
        figures.append(
            Figure(
                "dry", say("dry film this wet film leaves"), left, "µm", shown,
                say("wet film × {solids:g} % / (1 + {thinner:g} %)", **gaps), SOLIDS,
            )
        )  # fmt: skip
        sentences.append(say("{wet} wet dries to {dry}.", wet=show(wet, "film", units), dry=shown))
    if dry is not None:
        needed = wet_for_dry(dry, solids, thinner)
        shown = show(needed, "film", units)
        figures.append(
            Figure(
                "wet", say("wet film to apply"), needed, "µm", shown,
                say("dry film × (1 + {thinner:g} %) / {solids:g} %", **gaps), SOLIDS,
            )
        )  # fmt: skip
        sentences.append(say("For {dry} dry, apply {wet} wet.", dry=show(dry, "film", units), wet=shown))
    if area is not None:
        film = dry if dry is not None else dry_from_wet(wet, solids, thinner)
        sentences.append(_paint(figures, area, film, solids, thinner, loss, units))
    return Answer(
        " ".join(sentences),
        tuple(figures),
        notes=(say("The product data sheet's range of wet film and its limit of thinner come first."),),
        cautions=(
            say("Paint and thinner burn and harm: ventilate, and wear what the safety data sheet asks for."),
            say("Thinner left in the film makes it porous: no high-voltage test before it has cured."),
        ),
    )


def _paint(
    figures: list[Figure], area: float, film: float, solids: float, thinner: float, loss: float, units: str
) -> str:
    """Adds the paint one coat takes; returns it in words."""
    needed = paint_needed(area, film, solids, loss)
    figures += [
        Figure(
            "paint", say("paint for one coat, with the loss"), needed.litres, "l", _volume(needed.litres, units),
            say("area × dry film / (10 × {solids:g} % × (1 − {loss:g} %))", solids=solids, loss=loss), SOLIDS,
        ),
        Figure(
            "without_loss", say("of which stays on the surface"), needed.without_loss, "l", _volume(needed.without_loss, units),
            say("area × dry film / (10 × {solids:g} %)", solids=solids), SOLIDS,
        ),
    ]  # fmt: skip
    if thinner:
        figures.append(
            Figure(
                "thinner", say("thinner for it"), needed.litres * thinner, "l", _volume(needed.litres * thinner, units),
                say("{share:g} % of the paint", share=100 * thinner), SOLIDS,
            )
        )  # fmt: skip
    return say("One coat on {area} takes {paint}.", area=show(area, "area", units), paint=_volume(needed.litres, units))


def _volume(litres: float, units: str) -> str:
    """Litres, or US gallons of 3.785412 l (NIST SP 811, appendix B.8)."""
    return (
        say("{gallons:.1f} US gal", gallons=litres / 3.785412)
        if units == "us"
        else say("{litres:.1f} l", litres=litres)
    )
