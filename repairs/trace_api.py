"""What rests on an instrument, electrode, certificate, batch or person, and what would be lost without it, for the API."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar, cast
from uuid import UUID

from django.urls import URLPattern, path
from django.utils import timezone
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.people import Person
from accounts.schema import PARTS, problems
from mapping.api import PlaneShapeField
from repairs.gates import CODES
from repairs.restoring import restoring
from repairs.restoring_words import set_in_words, without_a_sweep
from repairs.spoken import square_metres
from repairs.state import PatchState
from repairs.trace import trace
from repairs.trace_asked import asked_of, days_in_words
from repairs.trace_subjects import MODELS, PERSONS_PARTS, Kind
from repairs.what_if import MOST_ZONES, TooMany, sentence_of, what_if

COLLECTION: dict[Kind, str] = {
    "instrument": "instruments",
    "electrode": "electrodes",
    "certificate": "certificates",
    "batch": "steps",
    "person": "people",
}
WHAT: dict[Kind, str] = {
    "batch": "What rests on the product and batch that this step names, and what would be lost without it.",
    "person": "What rests on somebody's work, and what would be lost if it did not count.",
}


class FoundRead(serializers.Serializer):
    """One thing that rests on it. Swept ground comes by run and standing, overlapping swaths counted twice."""

    leg = serializers.ChoiceField(choices=["run", "check", "swept", "spot", "air", "decision", "cycle", "release"])
    part = serializers.CharField(help_text="In which part; of swept ground its standing.")
    id = serializers.UUIDField()
    on = serializers.UUIDField(help_text="Run of a check, of swept ground, a decision, a retest; else its own id.")
    coating = serializers.UUIDField()
    at = serializers.DateTimeField()
    number = serializers.IntegerField()
    area = serializers.FloatField(help_text="m²")


class StageLossRead(serializers.Serializer):
    """Ground of a coat stage that would not stand any more."""

    stage = serializers.CharField(source="stage.name")
    seen = serializers.ChoiceField(choices=["as found", "as left"])
    area = serializers.FloatField(source="area_m2", help_text="m²")
    again = serializers.BooleanField(help_text="It can be swept again: no later coat was tested over it.")
    shape = PlaneShapeField()


class FeatureLossRead(serializers.Serializer):
    """A weld, edge, nozzle or bracket that would not be tested any more."""

    feature = serializers.UUIDField(source="feature.pk")
    name = serializers.CharField(source="feature.name")
    stage = serializers.CharField()
    amount = serializers.FloatField(help_text="m along it; 1 where it is counted.")


class PatchTurnRead(serializers.Serializer):
    """A patch that would not be in the state it is in."""

    patch = serializers.UUIDField(source="patch.id")
    number = serializers.IntegerField(source="patch.number")
    before = serializers.ChoiceField(choices=PatchState.choices)
    after = serializers.ChoiceField(choices=PatchState.choices)
    repair = serializers.BooleanField(help_text="The repair itself would have to be done again.")


class GateTurnRead(serializers.Serializer):
    """A gate that would not be green any more."""

    code = serializers.ChoiceField(source="after.code", choices=list(CODES))
    sentence = serializers.CharField(source="after.sentence")


class ZoneLossRead(serializers.Serializer):
    """What one zone would lose."""

    zone = serializers.UUIDField(source="coating.zone_id")
    coating = serializers.UUIDField(source="coating.pk")
    stages = StageLossRead(many=True)
    features = FeatureLossRead(many=True)
    patches = PatchTurnRead(many=True)
    gates = GateTurnRead(many=True)
    release_undermined = serializers.BooleanField(source="undermined")


class AgainRead(serializers.Serializer):
    """One sweep to make: how its press is said, and the part of it that is needed."""

    purpose = serializers.ChoiceField(choices=["survey", "retest"])
    said = serializers.CharField()
    needed = serializers.CharField(source="part_said")
    area = serializers.FloatField(source="area_m2", help_text="m² of the needed part.")
    patches = serializers.SerializerMethodField()
    shape = PlaneShapeField()

    def get_patches(self, sweep: Any) -> list[UUID]:
        return [patch.id for patch in sweep.patches]


class StageSetRead(serializers.Serializer):
    """The fewest sweeps for a coat stage; it is proven that no set has fewer than `least`."""

    stage = serializers.CharField(source="stage.name")
    sweeps = AgainRead(many=True)
    least = serializers.IntegerField()
    proven = serializers.BooleanField()
    beyond = serializers.FloatField(source="beyond_m2", help_text="m² that no press reaches.")


class ZoneSetRead(serializers.Serializer):
    """What is done again on a zone, and which gates are then green again (`restored`) or not (`shut`)."""

    zone = serializers.UUIDField(source="zone.coating.zone_id")
    stages = StageSetRead(many=True)
    features = FeatureLossRead(many=True)
    spots = serializers.SerializerMethodField()
    repairs = serializers.SerializerMethodField()
    settle_again = serializers.SerializerMethodField()
    answers = serializers.SerializerMethodField(
        help_text="Runs whose voltage rests on readings that would not count, or of which something is asked then."
    )
    proven = serializers.BooleanField()
    restored = serializers.SerializerMethodField()
    shut = serializers.SerializerMethodField()

    def get_spots(self, each: Any) -> list[UUID]:
        return [spot.pk for spot in each.spots]

    def get_repairs(self, each: Any) -> list[UUID]:
        return [patch.id for patch in each.repairs]

    def get_settle_again(self, each: Any) -> list[UUID]:
        return [patch.id for patch in each.settled]

    def get_answers(self, each: Any) -> list[UUID]:
        return list(dict.fromkeys(run.pk for run in (*each.answers, *each.questioned)))

    def get_restored(self, each: Any) -> list[str]:
        return [gate.code for gate in each.restored]

    def get_shut(self, each: Any) -> list[str]:
        return [gate.code for gate in each.shut]


class LossRead(serializers.Serializer):
    """What would be lost, in words and zone by zone, and how it comes back: evidence, then the smallest set."""

    sentence = serializers.CharField()
    zones = ZoneLossRead(many=True)
    evidence = serializers.ListField(child=serializers.CharField())
    set_sentence = serializers.CharField()
    sets = ZoneSetRead(many=True)


class TraceRead(serializers.Serializer):
    """Everything you may see that rests on it; `loss` is null where more zones rest on it than are worked out at once."""

    kind = serializers.ChoiceField(choices=list(MODELS))
    id = serializers.UUIDField()
    name = serializers.CharField()
    since = serializers.DateField(allow_null=True)
    until = serializers.DateField(allow_null=True)
    at = serializers.DateTimeField(help_text="The moment it was worked out for.")
    rests = FoundRead(many=True)
    loss = LossRead(allow_null=True)
    zones_too_many = serializers.IntegerField(help_text=f"Zones, where they are more than {MOST_ZONES}; else 0.")


class TraceSchema(AutoSchema):
    """What it is of is read from the view."""

    view: Any

    def get_tags(self) -> list[str]:
        return [PARTS["repairs"]]

    def get_operation_id(self) -> str:
        return f"trace_{self.view.kind}"

    def get_description(self) -> str:  # type: ignore[override]
        plain = f"What rests on the {self.view.kind}, and what would be lost if it were withdrawn."
        return WHAT.get(self.view.kind, plain)

    def get_override_parameters(self) -> list[Any]:
        days = [
            OpenApiParameter("from", date, description="First day in doubt, by the calendar of each asset."),
            OpenApiParameter("to", date, description="Last day in doubt."),
        ]
        part = OpenApiParameter("part", str, enum=list(PERSONS_PARTS), description="Only work in this part.")
        return [*days, part] if self.view.kind == "person" else days

    def get_request_serializer(self) -> Any:
        return None

    def get_response_serializers(self) -> Any:
        return {200: TraceRead, **problems(400, 401, 404)}


class TraceView(APIView):
    """A trace; `kind` says from what."""

    schema = TraceSchema()
    kind: ClassVar[Kind] = "instrument"

    def get(self, request: Request, pk: UUID) -> Response:
        person = cast(Person, request.user)
        asked = asked_of(person, self.kind, pk, request.query_params.dict())
        found = trace(person, asked.subject, asked.period)
        now = timezone.now()
        loss, too_many = None, 0
        try:
            lost = what_if(found, now)
        except TooMany as more:
            too_many = more.count
        else:
            sets = restoring(lost)
            loss = {
                "sentence": sentence_of(lost, days_in_words(asked.period), square_metres),
                "zones": lost.zones,
                "evidence": without_a_sweep(lost),
                "set_sentence": set_in_words(sets, square_metres),
                "sets": sets,
            }
        told = {
            "kind": self.kind,
            "id": pk,
            "name": asked.subject.name,
            "since": asked.period.since,
            "until": asked.period.until,
            "at": now,
            "rests": found.found,
            "loss": loss,
            "zones_too_many": too_many,
        }
        return Response(TraceRead(told).data)


urlpatterns: list[URLPattern] = [
    path(f"{collection}/<uuid:pk>/trace/", TraceView.as_view(kind=kind), name=f"api_trace_{kind}")
    for kind, collection in COLLECTION.items()
]
