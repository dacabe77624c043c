"""The run: six blocks that each say who and when or what is missing, then the running view."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.access import roles_on
from accounts.acting import find, may
from accounts.forms import act_on_page
from accounts.people import Person, Role
from inspections.actions.sheets import records_in
from inspections.atmosphere import humidity_from_wet_bulb, work_may_go_on
from inspections.cautions import cautions
from inspections.coatings import Atmosphere, FieldSheet
from inspections.pages.doing import told
from inspections.pages.offers import offers
from inspections.runs import Run, Standing, Verification
from inspections.standing import Method
from mapping.landmarks import Landmark
from mapping.lanes import lanes
from mapping.surfaces import Surface
from mapping.zones import Zone


class Block(NamedTuple):
    """One block on top of a run: `proven` blocks carry a name and a time; the others say what is missing."""

    title: str
    proven: bool
    says: str
    action: str = ""
    press: str = ""


class Bay(NamedTuple):
    """A stretch of the zone that is swept lane by lane: from one weld to the next."""

    name: str
    said: str
    current: bool


class LaneRow(NamedTuple):
    """A lane of the bay: `across` says in words which band of the surface it is."""

    said: str
    name: str
    across: str
    standing: str
    cause: str


@login_required
@require_safe
def run_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    run = find(person, Run, pk)
    zone = run.sheet.coating.zone
    bays = bays_of(zone, request.GET.get("bay", ""))
    bay = next((each for each in bays if each.current), bays[0])
    rows = lane_rows(run, zone.surface, bay)
    last = last_check(run)
    held = roles_on(person, run)
    return render(
        request,
        "inspections/run.html",
        {
            "run": run,
            "zone": zone,
            "asset": zone.asset,
            "coating": run.sheet.coating,
            "blocks": blocks(run),
            "cautions": cautions(cast(Method, run.method)),
            "bays": bays,
            "bay": bay,
            "lanes": rows,
            "lanes_done": sum(1 for row in rows if row.standing),
            "swaths": run.swaths.select_related("struck_by").order_by("-sheet_seq"),
            "checks": run.verifications.select_related("by", "struck_by").order_by("sheet_seq"),
            "events": run.events.select_related("by").order_by("sheet_seq"),
            "flaws": run.flaws.select_related("sheet").prefetch_related("classifications").order_by("-number"),
            "rulings": run.reinstatements.select_related("by", "evidence").order_by("at"),
            "check_due": check_due(run, last),
            "last_check": last,
            "may_record": records_in(run, held, held.get(Role.CONTRACTOR)),
            "may_rule": may(person, "decide_held", run),
            "may_restore": may(person, "reinstate", run),
            "lost": run.swaths.filter(struck_at=None, standing=Standing.LOST).exists(),
            "held": run.swaths.filter(struck_at=None, standing=Standing.HELD).exists(),
            "here": request.get_full_path(),
        },
    )


def last_check(run: Run) -> Verification | None:
    return run.verifications.filter(struck_at=None).order_by("-sheet_seq").first()


def check_due(run: Run, last: Verification | None) -> datetime | None:
    """When the next check is due, counted from the previous one; None when none is."""
    if not run.is_open or last is None or not run.check_interval_min:
        return None
    return last.at + timedelta(minutes=run.check_interval_min)


def blocks(run: Run) -> list[Block]:
    """The six blocks of a run, in the order in which a crew goes through them."""
    zone = run.sheet.coating.zone
    at = _clock(run)
    opened = f"{run.recorder} at {at(run.opened_at)}"
    return [
        Block("Where", True, f"{zone.surface.seen_from}. {run.stage}, {run.get_purpose_display()}. {opened}."),
        _instrument(run, at),
        _voltage(run),
        _return(run, at),
        _atmosphere(run, at),
        _permit(run, at),
    ]


def _clock(run: Run) -> Any:
    zone = run.sheet.coating.zone.asset.zone_info

    def at(moment: datetime) -> str:
        return f"{moment.astimezone(zone):%H:%M on} {moment.astimezone(zone).day} {moment.astimezone(zone):%B}"

    return at


def _instrument(run: Run, at: Any) -> Block:
    title = "Instrument and last check"
    if run.method == "visual":
        return Block(title, True, "Visual: no instrument.")
    last = last_check(run)
    paper = run.certificate
    named = f"{run.instrument}, {run.electrode}"
    if paper is None:
        return Block(
            title,
            False,
            f"{named}. No valid certificate on the day: the ground of this run is lost until one is shown.",
        )
    named += f", {paper} due {paper.due:%d %B %Y}"
    if last is None:
        return Block(
            title,
            False,
            f"{named}. No check yet: work before the first good check is lost.",
            "verify",
            "Record a check",
        )
    reading = f"{last.measured} V for {last.expected} ± {last.tolerance} V, {last.outcome}, {last.by} at {at(last.at)}"
    return Block(
        title, last.outcome == Verification.Outcome.GOOD, f"{named}. Last check: {reading}.", "verify", "Record a check"
    )


def _voltage(run: Run) -> Block:
    title = "Thickness and voltage"
    if run.set_volts is None:
        return Block(title, True, "No voltage in this run.")
    film = f"{run.thickness_said} ({run.get_thickness_basis_display()})"
    if run.band_low is None or run.band_high is None:
        return Block(
            title, False, f"{film}. Set to {run.set_volts} V; the specification states no voltage for this method."
        )
    band = f"{run.band_low} to {run.band_high} V allowed by {run.ruling_document}"
    inside = run.band_low <= run.set_volts <= run.band_high
    spoiled = (
        ""
        if inside
        else " Below: the ground is lost."
        if run.set_volts < run.band_low
        else " Above: the ground is held for the owner."
    )
    return Block(title, inside, f"{film}. Set to {run.set_volts} V; {band}.{spoiled}")


def _return(run: Run, at: Any) -> Block:
    proofs = [proof for proof in run.return_proofs.select_related("by") if proof.struck_at is None]
    if run.method == "visual":
        return Block("Return proof", True, "Visual: no return.")
    if not proofs:
        return Block("Return proof", False, "Not proven: without it no ground counts.", "prove_return", "Return proven")
    says = "; ".join(
        f"{proof.said}{f' ({proof.island})' if proof.island else ''}, {proof.by} at {at(proof.at)}" for proof in proofs
    )
    return Block("Return proof", True, f"{says}.", "prove_return", "Another island")


def _atmosphere(run: Run, at: Any) -> Block:
    title = "Air and steel"
    low, high = run.opened_at - timedelta(hours=12), (run.closed_at or timezone.now()) + timedelta(minutes=1)
    row = (
        Atmosphere.objects.filter(coating=run.sheet.coating, struck_at=None, at__gte=low, at__lte=high)
        .select_related("by")
        .order_by("-at")
        .first()
    )
    if row is None:
        return Block(title, False, "Not measured for this run.", "record_atmosphere", "Record air and steel")
    humidity = row.humidity or humidity_from_wet_bulb(row.air, row.wet_bulb or row.air)
    verdict = work_may_go_on(row.air, humidity, row.steel)
    says = f"Air {row.air:g} °C, {humidity:.0f} %, coldest steel {verdict.coldest_steel_c:g} °C, dew point {verdict.dew_point.celsius:.1f} °C"
    said = " ".join([f"{says}. {row.by} at {at(row.at)}.", *verdict.reasons, *verdict.notes])
    return Block(title, verdict.may_go_on, said, "record_atmosphere", "Measure again")


def _permit(run: Run, at: Any) -> Block:
    title = "Permit and cautions"
    read = (
        f"Cautions read by {run.cautions_by} at {at(run.cautions_at)}."
        if run.cautions_by and run.cautions_at
        else "Cautions not read."
    )
    if run.permit is None:
        return Block(title, False, f"No permit named. {read} Barespot never authorises work; the permit does.")
    late = run.permit.expires_at < timezone.now() and run.is_open
    says = f"{run.permit}, gas {run.permit.gas_reading}, valid until {at(run.permit.expires_at)}. {read}"
    return Block(title, not late, f"EXPIRED. {says}" if late else says)


def bays_of(zone: Zone, wanted: str) -> list[Bay]:
    """The zone's stretches from weld to weld (the whole zone where there are none), one of them current."""
    surface = zone.surface
    low, _, high, _ = surface.outline.bounds
    welds = Landmark.objects.filter(
        asset=zone.asset, kind=Landmark.Kind.GIRTH_WELD, struck_at=None, x__gt=low, x__lt=high
    ).order_by("x")
    cuts = [(low, ""), *((weld.x, weld.name) for weld in welds), (high, "")]
    said = surface.chainage.print
    bays = []
    for (start, name), (end, _) in zip(cuts, cuts[1:], strict=False):
        text = f"{said(start)} to {said(end)}"
        bays.append(Bay(f"from {name}" if name else "from the start", text, text == wanted))
    if not any(bay.current for bay in bays):
        bays[0] = bays[0]._replace(current=True)
    return bays


def lane_rows(run: Run, surface: Surface, bay: Bay) -> list[LaneRow]:
    """The lanes of one bay with what this run has done on each."""
    if run.electrode is None:
        return []
    overlap = min(run.sheet.coating.terms.electrode_overlap, run.electrode.width / 2)
    done = {
        swath.said: swath
        for swath in run.swaths.filter(struck_at=None, said__startswith=bay.said).order_by("sheet_seq")
    }
    rows = []
    for lane in lanes(surface, run.electrode.width, overlap):
        said = f"{bay.said}, {lane.said}"
        swath = done.get(said)
        across = surface.describe_region(surface.read_region(said)).partition(", ")[2]
        standing, cause = (swath.standing, swath.cause) if swath else ("", "")
        rows.append(LaneRow(said, f"Lane {lane.number} of {lane.of}", across, standing, cause))
    return rows


@login_required
def open_run(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Open a run on a sheet: the parameters, the cautions in full, then the run's page."""
    person = cast(Person, request.user)
    sheet = find(person, FieldSheet, pk)
    terms = sheet.coating.terms
    return act_on_page(
        request,
        "open_run",
        sheet,
        template="inspections/open_run.html",
        initial={
            "stage": terms.final_stage.name,
            "method": terms.method,
            "set_volts": f"{terms.stated_volts} V",
            "thickness": f"{terms.final_stage.dft_nominal:g} µm",
            "thickness_basis": terms.thickness_basis,
            "purpose": request.GET.get("purpose", Run.Purpose.SURVEY),
            "sweeper": request.GET.get("sweeper", ""),
        },
        choices=offers("open_run", person, sheet),
        hidden=("sheet_seq",),
        context={
            "sheet": sheet,
            "zone": sheet.coating.zone,
            "terms": terms,
            "cautions": cautions(cast(Method, terms.method)),
        },
        success=lambda done: told("Run opened", done),
        to=lambda done: reverse("run", args=[done.entry.operation]),
        cancel=reverse("sheet", args=[sheet.pk]),
    )


@login_required
def check(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Record a check, with its tolerance shown beforehand."""
    run = find(cast(Person, request.user), Run, pk)
    first = not run.verifications.filter(struck_at=None).exists()
    low, high = (
        (run.set_volts or 0) - (run.check_tolerance_volts or 0),
        (run.set_volts or 0) + (run.check_tolerance_volts or 0),
    )
    phase = request.GET.get("phase", Verification.Phase.START if first else Verification.Phase.DURING)
    return act_on_page(
        request,
        "verify",
        run,
        initial={"phase": phase},
        hidden=("sheet_seq",),
        context={
            "lead": f"Good is {low} to {high} V: {run.set_volts} V as set, plus or minus {run.check_tolerance_volts} V.",
            "crumbs": [(str(run), reverse("run", args=[run.pk]))],
        },
        success=lambda done: _check_told(done),
        to=reverse("run", args=[run.pk]),
        cancel=reverse("run", args=[run.pk]),
    )


def _check_told(done: Any) -> str:
    outcome = f" {done.made.get_outcome_display().capitalize()}: {done.made.measured} V." if done.made else ""
    return f"{told('Check', done)}{outcome}"
