"""Addresses of worksheets filled with a zone's own figures, so that anybody can follow the reckoning or ask "what if"."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict
from django.urls import reverse
from rest_framework import serializers

from accounts.units import QuantityField
from mapping.surface_forms import FORMS, sizes_as_typed
from repairs.counting import limit_of, sides_of
from repairs.picture import ZonePicture


def surface_again(picture: ZonePicture) -> str:
    """The worksheet of surfaces with the zone's sizes; "" where stationing begins below zero, which it does not ask."""
    surface = picture.zone.surface
    chainage = surface.chainage
    if chainage.start < 0:
        return ""
    asked = QueryDict(mutable=True)
    asked["variant"], asked["face"] = surface.kind, surface.face
    asked["spoken"] = "metric" if chainage.system == "metric" else "survey" if chainage.foot == "survey" else "imperial"
    if chainage.equations:
        asked["station_equations"] = "\n".join(f"{back:g} back = {ahead:g} ahead" for back, ahead in chainage.equations)
    fields = FORMS[surface.kind].takes().fields
    typed = sizes_as_typed(surface)
    for name, field in fields.items():
        value = typed.get(name, "")
        asked[f"surface.{name}"] = "\n".join(
            _typed(field, item) for item in (value if isinstance(value, list) else [value])
        )
    asked["first"] = asked["second"] = asked["region"] = ""
    return f"{reverse('worksheet', args=['surface'])}?{asked.urlencode()}"


def density_again(picture: ZonePicture) -> str:
    """The worksheet of density with the zone's count, areas and limit; "" while nothing is tested."""
    density = picture.density_found
    if density is None:
        return ""
    asked = QueryDict(mutable=True)
    asked["count"], asked["area"] = str(density.count), f"{density.area_m2!r} m²"
    asked["left"], asked["limit_count"] = f"{picture.found.untested_m2!r} m²", ""
    if (limit := limit_of(picture.terms)) is not None:
        asked["limit_count"], asked["limit_per"] = str(limit.count), str(limit.per)
        asked["limit_unit"], asked["integer_rule"] = limit.unit, limit.integer_rule
        asked["sides"] = sides_of(picture.terms)
    return f"{reverse('worksheet', args=['density'])}?{asked.urlencode()}"


def _typed(field: serializers.Field, value: Any) -> str:
    """A stored size with its unit, so that it means the same whatever units the reader has."""
    inner = field.child if isinstance(field, serializers.ListField) else field
    return f"{value!r} {inner.kind.si.name}" if isinstance(inner, QuantityField) and value != "" else str(value)
