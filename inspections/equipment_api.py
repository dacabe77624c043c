"""Reads of instruments, their certificates, electrodes, an organisation's own voltage rules, and drafts."""

from __future__ import annotations

from django_filters import ChoiceFilter

from accounts.serving import PersonRead, RowRead, Rows
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.rule_library import VoltageRule
from inspections.specifications import SpecificationDraft


class CertificateRead(RowRead):
    class Meta:
        model = Certificate
        fields = (
            "id",
            "version",
            "instrument",
            "number",
            "issued",
            "due",
            "range_min",
            "range_max",
            "as_found",
            "as_left",
            "evidence",
        )


class InstrumentRead(RowRead):
    certificates = CertificateRead(many=True)
    units = {"volts_min": "Lowest output, V.", "volts_max": "Highest output, V."}

    class Meta:
        model = Instrument
        fields = (
            "id", "version", "organisation", "kind", "name", "serial", "volts_min", "volts_max", "reads", "retired_at", "retired_why",
            "certificates",
        )  # fmt: skip


class ElectrodeRead(RowRead):
    units = {"width": "What one pass sweeps, m."}

    class Meta:
        model = Electrode
        fields = ("id", "version", "organisation", "name", "kind", "width", "retired_at", "retired_why")


class Instruments(Rows):
    """Instruments of your organisations with their certificates."""

    collection = "instruments"
    serializer_class = InstrumentRead
    prefetch = ("certificates__struck_by",)
    filters = {"kind": ChoiceFilter(choices=Instrument.Kind.choices)}


class Certificates(Rows):
    """Calibration certificates."""

    collection = "certificates"
    serializer_class = CertificateRead


class Electrodes(Rows):
    """Electrodes of your organisations."""

    collection = "electrodes"
    serializer_class = ElectrodeRead


class SpecificationDraftRead(RowRead):
    begun_by, changed_by = PersonRead(), PersonRead()
    units = {"body": "The terms as given so far; quantities as they were said."}

    class Meta:
        model = SpecificationDraft
        fields = (
            "id", "version", "asset", "supersedes", "name", "edition", "body", "begun_at", "begun_by", "changed_at",
            "changed_by", "issued",
        )  # fmt: skip


class SpecificationDrafts(Rows):
    """Specifications being worked out; they bind nobody until one is issued."""

    collection = "specification_drafts"
    serializer_class = SpecificationDraftRead
    select = ("begun_by", "changed_by")


class VoltageRuleRead(RowRead):
    added_by = PersonRead()
    units = {"body": "The rule as it is copied into a specification."}

    class Meta:
        model = VoltageRule
        fields = (
            "id", "version", "organisation", "number", "replaces", "body", "added_at", "added_by", "retired_at",
            "retired_why",
        )  # fmt: skip


class VoltageRules(Rows):
    """The voltage rules of your organisations, every version."""

    collection = "voltage_rules"
    serializer_class = VoltageRuleRead
    select = ("added_by",)
