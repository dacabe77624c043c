"""Landmarks: adding and striking out what people measure from."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.people import Role
from accounts.wording import say
from mapping.actions.zones import Why
from mapping.landmarks import Landmark, read_landmark
from mapping.zones import chainage_of


class AddLandmark(serializers.Serializer):
    kind = serializers.ChoiceField(choices=Landmark.Kind.choices, label=_("What it is"))
    name = serializers.CharField(max_length=60, label=_("Name"), help_text=_("As it is painted or drawn: W-014, N3."))
    zone = serializers.UUIDField(
        required=False,
        allow_null=True,
        default=None,
        label=_("On zone"),
        help_text=_("Left empty: a chainage of the asset, which may lie outside every zone."),
    )
    at = serializers.CharField(
        max_length=120,
        label=_("Where"),
        help_text=_(
            "A place as spoken there, or a line: a chainage, azimuth, height, radius, or a lettered or numbered line."
        ),
    )


@action("add_landmark", takes=AddLandmark, roles={Role.CREW, Role.OWNER}, on=Asset, title=_("Add a landmark"))
def add_landmark(act: Acting, asset: Asset, given: dict[str, Any]) -> Landmark:
    """Add a landmark: a place or a line of a zone, or a chainage of the asset."""
    zone = asset.zones.filter(pk=given["zone"]).first() if given["zone"] else None
    if given["zone"] and zone is None:
        names = ", ".join(asset.zones.values_list("name", flat=True)[:20])
        act.refuse("zone", say("That is no zone of this asset; there are: {names}.", names=names))
    mark = Landmark(id=act.id, asset=asset, zone=zone, kind=given["kind"], name=given["name"], said=given["at"].strip())
    try:
        if zone is None:
            mark.x = chainage_of(asset).read(mark.said)
        else:
            (mark.x, mark.y), mark.line = read_landmark(zone.surface, mark.said)
    except ValueError as problem:
        act.refuse("at", str(problem))
    same = Landmark.objects.filter(asset=asset, zone=zone, kind=mark.kind, name=mark.name, struck_at=None)
    if same.exists():
        told = say('There is a {kind} named "{name}" there already.', kind=mark.get_kind_display(), name=mark.name)
        act.refuse("name", told)
    return act.insert(mark)


@action("strike_landmark", takes=Why, roles={Role.LEAD, Role.OWNER}, on=Landmark, title=_("Strike out"))
def strike_landmark(act: Acting, landmark: Landmark, given: dict[str, Any]) -> Landmark:
    """Strike out a landmark that is not there or was named wrongly."""
    return act.strike(landmark, given["why"])
