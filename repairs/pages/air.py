"""The air of a zone: the margin above the dew point over time, its trend, and every record as a table."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from accounts.access import roles_on
from accounts.acting import any_may, find, may
from accounts.languages import moment_words
from accounts.people import Person
from accounts.units import show
from accounts.wording import say
from inspections.air import (
    Air,
    airs_of,
    apart,
    closing_words,
    notes_of,
    reasons_of,
    recent,
    steel_words,
    trend_of,
    trend_words,
)
from inspections.air_trend import SOURCE as TREND_SOURCE
from inspections.atmosphere import SOURCE as MARGIN_SOURCE
from mapping.zones import Zone
from repairs import charts
from repairs.margins import last_day, margin_chart_of
from repairs.pages.zones import current_coating


@login_required
@require_safe
def air_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    coating = current_coating(zone)
    if coating is None:
        return render(request, "repairs/zone_bare.html", {"zone": zone, "asset": zone.asset})
    airs, clock = airs_of(coating), zone.asset.zone_info
    trend = trend_of(airs)
    may_strike = any_may(roles_on(person, coating), "strike_atmosphere")
    going_on = bool(recent(airs, timezone.now()))
    closes = moment_words(trend.closes_at.astimezone(clock)) if trend and trend.closes_at else ""
    return render(
        request,
        "repairs/air.html",
        {
            "zone": zone,
            "asset": zone.asset,
            "coating": coating,
            "tone": _tone(airs, going_on),
            "sentence": _sentence(airs, trend_words(trend, person.units), going_on, person.units),
            "warning": closing_words(trend, person.units, closes) if going_on else "",
            "chart": mark_safe(charts.svg(margin_chart_of(last_day(airs), person.units, clock)))
            if len(last_day(airs)) > 1
            else "",
            "rows": [_row(air, person.units, may_strike=may_strike) for air in reversed(airs)],
            "sources": (MARGIN_SOURCE, TREND_SOURCE),
            "may_record": may(person, "record_atmosphere", coating),
            "here": request.get_full_path(),
        },
    )


def _tone(airs: list[Air], going_on: bool) -> str:
    """The class of the sentence: open where work may not go on, nothing while nothing is known of now."""
    if not going_on:
        return ""
    verdict = airs[-1].verdict
    return "done" if verdict is not None and verdict.may_go_on else "open"


def _sentence(airs: list[Air], trend: str, going_on: bool, units: str) -> str:
    if not airs:
        return say("Neither air nor steel was measured for this coating.")
    last = airs[-1]
    if not going_on:
        return say("Nothing was measured in the last four hours. What stands below says nothing of now.")
    if last.verdict is None:
        return f"{last.problem}."
    judged = say("By the latest record work may go on.") if last.verdict.may_go_on else reasons_of(last, units)
    return f"{judged} {trend}"


def _row(air: Air, units: str, *, may_strike: bool) -> dict[str, Any]:
    verdict = air.verdict
    return {
        "row": air.row,
        "instruments": list(dict.fromkeys(each for each in (air.row.hygrometer, air.row.thermometer) if each)),
        "may_strike": may_strike,
        "air": show(air.row.air, "celsius", units, 1),
        "humidity": f"{air.humidity:.0f} %" if air.humidity is not None else "–",
        "wet_bulb": show(air.row.wet_bulb, "celsius", units, 1) if air.row.wet_bulb is not None else "",
        "steel": steel_words(air.row, units),
        "dew": show(verdict.dew_point.celsius, "celsius", units, 1) if verdict else "–",
        "over": verdict.dew_point.over if verdict else "",
        "margin": apart(air.margin, units) if air.margin is not None else "–",
        "in_order": verdict is not None and verdict.may_go_on,
        "why": reasons_of(air, units),
        "notes": " ".join(notes_of(air, units)),
    }
