"""How chainage is spoken on an asset: its station equations and lowest chainage, entered or corrected later.

What was said stays; every zone, landmark and place along the asset is read anew from it.
"""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.people import Role
from accounts.stations import StationEquationsField, check_equations
from accounts.wording import say
from mapping.landmarks import Landmark
from mapping.surface_forms import read_surface, sizes_as_typed
from mapping.zones import Zone, chainage_of
from repairs.actions.correction import MOST_TOLD, read_anew


class SetStationing(serializers.Serializer):
    unit_system = serializers.ChoiceField(choices=Asset.UnitSystem.choices, label=_("Positions are spoken in"))
    foot = serializers.ChoiceField(choices=Asset.Foot.choices, default=Asset.Foot.INTERNATIONAL, label=_("Which foot"))
    chainage_start = serializers.FloatField(
        default=0.0,
        label=_("Lowest chainage"),
        help_text=_("In metres, or in feet on an imperial asset; may be negative."),
    )
    station_equations = StationEquationsField(
        required=False,
        default=list,
        label=_("Station equations"),
        help_text=_(
            "Where stationing jumps, one a line, in the order along the asset, as it is spoken there: "
            '"1+225.00 back = 1+250.00 ahead", or in plain metres or feet: "1225.00 back = 1250.00 ahead".'
        ),
    )
    why = serializers.CharField(max_length=400, label=_("Why"), help_text=_("The reason, as it stays in the record."))

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        check_equations(given["station_equations"], given["chainage_start"])
        return given


@action(
    "set_stationing",
    takes=SetStationing,
    roles={Role.OWNER, Role.LEAD},
    on=Asset,
    title=_("Change how chainage is spoken"),
    decision=True,
)
def set_stationing(act: Acting, asset: Asset, given: dict[str, Any]) -> Asset:
    """Enter or correct station equations: zones, landmarks and places are read anew from what was said."""
    why = given.pop("why")
    before = chainage_of(asset)
    zones = list(asset.zones.order_by("order", "name"))
    typed = [sizes_as_typed(zone.surface) for zone in zones]
    other_units = (given["unit_system"], given["foot"]) != (asset.unit_system, asset.foot)
    landmarks = list(Landmark.objects.filter(asset=asset, zone=None))
    if other_units and (zones or landmarks):
        told = say("Zones and landmarks are spoken in {unit} already: they cannot change.", unit=before.unit_word)
        act.refuse("unit_system", told)
    act.amend(asset, **given)
    chainage, off = chainage_of(asset), []
    for mark in landmarks:
        try:
            x = chainage.read(mark.said.split(", ")[0])
        except ValueError as problem:
            if not mark.is_struck:
                off.append(f"{mark}: {problem}")
            continue
        if x != mark.x:
            act.amend(mark, x=x)
    for zone, sizes in zip(zones, typed, strict=True):
        off += _zone(act, Zone.objects.select_related("asset").get(pk=zone.pk), sizes)
    if off:
        raise ValidationError({"station_equations": off[:MOST_TOLD]})
    act.tell("Chainage is spoken anew: {why}", why=why)
    return asset


def _zone(act: Acting, zone: Zone, sizes: dict[str, Any]) -> list[str]:
    """Read a zone and all that lies on it anew; what would lie off it, in words."""
    try:
        surface = read_surface(zone.surface_kind, sizes, zone.face, chainage_of(zone.asset))
    except serializers.ValidationError as problem:
        return [f"{zone.name}: {text}" for texts in problem.detail.values() for text in texts]  # type: ignore[union-attr]
    if surface.to_json() == zone.surface_json:
        return []
    return [f"{zone.name}, {text}" for text in read_anew(act, zone, surface)]
