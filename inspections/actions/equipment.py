"""Instruments, certificates and electrodes of an organisation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Organisation, Role
from accounts.units import LengthField, VoltField
from accounts.wording import say
from inspections.actions.checks import MOST_VOLTS
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.runs import Run
from inspections.tested import refresh_many


class RegisterInstrument(serializers.Serializer):
    kind = serializers.ChoiceField(choices=Instrument.Kind.choices)
    name = serializers.CharField(max_length=80, help_text=_("What the crew calls it."))
    serial = serializers.CharField(max_length=60, label=_("Serial number"))
    volts_min = VoltField(required=False, min_value=0, max_value=MOST_VOLTS, label=_("Lowest voltage"))
    volts_max = VoltField(required=False, min_value=0, max_value=MOST_VOLTS, label=_("Highest voltage"))


@action(
    "register_instrument",
    takes=RegisterInstrument,
    roles={Role.LEAD},
    on=Organisation,
    title=_("Register an instrument"),
)
def register_instrument(act: Acting, organisation: Organisation, given: dict[str, Any]) -> Instrument:
    """Register an instrument of the organisation."""
    if Instrument.objects.filter(organisation=organisation, serial=given["serial"]).exists():
        act.refuse("serial", say('Serial number "{serial}" is registered already.', serial=given["serial"]))
    low, high = (int(given[name].value) if given.get(name) else None for name in ("volts_min", "volts_max"))
    if low is not None and high is not None and low > high:
        act.refuse("volts_min", say("{low} V is above the highest voltage, {high} V.", low=low, high=high))
    return act.insert(
        Instrument(
            id=act.id,
            organisation=organisation,
            kind=given["kind"],
            name=given["name"],
            serial=given["serial"],
            volts_min=low,
            volts_max=high,
        )
    )


class RegisterCertificate(serializers.Serializer):
    number = serializers.CharField(max_length=60)
    issued = serializers.DateField()
    due = serializers.DateField(label=_("Due again"))
    range_min = serializers.FloatField(required=False, allow_null=True, default=None)
    range_max = serializers.FloatField(required=False, allow_null=True, default=None)
    as_found = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    as_left = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")


def _tested_with(instrument: Instrument, given: Mapping[str, Any]) -> Iterable[UUID]:
    """The assets whose runs used the instrument."""
    return set(
        Run.objects.filter(instrument=instrument, struck_at=None).values_list("sheet__coating__zone__asset", flat=True)
    )


@action(
    "register_certificate",
    takes=RegisterCertificate,
    roles={Role.LEAD},
    on=Instrument,
    title=_("Add a certificate"),
    reaches=_tested_with,
)
def register_certificate(act: Acting, instrument: Instrument, given: dict[str, Any]) -> Certificate:
    """Add a calibration certificate to an instrument."""
    if given["due"] <= given["issued"]:
        act.refuse(
            "due", say("{due} is not after the day of issue, {issued}.", due=given["due"], issued=given["issued"])
        )
    if instrument.certificates.filter(number=given["number"], struck_at=None).exists():
        act.refuse("number", say('Certificate "{number}" is there already.', number=given["number"]))
    paper = act.insert(Certificate(id=act.id, instrument=instrument, **given))
    _judge_anew(act, paper)
    return paper


def _judge_anew(act: Acting, paper: Certificate) -> None:
    """Settle the runs whose instrument is now known to have been in calibration; their assets' records tell of it."""
    day = timedelta(days=1)  # runs are dated by their asset's calendar, which is at most so far from UTC
    runs = list(
        Run.objects.filter(
            instrument=paper.instrument,
            struck_at=None,
            opened_at__date__gte=paper.issued - day,
            opened_at__date__lte=paper.due + day,
        ).select_related("sheet__coating__zone__asset")
    )
    refresh_many(act, runs)


class RegisterElectrode(serializers.Serializer):
    name = serializers.CharField(max_length=80)
    kind = serializers.CharField(max_length=40, help_text=_("For example: rolling spring, wire brush, rubber strip."))
    width = LengthField(min_value=0.005, max_value=10.0, help_text=_("What it sweeps in one pass."))


@action(
    "register_electrode", takes=RegisterElectrode, roles={Role.LEAD}, on=Organisation, title=_("Register an electrode")
)
def register_electrode(act: Acting, organisation: Organisation, given: dict[str, Any]) -> Electrode:
    """Register an electrode of the organisation."""
    if Electrode.objects.filter(organisation=organisation, name=given["name"]).exists():
        act.refuse("name", say('"{name}" is registered already.', name=given["name"]))
    return act.insert(
        Electrode(
            id=act.id, organisation=organisation, name=given["name"], kind=given["kind"], width=given["width"].value
        )
    )
