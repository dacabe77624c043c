"""Flaws: reported, measured, classified, struck out."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Max
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.languages import say_later
from accounts.people import Person, Role
from accounts.rows import LARGEST
from accounts.units import FilmField, LengthField
from accounts.wording import say
from inspections.actions.sheets import (
    SheetOrder,
    check_may_record,
    check_may_strike,
    fresh,
    moment,
    next_seq,
    of_the_crew,
    tell_late,
)
from inspections.flaws import Classification, Flaw, FlawKind
from inspections.runs import Run
from mapping.actions.zones import Why
from mapping.fields import PlaceField
from mapping.surfaces import Surface

LATER = {"later": True}


class ReportFlaw(SheetOrder):
    place = PlaceField(label=_("Place"), help_text=_("Where, as spoken on this asset."))
    number = serializers.IntegerField(
        label=_("Number"),
        required=False,
        min_value=1,
        max_value=LARGEST,
        help_text=_("Tag number on this sheet; empty for the next."),
    )
    kind = serializers.ChoiceField(label=_("Kind"), choices=FlawKind.choices, default=FlawKind.INDICATION, style=LATER)
    found_by = serializers.ChoiceField(
        label=_("Found by"), choices=Flaw.FoundBy.choices, default=Flaw.FoundBy.ELECTRICAL, style=LATER
    )
    size_x = LengthField(
        required=False,
        min_value=0.0,
        max_value=50.0,
        page_unit="mm",
        page_unit_us="in",
        label=_("Length along"),
        style=LATER,
    )
    size_y = LengthField(
        required=False,
        min_value=0.0,
        max_value=50.0,
        page_unit="mm",
        page_unit_us="in",
        label=_("Width across"),
        style=LATER,
    )
    depth = FilmField(label=_("Depth"), required=False, min_value=0.0, max_value=50000.0, style=LATER)
    give_or_take = LengthField(
        required=False,
        min_value=0.0,
        max_value=5.0,
        page_unit="mm",
        page_unit_us="in",
        label=_("Give or take"),
        help_text=_("How sure the place is."),
        style=LATER,
    )
    note = serializers.CharField(
        label=_("Note"), max_length=200, required=False, allow_blank=True, default="", style=LATER
    )

    @staticmethod
    def surface_of(run: Run) -> Surface:
        return run.sheet.coating.zone.surface


@action(
    "report_flaw", takes=ReportFlaw, roles={Role.CREW, Role.CONTRACTOR}, on=Run, guard=of_the_crew, title=_("Flaw here")
)
def report_flaw(act: Acting, run: Run, given: dict[str, Any]) -> Flaw:
    """Report a flaw: the place is enough, the rest can follow."""
    check_may_record(act, run)
    sheet = fresh(run.sheet)
    number = given.get("number")
    taken = sheet.flaws.aggregate(last=Max("number"))["last"] or 0
    if number is None:
        number = taken + 1
    elif sheet.flaws.filter(number=number).exists():
        act.refuse(
            "number",
            say(
                "{letter}{number:02d} is in use on this sheet; the next free one is {letter}{taken:02d}.",
                letter=sheet.letter,
                number=number,
                taken=taken + 1,
            ),
        )
    at = moment(act, given)
    seq = next_seq(sheet, given.get("sheet_seq"))
    flaw = act.insert(flaw_row(run, given, pk=act.id, number=number, at=at, seq=seq, by=act.person))
    if given["kind"] != FlawKind.INDICATION:
        act.insert(Classification(flaw=flaw, kind=given["kind"], by=act.person, at=act.now))
    tell_late(act, sheet, say_later("{tag} was reported", tag=flaw.tag), run)
    return flaw


def flaw_row(run: Run, given: dict[str, Any], *, pk: UUID, number: int, at: datetime, seq: int, by: Person) -> Flaw:
    """A flaw as a row, not yet stored."""
    place = given["place"]
    sizes = {name: given[name].value for name in ("size_x", "size_y", "depth", "give_or_take") if given.get(name)}
    return Flaw(
        id=pk,
        sheet=run.sheet,
        run=run,
        number=number,
        found_by=given["found_by"],
        said=place.said,
        x=place.x,
        y=place.y,
        found_at=at,
        sheet_seq=seq,
        by=by,
        note=given["note"],
        **sizes,
    )


class MeasureFlaw(serializers.Serializer):
    size_x = LengthField(
        required=False, min_value=0.0, max_value=50.0, page_unit="mm", page_unit_us="in", label=_("Length along")
    )
    size_y = LengthField(
        required=False, min_value=0.0, max_value=50.0, page_unit="mm", page_unit_us="in", label=_("Width across")
    )
    depth = FilmField(label=_("Depth"), required=False, min_value=0.0, max_value=50000.0)

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if not given:
            raise serializers.ValidationError({"size_x": say("Give at least one of length, width and depth.")})
        return given


@action("measure_flaw", takes=MeasureFlaw, roles={Role.CREW}, on=Flaw, title=_("Measure"))
def measure_flaw(act: Acting, flaw: Flaw, given: dict[str, Any]) -> Flaw:
    """Say how large a flaw is; a patch that is issued already keeps its shape."""
    return act.amend(flaw, **{name: quantity.value for name, quantity in given.items()})


class ClassifyFlaw(serializers.Serializer):
    kind = serializers.ChoiceField(label=_("Kind"), choices=FlawKind.choices)


@action("classify_flaw", takes=ClassifyFlaw, roles={Role.CREW}, on=Flaw, title=_("Classify"))
def classify_flaw(act: Acting, flaw: Flaw, given: dict[str, Any]) -> Classification:
    """Say what a flaw is after looking at it; the latest word counts."""
    return act.insert(Classification(id=act.id, flaw=flaw, kind=given["kind"], by=act.person, at=act.now))


class SayWetRun(serializers.Serializer):
    wet_run_reached = serializers.BooleanField(
        label=_("A wet run or puddle reached it"),
        help_text=_("No only when somebody looked: the flaw is then confirmed as far as the wet run goes."),
    )


@action("say_wet_run", takes=SayWetRun, roles={Role.CREW}, on=Flaw, title=_("Did a wet run reach it"))
def say_wet_run(act: Acting, flaw: Flaw, given: dict[str, Any]) -> Flaw:
    """Say whether a wet run of the sponge reached a flaw; where it did, or nobody looked, the flaw is unconfirmed."""
    if flaw.run.method != "wet_sponge":
        act.refuse(
            "wet_run_reached", say("{run} was not made with a wet sponge: no wet run is asked about.", run=flaw.run)
        )
    return act.amend(flaw, wet_run_reached=given["wet_run_reached"])


class SameFlaw(serializers.Serializer):
    as_flaw = serializers.UUIDField(label=_("Same as"))


@action("same_flaw", takes=SameFlaw, roles={Role.CREW}, on=Flaw, title=_("Same flaw as another"))
def same_flaw(act: Acting, flaw: Flaw, given: dict[str, Any]) -> Flaw:
    """Say that a flaw was found before: it is counted once."""
    other = Flaw.objects.filter(sheet__coating=flaw.sheet.coating, pk=given["as_flaw"], struck_at=None).first()
    if other is None or other.pk == flaw.pk:
        act.refuse("as_flaw", say("Choose another flaw of the same coating."))
    if other.same_as is not None:
        act.refuse(
            "as_flaw",
            say("{flaw} is itself the same as {other}; choose that one.", flaw=other.tag, other=other.same_as.tag),
        )
    if flaw.repeats.filter(struck_at=None).exists():
        act.refuse("as_flaw", say("Others are the same as {tag}; choose one of those instead.", tag=flaw.tag))
    return act.amend(flaw, same_as=other)


@action("strike_flaw", takes=Why, roles={Role.CREW}, on=Flaw, title=_("Strike out"))
def strike_flaw(act: Acting, flaw: Flaw, given: dict[str, Any]) -> Flaw:
    """Strike out a flaw that was recorded by mistake (one that was looked at and is none is a false indication)."""
    check_may_strike(act, flaw, flaw.by_id, flaw.found_at)
    act.strike(flaw, given["why"])
    for repeat in flaw.repeats.filter(struck_at=None).select_related("sheet"):
        act.amend(repeat, same_as=None)
        act.tell("{other} was the same as {flaw}; it stands for itself again.", other=repeat.tag, flaw=flaw.tag)
    return flaw
