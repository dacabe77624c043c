"""Worksheets about a surface of any kind: positions read and printed, areas, distances."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.units import LengthField, show
from accounts.wording import noted, say
from accounts.worksheets import Answer, Figure, Source, refuse, worksheet
from mapping.positions import Chainage
from mapping.surface_forms import KIND_WORDS
from mapping.surfaces import Surface
from mapping.surfaces.plane import Place
from mapping.worksheets.asked import OnSurfaceGiven, example_on
from mapping.worksheets.drawing import Marked, picture, told_shape

PLACES = _("Places and surfaces")
SPEECH = Source(noted("How places are spoken on this kind of surface"), "", "common practice")
GEOMETRY = Source(noted("Plane geometry of the unrolled surface"), "", "plain arithmetic")
STATED = Source(noted("As stated for this surface, which does not unroll"), "", "plain arithmetic")
FEET = Source(noted("NIST SP 811, appendix B.6 (international foot, US survey foot)"), "2008")
SAID_EXAMPLES = {
    "pipe": "1+023.50 @ 4:30",
    "strake": "strake 3, 127.5 deg, 1.20 m up",
    "disk": "127.50 deg, r 4.20 m",
    "annulus": "127.50 deg, r 17.20 m",
    "cone": "127.50 deg, slant 4.20 m",
    "deck": "B-2 +0.40 +1.10",
    "panel": "x 1.20 y 0.40",
    "bend": "1+001.10 @ 4:30",
    "head": "127.50 deg, r 1.20 m",
    "sphere": "127.50 deg, 1.20 m up",
}
OTHER_PLACES = {
    "pipe": "1+024.10 @ 11:00",
    "strake": "strake 3, 350 deg, 0.40 m up",
    "disk": "300 deg, r 9.00 m",
    "annulus": "200 deg, r 16.50 m",
    "cone": "200 deg, slant 9.00 m",
    "deck": "A-1 +2.00 +0.50",
    "panel": "x 3.10 y 2.00",
    "bend": "1+001.90 @ 11:00",
    "head": "300 deg, r 0.40 m",
    "sphere": "300 deg, 6.00 m up",
}
AREA_FORMULAS = {
    "pipe": noted("way around times length"),
    "strake": noted("way around times height"),
    "disk": noted("π·D²/4"),
    "annulus": noted("π·(D² − d²)/4"),
    "cone": noted("π·(R + r)·slant"),
    "deck": noted("area of the outline's polygon"),
    "panel": noted("width times height"),
}


class PositionGiven(OnSurfaceGiven):
    said = serializers.CharField(
        label=_("Position as spoken"), max_length=120, required=False, allow_blank=True, default="",
        help_text=_("Or give plane metres below."),
    )  # fmt: skip
    x = LengthField(label=_("x in the plane"), allow_null=True, default=None)
    y = LengthField(label=_("y in the plane"), allow_null=True, default=None)

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        given = super().validate(given)
        plane = given["x"] is not None and given["y"] is not None
        if bool(given["said"].strip()) == plane:
            raise serializers.ValidationError({"said": say("Give the position as spoken, or both x and y.")})
        return given


@worksheet(
    "position",
    takes=PositionGiven,
    title=_("Position"),
    about=_("Reads a position as a crew speaks it, shows where that is, and prints it in either system of units."),
    part=PLACES,
    example={},
    variants=KIND_WORDS,
    examples={kind: example_on(kind, said=SAID_EXAMPLES[kind]) for kind in KIND_WORDS},
)
def position(given: dict[str, Any], units: str) -> Answer:
    surface: Surface = given["surface"]
    place = _given_place(surface, given)
    printed = surface.print_place(*place)
    figures = [
        Figure("printed", say("as it is spoken and printed"), printed, "", printed, say("to 0.01 and one second"), SPEECH),
        *(
            Figure(f"printed_{name}", say(words), other, "", other, say("the same place, printed anew"), FEET)
            for name, words, other in _other_systems(surface, place)
        ),
        Figure("x", say("x in the plane"), place.x, "m", show(place.x, "metres", units), say("metres, from there"), GEOMETRY),
        Figure("y", say("y in the plane"), place.y, "m", show(place.y, "metres", units), say("metres, from there"), GEOMETRY),
    ]  # fmt: skip
    return Answer(
        say("This is {printed}.", printed=printed),
        tuple(figures),
        notes=tuple(filter(None, (surface.limits_text() + ".", surface.distance_note))),
        drawing=picture(surface, (), [Marked("place", place, printed)]),
    )


def _given_place(surface: Surface, given: dict[str, Any]) -> Place:
    if given["said"].strip():
        return _read(surface, "said", given["said"])
    place = surface.home(given["x"].value, given["y"].value)
    try:
        surface.read_place(surface.print_place(*place))
    except (ValueError, OverflowError) as problem:
        raise refuse("x", str(problem)) from problem
    return place


def _read(surface: Surface, field: str, said: str) -> Place:
    try:
        return surface.read_place(said.strip())
    except ValueError as problem:
        raise refuse(field, str(problem)) from problem


def _other_systems(surface: Surface, place: Place) -> list[tuple[str, str, str]]:
    """The place in the systems the surface is not spoken in; stationed surfaces with equations have only their own."""
    if surface.chainage.equations:
        return []
    systems = (
        ("metric", noted("in metric words"), Chainage()),
        ("imperial", noted("in imperial words"), Chainage(system="imperial")),
    )
    return [
        (name, words, replace(cast(Any, surface), chainage=chainage).print_place(*place))
        for name, words, chainage in systems
        if chainage.system != surface.chainage.system
    ]


class SurfaceAsked(OnSurfaceGiven):
    first = serializers.CharField(
        label=_("From"),
        max_length=120,
        required=False,
        allow_blank=True,
        default="",
        help_text=_("For a distance: two places."),
    )
    second = serializers.CharField(label=_("To"), max_length=120, required=False, allow_blank=True, default="")
    region = serializers.CharField(
        label=_("A stretch"), max_length=200, required=False, allow_blank=True, default="",
        help_text=_('As spoken, such as "whole zone", to know its area.'),
    )  # fmt: skip

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        given = super().validate(given)
        if bool(given["first"].strip()) != bool(given["second"].strip()):
            missing = "second" if given["first"].strip() else "first"
            raise serializers.ValidationError({missing: say("A distance needs both places.")})
        return given


@worksheet(
    "surface",
    takes=SurfaceAsked,
    title=_("Surface: areas and distances"),
    about=_("True area of a surface and of a stretch of it, and the shortest way on it between two places."),
    part=PLACES,
    example={"region": "whole zone"},
    variants=KIND_WORDS,
    examples={kind: example_on(kind, first=SAID_EXAMPLES[kind], second=OTHER_PLACES[kind]) for kind in KIND_WORDS},
)
def surface_worksheet(given: dict[str, Any], units: str) -> Answer:
    surface: Surface = given["surface"]
    kind = surface.kind
    formula = AREA_FORMULAS.get(kind)
    area = show(surface.area, "area", units, 2)
    figures = [
        Figure(
            "area", say("true area"), surface.area, "m²", area,
            say(formula) if formula else say("stated, not computed"), GEOMETRY if formula else STATED,
        )
    ]  # fmt: skip
    if surface.period is not None:
        around = show(surface.period, "metres", units)
        figures.append(
            Figure("around", say("way around"), surface.period, "m", around, say("measured, or π·D"), GEOMETRY)
        )
    sentences = [say("The true area is {area}.", area=area)]
    marks, ground, shapes = [], [], []
    if given["first"].strip():
        one, other = (_read(surface, name, given[name]) for name in ("first", "second"))
        apart = float(surface.distance(*one, *other))
        way = show(apart, "metres", units)
        figures.append(
            Figure("distance", say("shortest way on the surface"), apart, "m", way, _distance_words(surface), GEOMETRY)
        )
        sentences.append(say("The two places are {way} apart.", way=way))
        marks = [Marked("place", place, surface.print_place(*place)) for place in (one, other)]
    if given["region"].strip():
        try:
            region = surface.read_region(given["region"].strip())
        except ValueError as problem:
            raise refuse("region", str(problem)) from problem
        share = region.area / surface.area
        shown = show(region.area, "area", units, 2)
        figures.append(
            Figure(
                "region", say("area of the stretch"), region.area, "m²", shown,
                say("{share:.1f} % of the whole, folded over the seam and cut at the edge", share=100 * share), GEOMETRY,
            )
        )  # fmt: skip
        ground = [("region", region)]
        shapes = [told_shape("region", given["region"].strip(), region)]
    return Answer(
        " ".join(sentences),
        tuple(figures),
        notes=tuple(filter(None, (surface.limits_text() + ".", surface.distance_note))),
        shapes=tuple(shapes),
        drawing=picture(surface, ground, marks),
    )


def _distance_words(surface: Surface) -> str:
    if surface.distance_note:
        return say("over the surface; local, as said below")
    if surface.has_seam:
        return say("straight on the unrolled plane, over the seam where that is shorter; openings are ignored")
    return say("straight on the plane; openings are ignored")
