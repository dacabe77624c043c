"""The film of a zone as the API tells it: the judgement with its arithmetic, what is missing, statistics and voltage. µm and m."""

from __future__ import annotations

from typing import Any, cast
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
from inspections.voltage_split import Part
from mapping.api import X, Y
from mapping.zones import Zone
from repairs.film import film_picture
from repairs.film_voltage import along_said, voltage_of

VERDICTS = ["accepted", "not accepted", "not judged"]
UM = "µm"


class FilmLineRead(serializers.Serializer):
    """One line of arithmetic: the sentence, and the figures in it with their units."""

    words = serializers.CharField(source="*")
    figures = serializers.SerializerMethodField()

    def get_figures(self, line: Any) -> dict[str, Any]:
        return {each.name: {"value": each.value, "unit": each.unit} for each in line.figures}


class FilmAreaRead(serializers.Serializer):
    """One area measurement, or part of the surface, with the lines of its arithmetic."""

    area = serializers.CharField()
    verdict = serializers.ChoiceField(choices=VERDICTS)
    mean = serializers.FloatField(source="mean_um", allow_null=True, help_text=UM)
    arithmetic = FilmLineRead(many=True)
    outside = serializers.ListField(
        child=serializers.CharField(), help_text="Ids of the spots that fail by themselves."
    )


class FilmJudgementRead(serializers.Serializer):
    """What the specification's standard says of the film at one coat stage."""

    standard = serializers.CharField()
    level = serializers.IntegerField(allow_null=True)
    verdict = serializers.ChoiceField(choices=VERDICTS)
    asked = FilmLineRead(many=True)
    areas = FilmAreaRead(many=True)
    missing = FilmLineRead(many=True)
    notes = FilmLineRead(many=True)
    asked_areas = serializers.IntegerField()
    taken_areas = serializers.IntegerField()
    asked_readings = serializers.IntegerField()
    taken_readings = serializers.IntegerField()
    source = serializers.CharField()  # type: ignore[assignment]


class FilmSummaryRead(serializers.Serializer):
    """Statistics of the single readings that count, less their correction, µm; percentiles of type 7."""

    readings = serializers.IntegerField()
    mean = serializers.FloatField(source="mean_um", help_text=UM)
    deviation = serializers.FloatField(allow_null=True, help_text="µm, of a sample (n − 1); null for one reading.")
    least = serializers.FloatField(source="least_um", help_text=UM)
    p5 = serializers.FloatField(source="p5_um", help_text=UM)
    p50 = serializers.FloatField(source="p50_um", help_text=UM)
    p95 = serializers.FloatField(source="p95_um", help_text=UM)
    most = serializers.FloatField(source="most_um", help_text=UM)


class FilmSpotRead(serializers.Serializer):
    """A spot as it is judged by itself."""

    id = serializers.UUIDField()
    said = serializers.CharField()
    x = serializers.FloatField(help_text=X)
    y = serializers.FloatField(help_text=Y)
    mean = serializers.FloatField(source="mean_um", help_text="µm, less the correction.")
    kind = serializers.ChoiceField(choices=["thin", "within", "thick", "incomplete"])
    counts = serializers.BooleanField()
    why_not = FilmLineRead(many=True)
    area = serializers.CharField()


class FilmPlaceRead(serializers.Serializer):
    said = serializers.CharField()
    x = serializers.FloatField(help_text=X)
    y = serializers.FloatField(help_text=Y)


class FilmReachRead(serializers.Serializer):
    """One of eight directions from a failed spot."""

    direction = serializers.CharField()
    ends = serializers.FloatField(source="ends_m", allow_null=True, help_text="m; null while not known.")
    next = FilmPlaceRead(source="next_place", allow_null=True)


class FilmFailedRead(serializers.Serializer):
    """How far the film around a failed spot does not conform."""

    area = serializers.CharField()
    spot = serializers.CharField()
    said = serializers.CharField()
    bounded = serializers.BooleanField(source="is_bounded")
    reaches = FilmReachRead(many=True)


class FilmAskedRead(serializers.Serializer):
    """The voltage asked for at one percentile of the readings."""

    percent = serializers.IntegerField()
    thickness = serializers.FloatField(source="thickness.um", help_text=UM)
    volts = serializers.IntegerField(source="asked.volts", allow_null=True, help_text="V; null where none is given.")
    why = serializers.CharField(source="asked.why")


class FilmPartRead(serializers.Serializer):
    """A part of the zone that one setting serves; null ends are the zone's own."""

    starts = serializers.CharField(allow_null=True)
    ends = serializers.CharField(allow_null=True)
    area = serializers.CharField(help_text="Name of the area measurement; empty along the zone.")
    volts = serializers.IntegerField(help_text="V")
    low = serializers.IntegerField(help_text="V")
    high = serializers.IntegerField(help_text="V")
    readings = serializers.IntegerField()


class FilmVoltageRead(serializers.Serializer):
    """What the readings ask for at percentiles, and the fewest settings, part by part."""

    asked = FilmAskedRead(many=True)
    settings = serializers.IntegerField(help_text="Fewest settings that serve every reading.")
    straddles = serializers.BooleanField(help_text="A border between branches or documents runs through the film.")
    along = FilmPartRead(many=True)
    by_area = FilmPartRead(many=True)
    unserved = serializers.IntegerField(help_text="Readings without a voltage.")


class FilmRead(serializers.Serializer):
    """The film of a zone's current coating at one coat stage."""

    zone = serializers.UUIDField()
    coating = serializers.UUIDField()
    stage = serializers.CharField()
    nominal = serializers.FloatField(help_text=UM)
    minimum = serializers.FloatField(help_text=UM)
    maximum = serializers.FloatField(allow_null=True, help_text=UM)
    spot_least = serializers.FloatField(allow_null=True, help_text="µm; what a spot or reading may be by itself.")
    spot_most = serializers.FloatField(allow_null=True, help_text=UM)
    judgement = FilmJudgementRead(allow_null=True)
    summary = FilmSummaryRead(allow_null=True)
    lacking = serializers.IntegerField(help_text="How many measurements or readings are missing.")
    next = FilmPlaceRead(many=True)
    failed = FilmFailedRead(many=True)
    voltage = FilmVoltageRead(allow_null=True)
    spots = FilmSpotRead(many=True)


class FilmView(APIView):
    @extend_schema(
        operation_id="read_zone_film",
        tags=[PARTS["repairs"]],
        parameters=[
            OpenApiParameter("stage", str, description="Coat stage by its name; left out: the finished system."),
        ],
        responses={200: FilmRead, **problems(400, 401, 404)},
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """Thickness of the zone's current coating: judged, summed up, and what it asks for."""
        zone = find(cast(Person, request.user), Zone, pk)
        coating = Coating.objects.filter(zone=zone, ended_at=None).select_related("specification").first()
        if coating is None:
            raise NotFound("This zone has no current coating.")
        stage = request.query_params.get("stage")
        names = [each.name for each in coating.terms.stages]
        if stage is not None and stage not in names:
            raise ValidationError({"stage": [f'"{stage[:80]}" is no coat stage; there are: {", ".join(names)}.']})
        return Response(FilmRead(_told(coating, stage)).data)


def _told(coating: Coating, stage: str | None) -> dict[str, Any]:
    film = film_picture(coating, stage)
    found = voltage_of(film)

    def part(each: Part) -> dict[str, Any]:
        ends = {"starts": each.starts, "ends": each.ends}
        said = {name: None if at is None else along_said(film, at) for name, at in ends.items()}
        return {**each._asdict(), **said}

    voltage = found and {
        "asked": found.asked,
        "settings": len(found.plan.settings),
        "straddles": found.straddles,
        "along": [part(each) for each in found.along],
        "by_area": [part(each) for area in found.by_area for each in area.parts],
        "unserved": len(found.unserved),
    }
    return {
        "zone": film.zone.pk,
        "coating": coating.pk,
        "stage": film.stage.name,
        "nominal": film.stage.dft_nominal,
        "minimum": film.stage.dft_minimum,
        "maximum": film.stage.dft_maximum,
        "spot_least": film.low_um,
        "spot_most": film.high_um,
        "judgement": film.judgement,
        "summary": film.summary and {**film.summary._asdict(), "deviation": film.deviation_um},
        "lacking": film.next.lacking,
        "next": film.next.places,
        "failed": film.failed,
        "voltage": voltage,
        "spots": film.spots,
    }
