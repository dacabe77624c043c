"""A zone as it stands, and the gates before its release, as the API tells them. Areas in m²."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.acting import find
from accounts.people import Person
from accounts.schema import PARTS, problems
from inspections.coatings import Coating
from mapping.api import PlaneShapeField, X, Y
from mapping.zones import Zone
from repairs.picture import ZonePicture, zone_picture

WHOSE = ["crew", "contractor", "owner", "lead"]


class GateEvidenceRead(serializers.Serializer):
    """Who stood for it, when, and what it was."""

    who = serializers.CharField()
    when = serializers.DateTimeField()
    what = serializers.CharField()


class GateRead(serializers.Serializer):
    """One gate before release: what is true, what is missing, whose turn it is."""

    code = serializers.CharField()
    name = serializers.CharField()
    state = serializers.ChoiceField(choices=["green", "red", "waits"])
    sentence = serializers.CharField()
    whose = serializers.ChoiceField(choices=WHOSE, allow_null=True)
    since = serializers.DateTimeField(allow_null=True)
    evidence = GateEvidenceRead(many=True)


class GatesRead(serializers.Serializer):
    """The gates of a coating, and whether all are green."""

    coating = serializers.UUIDField(source="coating.pk")
    at = serializers.DateTimeField(help_text="The moment they were judged for.")
    may_release = serializers.BooleanField()
    gates = GateRead(many=True)


class PartRead(serializers.Serializer):
    """Connected ground that is not tested, with a spoken place."""

    kind = serializers.ChoiceField(choices=["gap", "lost", "held", "pending"])
    said = serializers.CharField()
    area = serializers.FloatField(source="area_m2", help_text="m²")
    x = serializers.FloatField(help_text=X)
    y = serializers.FloatField(help_text=Y)


class DividedRead(serializers.Serializer):
    """The ground itself, by what became of it."""

    stands = PlaneShapeField()
    held = PlaneShapeField()
    pending = PlaneShapeField()
    lost = PlaneShapeField()
    gap = PlaneShapeField()


class GroundRead(serializers.Serializer):
    """Testable ground divided without overlap: tested, held, pending, lost and gap together are testable. Areas in m²."""

    seen = serializers.ChoiceField(choices=["as found", "as left"])
    testable = serializers.FloatField(source="testable_m2", help_text="m²")
    tested = serializers.FloatField(source="tested_m2", help_text="m²")
    held = serializers.FloatField(source="held_m2", help_text="m²")
    pending = serializers.FloatField(source="pending_m2", help_text="m²")
    lost = serializers.FloatField(source="lost_m2", help_text="m²")
    gap = serializers.FloatField(source="gap_m2", help_text="m²")
    percent = serializers.FloatField(allow_null=True, help_text="Share tested, %; null where nothing is testable.")
    words = serializers.CharField()
    full = serializers.BooleanField(allow_null=True, help_text="No untested part of 1 cm² or more.")
    parts = PartRead(many=True, help_text="What is not tested, by kind, the largest first.")
    shapes = DividedRead(source="ground")


class ExcludedRead(serializers.Serializer):
    """Ground left out of the testable area by the owner's word; `area` is what it takes off, m²."""

    id = serializers.UUIDField()
    said = serializers.CharField()
    reason = serializers.CharField()
    area = serializers.FloatField(source="area_m2", help_text="m²")
    accepted_by = serializers.CharField()
    accepted_at = serializers.DateTimeField()
    shape = PlaneShapeField()


class DensityRead(serializers.Serializer):
    """Flaws as found over the tested area, with the exact 95 % interval."""

    count = serializers.IntegerField()
    area = serializers.FloatField(source="area_m2", help_text="m²")
    per_100_m2 = serializers.FloatField()
    low_per_m2 = serializers.FloatField(source="interval_per_m2.low")
    high_per_m2 = serializers.FloatField(source="interval_per_m2.high")
    source = serializers.CharField()  # type: ignore[assignment]


class ContractRead(serializers.Serializer):
    """The plain count against what the specification allows on the tested area."""

    verdict = serializers.ChoiceField(choices=["kept", "exceeded"], allow_null=True)
    count = serializers.IntegerField()
    allowed = serializers.IntegerField(allow_null=True)
    arithmetic = serializers.CharField()


class IntervalsField(serializers.ListField):
    """From and to of each piece, in metres along the line."""

    child = serializers.ListField(child=serializers.FloatField())


class DividedLineRead(serializers.Serializer):
    """A feature divided without overlap, m along it; a nozzle or bracket is one piece from 0 to 1."""

    stands = IntervalsField()
    held = IntervalsField()
    pending = IntervalsField()
    lost = IntervalsField()
    gap = IntervalsField()


class FeatureStateRead(serializers.Serializer):
    """What of a weld, edge, nozzle or bracket is tested."""

    id = serializers.UUIDField(source="feature.pk")
    kind = serializers.CharField(source="feature.kind")
    name = serializers.CharField(source="feature.name")
    said = serializers.CharField(source="feature.said")
    length = serializers.FloatField(source="feature.length", allow_null=True, help_text="m; null where it is counted.")
    state = serializers.ChoiceField(
        source="worst", choices=["stands", "pending", "held", "lost", "gap", "excluded"], help_text="The gravest."
    )
    found = DividedLineRead()
    left = DividedLineRead(allow_null=True)


class FeatureSumRead(serializers.Serializer):
    """All features of one kind together: metres of weld or edge, or how many nozzles or brackets."""

    kind = serializers.CharField()
    seen = serializers.ChoiceField(choices=["as found", "as left"])
    count = serializers.IntegerField()
    testable = serializers.FloatField()
    tested = serializers.FloatField(source="stands")
    held = serializers.FloatField()
    pending = serializers.FloatField()
    lost = serializers.FloatField()
    gap = serializers.FloatField()
    percent = serializers.FloatField(allow_null=True)
    missing = serializers.ListField(child=serializers.CharField(), help_text="Names of those not tested whole.")


class PictureRead(serializers.Serializer):
    """A zone as it stands at one coat stage."""

    zone = serializers.UUIDField(source="zone.pk")
    coating = serializers.UUIDField(source="coating.pk")
    stage = serializers.CharField(source="stage.name")
    at = serializers.DateTimeField()
    sentence = serializers.CharField(help_text="What is true and what stands in the way.")
    true_area = serializers.FloatField(source="true_m2", help_text="m²")
    excluded = ExcludedRead(many=True)
    found = GroundRead(help_text="As found: the denominator of density.")
    left = GroundRead(allow_null=True, help_text="As left: what release needs; null at earlier coat stages.")
    density = DensityRead(source="density_found", allow_null=True)
    contract = ContractRead(allow_null=True)
    open_flaws = serializers.IntegerField()
    flaws = serializers.DictField(
        source="flaws_by_status", child=serializers.IntegerField(), help_text="How many by status."
    )
    patches = serializers.DictField(
        source="patches_by_state", child=serializers.IntegerField(), help_text="How many by state."
    )
    features = FeatureStateRead(source="features.features", many=True)
    feature_sums = FeatureSumRead(source="features.sums", many=True)
    gates = GateRead(many=True)
    may_release = serializers.BooleanField()
    whose_turn = serializers.ChoiceField(source="turn.whose", choices=WHOSE, allow_null=True, default=None)


class PictureView(APIView):
    @extend_schema(
        operation_id="read_zone_picture",
        tags=[PARTS["repairs"]],
        parameters=[
            OpenApiParameter("stage", str, description="Coat stage by its name; left out: the finished system."),
        ],
        responses={200: PictureRead, **problems(400, 401, 404)},
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """The zone's current coating: ground as found and as left, figures, gates."""
        zone = find(cast(Person, request.user), Zone, pk)
        coating = Coating.objects.filter(zone=zone, ended_at=None).select_related("specification").first()
        if coating is None:
            raise NotFound("This zone has no current coating.")
        return Response(PictureRead(_picture(coating, request.query_params.get("stage"))).data)


class GatesView(APIView):
    @extend_schema(
        operation_id="read_coating_gates", tags=[PARTS["repairs"]], responses={200: GatesRead, **problems(401, 404)}
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """Every gate before release of the coating, as it stands now."""
        coating = find(cast(Person, request.user), Coating, pk)
        return Response(GatesRead(_picture(coating, None)).data)


def _picture(coating: Coating, stage: str | None) -> ZonePicture:
    names = [each.name for each in coating.terms.stages]
    if stage is not None and stage not in names:
        raise ValidationError({"stage": [f'"{stage[:80]}" is no coat stage; there are: {", ".join(names)}.']})
    return zone_picture(coating, stage)
