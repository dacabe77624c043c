"""Tables of permits, briefings with who took part, and what those who swept or recorded are qualified as."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from accounts.wording import noted
from inspections.briefings import Attendee, Briefing
from inspections.coatings import Permit
from inspections.qualifications import Qualification
from inspections.runs import Run
from repairs.exports.scope import Column, Scope, Table
from repairs.exports.tested import AT, BY, method_words, rows_of, under
from repairs.exports.where import ID, STRUCK


def _briefings(scope: Scope) -> QuerySet[Any]:
    return Briefing.objects.filter(asset=scope.asset).order_by("at", "pk")


def _attendees(scope: Scope) -> QuerySet[Any]:
    return Attendee.objects.filter(briefing__asset=scope.asset).order_by("briefing__at", "at", "pk")


def _qualifications(scope: Scope) -> QuerySet[Any]:
    """Of whoever swept or recorded on the asset, whatever firm they are of."""
    runs = Run.objects.filter(sheet__coating__zone__asset=scope.asset)
    people = Q(person__in=runs.values("swept_by")) | Q(person__in=runs.values("recorder"))
    return Qualification.objects.filter(people).order_by("person__name", "issued", "pk")


PERMITS = Table(
    "permits",
    noted("Permits with their gas reading. Who tested the gas is kept in the record's permits and not given out here."),
    (
        *under("coating"),
        Column("number", noted("Number of the permit."), "number"),
        Column("kind", noted("What it permits."), "kind"),
        Column("gas reading", noted("As it was given."), "gas_reading"),
        Column("gas limits", noted("As the permit states them."), "gas_limits"),
        Column("valid from", noted("From when it holds; empty: from when it was recorded."), "valid_from"),
        Column("valid until", noted("When it runs out."), "expires_at"),
        Column("renews", noted("Number of the permit that it follows on."), "renews__number"),
        Column("recorded at", noted("When it was recorded."), "recorded_at"),
        BY,
        *STRUCK,
        ID,
    ),
    rows_of(Permit, "coating__zone", "recorded_at"),
)
BRIEFINGS = Table(
    "briefings",
    noted("Briefings of the day at the asset: which cautions were gone through, and by whom."),
    (
        AT,
        Column("method", noted("The method whose cautions they were."), "method", method_words),
        Column("points", noted("The cautions as they stood."), "points", " ".join),
        BY,
        *STRUCK,
        ID,
    ),
    _briefings,
    of_asset_only=True,
)
ATTENDEES = Table(
    "briefed",
    noted("Who took part in the briefings, by name."),
    (
        Column("briefing", noted("When the briefing was held."), "briefing__at"),
        Column("name", noted("Who took part."), "name"),
        AT,
        Column("by", noted("That person where they acknowledged it themselves, else who named them."), "by__name"),
        *STRUCK,
        Column("briefing id", noted("Identity of the briefing."), "briefing_id"),
        ID,
    ),
    _attendees,
    of_asset_only=True,
)
QUALIFICATIONS = Table(
    "qualifications",
    noted("What those who swept or recorded are qualified as. The numbers of their cards are not given out here."),
    (
        Column("person", noted("Whose it is."), "person__name"),
        Column("scheme", noted("What they are qualified as."), "scheme"),
        Column("level", noted("At which level."), "level"),
        Column("issued", noted("Its first day."), "issued"),
        Column("expires", noted("Its last day; empty where it does not run out."), "expires"),
        *STRUCK,
        ID,
    ),
    _qualifications,
    of_asset_only=True,
)
TABLES = (PERMITS, BRIEFINGS, ATTENDEES, QUALIFICATIONS)
