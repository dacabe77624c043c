"""What people are qualified as: recorded and withdrawn by the administrator or a lead inspector of their organisation."""

from __future__ import annotations

from typing import Any

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Person, Role
from accounts.wording import say
from inspections.actions.rulings import keep_upload
from inspections.qualifications import Qualification
from inspections.qualified import same, state_of
from mapping.actions.zones import Why

KEEPERS = {Role.ADMIN, Role.LEAD}


class QualificationGiven(serializers.Serializer):
    """The number of a card stays out of the record, as names do."""

    private = ("number",)

    scheme = serializers.CharField(
        max_length=120, label=_("Qualified as"), help_text=_('The scheme\'s words: "Coating inspector".')
    )
    level = serializers.CharField(
        label=_("Level"),
        max_length=60,
        required=False,
        allow_blank=True,
        default="",
        help_text=_('"level 2"; empty where there is none.'),
    )
    number = serializers.CharField(max_length=60, label=_("Number of the card"))
    issued = serializers.DateField(label=_("Issued"))
    expires = serializers.DateField(
        required=False,
        allow_null=True,
        default=None,
        label=_("Last day it holds"),
        help_text=_("Leave empty where it does not run out."),
    )
    file = serializers.FileField(
        required=False, allow_null=True, default=None, label=_("Scan or photo"), help_text=_("Up to 10 MB.")
    )


@action("record_qualification", takes=QualificationGiven, roles=KEEPERS, on=Person, title=_("Add a qualification"))
def record_qualification(act: Acting, person: Person, given: dict[str, Any]) -> Qualification:
    """Add a card or certificate of a person, as it was shown."""
    issued, expires = given["issued"], given["expires"]
    if expires is not None and expires < issued:
        act.refuse("expires", say("{expires} is before the day of issue, {issued}.", expires=expires, issued=issued))
    wanted = (same(given["scheme"]), same(given["level"]), same(given["number"]), expires)
    for other in Qualification.objects.filter(person=person, struck_at=None):
        if (same(other.scheme), same(other.level), same(other.number), other.expires) == wanted:
            act.refuse("number", say('"{number}" is there already, with the same last day.', number=other.number))
    file = given.pop("file")
    paper = Qualification(id=act.id, person=person, recorded_at=act.device_at, by=act.person, **given)
    paper.evidence = keep_upload(act, person.organisation_id, file) if file else None
    act.insert(paper)
    if state_of(paper.fact, act.now.date()) == "lapsed":
        act.tell(lazy(_gone, str)(paper))
    return paper


def _gone(paper: Qualification) -> str:
    return say("It ran out on {day}: it counts for runs up to that day.", day=paper.expires)


@action("strike_qualification", takes=Why, roles=KEEPERS, on=Qualification, title=_("Withdraw the qualification"))
def strike_qualification(act: Acting, paper: Qualification, given: dict[str, Any]) -> Qualification:
    """Withdraw a qualification, with the reason: it stays, struck out, and counts on no day; runs are flagged, not erased."""
    return act.strike(paper, given["why"])
