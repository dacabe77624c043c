"""Reads of instruments, their certificates, and electrodes."""

from __future__ import annotations

from django_filters import ChoiceFilter

from accounts.serving import RowRead, Rows
from inspections.instruments import Certificate, Electrode, Instrument


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
        )


class InstrumentRead(RowRead):
    certificates = CertificateRead(many=True)
    units = {"volts_min": "Lowest output, V.", "volts_max": "Highest output, V."}

    class Meta:
        model = Instrument
        fields = ("id", "version", "organisation", "kind", "name", "serial", "volts_min", "volts_max", "certificates")


class ElectrodeRead(RowRead):
    units = {"width": "What one pass sweeps, m."}

    class Meta:
        model = Electrode
        fields = ("id", "version", "organisation", "name", "kind", "width")


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
