"""What a file brings that is there already: a day's briefing, whoever recorded it, and rows of another imported sheet."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta, tzinfo
from uuid import UUID

from accounts.ids import named_id
from accounts.record import Entry
from accounts.rows import Row
from accounts.wording import say
from inspections.briefings import Briefing
from inspections.coatings import FieldSheet, Spot
from inspections.intake_plan import shown
from inspections.qualified import same


def briefing_there(row: Briefing, names: Iterable[str]) -> tuple[UUID, Briefing | None, set[str]]:
    """Under which id a briefing of a file goes, the recorded one it is, and whose names are on that one.

    A briefing belongs to the asset, so that the sheets of several zones name the same one: it is known by method and
    second. One that was struck out is the same as long as nobody else is named.
    """
    second = row.at.replace(microsecond=0)
    within = (second, second + timedelta(seconds=1) - timedelta.resolution)
    rows = Briefing.objects.filter(asset=row.asset, method=row.method, at__range=within)
    there = list(rows.order_by("at", "pk").prefetch_related("attendees"))
    standing = [each for each in there if each.struck_at is None]
    struck = [each for each in there if {same(name) for name in names} <= _names(each)]
    for each in [*standing, *struck][:1]:
        return each.pk, each, _names(each)
    clock = row.at.isoformat(timespec="seconds")
    return named_id(row.asset.pk, "import", "briefing", row.method, clock, str(len(there) + 1)), None, set()


def _names(briefing: Briefing) -> set[str]:
    """Everybody on it by name, those who were struck out too: a file does not bring them back."""
    return {same(each.name) for each in briefing.attendees.all()}


def brought(sheet: FieldSheet, zone: tzinfo) -> str:
    """When and by whom an imported sheet came in, in words; empty for one that was taken here."""
    if sheet.source_id is None:
        return ""
    # The sheet's first entry is the one after the head it was begun on.
    entries = Entry.objects.filter(record=sheet.coating.zone.asset_id, seq=sheet.base_seq + 1).select_related("actor")
    return "".join(
        say("imported on {day} by {name}", day=shown(entry.server_at, zone), name=entry.actor) for entry in entries
    )


class Elsewhere:
    """The spots of other imported sheets of the coating, by what no two measurements have in common."""

    def __init__(self, sheet: FieldSheet, zone: tzinfo) -> None:
        self.zone = zone
        self.told: dict[UUID, str] = {}
        spots = Spot.objects.filter(coating=sheet.coating, struck_at=None, sheet__source__isnull=False)
        self.spots = {
            _said(spot): spot.sheet for spot in spots.exclude(sheet=sheet).select_related("sheet__coating__zone")
        }

    def problem_of(self, row: Row) -> str:
        """What is wrong with a row whose very measurement another sheet holds; empty where none does."""
        sheet = self.spots.get(_said(row)) if isinstance(row, Spot) else None
        if sheet is None:
            return ""
        if sheet.pk not in self.told:
            self.told[sheet.pk] = say(
                "is recorded already on {sheet}, {brought}; the same measurement is not recorded twice: leave the row out.",
                sheet=sheet,
                brought=brought(sheet, self.zone),
            )
        return self.told[sheet.pk]


def _said(spot: Spot) -> tuple[object, ...]:
    return spot.at.replace(microsecond=0), spot.stage, spot.said, spot.gauge_id, tuple(spot.readings)
