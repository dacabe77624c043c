"""What a page offers to choose from, by action and field: rows of the person's organisation or of the coating."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.utils import timezone

from accounts.access import roles_on
from accounts.assets import Asset
from accounts.languages import day_words, moment_words
from accounts.people import Person
from accounts.wording import say
from inspections.actions.specifying import bare_zones
from inspections.actions.thin import runs_for
from inspections.coatings import Coating, FieldSheet, Spot
from inspections.flaws import Flaw
from inspections.instruments import Electrode, Instrument
from inspections.pages.feature_rows import sweep_feature_offers
from inspections.runs import Run, Standing
from inspections.specifications import Specification
from inspections.spot_doubts import weighed
from mapping.zones import Zone

Offers = dict[str, Sequence[tuple[str, str]]]


def open_run(person: Person, sheet: FieldSheet) -> Offers:
    now = timezone.localtime(timezone=sheet.coating.zone.asset.zone_info)
    detectors = Instrument.objects.filter(
        organisation=sheet.organisation, kind=Instrument.Kind.DETECTOR, retired_at=None
    ).prefetch_related("certificates")
    stages = [(stage.name, stage.name) for stage in sheet.coating.terms.stages]
    permits = sheet.coating.permits.filter(struck_at=None, expires_at__gt=now).order_by("-recorded_at")
    return {
        "instrument": [(str(row.pk), _with_certificate(row, now)) for row in detectors],
        "electrode": [
            (str(row.pk), f"{row.name} ({row.width:.2f} m)")
            for row in Electrode.objects.filter(organisation=sheet.organisation, retired_at=None).order_by("-width")
        ],
        "stage": stages,
        "permit": [
            (str(row.pk), say("{row}, gas {gas_reading}", row=row, gas_reading=row.gas_reading)) for row in permits
        ],
    }


def record_permit(person: Person, coating: Coating) -> Offers:
    """The permits that a new one may renew; renewals of renewals by the last of them."""
    clock = coating.zone.asset.zone_info
    rows = coating.permits.filter(struck_at=None, renewals=None).order_by("-expires_at")[:20]
    return {
        "renews": [
            (
                str(row.pk),
                say("{permit}, until {moment}", permit=row, moment=moment_words(row.expires_at.astimezone(clock))),
            )
            for row in rows
        ]
    }


def verify(person: Person, run: Run) -> Offers:
    now = timezone.localtime(timezone=run.sheet.coating.zone.asset.zone_info)
    meters = Instrument.objects.filter(
        organisation=run.sheet.organisation, kind=Instrument.Kind.CREST_VOLTMETER, retired_at=None
    ).prefetch_related("certificates")
    return {"voltmeter": [(str(row.pk), _with_certificate(row, now)) for row in meters]}


def record_atmosphere(person: Person, coating: Coating) -> Offers:
    now = timezone.localtime(timezone=coating.zone.asset.zone_info)
    kinds = {
        "hygrometer": (Instrument.Kind.HYGROMETER,),
        "thermometer": (Instrument.Kind.THERMOMETER, Instrument.Kind.HYGROMETER),
    }
    rows = Instrument.objects.filter(organisation__in=set(roles_on(person, coating).values()), retired_at=None)
    rows = rows.prefetch_related("certificates").order_by("name")
    return {
        name: [(str(row.pk), _with_certificate(row, now)) for row in rows if row.kind in kind]
        for name, kind in kinds.items()
    }


def _with_certificate(instrument: Instrument, now: Any) -> str:
    paper = instrument.certificate_at(now)
    return (
        say("{instrument}, in calibration until {day}", instrument=instrument, day=day_words(paper.due))
        if paper
        else say("{instrument}: NO VALID CERTIFICATE", instrument=instrument)
    )


def record_spot(person: Person, sheet: FieldSheet) -> Offers:
    gauges = Instrument.objects.filter(organisation=sheet.organisation, kind=Instrument.Kind.GAUGE, retired_at=None)
    return {
        "gauge": [(str(row.pk), str(row)) for row in gauges],
        "stage": [(stage.name, stage.name) for stage in sheet.coating.terms.stages],
    }


def check_gauge(person: Person, sheet: FieldSheet) -> Offers:
    gauges = Instrument.objects.filter(organisation=sheet.organisation, kind=Instrument.Kind.GAUGE, retired_at=None)
    return {"gauge": [(str(row.pk), str(row)) for row in gauges]}


def decide_spots(person: Person, coating: Coating) -> Offers:
    spots = list(coating.spots.filter(struck_at=None).select_related("gauge").order_by("at"))
    against = weighed(coating, spots)
    return {
        "spots": [
            (str(spot.pk), f"{spot.said}: {'; '.join(str(doubt.line) for doubt in against[spot.pk].doubts)}")
            for spot in spots
            if against[spot.pk].doubts
        ]
    }


def report_thin_spot(person: Person, spot: Spot) -> Offers:
    return {
        "run": [
            (str(run.pk), say("{label}, {purpose}", label=run.label, purpose=run.get_purpose_display()))
            for run in runs_for(person, spot)[:30]
        ]
    }


def begin_coating(person: Person, zone: Zone) -> Offers:
    rows = Specification.objects.filter(asset=zone.asset).order_by("-issued_at")
    return {"specification": [(str(row.pk), str(row)) for row in rows]}


def begin_coatings(person: Person, specification: Specification) -> Offers:
    return {"zones": [(str(zone.pk), str(zone.name)) for zone in bare_zones(specification.asset)]}


def add_landmark(person: Person, asset: Asset) -> Offers:
    return {"zone": [(str(zone.pk), f"{zone.name}, {zone.surface.limits_text()}") for zone in asset.zones.all()]}


def same_flaw(person: Person, flaw: Flaw) -> Offers:
    rows = (
        Flaw.objects.filter(sheet__coating=flaw.sheet.coating, struck_at=None, same_as=None)
        .exclude(pk=flaw.pk)
        .select_related("sheet")
    )
    near = sorted(rows, key=lambda row: (abs(row.x - flaw.x), row.tag))[:30]
    return {"as_flaw": [(str(row.pk), f"{row.tag}, {row.said}") for row in near]}


def _swaths(*standings: str) -> Callable[[Person, Run], Offers]:
    def offer(person: Person, run: Run) -> Offers:
        rows = run.swaths.filter(struck_at=None, standing__in=standings).order_by("sheet_seq")
        return {
            "swaths": [(str(row.pk), f"{row.said}: {row.cause_words or row.get_standing_display()}") for row in rows]
        }

    return offer


OFFERS: dict[str, Callable[[Person, Any], Offers]] = {
    "open_run": open_run,
    "record_permit": record_permit,
    "verify": verify,
    "record_atmosphere": record_atmosphere,
    "record_spot": record_spot,
    "check_gauge": check_gauge,
    "decide_spots": decide_spots,
    "report_thin_spot": report_thin_spot,
    "begin_coating": begin_coating,
    "begin_coatings": begin_coatings,
    "same_flaw": same_flaw,
    "add_landmark": add_landmark,
    "sweep_feature": sweep_feature_offers,
    "reinstate": _swaths(Standing.LOST),
    "decide_held": _swaths(Standing.HELD, Standing.LOST),
}


def offers(action: str, person: Person, target: Any) -> Offers:
    """The choices of an action's form on this row; empty where everything is typed."""
    given = OFFERS.get(action)
    return given(person, target) if given else {}
