"""What Today says of permits, briefings and cards: what ran out, and what runs out soon."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst

from accounts.assets import Asset
from accounts.people import Person, Role
from accounts.wording import say
from inspections.coatings import FieldSheet
from inspections.pages.briefings import briefed_today
from inspections.qualifications import Qualification
from inspections.qualified import state_of, state_words
from inspections.runs import Run
from inspections.vocabulary import HIGH_VOLTAGE


class Paper(NamedTuple):
    """Whose or which, what is said of it, and where a press leads."""

    where: str
    says: str
    url: str
    press: str


def run_words(run: Run) -> str:
    """What an open run waits for: its permit first, then its first check; `notes` are there already."""
    for note in run.notes:
        if note.code in ("permit_ran_out", "permit_absent", "permit_not_in_force"):
            return note.words
    return ""


def cards_wanting(person: Person, roles: Iterable[Role]) -> list[Paper]:
    """Cards that ran out or soon will: one's own, and for a lead or administrator those of the whole organisation.

    One that ran out is not said while another of the same scheme holds.
    """
    today = timezone.localdate()
    rows = Qualification.objects.filter(struck_at=None, person__is_active=True).select_related("person")
    if {Role.LEAD, Role.ADMIN} & set(roles):
        rows = rows.filter(person__organisation=person.organisation_id)
    else:
        rows = rows.filter(person=person)
    papers = list(rows.order_by("expires", "pk"))
    held = {(row.person_id, row.scheme.casefold()) for row in papers if state_of(row.fact, today) == "valid"}
    return [
        Paper(
            f"{row.person}, {row}",
            say("{words}.", words=capfirst(state_words(row.fact, today))),
            reverse("qualifications", args=[row.person_id]),
            say("See"),
        )
        for row in papers
        if state_of(row.fact, today) in ("soon", "lapsed") and (row.person_id, row.scheme.casefold()) not in held
    ]


def briefing_wanting(asset: Asset, sheets: Iterable[FieldSheet]) -> list[Paper]:
    """The briefing of the day, where a sheet for high voltage is out and nobody is in one yet."""
    high = any(sheet.coating.terms.method in HIGH_VOLTAGE for sheet in sheets)
    if not high or briefed_today(asset):
        return []
    return [
        Paper(
            asset.name,
            say("Nobody is in a high-voltage briefing today. Hold it before the detector is switched on."),
            reverse("briefings", args=[asset.pk]),
            say("Briefing"),
        )
    ]
