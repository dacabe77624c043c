"""Instruments, certificates and electrodes of an organisation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Organisation, Role
from accounts.units import LengthField, VoltField
from accounts.wording import say
from inspections.actions.checks import MOST_VOLTS
from inspections.actions.gauges import measured_with, weigh_anew
from inspections.actions.rulings import keep_upload
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.runs import Run
from inspections.tested import refresh_many
from mapping.actions.zones import Why

NEVER_BELOW_0 = {Instrument.Kind.DETECTOR, Instrument.Kind.CREST_VOLTMETER, Instrument.Kind.GAUGE}


class InstrumentGiven(serializers.Serializer):
    name = serializers.CharField(label=_("Name"), max_length=80, help_text=_("What the crew calls it."))
    volts_min = VoltField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0,
        max_value=MOST_VOLTS,
        label=_("Lowest voltage"),
        help_text=_("Of a detector's output or a voltmeter's range."),
    )
    volts_max = VoltField(
        required=False, allow_null=True, default=None, min_value=0, max_value=MOST_VOLTS, label=_("Highest voltage")
    )
    reads = serializers.CharField(
        max_length=120,
        required=False,
        allow_blank=True,
        default="",
        label=_("What it reads, and over which range"),
        help_text=_('For gauges, hygrometers and thermometers: "film on steel, 0 to 2000 µm".'),
    )


class RegisterInstrument(InstrumentGiven):
    kind = serializers.ChoiceField(label=_("Kind"), choices=Instrument.Kind.choices)
    serial = serializers.CharField(max_length=60, label=_("Serial number"))

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        return {name: fields[name] for name in ("kind", "name", "serial", "volts_min", "volts_max", "reads")}


def _range(act: Acting, given: dict[str, Any]) -> dict[str, int | None]:
    low, high = (int(given[name].value) if given.get(name) else None for name in ("volts_min", "volts_max"))
    if low is not None and high is not None and low > high:
        act.refuse("volts_min", say("{low} V is above the highest voltage, {high} V.", low=low, high=high))
    return {"volts_min": low, "volts_max": high}


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
    return act.insert(
        Instrument(
            id=act.id,
            organisation=organisation,
            kind=given["kind"],
            name=given["name"],
            serial=given["serial"],
            reads=given["reads"],
            **_range(act, given),
        )
    )


@action("amend_instrument", takes=InstrumentGiven, roles={Role.LEAD}, on=Instrument, title=_("Correct the instrument"))
def amend_instrument(act: Acting, instrument: Instrument, given: dict[str, Any]) -> Instrument:
    """Correct an instrument's name or range; kind and serial number stay what they were."""
    return act.amend(instrument, name=given["name"], reads=given["reads"], **_range(act, given))


def _retire(act: Acting, row: Any, why: str) -> Any:
    if row.retired_at is not None:
        act.refuse("why", say("{row} has been retired already.", row=row))
    return act.amend(row, retired_at=act.now, retired_why=why)


@action("retire_instrument", takes=Why, roles={Role.LEAD}, on=Instrument, title=_("Retire the instrument"))
def retire_instrument(act: Acting, instrument: Instrument, given: dict[str, Any]) -> Instrument:
    """Retire an instrument: it is offered no more; what was done with it stays."""
    return _retire(act, instrument, given["why"])


@action("retire_electrode", takes=Why, roles={Role.LEAD}, on=Electrode, title=_("Retire the electrode"))
def retire_electrode(act: Acting, electrode: Electrode, given: dict[str, Any]) -> Electrode:
    """Retire an electrode: it is offered no more; what was swept with it stays."""
    return _retire(act, electrode, given["why"])


class RegisterCertificate(serializers.Serializer):
    number = serializers.CharField(label=_("Certificate number"), max_length=60)
    issued = serializers.DateField(label=_("Issued"))
    due = serializers.DateField(label=_("Due again"))
    range_min = serializers.FloatField(
        label=_("Calibrated from"),
        required=False,
        allow_null=True,
        default=None,
        help_text=_("In the instrument's own unit: volts, µm, %, °C."),
    )
    range_max = serializers.FloatField(label=_("Calibrated to"), required=False, allow_null=True, default=None)
    as_found = serializers.CharField(
        label=_("As found"),
        max_length=120,
        required=False,
        allow_blank=True,
        default="",
        help_text=_('"in tolerance", "4 % high at 5 kV": what it was before any adjustment.'),
    )
    as_left = serializers.CharField(
        label=_("As left"), max_length=120, required=False, allow_blank=True, default="", help_text=_("After it.")
    )
    file = serializers.FileField(
        label=_("The certificate itself"),
        required=False,
        allow_null=True,
        default=None,
        help_text=_("A scan or photo; up to 10 MB."),
    )


def _tested_with(instrument: Instrument, given: Mapping[str, Any]) -> Iterable[UUID]:
    """The assets whose runs used the instrument, or whose spots were measured with it."""
    runs = Run.objects.filter(instrument=instrument, struck_at=None)
    return set(runs.values_list("sheet__coating__zone__asset", flat=True)) | measured_with(instrument.pk)


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
    if given["issued"] > (act.now + timedelta(days=1)).date():  # east of here it may be tomorrow
        act.refuse(
            "issued",
            say("{issued} lies in the future; add the certificate when it has been issued.", issued=given["issued"]),
        )
    if instrument.certificates.filter(number=given["number"], struck_at=None).exists():
        act.refuse("number", say('Certificate "{number}" is there already.', number=given["number"]))
    low, high = given["range_min"], given["range_max"]
    if low is not None and high is not None and low > high:
        act.refuse("range_min", say("{low:g} is above the highest, {high:g}.", low=low, high=high))
    if instrument.kind in NEVER_BELOW_0:
        for name, bound in (("range_min", low), ("range_max", high)):
            if bound is not None and bound < 0:
                kind = instrument.get_kind_display()
                act.refuse(name, say("{bound:g} cannot be for a {kind}; write 0 or more.", bound=bound, kind=kind))
    file = given.pop("file")
    paper = Certificate(id=act.id, instrument=instrument, **given)
    for other in instrument.certificates.filter(struck_at=None, issued__lte=paper.due, due__gte=paper.issued):
        act.tell(lazy(_overlap, str)(paper, other))
    paper.evidence = keep_upload(act, instrument.organisation_id, file) if file else None
    act.insert(paper)
    _judge_anew(act, paper)
    return paper


def _overlap(paper: Certificate, other: Certificate) -> str:
    later = max(paper, other, key=lambda each: (each.issued, each.due, each.pk))
    return say(
        "Its period overlaps with certificate {other} ({issued} to {due}). While both hold, {later} counts, issued last. "
        "If one of them was entered wrongly, strike it out.",
        other=other.number,
        issued=other.issued,
        due=other.due,
        later=later.number,
    )


@action(
    "strike_certificate",
    takes=Why,
    roles={Role.LEAD},
    on=Certificate,
    title=_("Strike out the certificate"),
    reaches=lambda paper, given: _tested_with(paper.instrument, given),
)
def strike_certificate(act: Acting, paper: Certificate, given: dict[str, Any]) -> Certificate:
    """Strike out a certificate that was entered wrongly; runs it covered are judged anew."""
    act.strike(paper, given["why"])
    _judge_anew(act, paper)
    return paper


def _judge_anew(act: Acting, paper: Certificate) -> None:
    """Settle the runs whose instrument was in calibration, and weigh the spots of a gauge; their assets' records tell of it."""
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
    if paper.instrument.kind == Instrument.Kind.GAUGE:
        weigh_anew(act, paper.instrument)


class RegisterElectrode(serializers.Serializer):
    name = serializers.CharField(label=_("Name"), max_length=80)
    kind = serializers.CharField(
        label=_("Kind"), max_length=40, help_text=_("For example: rolling spring, wire brush, rubber strip.")
    )
    width = LengthField(label=_("Width"), min_value=0.005, max_value=10.0, help_text=_("What it sweeps in one pass."))


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
