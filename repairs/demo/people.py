"""The demo's cards and briefings: one card that ran out this week, one that soon will, and a night run nobody was briefed for."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from accounts.assets import Asset
from inspections.runs import Run
from inspections.vocabulary import HIGH_VOLTAGE
from repairs.demo.setting import Setting

NIGHT = 20
BEFORE = timedelta(minutes=15)


def hand_in_cards(there: Setting) -> None:
    """What the crew is qualified as: of the one who sweeps today the card ran out two days ago."""
    today = there.now.astimezone(there.zone).date()
    for who, scheme, level, number, issued, left in (
        ("crew", "Coating inspector", "level 2", "CI-4410", 700, 395),
        ("crew2", "Coating inspector", "level 1", "CI-5127", 1093, -2),
        ("crew2", "Rope access", "level 1", "RA-0931", 500, 595),
        ("lead", "Coating inspector", "level 3", "CI-1002", 1078, 17),
    ):
        there.do(
            "record_qualification",
            "lead",
            there.people[who],
            scheme=scheme,
            level=level,
            number=number,
            issued=_day(today, -issued),
            expires=_day(today, left),
        )


def brief_everybody(there: Setting, asset: Asset) -> None:
    """A briefing before the first high-voltage run of each day, for all who work before the night."""
    runs = Run.objects.filter(sheet__coating__zone__asset=asset, method__in=HIGH_VOLTAGE, struck_at=None)
    days: dict[date, list[Run]] = {}
    for run in runs.select_related("recorder").order_by("opened_at", "pk"):
        days.setdefault(_local(there, run).date(), []).append(run)
    for at_day in days.values():
        by_day = [run for run in at_day if _local(there, run).hour < NIGHT]
        names = dict.fromkeys(name for run in by_day for name in (run.sweeper, run.recorder.name))
        if names:
            at = by_day[0].opened_at - BEFORE
            there.do("hold_briefing", "crew", asset, at=at, people=list(names), gone_through=True)


def _local(there: Setting, run: Run) -> datetime:
    return run.opened_at.astimezone(there.zone)


def _day(today: date, days: int) -> str:
    return (today + timedelta(days=days)).isoformat()
