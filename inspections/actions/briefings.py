"""The briefing of the day: held with who took part, joined by those who acknowledge it themselves, struck out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.languages import spoken
from accounts.people import Person, Role
from accounts.wording import say
from inspections.actions.sheets import check_may_strike, moment
from inspections.briefings import Attendee, Briefing
from inspections.cautions import cautions
from inspections.noted_runs import named
from inspections.qualified import same
from inspections.vocabulary import METHODS
from mapping.actions.zones import Why

MOST_PEOPLE = 60


class HoldBriefing(serializers.Serializer):
    method = serializers.ChoiceField(label=_("Method"), choices=spoken(METHODS), default="high_voltage_dc")
    people = serializers.ListField(
        child=serializers.CharField(max_length=120),
        min_length=1,
        max_length=MOST_PEOPLE,
        label=_("Who took part"),
        help_text=_("By name, one a line; who sweeps is among them. Others acknowledge it themselves afterwards."),
    )
    at = serializers.DateTimeField(required=False, label=_("When"), help_text=_("Leave empty for now."))
    gone_through = serializers.BooleanField(
        label=_("Every point was gone through with everybody named"),
        help_text=_("It says that they were told, not that work may begin: Barespot never authorises entry or work."),
        style={"tick": True},
    )


@action("hold_briefing", takes=HoldBriefing, roles={Role.CREW}, on=Asset, title=_("Record the briefing of the day"))
def hold_briefing(act: Acting, asset: Asset, given: dict[str, Any]) -> Briefing:
    """Record the briefing of the day: the cautions in full, gone through with everybody who is named."""
    briefing = act.insert(briefing_row(act, asset, given, pk=act.id, at=moment(act, given), by=act.person))
    for attendee in attendees_of(act, briefing, given["people"]):
        act.insert(attendee)
    return briefing


def briefing_row(act: Acting, asset: Asset, given: dict[str, Any], *, pk: UUID, at: datetime, by: Person) -> Briefing:
    """A briefing as a row, not yet stored; refused where not every point was gone through."""
    if not given["gone_through"]:
        act.refuse("gone_through", say("Go through every point with everybody who is named, then tick this."))
    points = list(cautions(given["method"]).full)
    return Briefing(id=pk, asset=asset, method=given["method"], points=points, at=at, by=by)


def attendees_of(act: Acting, briefing: Briefing, names: Iterable[str]) -> list[Attendee]:
    """Who took part, each name once, as rows not yet stored."""
    once = {same(name): " ".join(name.split()) for name in reversed(list(names)) if name.strip()}
    return [
        Attendee(briefing=briefing, name=name, person=named(act.organisation, name), at=briefing.at, by=briefing.by)
        for name in reversed(once.values())
    ]


class JoinBriefing(serializers.Serializer):
    read = serializers.BooleanField(
        label=_("I have read every point and been told what I did not understand"),
        style={"tick": True},
    )


@action(
    "join_briefing",
    takes=JoinBriefing,
    roles={Role.CREW, Role.CONTRACTOR},
    on=Briefing,
    title=_("I was briefed"),
)
def join_briefing(act: Acting, briefing: Briefing, given: dict[str, Any]) -> Attendee:
    """Acknowledge the briefing by one's own name; on its own day only."""
    if not given["read"]:
        act.refuse("read", say("Read every point, ask, then tick this."))
    if briefing.is_struck:
        act.refuse("read", say("This briefing has been struck out; hold another one."))
    today = act.device_at.astimezone(briefing.asset.zone_info).date()
    if today != briefing.day:
        act.refuse(
            "read",
            say("It was the briefing of {day}, and today is {today}; hold a new one.", day=briefing.day, today=today),
        )
    if briefing.attendees.filter(person=act.person, by=act.person, struck_at=None).exists():
        act.refuse("read", say("You have acknowledged this briefing already."))
    return act.insert(
        Attendee(
            id=act.id,
            briefing=briefing,
            name=act.person.name,
            person=act.person,
            at=max(act.device_at, briefing.at),
            by=act.person,
        )
    )


@action("strike_briefing", takes=Why, roles={Role.CREW}, on=Briefing, title=_("Strike out the briefing"))
def strike_briefing(act: Acting, briefing: Briefing, given: dict[str, Any]) -> Briefing:
    """Strike out a briefing that was recorded wrongly; runs that rest on it are flagged from then on."""
    check_may_strike(act, briefing, briefing.by_id, briefing.at)
    return act.strike(briefing, given["why"])


@action("strike_attendee", takes=Why, roles={Role.CREW, Role.CONTRACTOR}, on=Attendee, title=_("Strike out the name"))
def strike_attendee(act: Acting, attendee: Attendee, given: dict[str, Any]) -> Attendee:
    """Strike out somebody who was named as briefed and was not."""
    check_may_strike(act, attendee, attendee.by_id, attendee.at)
    return act.strike(attendee, given["why"])
