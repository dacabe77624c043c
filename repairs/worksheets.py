"""The worksheet of patches: flaws merged into patches, their areas, and spot repair or recoat under each reading."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import shapely
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.lines import LinesField
from accounts.units import LengthField, plain, show
from accounts.wording import noted, say, say_many
from accounts.worksheets import Answer, Cell, Column, Figure, Source, Table, Tone, cut, worksheet
from mapping.surface_forms import KIND_WORDS
from mapping.surfaces import Surface
from mapping.surfaces.plane import Place, areal
from mapping.worksheets.asked import OnSurfaceGiven, example_on
from mapping.worksheets.drawing import Marked, picture, told_shape
from mapping.worksheets.places import OTHER_PLACES, SAID_EXAMPLES
from repairs.patches import Proposal, RecoatAnswer, RecoatRule, RepairGround, merge, spot_or_recoat

REPAIR = _("Repair")
MOST_FLAWS = 200
LISTED = 60
UNION = Source(noted("Area of the union of footprints on the unrolled plane"), "", "plain arithmetic")
RULE = Source(noted("Your specification's rule, as typed, under each reading it leaves open"), "", "plain arithmetic")
LINES = _("One flaw a line: along; across; place. A bare size is in mm, in US units in inches.")


class FlawGiven(serializers.Serializer):
    """One flaw: its size along both axes, and where it is."""

    along = LengthField(label=_("along"), min_value=0, max_value=20, page_unit="mm", page_unit_us="in")
    across = LengthField(label=_("across"), min_value=0, max_value=20, page_unit="mm", page_unit_us="in")
    place = serializers.CharField(label=_("place"), max_length=120)


class PatchesGiven(OnSurfaceGiven):
    flaws = LinesField(FlawGiven, most=MOST_FLAWS, rows=6, label=_("Flaws"), help_text=LINES)
    overlap = LengthField(
        label=_("Patch beyond the flaw"),
        min_value=0,
        max_value=5,
        page_unit="mm",
        page_unit_us="in",
        help_text=_("On each side."),
    )
    prepared = LengthField(
        label=_("Prepared beyond the flaw"), min_value=0, max_value=5, page_unit="mm", page_unit_us="in", default=0.0,
        help_text=_("For the reading that counts prepared ground."),
    )  # fmt: skip
    round_patches = serializers.BooleanField(label=_("Round patches"), default=False)
    area_percent = serializers.DecimalField(
        label=_("Recoat from, % of the area"), max_digits=7, decimal_places=4, min_value=Decimal("0.0001"), max_value=100,
        allow_null=True, default=None,
    )  # fmt: skip
    area_basis = serializers.ChoiceField(
        label=_("Area means"),
        choices=[("flaw", _("of the flaws")), ("prepared", _("prepared")), ("patch", _("of the finished patches"))],
        allow_blank=True, default="", help_text=_("Not said: every reading is shown."),
    )  # fmt: skip
    count = serializers.IntegerField(
        label=_("Recoat above so many spots"), min_value=0, max_value=100_000, allow_null=True, default=None
    )
    per = serializers.DecimalField(
        label=_("on each"), max_digits=9, decimal_places=2, min_value=Decimal("0.01"), allow_null=True, default=None
    )
    unit = serializers.ChoiceField(label=_("in"), choices=[("m2", "m²"), ("ft2", "ft²")], default="m2")
    windows = serializers.ChoiceField(
        label=_("A zone that is no whole number of these"),
        choices=[("exact", _("as it is")), ("down", _("rounded down")), ("up", _("rounded up"))],
        allow_blank=True, default="", help_text=_("Not said: every reading is shown."),
    )  # fmt: skip

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        given = super().validate(given)
        if given["count"] is not None and given["per"] is None:
            raise serializers.ValidationError({"per": say("Say on how much ground so many spots are allowed.")})
        places, wrong = [], {}
        for number, flaw in enumerate(given["flaws"]):
            try:
                places.append({**flaw, "at": given["surface"].read_place(flaw["place"])})
            except ValueError as problem:
                wrong[str(number)] = {"place": [str(problem)]}
        if wrong:
            raise serializers.ValidationError({"flaws": wrong})
        if not any(plain(flaw["along"]) * plain(flaw["across"]) for flaw in places) and plain(given["overlap"]) == 0:
            raise serializers.ValidationError({"overlap": say("Flaws without a size and no overlap make no patch.")})
        given["flaws"] = places
        return given


@worksheet(
    "patches",
    takes=PatchesGiven,
    title=_("Patches: spot repair or recoat"),
    about=_(
        "Flaws with the specified overlap merged into patches, their areas, and whether spots are repaired or all is "
        "recoated, under each reading the specification leaves open."
    ),
    part=REPAIR,
    example={"overlap": 0.1, "prepared": 0.2, "area_percent": "1", "count": 1, "per": "200"},
    variants=KIND_WORDS,
    examples={
        kind: example_on(kind, flaws=f"40 mm; 15 mm; {SAID_EXAMPLES[kind]}\n10 mm; 10 mm; {OTHER_PLACES[kind]}")
        for kind in KIND_WORDS
    },
)
def patches(given: dict[str, Any], units: str) -> Answer:
    surface: Surface = given["surface"]
    found = _merged(surface, given, plain(given["overlap"]))
    ground = RepairGround(
        testable_m2=surface.area,
        spots=len(found),
        flaw_m2=_together(_merged(surface, given, 0.0)),
        prepared_m2=_together(_merged(surface, given, plain(given["prepared"]))),
        patch_m2=_together(found),
    )
    areas = (
        ("flaw", say("area of the flaws"), ground.flaw_m2, say("union of the flaws' own sizes")),
        (
            "prepared",
            say("prepared area"),
            ground.prepared_m2,
            say("union of the flaws, each with what is prepared beyond it"),
        ),
        (
            "patch",
            say("area of the finished patches"),
            ground.patch_m2,
            say("union of the flaws, each with the overlap"),
        ),
    )
    figures = [
        Figure("patches", say("patches"), len(found), "", str(len(found)),
               say("footprints that overlap or share an edge are one, over the seam too; a corner alone does not join"), UNION),
        *(Figure(key, name, area, "m²", show(area, "area", units, 4), how, UNION) for key, name, area, how in areas),
    ]  # fmt: skip
    sentences = [
        say(
            "{flaws} make {patches}, {area} together.",
            flaws=say_many("{count} flaw", "{count} flaws", len(given["flaws"])),
            patches=say_many("{count} patch", "{count} patches", len(found)),
            area=show(ground.patch_m2, "area", units, 2),
        )
    ]
    tables = [_patch_table(surface, found, given, units)]
    tone: Tone = ""
    if given["area_percent"] is not None or given["count"] is not None:
        answer = spot_or_recoat(_rule(given), ground)
        sentences.insert(0, _verdict(answer))
        tables.insert(0, _reading_table(answer))
        tone = {"spot repair": "done", "recoat": "open", "depends on the reading": "held"}[answer.verdict]  # type: ignore[assignment]
    whole = areal(shapely.union_all([each.shape for each in found]))
    marks = [Marked("flaw", each["at"], "") for each in given["flaws"]]
    return Answer(
        " ".join(sentences),
        tuple(figures),
        tuple(tables),
        notes=tuple(filter(None, (surface.distance_note,))),
        shapes=tuple(told_shape(f"patch {number}", say("patch {number}", number=number), areal(each.shape))
                     for number, each in enumerate(found, 1)),
        drawing=picture(surface, [("patch", whole)], marks),
        tone=tone,
    )  # fmt: skip


def _merged(surface: Surface, given: dict[str, Any], overlap: float) -> list[Proposal]:
    footprints = []
    for number, flaw in enumerate(given["flaws"]):
        at: Place = flaw["at"]
        along, across = plain(flaw["along"]), plain(flaw["across"])
        if min(along, across) + 2 * overlap == 0:
            continue
        shape = surface.footprint(at.x, at.y, along, across, overlap, given["round_patches"])
        if not shape.is_empty:
            footprints.append((number, shape))
    return merge(footprints, surface)


def _together(proposals: list[Proposal]) -> float:
    return float(sum(each.area for each in proposals))


def _rule(given: dict[str, Any]) -> RecoatRule:
    return RecoatRule(
        area_percent=given["area_percent"],
        area_basis=given["area_basis"] or None,
        count=given["count"],
        per=given["per"],
        unit=given["unit"],
        windows=given["windows"] or None,
    )


def _verdict(answer: RecoatAnswer) -> str:
    return {
        "spot repair": say("Spots are repaired, under every reading."),
        "recoat": say("All is stripped and recoated, under every reading."),
        "depends on the reading": say(
            "It depends on how the specification is read: settle that with its author first."
        ),
    }[answer.verdict]


def _reading_table(answer: RecoatAnswer) -> Table:
    columns = (
        Column("reading", say("reading")),
        Column("recoat", say("asks for")),
        Column("arithmetic", say("arithmetic")),
    )
    rows = tuple(
        (
            Cell(f"{each.rule}: {each.reading}", say(each.reading)),
            Cell(each.recoat, say("recoat") if each.recoat else say("spot repair")),
            Cell(each.arithmetic, each.arithmetic),
        )
        for each in answer.readings
    )
    return Table("readings", say("Under each reading"), columns, rows, RULE)


def _patch_table(surface: Surface, found: list[Proposal], given: dict[str, Any], units: str) -> Table:
    columns = (Column("patch", say("patch")), Column("area", say("area"), "m²"), Column("flaws", say("flaws in it")))
    rows = []
    for number, each in enumerate(found, 1):
        where = ", ".join(surface.print_place(*given["flaws"][flaw]["at"]) for flaw in each.ids)
        rows.append((Cell(number, str(number)), Cell(each.area, show(each.area, "area", units, 4)), Cell(where, where)))
    return cut(Table("patches", say("Patches"), columns, tuple(rows), UNION), LISTED)
