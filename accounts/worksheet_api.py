"""Worksheets under /api/v1/worksheets/: one endpoint each, stateless, throttled, described with an example."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.urls import URLPattern, path
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView

from accounts.lines import LinesField
from accounts.schema import PARTS, RETRY_AFTER, problems
from accounts.serving import StrictJSON, check_size
from accounts.worksheets import REGISTRY, Answer, Table, Worksheet

MOST_BYTES = 256 * 1024
PUBLIC, SIGNED_IN = "public", "signed-in"


class WorksheetThrottle(SimpleRateThrottle):
    """So many answers a minute: by person where one is signed in, else by address."""

    scope = "worksheet"

    def get_cache_key(self, request: Any, view: Any) -> str:
        user = getattr(request, "user", None)
        who = user.pk if user is not None and user.is_authenticated else self.get_ident(request)
        return self.cache_format % {"scope": self.scope, "ident": who}


class AsTheSiteSays(BasePermission):
    """Everybody, or who is signed in: BARESPOT_WORKSHEETS."""

    def has_permission(self, request: Request, view: Any) -> bool:
        return settings.WORKSHEETS == PUBLIC or bool(request.user and request.user.is_authenticated)


class SourceRead(serializers.Serializer):
    document = serializers.CharField()
    edition = serializers.CharField()
    mark = serializers.ChoiceField(choices=["published", "from memory", "common practice", "plain arithmetic"])


class FigureRead(serializers.Serializer):
    """One figure: its value in `unit`, and how a person reads it."""

    key = serializers.CharField()
    name = serializers.CharField()
    value = serializers.JSONField(help_text="Number, text, true or false; null where there is no figure.")
    unit = serializers.CharField(help_text="SI; empty where there is none.")
    shown = serializers.CharField()
    formula = serializers.CharField()
    source = SourceRead()  # type: ignore[assignment]


class ColumnRead(serializers.Serializer):
    key = serializers.CharField()
    name = serializers.CharField()
    unit = serializers.CharField()


class TableRead(serializers.Serializer):
    key = serializers.CharField()
    title = serializers.CharField()
    columns = ColumnRead(many=True)
    rows = serializers.ListField(
        child=serializers.ListField(child=serializers.JSONField()), help_text="Values in the order of the columns."
    )
    not_listed = serializers.IntegerField(help_text="Rows beyond those listed.")
    source = SourceRead(  # type: ignore[assignment]
        allow_null=True, help_text="Null where each row says in `known` how well it is known."
    )


class ShapeRead(serializers.Serializer):
    key = serializers.CharField()
    name = serializers.CharField()
    area = serializers.FloatField(help_text="m²")
    geometry = serializers.JSONField(
        help_text="GeoJSON in structure, but plane metres of the unrolled surface: no longitudes, no latitudes."
    )


class WorksheetAnswer(serializers.Serializer):
    """What a worksheet answers. Figures help a competent person; they authorise nothing."""

    worksheet = serializers.CharField()
    sentence = serializers.CharField(help_text="The answer in words.")
    figures = FigureRead(many=True)
    tables = TableRead(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    cautions = serializers.ListField(child=serializers.CharField())
    shapes = ShapeRead(many=True)


def told(sheet: Worksheet, answer: Answer) -> dict[str, Any]:
    """The answer as plain data."""
    return {
        "worksheet": sheet.name,
        "sentence": answer.sentence,
        "figures": [{**figure._asdict(), "source": figure.source._asdict()} for figure in answer.figures],
        "tables": [_table(table) for table in answer.tables],
        "notes": list(answer.notes),
        "cautions": list(answer.cautions),
        "shapes": [shape._asdict() for shape in answer.shapes],
    }


def _table(table: Table) -> dict[str, Any]:
    return {
        "key": table.key,
        "title": table.title,
        "columns": [column._asdict() for column in table.columns],
        "rows": [[cell.value for cell in row] for row in table.rows],
        "not_listed": table.cut,
        "source": table.source._asdict() if table.source else None,
    }


def spelled_out(sheet: Worksheet, variant: str = "") -> dict[str, Any]:
    """The worksheet's example as a program sends it: lines of text become objects."""
    fields = sheet.form().fields

    def plain(name: str, value: Any) -> Any:
        field = fields.get(name)
        return field.objects_of(value) if isinstance(field, LinesField) and isinstance(value, str) else value

    return {name: plain(name, value) for name, value in sheet.example_for(variant or sheet.first_variant).items()}


class WorksheetSchema(AutoSchema):
    """Everything is read from the registry."""

    view: Any

    @property
    def sheet(self) -> Worksheet:
        return self.view.sheet

    def get_tags(self) -> list[str]:
        return [PARTS[self.sheet.rule.__module__.partition(".")[0]]]

    def get_operation_id(self) -> str:
        return f"work_out_{self.sheet.name.replace('-', '_')}"

    def get_summary(self) -> str:
        return str(self.sheet.title)

    def get_description(self) -> str:  # type: ignore[override]
        return f"{self.sheet.about}\n\nStateless: nothing is stored. Quantities are numbers in SI or text with a unit."

    def get_request_serializer(self) -> Any:
        return self.sheet.takes

    def get_override_parameters(self) -> list[Any]:
        return [RETRY_AFTER]

    def get_response_serializers(self) -> Any:
        refused = problems(400, 401, 413, 415, 429)
        return {200: OpenApiResponse(WorksheetAnswer, description="Worked out."), **refused}

    def get_examples(self) -> list[OpenApiExample]:
        variants = self.sheet.variants or {"": self.sheet.title}
        return [
            OpenApiExample(str(title), value=spelled_out(self.sheet, variant), request_only=True)
            for variant, title in variants.items()
        ]


class WorksheetView(APIView):
    """The endpoint of one worksheet."""

    sheet: Worksheet = None  # type: ignore[assignment]
    schema = WorksheetSchema()
    permission_classes = (AsTheSiteSays,)
    throttle_classes = (WorksheetThrottle,)
    parser_classes = (StrictJSON,)

    @property
    def takes(self) -> Any:
        return self.sheet.takes

    def post(self, request: Request) -> Response:
        check_size(request, MOST_BYTES)
        if not isinstance(request.data, Mapping):
            raise ValidationError({"body": ["Send an object with named fields."]})
        names = list(self.sheet.form().fields)
        unknown = [str(name) for name in request.data if name not in names]
        if unknown:
            raise ValidationError(
                {name[:80]: [f"There is no such field; there are: {', '.join(names)}."] for name in unknown}
            )
        answer = self.sheet.answer(self.sheet.form(data=request.data))
        return Response(told(self.sheet, answer))


class WorksheetsView(APIView):
    """The worksheets there are."""

    permission_classes = (AsTheSiteSays,)
    throttle_classes = (WorksheetThrottle,)

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        return Response(
            {
                sheet.name: {
                    "title": str(sheet.title),
                    "about": str(sheet.about),
                    "address": reverse(f"api_worksheet_{sheet.name}", request=request),
                    "example": spelled_out(sheet),
                }
                for sheet in REGISTRY.values()
            }
        )


def worksheet_urls() -> list[URLPattern]:
    """The list of worksheets, and one address a worksheet."""
    return [
        path("worksheets/", WorksheetsView.as_view(), name="api_worksheets"),
        *(
            path(f"worksheets/{name}/", WorksheetView.as_view(sheet=sheet), name=f"api_worksheet_{name}")
            for name, sheet in REGISTRY.items()
        ),
    ]
