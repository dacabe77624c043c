"""Which instruments and electrodes the work on an asset, or on one of its zones, was done with."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from inspections.coatings import Atmosphere, Coating, Spot
from inspections.gauges import GaugeCheck
from inspections.instruments import Electrode, Instrument
from inspections.runs import Run, Verification


def instruments_used(coatings: QuerySet[Coating]) -> QuerySet[Instrument]:
    """Detectors, voltmeters, gauges and what read air and steel, each once."""
    air = Atmosphere.objects.filter(coating__in=coatings)
    runs = Run.objects.filter(sheet__coating__in=coatings)
    used = (
        runs.values("instrument"),
        Verification.objects.filter(run__in=runs).values("voltmeter"),
        Spot.objects.filter(coating__in=coatings).values("gauge"),
        GaugeCheck.objects.filter(sheet__coating__in=coatings).values("gauge"),
        air.values("hygrometer"),
        air.values("thermometer"),
    )
    any_of = Q()
    for ids in used:
        any_of |= Q(pk__in=ids)
    return Instrument.objects.filter(any_of).order_by("kind", "name", "serial", "pk")


def electrodes_used(coatings: QuerySet[Coating]) -> QuerySet[Electrode]:
    """Electrodes of any run on these coatings, each once."""
    return Electrode.objects.filter(
        pk__in=Run.objects.filter(sheet__coating__in=coatings).values("electrode")
    ).order_by("name", "pk")
