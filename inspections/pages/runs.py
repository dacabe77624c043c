"""The run: what it rests on and what is to be said of it, then the running view; and the page that opens one."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta
from typing import NamedTuple, cast
from uuid import UUID

import shapely
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
from accounts.units import show_as_given
from accounts.wording import say, say_many
from inspections.actions.sheets import records_in
from inspections.asked_voltage import asked_voltage, stage_thickness
from inspections.causes import causes_in_words
from inspections.cautions import cautions
from inspections.coatings import Coverage, FieldSheet
from inspections.given_thickness import thickness_said
from inspections.noted_runs import notes_of
from inspections.pages.air_block import air_of_run
from inspections.pages.before import before_by_place, before_by_stage
from inspections.pages.briefings import briefed_today
from inspections.pages.doing import told
from inspections.pages.feature_rows import feature_rows, touches
from inspections.pages.offers import offers
from inspections.pages.questions import rows_of_run
from inspections.pages.run_basis import basis_shown
from inspections.pages.run_blocks import blocks, last_check
from inspections.run_notices import film_of
from inspections.runs import Run, Standing, Verification
from inspections.standing import Method
from inspections.vocabulary import HIGH_VOLTAGE
from mapping.bays import Bay, bays_between, strips_of
from mapping.landmarks import Landmark, landmarks_near
from mapping.surfaces import Surface
from mapping.zones import Zone

LATEST = 3
"""Presses that a run's page lists at once; the earlier ones unfold."""
TO_WALK = 0.05
"""A stretch with more of its ground unswept than this is still to walk; less is the ragged edge of presses."""


class LaneRow(NamedTuple):
    """What one press marks, and what this run has done on it: `band` says which part of the bay it is."""

    said: str
    name: str
    band: str
    standing: str
    cause: str
    before: str = ""

    @property
    def cause_words(self) -> str:
        return causes_in_words(self.cause)


@login_required
@require_safe
def run_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    run = find(person, Run, pk)
    zone = run.sheet.coating.zone
    bays = bays_of(zone)
    bay = next((each for each in bays if each.said == request.GET.get("bay")), None) or where_it_goes_on(run, bays)
    if not zone.surface.has_lanes:  # without lanes each stretch is one press: they are shown all at once
        bay, marked, bays = Bay(say("whole zone"), ""), bays, []
    else:
        marked = [bay]
    rows = [row for each in marked for row in lane_rows(run, zone.surface, each)]
    last = last_check(run)
    air = air_of_run(run, person.units)
    held = roles_on(person, run)
    notes = notes_of([run], timezone.now())[run.pk]
    return render(
        request,
        "inspections/run.html",
        {
            "run": run,
            "zone": zone,
            "asset": zone.asset,
            "coating": run.sheet.coating,
            "blocks": blocks(run, notes, air, person.units),
            "notes": notes,
            "permit_over": any(note.code == "permit_ran_out" for note in notes),
            "permit_noted": any(note.on_permit for note in notes),
            "briefing_noted": any(note.on_briefing for note in notes),
            "air_warning": air.warning,
            "cautions": cautions(cast(Method, run.method)),
            "film": str(film_of(run)) if run.is_checked else "",
            "film_shown": show_as_given(run.thickness, str(film_of(run)), "film", person.units)
            if run.is_checked
            else "",
            "bays": bays,
            "bay": bay,
            "lanes": rows,
            "lanes_done": sum(1 for row in rows if row.standing),
            "swaths": (swaths := list(run.swaths.select_related("struck_by").order_by("-sheet_seq")))[:LATEST],
            "swaths_before": swaths[LATEST:],
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
            "questions": rows_of_run(run, person),
            "touches": touches(run),
            **basis_shown(person, run),
        },
    )


def check_due(run: Run, last: Verification | None) -> datetime | None:
    """When the next check is due, counted from the previous one; None when none is."""
    if not run.is_open or last is None or not run.check_interval_min:
        return None
    return last.at + timedelta(minutes=run.check_interval_min)


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


def where_it_goes_on(run: Run, bays: list[Bay]) -> Bay:
    """The first stretch with ground that a survey still has to walk; the first of all where none has, or for another run."""
    surface = run.sheet.coating.zone.surface
    if run.purpose != Run.Purpose.SURVEY or not run.is_open or not surface.has_lanes:
        return bays[0]
    rows = Coverage.objects.filter(coating=run.sheet.coating_id, stage=run.stage).order_by("stretch")
    reached = shapely.union_all([shape for row in rows for shape in (row.found, row.held, row.pending) if shape])
    for bay in bays:
        ground = surface.read_region(bay.said) if bay.said else surface.outline
        if ground.difference(reached).area > TO_WALK * ground.area:
            return bay
    return bays[0]


def lane_rows(run: Run, surface: Surface, bay: Bay) -> list[LaneRow]:
    """The lanes of one bay with what this run has done on each."""
    if run.electrode is None:
        return []
    overlap = min(run.sheet.coating.terms.electrode_overlap, run.electrode.width / 2)
    strips = strips_of(surface, bay, run.electrode.width, overlap)
    swaths = run.swaths.filter(struck_at=None, said__in=[strip.said for strip in strips]).order_by("sheet_seq")
    done = {swath.said: swath for swath in swaths}
    before = before_by_place(run, surface, strips) if run.is_open else {}
    return [
        LaneRow(
            *strip,
            *((done[strip.said].standing, done[strip.said].cause) if strip.said in done else ("", "")),
            before.get(strip.said, ""),
        )
        for strip in strips
    ]


@login_required
def open_run(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Open a run on a sheet: the parameters, the cautions in full, then the run's page."""
    person = cast(Person, request.user)
    sheet = find(person, FieldSheet, pk)
    terms = sheet.coating.terms
    meant = stage_thickness(terms, terms.final_stage)
    if said := request.GET.get("thickness"):
        with suppress(ValueError):  # what cannot be read is what the specification means
            meant = thickness_said(said, person.units, request.GET.get("thickness_basis", ""))
    asked = asked_voltage(terms, meant)
    choices = offers("open_run", person, sheet)
    asset = sheet.coating.zone.asset
    high = terms.method in HIGH_VOLTAGE
    briefed = briefed_today(asset) if high else []
    return act_on_page(
        request,
        "open_run",
        sheet,
        template="inspections/open_run.html",
        initial={
            "stage": request.GET.get("stage", terms.final_stage.name),
            "method": terms.method,
            "set_volts": request.GET.get("set_volts", f"{asked.volts} V" if asked.volts is not None else ""),
            "thickness": str(meant),
            "basis_spots": request.GET.get("basis_spots", ""),
            "thickness_basis": request.GET.get("thickness_basis", terms.thickness_basis),
            "purpose": request.GET.get("purpose", Run.Purpose.SURVEY),
            "sweeper": request.GET.get("sweeper", ""),
        },
        choices=choices,
        hidden=("sheet_seq", "basis_spots"),
        context={
            "sheet": sheet,
            "zone": sheet.coating.zone,
            "terms": terms,
            "asked": asked,
            "before": before_by_stage(sheet.coating, person.units) if terms.method in HIGH_VOLTAGE else [],
            "meant": meant,
            "rests_on": _rests_on(request.GET.get("basis_spots", "")),
            "cautions": cautions(cast(Method, terms.method)),
            "permit_wanting": high and terms.permit_asked and not choices["permit"],
            "high_voltage": high,
            "briefed": briefed,
            "briefed_myself": any(each.person_id == person.pk for each in briefed),
            "here": request.get_full_path(),
        },
        success=lambda done: told(say("Run opened"), done),
        to=lambda done: reverse("run", args=[done.entry.operation]),
        cancel=reverse("sheet", args=[sheet.pk]),
    )


def _rests_on(spots: str) -> str:
    """That the voltage was proposed from spots chosen on the Thickness page; nothing where it was not."""
    if not spots:
        return ""
    return say_many(
        "The thickness is that of {count} spot, chosen on the Thickness page; the run remembers it and its gauge, and is "
        "flagged if it does not hold.",
        "The thickness is that of {count} spots, chosen on the Thickness page; the run remembers them and their gauge, and is "
        "flagged if one does not hold.",
        spots.count(";") + 1,
    )
