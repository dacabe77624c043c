"""Landmarks: adding and striking out what people measure from."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.people import Role
from mapping.actions.zones import Why
from mapping.landmarks import Landmark
from mapping.zones import chainage_of


class AddLandmark(serializers.Serializer):
    kind = serializers.ChoiceField(choices=Landmark.Kind.choices)
    name = serializers.CharField(max_length=60)
    at = serializers.CharField(
        max_length=60, help_text="Chainage, such as 1+250.40; a landmark may lie outside every zone."
    )


@action("add_landmark", takes=AddLandmark, roles={Role.CREW, Role.OWNER}, on=Asset, title="Add a landmark")
def add_landmark(act: Acting, asset: Asset, given: dict[str, Any]) -> Landmark:
    """Add a landmark at a chainage of the asset."""
    try:
        x = chainage_of(asset).read(given["at"])
    except ValueError as problem:
        act.refuse("at", str(problem))
    if Landmark.objects.filter(asset=asset, kind=given["kind"], name=given["name"], struck_at=None).exists():
        act.refuse("name", f'There is a {given["kind"]} named "{given["name"]}" already.')
    return act.insert(
        Landmark(id=act.id, asset=asset, kind=given["kind"], name=given["name"], said=given["at"].strip(), x=x)
    )


@action("strike_landmark", takes=Why, roles={Role.LEAD, Role.OWNER}, on=Landmark, title="Strike out")
def strike_landmark(act: Acting, landmark: Landmark, given: dict[str, Any]) -> Landmark:
    """Strike out a landmark that is not there or was named wrongly."""
    return act.strike(landmark, given["why"])
