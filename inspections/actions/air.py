"""Air and steel as a crew or a contractor measures them."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Person, Role
from accounts.units import PercentField, TemperatureField
from accounts.wording import say
from inspections.actions.sheets import check_may_strike, moment
from inspections.atmosphere import relative_humidity, work_may_go_on
from inspections.coatings import Atmosphere, Coating
from inspections.instruments import Instrument
from mapping.actions.zones import Why


class RecordAtmosphere(serializers.Serializer):
    at = serializers.DateTimeField(required=False, label=_("When"), help_text=_("Leave empty for now."))
    air = TemperatureField(label=_("Air"))
    humidity = PercentField(required=False, label=_("Relative humidity"))
    wet_bulb = TemperatureField(required=False, label=_("Wet bulb"))
    steel = serializers.ListField(
        label=_("Steel"),
        child=TemperatureField(),
        min_length=1,
        max_length=20,
        help_text=_("Surface temperatures, one a line; the coldest counts."),
        error_messages={"min_length": _("There is no reading; write at least one, for example 14.5 °C or 58 °F.")},
    )
    steel_at = serializers.ListField(
        child=serializers.CharField(max_length=60),
        required=False,
        default=list,
        max_length=20,
        label=_("Steel read where"),
        help_text=_("One place a line, in the order of the temperatures; or leave it empty."),
    )
    hygrometer = serializers.UUIDField(required=False, allow_null=True, default=None, label=_("Air measured with"))
    thermometer = serializers.UUIDField(required=False, allow_null=True, default=None, label=_("Steel measured with"))


@action(
    "record_atmosphere",
    takes=RecordAtmosphere,
    roles={Role.CREW, Role.CONTRACTOR},
    on=Coating,
    title=_("Record air and steel"),
)
def record_atmosphere(act: Acting, coating: Coating, given: dict[str, Any]) -> Atmosphere:
    """Record air and steel temperatures with humidity or wet bulb."""
    return act.insert(atmosphere_row(act, coating, given, pk=act.id, at=moment(act, given), by=act.person))


# A hygrometer with a probe measures both.
_MEASURE = {"hygrometer": ("hygrometer",), "thermometer": ("thermometer", "hygrometer")}
_GIVEN_AS = {"air_c": "air", "humidity_percent": "humidity", "wet_bulb_c": "wet_bulb", "steel_c": "steel"}


def atmosphere_row(
    act: Acting, coating: Coating, given: dict[str, Any], *, pk: UUID, at: datetime, by: Person
) -> Atmosphere:
    """Air and steel as a row, not yet stored; refuses what cannot be."""
    humidity, wet_bulb = given.get("humidity"), given.get("wet_bulb")
    if humidity is None and wet_bulb is None:
        act.refuse("humidity", say("Give the relative humidity or the wet bulb temperature."))
    if wet_bulb is not None and wet_bulb.value > given["air"].value:
        act.refuse(
            "wet_bulb",
            say(
                "{wet_bulb} is warmer than the air, {air}; it can be at most as warm.",
                wet_bulb=wet_bulb.said,
                air=given["air"].said,
            ),
        )
    places, steel = given["steel_at"], [reading.value for reading in given["steel"]]
    if places and len(places) != len(steel):
        act.refuse(
            "steel_at",
            say(
                "{count} places for {count_2} temperatures: give one each, or none.",
                count=len(places),
                count_2=len(steel),
            ),
        )
    try:
        percent = relative_humidity(given["air"].value, humidity and humidity.value, wet_bulb and wet_bulb.value)
        work_may_go_on(given["air"].value, percent, steel)
    except ValueError as problem:
        name, _is, _rest = str(problem).partition(" ")
        act.refuse(_GIVEN_AS.get(name, "humidity"), str(problem))
    return Atmosphere(
        id=pk,
        coating=coating,
        at=at,
        air=given["air"].value,
        humidity=humidity.value if humidity else None,
        wet_bulb=wet_bulb.value if wet_bulb else None,
        steel=steel,
        steel_at=places,
        hygrometer=_measured_with(act, given, "hygrometer"),
        thermometer=_measured_with(act, given, "thermometer"),
        by=by,
    )


def _measured_with(act: Acting, given: dict[str, Any], name: str) -> Instrument | None:
    if given.get(name) is None:
        return None
    found = Instrument.objects.filter(organisation=act.organisation, pk=given[name]).first()
    if found is None or found.kind not in _MEASURE[name]:
        words = say(
            "That is no {kind} of {organisation}.", kind=Instrument.Kind(name).label, organisation=act.organisation
        )
        act.refuse(name, words)
    return found


@action(
    "strike_atmosphere",
    takes=Why,
    roles={Role.CREW, Role.CONTRACTOR},
    on=Atmosphere,
    title=_("Strike out air and steel"),
)
def strike_atmosphere(act: Acting, row: Atmosphere, given: dict[str, Any]) -> Atmosphere:
    """Strike out a record of air and steel that is wrong; what was swept under it is asked about from then on."""
    check_may_strike(act, row, row.by_id, row.at)
    return act.strike(row, given["why"])
