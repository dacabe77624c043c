"""One instrument: its certificates, and what it read over time."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.acting import find, may
from accounts.people import Person
from accounts.wording import say_many
from inspections.instrument_readings import InstrumentReading, readings_of
from inspections.instruments import Instrument

LATEST = 10
"""Readings that the page lists at once; the earlier ones unfold."""


@login_required
@require_safe
def instrument_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    instrument = find(person, Instrument, pk)
    today = timezone.now()
    paper = instrument.certificate_at(today)
    readings = readings_of(instrument, person)
    return render(
        request,
        "inspections/instrument.html",
        {
            "instrument": instrument,
            "organisation": instrument.organisation,
            "paper": paper,
            "days_left": (paper.due - today.date()).days if paper else None,
            "papers": sorted(instrument.certificates.all(), key=lambda each: (each.issued, each.due), reverse=True),
            "readings": readings,
            "latest": readings[:LATEST],
            "earlier": readings[LATEST:],
            "suspicion": _suspicion(readings),
            "may_register": may(person, "register_certificate", instrument),
            "here": request.get_full_path(),
        },
    )


def _suspicion(readings: list[InstrumentReading]) -> str:
    """A sentence where the instrument read the same to the digit again and again, else nothing."""
    most = max((row.same for row in readings), default=0)
    if not any(row.odd for row in readings):
        return ""
    return say_many(
        "It read the same to the digit {count} time in a row: was it read each time? (Three in a row are asked about; our own "
        "choice.)",
        "It read the same to the digit {count} times in a row: was it read each time? (Three in a row are asked about; our own "
        "choice.)",
        most,
    )
