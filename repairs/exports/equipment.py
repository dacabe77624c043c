"""Tables of what the work was done with: instruments, their certificates, electrodes."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from accounts.wording import noted
from inspections.coatings import Coating
from inspections.equipment_used import electrodes_used, instruments_used
from inspections.instruments import Certificate
from repairs.exports.scope import Column, Scope, Table
from repairs.exports.where import ID, STRUCK

RETIRED = (
    Column("retired at", noted("When it was taken out of use; empty while it is in use."), "retired_at"),
    Column("retired why", noted("Why."), "retired_why"),
)
FIRM = Column("belongs to", noted("Whose it is."), "organisation__name")


def _coatings(scope: Scope) -> QuerySet[Coating]:
    return scope.of_zone(Coating.objects.all(), "zone")


def _instruments(scope: Scope) -> QuerySet[Any]:
    return instruments_used(_coatings(scope))


def _certificates(scope: Scope) -> QuerySet[Any]:
    used = instruments_used(_coatings(scope)).order_by().values("pk")
    rows = Certificate.objects.filter(instrument__in=used)
    return rows.order_by("instrument__kind", "instrument__name", "instrument__serial", "issued", "pk")


def _electrodes(scope: Scope) -> QuerySet[Any]:
    return electrodes_used(_coatings(scope))


INSTRUMENTS = Table(
    "instruments",
    noted("Detectors, voltmeters, gauges and what read air and steel, where the work was done with them."),
    (
        Column("instrument", noted("Its name."), "name"),
        Column("serial", noted("Its serial number."), "serial"),
        Column("kind", noted("What it is."), "kind"),
        FIRM,
        Column("lowest voltage (V)", noted("Of a detector or voltmeter."), "volts_min"),
        Column("highest voltage (V)", noted("Of a detector or voltmeter."), "volts_max"),
        Column("reads", noted("What it reads and over which range, in words."), "reads"),
        *RETIRED,
        ID,
    ),
    _instruments,
)
CERTIFICATES = Table(
    "certificates",
    noted("Calibration certificates of these instruments, also those that ran out or were struck out."),
    (
        Column("instrument", noted("Its name."), "instrument__name"),
        Column("serial", noted("Its serial number."), "instrument__serial"),
        Column("certificate", noted("Number of the certificate."), "number"),
        Column("issued", noted("Its first day."), "issued"),
        Column("due", noted("Its last day."), "due"),
        Column("calibrated from", noted("In the instrument's own unit: V, µm, % or °C."), "range_min"),
        Column("calibrated to", noted("In the instrument's own unit: V, µm, % or °C."), "range_max"),
        Column("as found", noted("What it was before any adjustment."), "as_found"),
        Column("as left", noted("What it was after it."), "as_left"),
        Column("file (sha256)", noted("The certificate itself, where it was handed in."), "evidence__sha256"),
        *STRUCK,
        ID,
    ),
    _certificates,
)
ELECTRODES = Table(
    "electrodes",
    noted("Electrodes that were swept with."),
    (
        Column("electrode", noted("Its name."), "name"),
        Column("kind", noted("What it is."), "kind"),
        Column("width (m)", noted("What one pass sweeps."), "width"),
        FIRM,
        *RETIRED,
        ID,
    ),
    _electrodes,
)
TABLES = (INSTRUMENTS, CERTIFICATES, ELECTRODES)
