"""The worksheet of planning thickness readings: how many a standard asks for, and what is missing where."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.lines import LinesField
from accounts.units import AREA, AreaField, Quantity, read
from accounts.wording import noted, say, say_many
from accounts.worksheets import (
    Answer,
    Cell,
    Column,
    Figure,
    Source,
    Table,
    Tone,
    WorksheetGiven,
    cut,
    refuse,
    worksheet,
)
from inspections.thickness_plans import (
    Missing,
    Plan,
    iso19840_plan,
    ninety_ten_plan,
    pa2_plan,
    readings_missing,
    spots_missing,
)

THICKNESS = _("Film thickness")
STANDARDS = {"pa2": _("SSPC-PA 2"), "iso19840": _("ISO 19840"), "ninety-ten": _("90/10 rule")}
PA2 = Source(noted("SSPC-PA 2, public summaries"))
PA2_LEVELS = Source(noted("SSPC-PA 2, restriction levels"), "", "from memory")
ISO = Source(noted("ISO 19840"), "", "from memory")
NINETY = Source(noted("IMO MSC.215(82)"))
HYNDMAN = Source(noted("Hyndman and Fan, Sample Quantiles in Statistical Packages, type 7"), "1996")
SOURCES = {"pa2": PA2, "iso19840": ISO, "ninety-ten": NINETY}
MOST_PLACES = 5000
LISTED = 60
SQUARE_FOOT = Fraction("0.3048") ** 2


class TakenGiven(serializers.Serializer):
    """What was taken at one place of the plan."""

    place = serializers.IntegerField(label=_("place"), min_value=1, max_value=MOST_PLACES)
    readings = serializers.CharField(label=_("readings at each spot"), max_length=400)

    def validate_readings(self, text: str) -> list[int]:
        counts = text.replace(",", " ").split()
        if not all(count.isascii() and count.isdigit() and int(count) <= 1000 for count in counts):
            raise serializers.ValidationError(
                say('"{said}" is no list of counts: whole numbers up to 1000, divided by spaces.', said=text[:40])
            )
        return [int(count) for count in counts]


class PlanGiven(WorksheetGiven):
    variant_field = "standard"

    standard = serializers.ChoiceField(choices=list(STANDARDS.items()), label=_("Standard"))
    system = serializers.ChoiceField(
        label=_("System"),
        choices=[("metric", _("metric: 10 m²")), ("customary", _("customary: 100 ft²"))],
        default="metric",
        help_text=_("Two systems of the standard, which are not converted into each other."),
    )
    areas = serializers.ListField(
        child=AreaField(min_value=0.001, max_value=1e6),
        label=_("Surface"),
        min_length=1,
        max_length=60,
        help_text=_("For SSPC-PA 2 one figure a shift: film of one shift stands for itself alone."),
    )
    taken = LinesField(
        TakenGiven,
        most=500,
        required=False,
        default=list,
        label=_("Taken so far"),
        help_text=_("One place a line: its number; how many readings at each spot, as 1; 3 3 3 2."),
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if self.variant:
            del fields["standard"]
            if self.variant != "pa2":
                del fields["system"]
        return fields

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if given["standard"] != "pa2" and len(given["areas"]) > 1:
            raise serializers.ValidationError({"areas": say("Give one surface: this standard does not go by shifts.")})
        total = sum(area.value for area in given["areas"])
        if total > MOST_PLACES * 5:
            raise serializers.ValidationError(
                {
                    "areas": say(
                        "{total:g} m² is too much for one plan: at most {most} m².", total=total, most=MOST_PLACES * 5
                    )
                }
            )
        return given


@worksheet(
    "thickness-plan",
    takes=PlanGiven,
    title=_("Thickness: how many readings"),
    about=_("How many readings a standard asks for on a surface, and what is still missing where."),
    part=THICKNESS,
    example={},
    variants=STANDARDS,
    examples={
        "pa2": {"standard": "pa2", "areas": ["85 m²", "130 m²"], "taken": "1; 3 3 3 3 3\n2; 3 3 2"},
        "iso19840": {"standard": "iso19840", "areas": ["150 m²"], "taken": "1; 28"},
        "ninety-ten": {"standard": "ninety-ten", "areas": ["42 m²"], "taken": "1; 1\n2; 1\n3; 1"},
    },
)
def thickness_plan(given: dict[str, Any], units: str) -> Answer:
    standard = given["standard"]
    plan = _plan(given)
    try:
        missing = _missing(plan, standard, given["taken"])
    except ValueError as problem:
        raise refuse("taken", str(problem)) from problem
    figures = [
        Figure(
            "readings", say("readings asked for, at least"), plan.readings, "", str(plan.readings),
            " ".join(plan.arithmetic), SOURCES[standard],
        ),
        Figure(
            "places", say("places"), len(plan.places), "", str(len(plan.places)),
            say("each of five spots of three readings") if standard == "pa2" else say("spread evenly over the surface"),
            SOURCES[standard],
        ),
    ]  # fmt: skip
    sentences = [say_many("{count} reading is asked for.", "{count} readings are asked for.", plan.readings)]
    tone: Tone = ""
    tables = []
    if given["taken"]:
        lacking = sum(each.readings for each in missing)
        tone = "work" if lacking else "done"
        sentences.append(
            say_many("{count} is missing.", "{count} are missing.", lacking) if lacking else say("All are taken.")
        )
        figures.append(
            Figure("missing", say("readings missing"), lacking, "", str(lacking), say("a spot under three readings does not count")
                   if standard == "pa2" else say("asked for, less taken"), SOURCES[standard])
        )  # fmt: skip
        tables = [_missing_table(missing, SOURCES[standard])] if missing else []
    return Answer(" ".join(sentences), tuple(figures), tuple(tables), tone=tone)


def _plan(given: dict[str, Any]) -> Plan:
    if given["standard"] == "pa2":
        return pa2_plan([_in_system(area, given["system"]) for area in given["areas"]], given["system"])
    (area,) = given["areas"]
    return iso19840_plan(area.value) if given["standard"] == "iso19840" else ninety_ten_plan(area.value)


def _in_system(area: Quantity, system: str) -> float:
    """The surface in the system's unit: as typed where it was typed in it, so that 100 ft² stays 100."""
    if system == "metric":
        return area.value
    number, unit = read(area.said, AREA)
    return float(number) if unit is not None and unit.name == "ft²" else float(Fraction(str(area.value)) / SQUARE_FOOT)


def _missing(plan: Plan, standard: str, taken: list[dict[str, Any]]) -> tuple[Missing, ...]:
    if standard == "pa2":
        spots: dict[int, list[int]] = {}
        for line in taken:
            spots.setdefault(line["place"], []).extend(line["readings"])
        return spots_missing(plan, spots)
    counts: Counter[int] = Counter()
    for line in taken:
        counts[line["place"]] += sum(line["readings"])
    return readings_missing(plan, counts)


def _missing_table(missing: tuple[Missing, ...], source: Source) -> Table:
    columns = (
        Column("place", say("place")),
        Column("readings", say("readings missing")),
        Column("what", say("what to take")),
    )
    rows = tuple(
        (
            Cell(each.place.number, str(each.place.number)),
            Cell(each.readings, str(each.readings)),
            Cell(each.sentence, each.sentence),
        )
        for each in missing
    )
    return cut(Table("missing", say("Still missing"), columns, rows, source), LISTED)
