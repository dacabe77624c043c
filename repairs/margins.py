"""The recorded air of a coating as the chart of its margin, for pages and papers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from zoneinfo import ZoneInfo

from inspections.air import Air, trend_of
from inspections.atmosphere import DEW_POINT_MARGIN_C
from repairs.air_chart import MarginLine, MarginPoint, margin_chart
from repairs.charts import Chart

DAY = timedelta(hours=24)
MOST_DRAWN = 200


def last_day(airs: Sequence[Air]) -> list[Air]:
    """The records of the twenty-four hours that end with the latest one: a month on one line shows nothing of today."""
    return [air for air in airs if air.row.at >= airs[-1].row.at - DAY] if airs else []


def margin_chart_of(airs: Sequence[Air], units: str, clock: ZoneInfo) -> Chart:
    """The latest records drawn with their trend, in the reader's unit."""
    scale, unit = (1.8, "°F") if units == "us" else (1.0, "°C")
    points = [
        MarginPoint(air.row.at.astimezone(clock), scale * air.margin, air.verdict.may_go_on)
        for air in airs[-MOST_DRAWN:]
        if air.verdict is not None and air.margin is not None
    ]
    trend = trend_of(airs)
    line = None
    if trend is not None:
        ends = trend.closes_at or trend.latest
        hours_in, hours_on = ((at - trend.latest) / timedelta(hours=1) for at in (trend.since, ends))
        line = MarginLine(
            trend.since.astimezone(clock),
            ends.astimezone(clock),
            scale * (trend.fitted_c + trend.per_hour * hours_in),
            scale * (trend.fitted_c + trend.per_hour * hours_on),
        )
    return margin_chart(points, scale * DEW_POINT_MARGIN_C, unit, line)
