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
from accounts.languages import day_words, moment_words
from accounts.people import Person, Role
from accounts.wording import say
from inspections.actions.sheets import records_in
from inspections.actions.testing import beyond_range, film_of, no_figure
from inspections.asked_voltage import STATED, asked_voltage, stage_thickness
from inspections.atmosphere import humidity_from_wet_bulb, work_may_go_on
from inspections.cautions import cautions
from inspections.coatings import Atmosphere, FieldSheet
from inspections.pages.doing import told
from inspections.pages.feature_rows import feature_rows, touch_words, touches
from inspections.pages.offers import offers
from inspections.runs import Run, Standing, Verification
from inspections.standing import Method
from inspections.vocabulary import PROVENANCES
from mapping.bays import Bay, bays_between, strips_of
from mapping.landmarks import Landmark, landmarks_near
from mapping.surfaces import Surface
from mapping.zones import Zone


class Block(NamedTuple):
    """One block on top of a run: `proven` blocks carry a name and a time; the others say what is missing."""

    title: str
    proven: bool
    says: str
    action: str = ""
    press: str = ""


class LaneRow(NamedTuple):
    """What one press marks, and what this run has done on it: `band` says which part of the bay it is."""

    said: str
    name: str
    band: str
    standing: str
    cause: str


@login_required
@require_safe
def run_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    run = find(person, Run, pk)
    zone = run.sheet.coating.zone
    bays = bays_of(zone)
    bay = next((each for each in bays if each.said == request.GET.get("bay", "")), bays[0])
    if not zone.surface.has_lanes:  # without lanes each stretch is one press: they are shown all at once
        bay, marked, bays = Bay(say("whole zone"), ""), bays, []
    else:
        marked = [bay]
    rows = [row for each in marked for row in lane_rows(run, zone.surface, each)]
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
            "film": str(film_of(run)) if run.set_volts else "",
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
            "features": feature_rows(run),
            "touches": touches(run),
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
    opened = f"{run.recorder}, {at(run.opened_at)}"
    return [
        Block(say("Where"), True, f"{zone.surface.seen_from}. {run.stage}, {run.get_purpose_display()}. {opened}."),
        _instrument(run, at),
        _voltage(run),
        _return(run, at),
        *_touch(run),
        _atmosphere(run, at),
        _permit(run, at),
    ]


def _clock(run: Run) -> Any:
    zone = run.sheet.coating.zone.asset.zone_info

    def at(moment: datetime) -> str:
        return moment_words(moment.astimezone(zone))

    return at


def _instrument(run: Run, at: Any) -> Block:
    title = say("Instrument and last check")
    if run.method == "visual":
        return Block(title, True, say("Visual: no instrument."))
    last = last_check(run)
    paper = run.certificate
    named = f"{run.instrument}, {run.electrode}"
    if paper is None:
        return Block(
            title,
            False,
            say(
                "{named}. No valid certificate on the day: the ground of this run is lost until one is shown.",
                named=named,
            ),
        )
    named = say("{named}, {paper} due {day}", named=named, paper=paper, day=day_words(paper.due))
    if last is None:
        return Block(
            title,
            False,
            say("{named}. No check yet: work before the first good check is lost.", named=named),
            "verify",
            say("Record a check"),
        )
    reading = say(
        "{measured} V for {expected} ± {tolerance} V, {outcome}, {by}, {at}",
        measured=last.measured,
        expected=last.expected,
        tolerance=last.tolerance,
        outcome=last.get_outcome_display(),
        by=last.by,
        at=at(last.at),
    )
    return Block(
        title,
        last.outcome == Verification.Outcome.GOOD,
        say("{named}. Last check: {reading}.", named=named, reading=reading),
        "verify",
        say("Record a check"),
    )


def _voltage(run: Run) -> Block:
    title = say("Thickness and voltage")
    if run.set_volts is None:
        return Block(title, True, say("No voltage in this run."))
    film = f"{run.thickness_said} ({run.get_thickness_basis_display()})"
    if run.band_low is None or run.band_high is None:
        why = no_figure(run) or say("The specification states no voltage for this method.")
        return Block(title, False, say("{film}. Set to {volts} V. {why}", film=film, volts=run.set_volts, why=why))
    band = say(
        "{band_low} to {band_high} V allowed by {ruling_document}",
        band_low=run.band_low,
        band_high=run.band_high,
        ruling_document=run.ruling_document,
    )
    if run.rule_provenance and run.rule != STATED:
        band += f" ({say(PROVENANCES[run.rule_provenance])})"
    inside = run.band_low <= run.set_volts <= run.band_high
    spoiled = (
        ""
        if inside
        else say("Below: the ground is lost.")
        if run.set_volts < run.band_low
        else say("Above: the ground is held for the owner.")
    )
    return Block(
        title,
        inside and not beyond_range(run),
        " ".join(
            part
            for part in (
                say("{film}. Set to {volts} V; {band}.", film=film, volts=run.set_volts, band=band),
                spoiled,
                beyond_range(run),
            )
            if part
        ),
    )


def _return(run: Run, at: Any) -> Block:
    proofs = [proof for proof in run.return_proofs.select_related("by") if proof.struck_at is None]
    if run.method == "visual":
        return Block(say("Return proof"), True, say("Visual: no return."))
    if not proofs:
        return Block(
            say("Return proof"),
            False,
            say("Not proven: without it no ground counts."),
            "prove_return",
            say("Return proven"),
        )
    says = "; ".join(
        f"{proof.said}{f' ({proof.island})' if proof.island else ''}, {proof.by}, {at(proof.at)}" for proof in proofs
    )
    return Block(say("Return proof"), True, f"{says}.", "prove_return", say("Another island"))


def _touch(run: Run) -> list[Block]:
    """On concrete: whether bare concrete alarmed away from the return."""
    told = touch_words(run)
    if told is None:
        return []
    return [Block(say("Touch of bare concrete"), *told, "touch_concrete", say("Bare concrete touched"))]


def _atmosphere(run: Run, at: Any) -> Block:
    title = say("Air and steel")
    low, high = run.opened_at - timedelta(hours=12), (run.closed_at or timezone.now()) + timedelta(minutes=1)
    row = (
        Atmosphere.objects.filter(coating=run.sheet.coating, struck_at=None, at__gte=low, at__lte=high)
        .select_related("by")
        .order_by("-at")
        .first()
    )
    if row is None:
        return Block(title, False, say("Not measured for this run."), "record_atmosphere", say("Record air and steel"))
    humidity = row.humidity or humidity_from_wet_bulb(row.air, row.wet_bulb or row.air)
    verdict = work_may_go_on(row.air, humidity, row.steel)
    says = say(
        "Air {air:g} °C, {humidity:.0f} %, coldest steel {coldest_steel_c:g} °C, dew point {celsius:.1f} °C",
        air=row.air,
        humidity=humidity,
        coldest_steel_c=verdict.coldest_steel_c,
        celsius=verdict.dew_point.celsius,
    )
    said = " ".join([f"{says}. {row.by}, {at(row.at)}.", *verdict.reasons, *verdict.notes])
    return Block(title, verdict.may_go_on, said, "record_atmosphere", say("Measure again"))


def _permit(run: Run, at: Any) -> Block:
    title = say("Permit and cautions")
    read = (
        say("Cautions read by {cautions_by}, {at}.", cautions_by=run.cautions_by, at=at(run.cautions_at))
        if run.cautions_by and run.cautions_at
        else say("Cautions not read.")
    )
    if run.permit is None:
        return Block(
            title, False, say("No permit named. {read} Barespot never authorises work; the permit does.", read=read)
        )
    late = run.permit.expires_at < timezone.now() and run.is_open
    says = say(
        "{permit}, gas {gas_reading}, valid until {at}. {read}",
        permit=run.permit,
        gas_reading=run.permit.gas_reading,
        at=at(run.permit.expires_at),
        read=read,
    )
    return Block(title, not late, say("EXPIRED. {says}", says=says) if late else says)


def bays_of(zone: Zone) -> list[Bay]:
    """What the zone is swept by: its plates or grid, else from weld to weld or seam to seam, else the whole of it."""
    surface = zone.surface
    kinds = (Landmark.Kind.GIRTH_WELD, Landmark.Kind.SEAM)
    cuts = [
        (mark.name, line)
        for mark in landmarks_near(zone)
        if mark.kind in kinds and (line := mark.gridline_on(surface)) is not None
    ]
    return bays_between(surface, cuts)


def lane_rows(run: Run, surface: Surface, bay: Bay) -> list[LaneRow]:
    """The lanes of one bay with what this run has done on each."""
    if run.electrode is None:
        return []
    overlap = min(run.sheet.coating.terms.electrode_overlap, run.electrode.width / 2)
    strips = strips_of(surface, bay, run.electrode.width, overlap)
    swaths = run.swaths.filter(struck_at=None, said__in=[strip.said for strip in strips]).order_by("sheet_seq")
    done = {swath.said: swath for swath in swaths}
    return [
        LaneRow(*strip, *((done[strip.said].standing, done[strip.said].cause) if strip.said in done else ("", "")))
        for strip in strips
    ]


@login_required
def open_run(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Open a run on a sheet: the parameters, the cautions in full, then the run's page."""
    person = cast(Person, request.user)
    sheet = find(person, FieldSheet, pk)
    terms = sheet.coating.terms
    meant = stage_thickness(terms, terms.final_stage)
    asked = asked_voltage(terms, meant)
    return act_on_page(
        request,
        "open_run",
        sheet,
        template="inspections/open_run.html",
        initial={
            "stage": terms.final_stage.name,
            "method": terms.method,
            "set_volts": f"{asked.volts} V" if asked.volts is not None else "",
            "thickness": str(meant),
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
            "asked": asked,
            "meant": meant,
            "cautions": cautions(cast(Method, terms.method)),
        },
        success=lambda done: told(say("Run opened"), done),
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
        choices=offers("verify", cast(Person, request.user), run),
        hidden=("sheet_seq",),
        context={
            "lead": say(
                "Good is {low} to {high} V: {set_volts} V as set, plus or minus {check_tolerance_volts} V.",
                low=low,
                high=high,
                set_volts=run.set_volts,
                check_tolerance_volts=run.check_tolerance_volts,
            ),
            "crumbs": [(str(run), reverse("run", args=[run.pk]))],
        },
        success=lambda done: _check_told(done),
        to=reverse("run", args=[run.pk]),
        cancel=reverse("run", args=[run.pk]),
    )


def _check_told(done: Any) -> str:
    outcome = f" {done.made.get_outcome_display().capitalize()}: {done.made.measured} V." if done.made else ""
    return f"{told('Check', done)}{outcome}"
