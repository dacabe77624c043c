"""Serializer fields for places and regions: what was said is kept, x, y or the shape is read from it."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import shapely
import shapely.ops
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from shapely.geometry.base import BaseGeometry

from accounts.wording import say
from mapping.surfaces import Surface

STEP = 0.01  # m: what the printed places are true to


class SaidPlace(NamedTuple):
    """A place as it was said, with its plane metres."""

    said: str
    x: float
    y: float


class SaidRegion(NamedTuple):
    """A region as it was said, with its folded shape."""

    said: str
    shape: BaseGeometry


class SurfaceGiven:
    """For fields of actions whose target leads to a surface: the serializer says how (`surface_of`)."""

    context: dict[str, Any]

    def surface(self) -> Surface:
        parent = self.parent  # type: ignore[attr-defined]
        return parent.surface_of(self.context["target"])


def check_length(said: str, longest: int) -> str:
    """What was said as it is kept, without the spaces around it. Raises ValidationError beyond `longest` characters."""
    said = said.strip()
    if len(said) > longest:
        raise serializers.ValidationError(
            say("This has {count} characters; at most {longest} can be kept.", count=len(said), longest=longest)
        )
    return said


@extend_schema_field(OpenApiTypes.STR)
class PlaceField(SurfaceGiven, serializers.Field):
    """A place in the zone's own words, such as `1+250.40 @ 4:30`; or plane metres as {"x": 1250.4, "y": 1.2}."""

    def to_internal_value(self, data: Any) -> SaidPlace:
        surface = self.surface()
        if isinstance(data, dict):
            try:
                return place_on(surface, float(data["x"]), float(data["y"]))
            except (KeyError, TypeError, ValueError, OverflowError) as problem:
                raise serializers.ValidationError(f"{str(data)[:80]}: {str(problem)[:200]}") from problem
        said = check_length(str(data), 120)
        try:
            place = surface.read_place(said)
        except ValueError as problem:
            raise serializers.ValidationError(str(problem)) from problem
        return SaidPlace(said, place.x, place.y)

    def to_representation(self, value: Any) -> Any:
        return value.said if isinstance(value, SaidPlace) else value


def place_on(surface: Surface, x: float, y: float) -> SaidPlace:
    """A place of the zone in words: taken over the seam, and to the zone's end where it lies within a printed step beyond.

    Raises
    ------
    ValueError
        For what is no number, or lies off the zone.
    """
    if not (math.isfinite(x) and math.isfinite(y)):
        raise ValueError(say("x and y are metres of the zone's plane"))
    x, y = surface.home(x, y)
    point = shapely.Point(x, y)
    if not surface.outline.covers(point) and surface.outline.distance(point) <= STEP:
        inside, _ = shapely.ops.nearest_points(surface.outline, point)
        x, y = float(inside.x), float(inside.y)
    said = surface.print_place(x, y)
    surface.read_place(said)
    return SaidPlace(said, x, y)


@extend_schema_field(OpenApiTypes.STR)
class RegionField(SurfaceGiven, serializers.Field):
    """Ground in the zone's own words, such as `1+084.00 to 1+096.00, 9:00 to 2:00` or `whole zone`."""

    def to_internal_value(self, data: Any) -> SaidRegion:
        surface = self.surface()
        said = check_length(str(data), 200)
        try:
            shape = surface.read_region(said)
        except ValueError as problem:
            raise serializers.ValidationError(str(problem)) from problem
        if shape.is_empty or shape.area <= 0:
            raise serializers.ValidationError(
                say('"{said}" has no area on this zone: {limits_text}', said=said, limits_text=surface.limits_text())
            )
        return SaidRegion(said, shape)

    def to_representation(self, value: Any) -> Any:
        return value.said if isinstance(value, SaidRegion) else value
