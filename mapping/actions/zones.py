"""Making zones, and the ground on them that need not be tested."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.people import Role
from accounts.rows import LARGEST
from accounts.wording import say
from mapping.fields import RegionField
from mapping.positions import Chainage
from mapping.surface_forms import KIND_CHOICES, SizesField, read_surface
from mapping.surfaces import Surface
from mapping.zones import Exclusion, ExclusionDecision, Zone, chainage_of

FARTHEST = 10_000_000.0  # m from the origin
LONGEST = 100_000.0  # m: a longer pipe is several zones


class AddZone(serializers.Serializer):
    name = serializers.CharField(max_length=80, label=_("Name"), help_text=_('As people call it: "Spool 12", "Floor".'))
    order = serializers.IntegerField(
        min_value=0, max_value=LARGEST, default=0, label=_("Order"), help_text=_("Place in lists; the lowest first.")
    )
    surface_kind = serializers.ChoiceField(choices=KIND_CHOICES, label=_("Kind of surface"))
    surface = SizesField(label=_("Sizes"), help_text=_("In metres, or as text with a unit; chainages as spoken."))
    face = serializers.ChoiceField(
        choices=Zone.Face.choices, default=Zone.Face.OUTSIDE, label=_("Face"), help_text=_("Which face is coated.")
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        asset = self.context["target"]
        given["surface"] = surface_given(given, chainage_of(asset))
        return given


def surface_given(given: Mapping[str, Any], chainage: Chainage) -> Surface:
    """The surface of what was given for a zone. Raises ValidationError under `surface`, by the name of the size."""
    try:
        surface = read_surface(given["surface_kind"], given["surface"], given["face"], chainage)
    except serializers.ValidationError as problem:
        raise serializers.ValidationError({"surface": problem.detail}) from problem
    left, low, right, high = surface.outline.bounds
    if max(abs(left), abs(right), abs(low), abs(high)) > FARTHEST or right - left > LONGEST:
        told = say(
            "{left:g} to {right:g} m is too much for one zone: up to {most:g} km is allowed.",
            left=left,
            right=right,
            most=LONGEST / 1000,
        )
        raise serializers.ValidationError({"surface": [told]})
    return surface


@action("add_zone", takes=AddZone, roles={Role.OWNER, Role.LEAD}, on=Asset, title=_("Add a zone"))
def add_zone(act: Acting, asset: Asset, given: dict[str, Any]) -> Zone:
    """Add a zone to an asset."""
    if Zone.objects.filter(asset=asset, name=given["name"]).exists():
        told = say('"{name}" is a zone of this asset already; choose another name.', name=given["name"])
        act.refuse("name", told)
    return act.insert(zone_row(asset, given["name"], given["surface"], given["order"], pk=act.id))


def zone_row(asset: Asset, name: str, surface: Surface, order: int, *, pk: UUID) -> Zone:
    """A zone as a row, not yet stored."""
    return Zone(
        id=pk,
        asset=asset,
        name=name,
        order=order,
        surface_kind=surface.kind,
        surface_json=surface.to_json(),
        face=surface.face,
        true_area=surface.area,
    )


class DrawExclusion(serializers.Serializer):
    place = RegionField(label=_("Place"), help_text=_("The ground to leave out."))
    reason = serializers.CharField(
        label=_("Reason"), max_length=200, help_text=_("Why it need not be tested, for example: under the saddle.")
    )

    @staticmethod
    def surface_of(zone: Zone) -> Surface:
        return zone.surface


@action("draw_exclusion", takes=DrawExclusion, roles={Role.CREW, Role.OWNER}, on=Zone, title=_("Propose to leave out"))
def draw_exclusion(act: Acting, zone: Zone, given: dict[str, Any]) -> Exclusion:
    """Propose ground that need not be tested; until the owner accepts it, it is a gap like any other."""
    said, shape = given["place"]
    return act.insert(
        Exclusion(
            id=act.id,
            zone=zone,
            said=said,
            shape=shape,
            reason=given["reason"],
            drawn_by=act.person,
            organisation=act.organisation,
            drawn_at=act.device_at,
        )
    )


class DecideExclusion(serializers.Serializer):
    accepted = serializers.BooleanField(label=_("Accept"), help_text=_("Accepted ground leaves the testable area."))
    why = serializers.CharField(
        label=_("Why"), required=False, allow_blank=True, default="", help_text=_("Needed when it is refused.")
    )


@action(
    "decide_exclusion",
    takes=DecideExclusion,
    roles={Role.OWNER},
    on=Exclusion,
    title=_("Decide on the exclusion"),
    decision=True,
)
def decide_exclusion(act: Acting, exclusion: Exclusion, given: dict[str, Any]) -> ExclusionDecision:
    """Accept or refuse ground that somebody proposes to leave out."""
    if exclusion.is_struck:
        act.refuse("accepted", say("This proposal has been struck out; there is nothing to decide."))
    if not given["accepted"] and not given["why"].strip():
        act.refuse("why", say("Say why it is refused."))
    return act.insert(
        ExclusionDecision(
            id=act.id,
            exclusion=exclusion,
            accepted=given["accepted"],
            by=act.person,
            at=act.now,
            why=given["why"].strip(),
        )
    )


class Why(serializers.Serializer):
    why = serializers.CharField(label=_("Why"), max_length=400, help_text=_("The reason, as it stays in the record."))


@action("strike_exclusion", takes=Why, roles={Role.CREW, Role.OWNER}, on=Exclusion, title=_("Strike out"))
def strike_exclusion(act: Acting, exclusion: Exclusion, given: dict[str, Any]) -> Exclusion:
    """Take back a proposal to leave ground out."""
    if exclusion.drawn_by_id != act.person.pk and not act.roles & {Role.LEAD, Role.OWNER}:
        act.refuse(
            "why",
            say("{drawn_by} drew this; a lead inspector or the owner can strike it out.", drawn_by=exclusion.drawn_by),
        )
    if exclusion.decision() and Role.OWNER not in act.roles:
        act.refuse("why", say("The owner has decided on it; only the owner can strike it out."))
    return act.strike(exclusion, given["why"])
