"""Air and steel as the pages of runs and sheets tell it: the latest record judged, and a warning before the margin closes."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple

from django.utils import timezone

from accounts.languages import moment_words
from inspections.air import Air, air_words, airs_of, closing_words, notes_of, reasons_of, recent, trend_of, trend_words
from inspections.coatings import Coating
from inspections.runs import Run

BEFORE = timedelta(hours=12)


class AirTold(NamedTuple):
    """Whether work may go on by the latest record, that record in words (empty: none), and a warning of what is coming: none
    of a run that is closed."""

    in_order: bool
    says: str
    warning: str


def air_of_run(run: Run, units: str) -> AirTold:
    """The air of a run: measured up to twelve hours before it was opened, until it was closed."""
    until = run.closed_at or timezone.now()
    rows = [air for air in airs_of(run.sheet.coating) if run.opened_at - BEFORE <= air.row.at]
    told = _told(run.sheet.coating, rows, until, units)
    return told if run.closed_at is None else told._replace(warning="")


def air_now(coating: Coating, units: str) -> AirTold:
    """The air of a coating now, by the records of the last twelve hours."""
    now = timezone.now()
    return _told(coating, [air for air in airs_of(coating) if now - BEFORE <= air.row.at], now, units)


def _told(coating: Coating, airs: list[Air], until: datetime, units: str) -> AirTold:
    airs = [air for air in airs if air.row.at <= until + timedelta(minutes=1)]
    if not airs:
        return AirTold(False, "", "")
    zone = coating.zone.asset.zone_info
    trend = trend_of(recent(airs, until + timedelta(minutes=1)))
    closes = moment_words(trend.closes_at.astimezone(zone)) if trend and trend.closes_at else ""
    air = airs[-1]
    read = f"{air.row.by}, {moment_words(air.row.at.astimezone(zone))}."
    if air.verdict is None:
        return AirTold(False, f"{read} {air.problem}.", "")
    went = [trend_words(trend, units)] if trend else []
    says = [air_words(air, units), read, *went, reasons_of(air, units), *notes_of(air, units)]
    return AirTold(air.verdict.may_go_on, " ".join(filter(None, says)), closing_words(trend, units, closes))
