"""Thickness spots: recorded with gauge, area, shift and correction as they were given; their unit confirmed; struck out."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, NoInput, action
from accounts.people import Role
from accounts.units import FILM, FilmField, Quantity, read
from accounts.wording import say
from inspections.actions.sheets import SheetOrder, check_may_strike, fresh, moment, tell_late
from inspections.arithmetic import Line
from inspections.coatings import Coating, FieldSheet, Spot
from inspections.film_acceptance import PROFILE_UM
from inspections.instruments import Instrument
from inspections.plausible_film import MOST_UM, unit_question
from inspections.terms import Terms
from mapping.actions.zones import Why
from mapping.fields import PlaceField
from mapping.surfaces import Surface

LATER = {"later": True}
MOST_READINGS = 30
STORED_UNITS = {"µm": "um", "mm": "mm", "mil": "mil"}


class RecordSpot(SheetOrder):
    place = PlaceField(label=_("Place"))
    readings = serializers.ListField(
        label=_("Readings"),
        child=FilmField(min_value=0.0, max_value=25000.0),
        min_length=1,
        max_length=MOST_READINGS,
        help_text=_("One a line, in one unit."),
        error_messages={"min_length": _("There is no reading; write at least one, for example 512 µm or 20 mil.")},
    )
    stage = serializers.CharField(
        required=False, label=_("Coat stage"), help_text=_("Leave empty for the finished system.")
    )
    gauge = serializers.UUIDField(label=_("Gauge"), required=False, allow_null=True, default=None)
    area = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=60,
        label=_("Area measurement"),
        help_text=_("Its name, the same for the spots that belong together. Empty: five in the order they are taken."),
    )
    shift = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=60,
        label=_("Coated in shift"),
        help_text=_("The day or the shift in which the film was put on there."),
        style=LATER,
    )
    correction = FilmField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0.0,
        max_value=500.0,
        label=_("Correction for the profile"),
        help_text=_(
            "Subtracted from each reading. Empty: what the specification says; 0 for a gauge zeroed on the profile."
        ),
        style=LATER,
    )
    purpose = serializers.ChoiceField(
        choices=Spot.Purpose.choices, default=Spot.Purpose.MEASUREMENT, label=_("Taken for"), style=LATER
    )
    unit_confirmed = serializers.BooleanField(
        required=False,
        default=False,
        label=_("The unit is right"),
        help_text=_("Tick it where the readings look as if they were in another unit, and are not."),
        style={**LATER, "tick": True},
    )

    @staticmethod
    def surface_of(sheet: FieldSheet) -> Surface:
        return sheet.coating.zone.surface


@action("record_spot", takes=RecordSpot, roles={Role.CREW}, on=FieldSheet, title=_("Record a thickness spot"))
def record_spot(act: Acting, sheet: FieldSheet, given: dict[str, Any]) -> Spot:
    """Record the gauge readings of one spot."""
    tell_late(act, fresh(sheet), _("this spot was recorded"))
    spot = act.insert(spot_row(act, sheet, given, pk=act.id, at=moment(act, given)))
    if asked := unit_asked(spot, sheet.coating.terms):
        act.tell(
            _(
                "{place}: {question} If it was, strike the spot out and record it in that unit; if not, say there that the "
                "unit is right."
            ),
            place=spot.said,
            question=asked,
        )
    return spot


def spot_row(act: Acting, sheet: FieldSheet, given: dict[str, Any], *, pk: UUID, at: datetime) -> Spot:
    """A thickness spot as a row, not yet stored; refuses a stage, gauge or reading that cannot be."""
    terms = sheet.coating.terms
    try:
        stage = terms.stage(given.get("stage") or terms.final_stage.name)
    except KeyError as problem:
        act.refuse("stage", str(problem.args[0]))
    gauge = gauge_of(act, given["gauge"]) if given["gauge"] else None
    readings: list[Quantity] = given["readings"]
    _check_readings(act, sheet.coating, gauge, readings, at)
    place = given["place"]
    said_correction: Quantity | None = given["correction"]
    correction = said_correction.value if said_correction else float(PROFILE_UM.get(terms.profile, 0))
    return Spot(
        id=pk,
        coating=sheet.coating,
        sheet=sheet,
        gauge=gauge,
        stage=stage.name,
        said=place.said,
        x=place.x,
        y=place.y,
        readings=[reading.said for reading in readings],
        unit=unit_of(readings),
        mean=sum(reading.value for reading in readings) / len(readings) - correction,
        correction=correction,
        correction_said=said_correction.said if said_correction else "",
        area=" ".join(given["area"].split()),
        shift=" ".join(given["shift"].split()),
        purpose=given["purpose"],
        unit_confirmed=given["unit_confirmed"],
        at=at,
    )


def gauge_of(act: Acting, pk: UUID) -> Instrument:
    """The gauge of the firm; refuses what is none."""
    found = Instrument.objects.filter(organisation=act.organisation, kind=Instrument.Kind.GAUGE, pk=pk).first()
    if found is None:
        act.refuse("gauge", say("That is not a gauge of {organisation}.", organisation=act.organisation))
    return found


def _check_readings(
    act: Acting, coating: Coating, gauge: Instrument | None, readings: list[Quantity], at: datetime
) -> None:
    """Refuse what no film of this family is, and what the gauge cannot read."""
    family = coating.terms.film_family
    most = MOST_UM[family]
    paper = gauge.certificate_at(at.astimezone(coating.zone.asset.zone_info)) if gauge else None
    for reading in readings:
        if reading.value > most:
            act.refuse(
                "readings",
                say(
                    '"{said}" is no film of this kind ({family}): up to {most} µm is taken. Read it again, and its unit.',
                    said=reading.said,
                    family=say(family),
                    most=most,
                ),
            )
        if paper is None:
            continue
        low, high = paper.range_min or 0.0, paper.range_max
        if reading.value < low or (high is not None and reading.value > high):
            allowed = say("{low:g} to {high:g} µm", low=low, high=high) if high is not None else f"{low:g} µm"
            act.refuse(
                "readings",
                say(
                    '"{said}" is beyond {gauge}: {paper} covers {allowed}. Read it again, or name the gauge that was used.',
                    said=reading.said,
                    gauge=gauge,
                    paper=paper,
                    allowed=allowed,
                ),
            )


def unit_of(readings: list[Quantity]) -> str:
    """The unit that the readings share, as it is stored; "mix" where they were given in several."""
    units = {unit.name if (unit := read(reading.said, FILM)[1]) else FILM.si.name for reading in readings}
    return STORED_UNITS[units.pop()] if len(units) == 1 else "mix"


def unit_asked(spot: Spot, terms: Terms) -> Line | None:
    """The question whether another unit was meant; None where there is nothing to ask, or somebody said it is right."""
    if spot.unit_confirmed:
        return None
    stage = terms.stage(spot.stage)
    return unit_question(spot.readings_um, spot.unit, stage.dft_nominal or stage.dft_minimum)


@action("confirm_spot_unit", takes=NoInput, roles={Role.CREW}, on=Spot, title=_("The unit is right"))
def confirm_spot_unit(act: Acting, spot: Spot, given: dict[str, Any]) -> Spot:
    """Say that a spot's readings were given in the right unit, though they look as if they were not."""
    if unit_asked(spot, spot.coating.terms) is None:
        act.refuse("unit", say("The unit of this spot is not in question."))
    return act.amend(spot, unit_confirmed=True)


@action("strike_spot", takes=Why, roles={Role.CREW}, on=Spot, title=_("Strike out"))
def strike_spot(act: Acting, spot: Spot, given: dict[str, Any]) -> Spot:
    """Strike out a thickness spot."""
    check_may_strike(act, spot, spot.sheet.person_id, spot.at)
    for flaw in spot.flaws.filter(struck_at=None).select_related("sheet"):
        act.tell("{tag} was reported because of this spot and stays: strike it out too where it is none.", tag=flaw.tag)
    return act.strike(spot, given["why"])
