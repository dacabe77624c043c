"""The air of a coating as recorded, each record judged, and where its margin is going; words for pages and papers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from accounts.units import show
from accounts.wording import say
from inspections.air_trend import WINDOW, Measured, Trend, margin_trend
from inspections.atmosphere import (
    CELSIUS,
    DEW_POINT_MARGIN_C,
    FAHRENHEIT,
    Degrees,
    WorkVerdict,
    freezing,
    iced_bulb,
    relative_humidity,
    work_may_go_on,
)
from inspections.coatings import Atmosphere, Coating


class Air(NamedTuple):
    """One record of air and steel with what follows from it. `verdict` is None where the record cannot be: `problem` says why.

    humidity : %, as read or from the wet bulb. coldest_at : where the coldest steel was read, as said.
    """

    row: Atmosphere
    humidity: float | None
    verdict: WorkVerdict | None
    coldest_at: str
    problem: str

    @property
    def margin(self) -> float | None:
        return self.verdict.margin_c if self.verdict else None


def air_of(row: Atmosphere) -> Air:
    """A record judged; one that cannot be is shown with the reason."""
    try:
        humidity = relative_humidity(row.air, row.humidity, row.wet_bulb)
        verdict = work_may_go_on(row.air, humidity, row.steel)
    except ValueError as problem:
        return Air(row, None, None, "", str(problem))
    places = list(row.steel_at or [])
    coldest = row.steel.index(min(row.steel)) if row.steel else None
    where = places[coldest] if coldest is not None and coldest < len(places) else ""
    return Air(row, humidity, verdict, where, "")


def degrees_in(units: str) -> Degrees:
    """How a reader of "si" or "us" units is told a temperature and a difference of temperatures."""
    return FAHRENHEIT if units == "us" else CELSIUS


def reasons_of(air: Air, units: str) -> str:
    """What speaks against work by a record, in the reader's units; nothing where it may go on."""
    return " ".join(air.verdict.reasons(degrees_in(units))) if air.verdict else air.problem


def notes_of(air: Air, units: str) -> tuple[str, ...]:
    """What has to be said beside a record's figures."""
    if air.verdict is None:
        return ()
    row, degrees = air.row, degrees_in(units)
    notes = air.verdict.notes(degrees)
    if row.humidity is None and row.wet_bulb is not None:
        notes = (*notes, say("The humidity follows from the wet bulb, at the air pressure of sea level."))
        if iced_bulb(row.wet_bulb):
            freeze = freezing(degrees)
            notes = (*notes, say("At or below {freezing} the wet bulb is taken as iced over.", freezing=freeze))
    return notes


def airs_of(coating: Coating) -> list[Air]:
    """Every record of the coating that is not struck out, the earliest first."""
    rows = (
        Atmosphere.objects.filter(coating=coating, struck_at=None)
        .select_related("by", "hygrometer", "thermometer")
        .order_by("at", "pk")
    )
    return [air_of(row) for row in rows]


def trend_of(airs: Iterable[Air]) -> Trend | None:
    """The trend of the margin at the latest of these records."""
    return margin_trend(Measured(air.row.at, air.margin) for air in airs if air.margin is not None)


def recent(airs: Sequence[Air], moment: datetime) -> list[Air]:
    """The records of the window that ends with the moment; a trend of older ones says nothing of it."""
    return [air for air in airs if moment - WINDOW <= air.row.at <= moment]


def air_words(air: Air, units: str) -> str:
    """One record with what follows from it, as a sentence."""
    verdict = air.verdict
    if verdict is None or verdict.margin_c is None:
        return air.problem
    point = say("frost point") if verdict.dew_point.over == "ice" else say("dew point")
    return say(
        "Air {air}, {humidity:.0f} %; steel {steel}; {point} {dew}; the coldest steel is {margin} above it.",
        air=show(air.row.air, "celsius", units, 1),
        humidity=verdict.humidity_percent,
        steel=steel_words(air.row, units),
        point=point,
        dew=show(verdict.dew_point.celsius, "celsius", units, 1),
        margin=apart(verdict.margin_c, units),
    )


def closing_words(trend: Trend | None, units: str, at: str) -> str:
    """A warning before the margin closes, else nothing. `at` is the hour of closing as the asset's clock shows it."""
    if trend is None or trend.closes_at is None:
        return ""
    least = apart(DEW_POINT_MARGIN_C, units)
    gaps = {"count": trend.records, "rate": apart(-trend.per_hour, units), "least": least}
    if trend.closes_at <= trend.latest:
        return say(
            "The margin is falling by {rate} an hour ({count} records) and the line through it is at or below {least} "
            "already: measure now, before anything more is swept or painted.",
            **gaps,
        )
    return say(
        "The margin is falling by {rate} an hour ({count} records): if it goes on like this, the coldest steel comes within "
        "{least} of the dew point at about {at}. Measure again before then.",
        at=at,
        **gaps,
    )


def trend_words(trend: Trend | None, units: str) -> str:
    """The trend as a plain sentence."""
    if trend is None:
        return say("Three records within four hours make a trend; there are fewer.")
    rate = apart(abs(trend.per_hour), units)
    gaps = {"rate": rate, "count": trend.records}
    if trend.per_hour < 0:
        return say("By a straight line through the last {count} records the margin falls by {rate} an hour.", **gaps)
    return say("By a straight line through the last {count} records the margin grows by {rate} an hour.", **gaps)


def apart(celsius: float, units: str) -> str:
    """A difference of temperatures in the reader's unit: no zero to shift."""
    return f"{celsius * 1.8:.1f} °F" if units == "us" else f"{celsius:.1f} °C"


def steel_words(row: Atmosphere, units: str) -> str:
    """Every steel reading with the place it was read at."""
    places = [*(row.steel_at or []), *[""] * len(row.steel)]
    return "; ".join(
        f"{show(reading, 'celsius', units, 1)}{f' ({place})' if place else ''}"
        for reading, place in zip(row.steel, places, strict=False)
    )
