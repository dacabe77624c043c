"""The air of a coating as the API tells it: each record judged, and where the margin above the dew point is going."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.urls import path
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.acting import find
from accounts.people import Person
from accounts.schema import PARTS, problems
from accounts.wording import say
from inspections.air import Air, airs_of, closing_words, degrees_in, recent, trend_of, trend_words
from inspections.air_trend import SOURCE as TREND_SOURCE
from inspections.atmosphere import DEW_POINT_MARGIN_C
from inspections.atmosphere import SOURCE as MARGIN_SOURCE
from inspections.coatings import Coating


class AirRead(serializers.Serializer):
    """One record with what follows from it; figures are null where the record cannot be, and `problem` says why."""

    atmosphere = serializers.UUIDField(source="row.pk", help_text="Id of the record.")
    at = serializers.DateTimeField(source="row.at")
    humidity = serializers.FloatField(allow_null=True, help_text="%, as read or from the wet bulb.")
    dew_point = serializers.FloatField(
        source="verdict.dew_point.celsius", default=None, allow_null=True, help_text="°C"
    )
    over = serializers.CharField(source="verdict.dew_point.over", default="", help_text="Water; ice for a frost point.")
    coldest_steel = serializers.FloatField(
        source="verdict.coldest_steel_c", default=None, allow_null=True, help_text="°C"
    )
    margin = serializers.FloatField(allow_null=True, help_text="°C of the coldest steel above the dew point.")
    may_go_on = serializers.BooleanField(
        source="verdict.may_go_on",
        default=None,
        allow_null=True,
        help_text="By these figures alone; the product data sheet's own limits come first.",
    )
    reasons = serializers.SerializerMethodField(help_text="Why work may not go on.")
    problem = serializers.CharField()

    def get_reasons(self, air: Air) -> list[str]:
        return list(air.verdict.reasons(degrees_in("si"))) if air.verdict else []


class TrendRead(serializers.Serializer):
    """A straight line through the margins of the last four hours of records."""

    per_hour = serializers.FloatField(help_text="°C an hour, below 0 while the margin closes.")
    records = serializers.IntegerField(help_text="How many it goes through.")
    since = serializers.DateTimeField()
    latest = serializers.DateTimeField()
    closes_at = serializers.DateTimeField(
        allow_null=True, help_text="When it reaches the least margin; null where it does not within four hours."
    )


class CoatingAirRead(serializers.Serializer):
    """Every record of a coating, the earliest first, and the trend at the latest of them (null with fewer than three)."""

    coating = serializers.UUIDField()
    least_margin = serializers.FloatField(help_text="°C")
    records = AirRead(many=True)
    trend = TrendRead(allow_null=True)
    sentence = serializers.CharField(help_text="The trend in words.")
    warning = serializers.CharField(help_text="Before the margin closes, while the records are of the last four hours.")
    sources = serializers.ListField(child=serializers.CharField())


class CoatingAirView(APIView):
    @extend_schema(
        operation_id="read_coating_air",
        tags=[PARTS["inspections"]],
        responses={200: CoatingAirRead, **problems(401, 404)},
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """Air and steel of the coating judged, with the trend of the margin above the dew point."""
        coating = find(cast(Person, request.user), Coating, pk)
        return Response(CoatingAirRead(_told(coating, airs_of(coating))).data)


def _told(coating: Coating, airs: list[Air]) -> dict[str, Any]:
    trend = trend_of(airs)
    closes = trend.closes_at.astimezone(coating.zone.asset.zone_info) if trend and trend.closes_at else None
    going_on = bool(recent(airs, timezone.now()))
    return {
        "coating": coating.pk,
        "least_margin": DEW_POINT_MARGIN_C,
        "records": airs,
        "trend": trend,
        "sentence": trend_words(trend, "si"),
        "warning": closing_words(trend, "si", f"{closes:%Y-%m-%d %H:%M}" if closes else "") if going_on else "",
        "sources": [say(MARGIN_SOURCE), say(TREND_SOURCE)],
    }


urlpatterns = [path("coatings/<uuid:pk>/air/", CoatingAirView.as_view(), name="api_coating_air")]
