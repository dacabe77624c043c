"""Reads of zones, landmarks and exclusions."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch, QuerySet
from django_filters import ChoiceFilter, UUIDFilter
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from accounts.serving import PersonRead, RowRead, Rows, urls_of
from mapping.features import Feature
from mapping.landmarks import Landmark
from mapping.zones import Exclusion, ExclusionDecision, Zone

PLANE = "plane metres of the zone, not longitude and latitude"
X = "Metres along the zone's first axis; on a pipe, continuous chainage."
Y = "Metres along the zone's second axis; on a pipe, arc clockwise from 12 o'clock, looking with increasing chainage."


@extend_schema_field(
    {
        "type": "object",
        "required": ["type", "coordinates", "crs_note"],
        "properties": {
            "type": {
                "type": "string",
                "enum": ["Polygon", "MultiPolygon", "GeometryCollection", "MultiLineString", "Point"],
            },
            "coordinates": {"type": "array", "items": {}, "description": "Metres."},
            "crs_note": {"type": "string", "const": PLANE},
        },
    }
)
class PlaneShapeField(serializers.Field):
    """A shape, GeoJSON in structure, in plane metres; in several parts where it lies over the seam."""

    def to_representation(self, value: BaseGeometry) -> dict[str, Any]:
        if value.is_empty:
            return {"type": "MultiPolygon", "coordinates": [], "crs_note": PLANE}
        return {**mapping(value), "crs_note": PLANE}


class ZoneFigures(serializers.Serializer):
    """What follows from the surface."""

    true_area = serializers.FloatField(help_text="m²")
    length = serializers.SerializerMethodField(help_text="Along the lanes, m.")
    across = serializers.SerializerMethodField(help_text="Across the lanes, m.")
    period = serializers.FloatField(
        source="surface.period",
        allow_null=True,
        help_text="Metres after which the wrapping axis comes back; null if none.",
    )
    limits = serializers.SerializerMethodField(help_text="Where the zone begins and ends, as spoken.")
    seen_from = serializers.CharField(source="surface.seen_from", help_text="From where drawings show it.")

    def get_length(self, zone: Zone) -> float:
        low, _, high, _ = zone.surface.outline.bounds
        return float(high - low)

    def get_across(self, zone: Zone) -> float:
        return float(zone.surface.across)

    def get_limits(self, zone: Zone) -> str:
        return zone.surface.limits_text()


class ZoneRead(RowRead):
    figures = ZoneFigures(source="*")
    surface = serializers.JSONField(source="surface_json", help_text="Sizes in metres.")

    class Meta:
        model = Zone
        fields = ("id", "version", "asset", "name", "order", "surface_kind", "surface", "face", "figures")


class LandmarkRead(RowRead):
    units = {"x": X, "y": f"{Y} Null where it is a line around a pipe, of no zone.", "said": "As it was given."}

    class Meta:
        model = Landmark
        fields = ("id", "version", "asset", "zone", "kind", "name", "said", "x", "y", "line")


class ExclusionDecisionRead(RowRead):
    by = PersonRead()

    class Meta:
        model = ExclusionDecision
        fields = ("id", "version", "exclusion", "accepted", "by", "at", "why")


class ExclusionRead(RowRead):
    """Ground somebody proposes not to test; it counts as left out once the last decision accepts it."""

    shape = PlaneShapeField()
    drawn_by = PersonRead()
    status = serializers.SerializerMethodField()
    decisions = ExclusionDecisionRead(many=True)

    class Meta:
        model = Exclusion
        fields = (
            "id", "version", "zone", "said", "shape", "reason", "drawn_by", "organisation", "drawn_at", "status", "decisions",
        )  # fmt: skip

    @extend_schema_field({"type": "string", "enum": ["undecided", "accepted", "refused", "struck out"]})
    def get_status(self, exclusion: Exclusion) -> str:
        if exclusion.is_struck:
            return "struck out"
        decision = exclusion.decision()
        if decision is None:
            return "undecided"
        return "accepted" if decision.accepted else "refused"


class FeatureRead(RowRead):
    """A weld or edge, measured in metres along it, or a nozzle or bracket, which is counted."""

    shape = PlaneShapeField()
    units = {
        "said": "As it was given.",
        "length": "Along a weld or edge, m; null where it is counted.",
        "size": "Across a nozzle or bracket, m; 0 where none is stated.",
        "landmark": "The landmark it was taken over from; null if none.",
    }

    class Meta:
        model = Feature
        fields = ("id", "version", "zone", "kind", "name", "said", "shape", "length", "size", "landmark")


class Zones(Rows):
    """Zones of the assets you may see."""

    collection = "zones"
    serializer_class = ZoneRead
    select = ("asset",)


class Landmarks(Rows):
    """What painters measure from."""

    collection = "landmarks"
    serializer_class = LandmarkRead
    filters = {
        "zone": UUIDFilter(field_name="zone", help_text="Id of the zone."),
        "kind": ChoiceFilter(choices=Landmark.Kind.choices),
    }


class Exclusions(Rows):
    """Ground proposed to be left out, with the owner's decisions."""

    collection = "exclusions"
    serializer_class = ExclusionRead
    select = ("drawn_by",)

    def prepared(self, rows: QuerySet[Exclusion]) -> QuerySet[Exclusion]:
        by_time = ExclusionDecision.objects.select_related("by").order_by("at", "pk")
        return rows.prefetch_related(Prefetch("decisions", by_time))


class Features(Rows):
    """Welds, edges, nozzles and brackets whose test is counted beside that of the area."""

    collection = "features"
    serializer_class = FeatureRead
    filters = {"kind": ChoiceFilter(choices=Feature.Kind.choices)}


COLLECTIONS: tuple[type[Rows], ...] = (Zones, Landmarks, Exclusions, Features)
urlpatterns = urls_of(*COLLECTIONS)
