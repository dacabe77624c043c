"""Test runs: opening one with its parameters and proofs, closing it, striking it out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Max
from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, NoInput, action
from accounts.languages import spoken
from accounts.people import Organisation, Person, Role
from accounts.units import FilmField, VoltField
from accounts.wording import say
from inspections.actions.checks import MOST_VOLTS
from inspections.actions.sheets import (
    SheetOrder,
    check_may_record,
    check_may_strike,
    fresh,
    moment,
    of_the_crew,
    tell_late,
)
from inspections.asked_voltage import NOTHING_ASKED, asked_voltage, stage_thickness
from inspections.coatings import FieldSheet, Permit
from inspections.given_thickness import thickness_said
from inspections.instruments import Electrode, Instrument
from inspections.noted_runs import named, notes_of
from inspections.run_basis import MEASURED, gauges_of, measured_film, spots_under
from inspections.run_notices import NOTICES
from inspections.runs import Run
from inspections.sensitivity import REACHES_UM, asked_sensitivity
from inspections.terms import METHODS, THICKNESS_BASES, Terms
from inspections.tested import refresh
from inspections.vocabulary import MEDIA
from mapping.actions.zones import Why


class OpenRun(SheetOrder):
    private = ("witness",)

    purpose = serializers.ChoiceField(label=_("Purpose"), choices=Run.Purpose.choices, default=Run.Purpose.SURVEY)
    stage = serializers.CharField(
        required=False, label=_("Coat stage"), help_text=_("Leave empty for the finished system.")
    )
    method = serializers.ChoiceField(
        label=_("Method"),
        choices=spoken(METHODS),
        required=False,
        help_text=_("Leave empty for the specified one."),
    )
    instrument = serializers.UUIDField(label=_("Instrument"), required=False, allow_null=True, default=None)
    electrode = serializers.UUIDField(label=_("Electrode"), required=False, allow_null=True, default=None)
    set_volts = VoltField(required=False, min_value=1, max_value=MOST_VOLTS, label=_("Voltage set"))
    thickness_basis = serializers.ChoiceField(
        label=_("Thickness basis"), choices=spoken(THICKNESS_BASES), required=False
    )
    thickness = FilmField(required=False, min_value=1.0, max_value=25000.0, label=_("Film thickness"))
    medium = serializers.ChoiceField(
        choices=[(key, words) for key, words in spoken(MEDIA) if key in REACHES_UM],
        required=False,
        label=_("Sponge wetted with"),
        help_text=_("For a wet sponge: leave empty for what the specification says."),
    )
    basis_spots = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        default=list,
        label=_("Thickness spots it rests on"),
        help_text=_("For a measured thickness; empty: every spot of the stage that counts."),
        style={"later": True},
    )
    surface_state = serializers.ChoiceField(
        choices=Run.SurfaceState.choices, default=Run.SurfaceState.DRY, label=_("Surface")
    )
    sweeper = serializers.CharField(max_length=120, label=_("Who sweeps"), help_text=_("One sweeps, another records."))
    witness = serializers.EmailField(
        label=_("Witness"),
        required=False,
        allow_blank=True,
        default="",
        help_text=_("Email of a witness, if there is one."),
    )
    permit = serializers.UUIDField(label=_("Permit"), required=False, allow_null=True, default=None)
    cautions = serializers.BooleanField(
        label=_("I have read the cautions"),
        help_text=_("Trained people only, by the maker's instructions and the local rules."),
        style={"tick": True},
    )


def _retests_here(sheet: FieldSheet, held: Mapping[Role, Organisation]) -> str:
    if Role.CREW in held or sheet.coating.terms.own_quality_control_may_retest:
        return ""
    return say("The contractor may only open a retest run, and only where the specification allows it.")


@action(
    "open_run",
    takes=OpenRun,
    roles={Role.CREW, Role.CONTRACTOR},
    guard=_retests_here,
    on=FieldSheet,
    title=_("Open a run"),
)
def open_run(act: Acting, sheet: FieldSheet, given: dict[str, Any]) -> Run:
    """Open a test run with its parameters; the voltage band is the specification's and nothing else."""
    if not fresh(sheet).is_out:
        act.refuse("sheet", say("{sheet} is handed in; take a new sheet.", sheet=sheet))
    run = act.insert(
        run_row(
            act,
            sheet,
            given,
            pk=act.id,
            number=(sheet.runs.aggregate(last=Max("number"))["last"] or 0) + 1,
            opened_at=moment(act, given),
            recorder=act.person,
            acknowledged_at=act.device_at,
            permit_of=lambda pk: Permit.objects.filter(coating=sheet.coating, pk=pk, struck_at=None).first(),
        )
    )
    for notice in NOTICES:
        if notice(run):
            act.tell(lazy(notice, str)(run))
    for note in notes_of([run], run.opened_at)[run.pk]:
        act.tell(note.sentence, **note.gaps)
    tell_late(act, sheet, _("this run was opened"))
    return run


def run_row(
    act: Acting,
    sheet: FieldSheet,
    given: dict[str, Any],
    *,
    pk: UUID,
    number: int,
    opened_at: datetime,
    recorder: Person,
    acknowledged_at: datetime,
    permit_of: Callable[[UUID], Permit | None],
) -> Run:
    """A run as its parameters make it, not yet stored; refuses what cannot be. `permit_of` finds the named permit."""
    terms = sheet.coating.terms
    try:
        stage = terms.stage(given.get("stage") or terms.final_stage.name)
    except KeyError as problem:
        act.refuse("stage", str(problem.args[0]))
    purpose = given["purpose"]
    method = given.get("method") or (Run.Purpose.VISUAL if purpose == Run.Purpose.VISUAL else terms.method)
    if not act.roles & {Role.CREW} and not (purpose == Run.Purpose.RETEST and terms.own_quality_control_may_retest):
        act.refuse(
            "purpose", say("The contractor may only open a retest run, and only where the specification allows it.")
        )
    electric = method != "visual"
    if electric and not given["cautions"]:
        act.refuse("cautions", say("Read the cautions and tick this before the voltage is switched on."))
    instrument = _instrument(act, given, electric)
    electrode = _electrode(act, given, electric)
    volts, film = given.get("set_volts"), given.get("thickness")
    basis = given.get("thickness_basis") or terms.thickness_basis
    try:
        spots = spots_under(sheet.coating, stage.name, given["basis_spots"]) if electric and basis in MEASURED else []
    except LookupError as problem:
        act.refuse("basis_spots", str(problem.args[0]))
    measured = measured_film(terms, spots, basis)
    meant = thickness_said(film.said, basis=basis) if film else measured or stage_thickness(terms, stage)
    asked = asked_voltage(terms, meant) if electric and method == terms.method else NOTHING_ASKED
    band = asked.band
    sponge = method == "wet_sponge"
    if electric and volts is None and not sponge:
        words = (
            say("The specification asks for {low} to {high} V.", low=band.low, high=band.high) if band else asked.why
        )
        act.refuse("set_volts", f"{say('Give the voltage the detector is set to.')} {words}".strip())
    sensitivity = asked_sensitivity(terms.sensitivity_ohm, terms.sensitivity_tolerance_percent) if sponge else None
    permit = None
    if given["permit"]:
        permit = permit_of(given["permit"])
        if permit is None:
            act.refuse("permit", say("There is no such permit on this coating."))
    return Run(
        id=pk,
        sheet=sheet,
        number=number,
        stage=stage.name,
        purpose=purpose,
        method=method,
        instrument=instrument,
        electrode=electrode,
        ruling_document=asked.document,
        rule=asked.rule,
        rule_edition=asked.edition,
        rule_provenance=asked.provenance,
        rule_unit=asked.unit,
        thickness_basis=basis,
        thickness=film.value if film else float(meant.um),
        thickness_said=film.said if film else str(meant) if measured else f"{meant} as specified",
        basis_spots=[str(spot.pk) for spot in spots],
        basis_gauges=gauges_of(spots),
        asked_volts=asked.volts,
        set_volts=int(volts.value) if volts else None,
        band_low=band.low if band else None,
        band_high=band.high if band else None,
        check_interval_min=terms.check_interval_min if electric else None,
        check_tolerance_volts=round(volts.value * terms.check_tolerance_percent / 100)
        if volts and not sponge
        else None,
        check_ohm=sensitivity.ohm if sensitivity else None,
        check_tolerance_ohm=sensitivity.tolerance if sensitivity else None,
        medium=_medium(terms, given.get("medium")) if sponge else "",
        surface_state=given["surface_state"],
        sweeper=given["sweeper"],
        swept_by=named(act.organisation, given["sweeper"]),
        recorder=recorder,
        witness=_witness(act, given["witness"]),
        permit=permit,
        cautions_by=recorder if given["cautions"] else None,
        cautions_at=acknowledged_at if given["cautions"] else None,
        opened_at=opened_at,
    )


def _medium(terms: Terms, given: str | None) -> str:
    """What the sponge is wetted with: as given, else as specified, else plain water."""
    return given or (terms.medium if terms.medium in REACHES_UM else "water")


def _instrument(act: Acting, given: dict[str, Any], needed: bool) -> Instrument | None:
    if given["instrument"] is None:
        if needed:
            act.refuse("instrument", say("Choose the detector this run is made with."))
        return None
    found = Instrument.objects.filter(
        organisation=act.organisation, kind=Instrument.Kind.DETECTOR, pk=given["instrument"]
    ).first()
    if found is None:
        act.refuse("instrument", say("That is not a detector of {organisation}.", organisation=act.organisation))
    return found


def _electrode(act: Acting, given: dict[str, Any], needed: bool) -> Electrode | None:
    if given["electrode"] is None:
        if needed:
            act.refuse("electrode", say("Choose the electrode; its width says what one pass sweeps."))
        return None
    found = Electrode.objects.filter(organisation=act.organisation, pk=given["electrode"]).first()
    if found is None:
        act.refuse("electrode", say("That is not an electrode of {organisation}.", organisation=act.organisation))
    return found


def _witness(act: Acting, email: str) -> Person | None:
    if not email:
        return None
    found = Person.objects.filter(email=email.lower(), is_active=True).first()
    if found is None:
        act.refuse("witness", say('Nobody here has the email "{email}".', email=email))
    if found.pk == act.person.pk:
        act.refuse("witness", say("A witness is somebody else than who records."))
    return found


@action(
    "close_run", takes=NoInput, roles={Role.CREW, Role.CONTRACTOR}, on=Run, guard=of_the_crew, title=_("Close the run")
)
def close_run(act: Acting, run: Run, given: dict[str, Any]) -> Run:
    """Close a run: ground that still waits for a check is lost from the last good one on."""
    check_may_record(act, run)
    if not run.is_open:
        act.refuse("run", say("{run} is not open.", run=run))
    act.amend(run, closed_at=act.device_at)
    refresh(act, run)
    return run


@action("strike_run", takes=Why, roles={Role.CREW}, on=Run, title=_("Strike out the run"))
def strike_run(act: Acting, run: Run, given: dict[str, Any]) -> Run:
    """Strike out a whole run; its ground counts no more, its flaws stay listed."""
    check_may_strike(act, run, run.recorder_id, run.opened_at)
    act.strike(run, given["why"])
    refresh(act, run, touched=list(run.swaths.filter(struck_at=None)))
    return run
