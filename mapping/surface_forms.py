"""What each kind of surface is asked for: one serializer a kind, for pages and API alike, read into the surface itself.

A bad size is refused under its own name. Sizes are metres or text with a unit; chainages are spoken, or metres.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, ClassVar, NamedTuple

from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema_field
from rest_framework import serializers

from accounts.units import AreaField, LengthField, Quantity
from accounts.wording import say
from mapping.positions import Chainage
from mapping.surfaces import KINDS, Surface, SurfaceError, from_json
from mapping.surfaces.deck import Deck

MOST_LINES = 500
VIEWED = [("above", _("from above")), ("below", _("from below"))]
_THROUGH = re.compile(r"through (.+) to (.+)", re.IGNORECASE)
_METRES = re.compile(r"x? ?([+-]?\d+(?:\.\d+)?(?:e-?\d+)?)[ ,]+(?:y )?([+-]?\d+(?:\.\d+)?(?:e-?\d+)?)", re.IGNORECASE)


@extend_schema_field({"oneOf": [{"type": "number"}, {"type": "string", "maxLength": 60}]})
class ChainageField(serializers.Field):
    """A chainage as the asset speaks it, or continuous metres as a number; gives metres."""

    allowed = _("A chainage as it is spoken on this asset, such as 1+250.40.")

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, int | float) and not isinstance(data, bool):
            return data
        if not isinstance(data, str):
            raise serializers.ValidationError(say("This is no chainage; write it like 1+250.40."))
        try:
            return self.context.get("chainage", Chainage()).read(data[:200])
        except ValueError as problem:
            raise serializers.ValidationError(str(problem)) from problem

    def to_representation(self, value: Any) -> Any:
        return value


@extend_schema_field(
    {"type": "array", "items": {}, "description": "[x, y] in metres, a spoken place, or {through, to} for a curve."}
)
class CornersField(serializers.Field):
    """Corners of an outline in order: [x, y], a spoken place, or a curve through a place to a place; one a line."""

    allowed = _("One corner a line, such as A-1 -0.80 -0.50; for a curve: through C-1 +0.00 -0.90 to E-1 +0.50 +0.00.")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(style={"base_template": "textarea.html", "rows": 5}, **kwargs)

    def to_internal_value(self, data: Any) -> list[Any]:
        if isinstance(data, str):
            return [line.strip() for line in data.splitlines() if line.strip()][:MOST_LINES]
        if not isinstance(data, list) or len(data) > MOST_LINES:
            raise serializers.ValidationError(say("This is no list of corners, up to {most}.", most=MOST_LINES))
        return data

    def to_representation(self, value: Any) -> Any:
        return value


class Sizes(serializers.Serializer):
    """What a kind of surface is made of."""

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        """The sizes as the surface stores them: metres, m2, degrees."""
        return {name: _plain(value) for name, value in given.items() if value not in (None, "")}


def _plain(value: Any) -> Any:
    if isinstance(value, Quantity):
        return value.value
    return [_plain(item) for item in value] if isinstance(value, list) else value


def _diameter(**more: Any) -> LengthField:
    return LengthField(
        required=False,
        allow_null=True,
        label=_("Diameter"),
        help_text=_("Over the coating outside, inside the lining inside."),
        **more,
    )


def _around() -> LengthField:
    return LengthField(
        required=False,
        allow_null=True,
        label=_("Measured circumference"),
        help_text=_("By tape around the swept face. Where it is given it rules; with both, they must agree to 0.2 %."),
    )


def _viewed() -> serializers.ChoiceField:
    return serializers.ChoiceField(
        choices=VIEWED,
        default="above",
        label=_("Drawn as seen"),
        help_text=_("From where people face it when they test it; from below it is drawn mirrored."),
    )


class PipeSizes(Sizes):
    start = ChainageField(label=_("Starts at chainage"), help_text=_("As spoken on this asset."))
    end = ChainageField(label=_("Ends at chainage"), help_text=_("Both ends belong to the zone."))
    diameter = _diameter()
    circumference = _around()


class StrakeSizes(Sizes):
    number = serializers.IntegerField(
        min_value=1, max_value=9999, label=_("Strake number"), help_text=_("Counted from 1 at the bottom.")
    )
    height = LengthField(label=_("Height"), help_text=_("From the lower edge of the strake to the upper one."))
    diameter = _diameter()
    circumference = _around()
    plates = serializers.ListField(
        child=serializers.FloatField(min_value=0, max_value=360),
        required=False,
        max_length=MOST_LINES,
        label=_("Vertical seams"),
        help_text=_("Azimuths in degrees where plate 1, 2, 3 … begin, clockwise seen from above: 12.5 57.5 102.5"),
    )


class DiskSizes(Sizes):
    diameter = LengthField(label=_("Diameter"))
    viewed = _viewed()


class AnnulusSizes(Sizes):
    diameter = LengthField(label=_("Outer diameter"))
    inner_diameter = LengthField(label=_("Inner diameter"))
    viewed = _viewed()


class ConeSizes(Sizes):
    diameter = LengthField(label=_("Diameter of the wide end"))
    cut_diameter = LengthField(
        required=False,
        allow_null=True,
        label=_("Diameter of the narrow end"),
        help_text=_("Left empty where it runs to a point."),
    )
    height = LengthField(label=_("Height"), help_text=_("From one end to the other, along the axis."))
    viewed = _viewed()


class DeckSizes(Sizes):
    letters = serializers.ListField(
        child=LengthField(),
        max_length=MOST_LINES,
        label=_("Lettered lines"),
        help_text=_("Their places from one fixed point, rising; spaces may differ: 0 6.10 12.30 18.00"),
    )
    first_letter = serializers.CharField(max_length=3, default="A", label=_("First letter"))
    skip = serializers.ChoiceField(
        choices=[
            ("none", _("none left out")),
            ("I", _("without I")),
            ("O", _("without O")),
            ("IO", _("without I and O")),
        ],
        default="none",
        allow_blank=True,
        label=_("Letters left out"),
    )
    numbers = serializers.ListField(
        child=LengthField(),
        max_length=MOST_LINES,
        label=_("Numbered lines"),
        help_text=_("Their places across the lettered ones, from the same fixed point, rising: 0 4.05 8.00"),
    )
    first_number = serializers.IntegerField(min_value=0, max_value=9000, default=1, label=_("First number"))
    numbers_run = serializers.ChoiceField(
        choices=[("up", _("up the page")), ("down", _("down the page"))],
        default="up",
        label=_("Numbers run"),
        help_text=_("The handedness: seen from above, with the letters running to the right."),
    )
    corners = CornersField(
        required=False,
        label=_("Outline"),
        help_text=_("Left empty where the outer lines are the edge. Else the corners in order, one a line."),
    )
    viewed = _viewed()

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        sizes = super().validate(given)
        if sizes.get("skip") == "none":
            sizes["skip"] = ""
        corners = sizes.pop("corners", [])
        if corners:
            sizes["corners"] = [self._corner(item, sizes) for item in corners]
        return sizes

    def _corner(self, item: Any, sizes: dict[str, Any]) -> Any:
        if not isinstance(item, str):
            return item
        if curve := _THROUGH.fullmatch(item.strip()):
            return {"through": self._point(curve[1], sizes), "to": self._point(curve[2], sizes)}
        return self._point(item, sizes)

    def _point(self, text: str, sizes: dict[str, Any]) -> list[float]:
        if metres := _METRES.fullmatch(text.strip()):
            return [float(metres[1]), float(metres[2])]
        chainage = self.context.get("chainage", Chainage())
        try:
            place = Deck.from_json(sizes, "outside", chainage).read_place(text, anywhere=True)
        except SurfaceError as problem:
            raise serializers.ValidationError({problem.field: [str(problem)]}) from problem
        except ValueError as problem:
            raise serializers.ValidationError({"corners": [str(problem)]}) from problem
        return [place.x, place.y]


class PanelSizes(Sizes):
    width = LengthField(label=_("Width"))
    height = LengthField(label=_("Height"))


def _stated() -> AreaField:
    return AreaField(
        label=_("Area"),
        help_text=_("As stated by the drawing or computed by a competent person; it is kept as stated."),
    )


class BendSizes(Sizes):
    start = ChainageField(label=_("Starts at chainage"), help_text=_("Along the centre line."))
    end = ChainageField(label=_("Ends at chainage"), help_text=_("Along the centre line."))
    area = _stated()


class HeadSizes(Sizes):
    reach = LengthField(
        label=_("From its middle to its edge"), help_text=_("By tape over the curved surface, not straight across.")
    )
    area = _stated()
    viewed = _viewed()


class SphereSizes(Sizes):
    area = _stated()


class Kind(NamedTuple):
    """A kind of surface: its form, what it is called, what it is for, and how places on it are spoken."""

    takes: type[Sizes]
    title: Any
    says: Any
    example: str
    face: str = "outside"


FORMS: dict[str, Kind] = {
    "pipe": Kind(PipeSizes, _("Pipe"), _("A straight stretch of pipe, outside or inside."), "1+250.40 @ 4:30"),
    "bend": Kind(
        BendSizes,
        _("Bend"),
        _(
            "A pipe bend: chainage along its centre line and clock position. It does not unroll: its distances are local."
        ),
        "1+250.40 @ 4:30",
    ),
    "strake": Kind(
        StrakeSizes, _("Strake"), _("One shell course of a tank."), "strake 3, 127.50 deg, 1.20 m up", "inside"
    ),
    "disk": Kind(DiskSizes, _("Disk"), _("A round floor or flat roof."), "127.50 deg, r 4.20 m", "inside"),
    "annulus": Kind(
        AnnulusSizes,
        _("Annulus"),
        _("A ring, such as the annular plates of a floor."),
        "127.50 deg, r 11.20 m",
        "inside",
    ),
    "cone": Kind(
        ConeSizes,
        _("Cone"),
        _("A coned roof, a hopper or a reducer; whole, or cut off below its point."),
        "127.50 deg, slant 4.20 m",
        "inside",
    ),
    "deck": Kind(
        DeckSizes,
        _("Deck"),
        _("A bridge deck or slab under lettered and numbered lines, with any outline."),
        "C-7 +0.40 +1.10",
    ),
    "panel": Kind(PanelSizes, _("Panel"), _("A flat rectangle: a gate, a door, a wall."), "x 1.20 y 0.40"),
    "head": Kind(
        HeadSizes,
        _("Dished head"),
        _("The end of a vessel. It does not unroll: its area is stated and its distances are local."),
        "127.50 deg, r 0.60 m",
        "inside",
    ),
    "sphere": Kind(
        SphereSizes,
        _("Sphere"),
        _("A spherical tank. It does not unroll: its area is stated and its distances are local."),
        "127.50 deg, 4.20 m up",
    ),
}
KIND_WORDS = {kind: form.title for kind, form in FORMS.items()}
KIND_CHOICES = [(kind, KIND_WORDS[kind]) for kind in KINDS]


@extend_schema_field(
    PolymorphicProxySerializer(
        component_name="SurfaceSizes",
        serializers=[kind.takes for kind in FORMS.values()],
        resource_type_field_name=None,
    )
)
class SizesField(serializers.JSONField):
    """The sizes of a surface by name; which names, its kind says."""

    allowed: ClassVar[Any] = _("The sizes of its kind by name, in metres.")

    def form_for(self, given: Any) -> Sizes | None:
        """The form of the kind that is given beside the sizes."""
        kind = given.get("surface_kind") if isinstance(given, Mapping) else None
        return FORMS[kind].takes() if isinstance(kind, str) and kind in FORMS else None


def read_surface(kind: str, sizes: Any, face: str, chainage: Chainage) -> Surface:
    """The surface of these sizes as they were given.

    Raises
    ------
    serializers.ValidationError
        By the name of each size that is missing, unknown, unreadable or out of range.
    """
    if not isinstance(sizes, Mapping):
        raise serializers.ValidationError(say("These are no sizes: give them by name."))
    form = FORMS[kind].takes(data=dict(sizes), context={"chainage": chainage})
    if strange := [str(name)[:60] for name in sizes if name not in form.fields]:
        there = ", ".join(form.fields)
        raise serializers.ValidationError(
            {name: [say("There is no such size; it has {there}.", there=there)] for name in strange}
        )
    form.is_valid(raise_exception=True)
    try:
        surface = from_json(kind, form.validated_data, face, chainage)
        if not all(map(math.isfinite, surface.outline.bounds)):
            raise SurfaceError("", say("These sizes are beyond all measure."))
    except SurfaceError as problem:
        name = problem.field if problem.field in form.fields else "non_field_errors"
        raise serializers.ValidationError({name: [str(problem)]}) from problem
    except (TypeError, ValueError, OverflowError) as problem:
        raise serializers.ValidationError([str(problem)]) from problem
    return surface


def sizes_as_typed(surface: Surface) -> dict[str, Any]:
    """The stored sizes as a page's form starts with them."""
    sizes = surface.to_json()
    for name in ("start", "end"):
        if name in sizes:
            sizes[name] = surface.chainage.print(sizes[name])
    if "corners" in sizes:
        sizes["corners"] = [_typed(corner) for corner in sizes["corners"]]
    if sizes.get("skip") == "":
        sizes["skip"] = "none"
    return sizes


def _typed(corner: Any) -> str:
    def metres(point: Any) -> str:
        return f"x {point[0]!r} y {point[1]!r}"

    if isinstance(corner, Mapping):
        return say("through {through} to {to}", through=metres(corner["through"]), to=metres(corner["to"]))
    return metres(corner)
