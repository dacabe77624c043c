"""Correcting the surface of a zone: one reasoned action that reads every place on it anew from what was said."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import shapely
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from accounts.acting import Acting, action
from accounts.people import Role
from accounts.rows import Row
from accounts.wording import say, say_many
from inspections.coatings import Disturbance, Spot
from inspections.flaws import Flaw
from inspections.runs import Swath
from inspections.tested import begin_again, stretch_range
from mapping import lines
from mapping.actions.features import feature_row
from mapping.actions.zones import surface_given
from mapping.features import Feature
from mapping.landmarks import Landmark, read_landmark
from mapping.surface_forms import KIND_CHOICES, SizesField
from mapping.surfaces.plane import Surface
from mapping.zones import Exclusion, Zone, chainage_of
from repairs.work import Patch

MOST_TOLD = 20


class CorrectSurface(serializers.Serializer):
    surface_kind = serializers.ChoiceField(choices=KIND_CHOICES, label=_("Kind of surface"))
    surface = SizesField(label=_("Sizes"), help_text=_("In metres, or as text with a unit; chainages as spoken."))
    face = serializers.ChoiceField(choices=Zone.Face.choices, label=_("Face"))
    why = serializers.CharField(
        max_length=400, label=_("Why"), help_text=_("The reason, as it stays in the record: measured again, misread …")
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        zone = self.context["target"]
        given["surface"] = surface_given(given, chainage_of(zone.asset))
        return given


@action(
    "correct_surface",
    takes=CorrectSurface,
    roles={Role.OWNER, Role.LEAD},
    on=Zone,
    title=_("Correct the surface"),
    decision=True,
)
def correct_surface(act: Acting, zone: Zone, given: dict[str, Any]) -> Zone:
    """Correct the sizes of a zone: every place on it is read anew from what was said, and coverage computed again."""
    surface: Surface = given["surface"]
    if surface == zone.surface:
        act.refuse("surface", say("These are the sizes that the zone has already; nothing to correct."))
    off = read_anew(act, zone, surface)
    if off:
        more = say_many("and {count} more", "and {count} more", len(off) - MOST_TOLD) if len(off) > MOST_TOLD else ""
        raise ValidationError({"surface": [*off[:MOST_TOLD], *([more] if more else [])]})
    return zone


def read_anew(act: Acting, zone: Zone, surface: Surface) -> list[str]:
    """Give the zone this surface and read every place on it from what was said; what would lie off it, in words.

    Nothing is written when something would.
    """
    moved: list[tuple[Row, dict[str, Any]]] = []
    off: list[str] = []
    flaws: dict[Any, tuple[float, float]] = {}
    corrected = Zone(asset=zone.asset, surface_kind=surface.kind, surface_json=surface.to_json(), face=surface.face)
    for row, said in _rows(zone):
        try:
            placed = _placed(row, said, corrected, flaws)
        except ValueError as problem:
            if not getattr(row, "is_struck", False):  # what is struck out counts nowhere and stays where it was
                off.append(f"{_named(row)}: {problem}")
            continue
        if isinstance(row, Flaw):
            flaws[row.pk] = placed["x"], placed["y"]
        moved.append((row, placed))
    if off:
        return off
    act.amend(
        zone,
        surface_kind=surface.kind,
        surface_json=surface.to_json(),
        face=surface.face,
        true_area=surface.area,
    )
    zone.__dict__.pop("surface", None)
    for row, placed in moved:
        if any(_differs(getattr(row, name), value) for name, value in placed.items()):
            act.amend(row, **placed)
    begin_again(act, zone)
    act.tell("{count} places of {zone} were read anew from what was said.", count=len(moved), zone=zone.name)
    return []


def _rows(zone: Zone) -> Iterator[tuple[Row, str]]:
    """Every row that lies on the zone, with what was said; flaws before the patches that are made of them."""
    on = {"sheet__coating__zone": zone}
    yield from ((row, row.said) for row in Exclusion.objects.filter(zone=zone))
    yield from ((row, row.said) for row in Landmark.objects.filter(zone=zone))
    yield from ((row, row.said) for row in Feature.objects.filter(zone=zone))
    yield from ((row, row.said) for row in Disturbance.objects.filter(coating__zone=zone))
    yield from ((row, row.said) for row in Spot.objects.filter(coating__zone=zone))
    yield from ((row, row.said) for row in Flaw.objects.filter(**on).select_related("sheet"))
    swaths = Swath.objects.filter(run__sheet__coating__zone=zone).select_related("run__sheet", "feature")
    yield from ((row, row.said) for row in swaths)
    patches = Patch.objects.filter(coating__zone=zone).select_related("coating__specification")
    yield from ((row, row.said) for row in patches.prefetch_related("patch_flaws__flaw"))


def _placed(row: Row, said: str, zone: Zone, flaws: dict[Any, tuple[float, float]]) -> dict[str, Any]:
    """The columns that say where the row lies, read on the corrected surface. Raises ValueError when it is off it."""
    surface = zone.surface
    match row:
        case Flaw() | Spot():
            x, y = surface.read_place(said)
            return {"x": x, "y": y}
        case Landmark():
            (x, y), _line = read_landmark(surface, said)
            return {"x": x, "y": y}
        case Feature():
            read = feature_row(zone, row.pk, row.kind, row.name, said, row.size)
            return {"shape": read.shape, "length": read.length}
        case Swath() if row.feature is not None:
            return _feature_swath(row, row.feature, zone)
        case Patch():
            return _patch(row, surface, flaws)
    shape = surface.read_region(said)
    if shape.is_empty:
        raise ValueError(say("{said} has no ground on the corrected surface", said=said))
    if not isinstance(row, Swath):
        return {"shape": shape}
    low, high = stretch_range(surface, shape)
    return {"shape": shape, "area": shape.area, "stretch_low": low, "stretch_high": high}


def _feature_swath(row: Swath, feature: Feature, zone: Zone) -> dict[str, Any]:
    read = feature_row(zone, feature.pk, feature.kind, feature.name, feature.said, feature.size)
    if not read.is_line:
        return {"shape": read.shape}
    part = row.said.removeprefix(f"{feature.kind} {feature.name}").removeprefix(", ")
    parts = lines.read_part(zone.surface, read.shape, part)
    return {"shape": read.part(zone.surface, parts), "along": [[low, high] for low, high in parts]}


def _patch(patch: Patch, surface: Surface, flaws: dict[Any, tuple[float, float]]) -> dict[str, Any]:
    """The union of its flaws' footprints, as when it was issued."""
    terms = patch.coating.terms
    footprints = [
        surface.footprint(
            *flaws[link.flaw_id],
            link.flaw.size_x,
            link.flaw.size_y,
            terms.patch_overlap,
            round_=terms.patch_shape == "round",
        )
        for link in patch.patch_flaws.all()
        if link.flaw_id in flaws
    ]
    shape = shapely.union_all(footprints)
    if shape.is_empty:
        raise ValueError(say("none of its flaws lies on the corrected surface"))
    return {"shape": shape, "area": float(shape.area), "said": surface.describe_region(shape)}


def _differs(old: Any, new: Any) -> bool:
    if isinstance(new, shapely.Geometry):
        return not (isinstance(old, shapely.Geometry) and old.equals_exact(new, 0.0))
    return bool(old != new)


def _named(row: Row) -> str:
    if isinstance(row, Swath):
        return say("ground swept in run {run}", run=row.run.label)
    if isinstance(row, Spot):
        return say("a thickness spot")
    if isinstance(row, Exclusion):
        return say("ground left out")
    if isinstance(row, Disturbance):
        return say("later work")
    return str(row)
