"""Everything of an asset, a zone or a field sheet as files, as the API gives it: the same bytes as the pages give."""

from __future__ import annotations

from typing import Any, ClassVar, cast
from uuid import UUID

from django.http.response import HttpResponseBase
from django.urls import URLPattern, path
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.request import Request
from rest_framework.views import APIView

from accounts.acting import find
from accounts.people import Person
from accounts.schema import PARTS, problems
from accounts.wording import say
from inspections.coatings import FieldSheet
from repairs.dossier import StillMoving
from repairs.downloads import FORMS, PDF, everything, one_sheet, one_table
from repairs.exports.scope import Scope
from repairs.exports.tables import TABLES, tables_of
from repairs.pages.dossier import asset_pdf, zone_pdf
from repairs.pages.taking import asset_scope, zone_scope

ASSET, ZONE, SHEET = "asset", "zone", "sheet"
COLLECTION = {ASSET: "assets", ZONE: "zones", SHEET: "sheets"}
NAMED = OpenApiParameter(
    "Content-Disposition", OpenApiTypes.STR, OpenApiParameter.HEADER, description="Name of the file.", response=[200]
)
TABLE = OpenApiParameter(
    "table",
    OpenApiTypes.STR,
    enum=list(TABLES),
    description="That table alone, as one CSV file. People, files and record are the asset's.",
)
SAYS = {
    "csv": "Every table as CSV in a ZIP archive, or one table as CSV. Text that a spreadsheet would run (it begins with = + - @ "
    "or a tab, or with an apostrophe before one of these) has an apostrophe before it; numbers have none.",
    "xlsx": "Every table as a sheet of a workbook: numbers as numbers, text as text, nothing as a formula.",
    "geojson": "Shapes and places as one FeatureCollection in plane metres. The member `plane` says for each zone how x and y are "
    "measured: they are not longitude and latitude.",
}
PDF_SAYS = {
    ASSET: "The whole asset as one document, in the units and the language of the person.",
    ZONE: "The dossier of the zone's current coating (or its last), in the units and the language of the person.",
}
COLLECTED = {
    "type": "object",
    "required": ["type", "name", "plane", "written", "record", "features"],
    "properties": {
        "type": {"type": "string", "const": "FeatureCollection"},
        "name": {"type": "string"},
        "plane": {"type": "object", "description": "How x and y are measured, zone by zone: plane metres."},
        "written": {"type": "string", "format": "date-time"},
        "record": {"type": "object", "description": "Where the record stood: entry and sha256."},
        "features": {"type": "array", "items": {"type": "object"}},
    },
}
SHEET_SAYS = "What was recorded on the sheet, in the form that import_sheet reads. What was struck out is left out."


class Busy(APIException):
    status_code = 503


class AsItComes(BaseContentNegotiation):
    """A file has one form, whatever is asked for; refusals are JSON."""

    def select_parser(self, request: Request, parsers: Any) -> Any:
        return parsers[0]

    def select_renderer(self, request: Request, renderers: Any, format_suffix: str | None = None) -> tuple[Any, str]:
        return renderers[0], renderers[0].media_type


class FileSchema(AutoSchema):
    """For files: what they are is read from the view."""

    view: Any

    def get_tags(self) -> list[str]:
        return [PARTS["repairs"]]

    def get_operation_id(self) -> str:
        return f"read_{self.view.of}_{self.view.form}"

    def get_description(self) -> str:  # type: ignore[override]
        if self.view.of == SHEET:
            return SHEET_SAYS
        return PDF_SAYS[self.view.of] if self.view.form == "pdf" else SAYS[self.view.form]

    def get_override_parameters(self) -> list[Any]:
        return [NAMED, TABLE] if self.view.takes_table else [NAMED]

    def get_request_serializer(self) -> Any:
        return None

    def get_response_serializers(self) -> Any:
        types = {self.view.media_type, "text/csv"} if self.view.takes_table else {self.view.media_type}
        what = COLLECTED if self.view.form == "geojson" else OpenApiTypes.BINARY
        files = {(200, each): OpenApiResponse(what, description="The file.") for each in sorted(types)}
        refused = (
            (401, 404, 503) if self.view.form == "pdf" else (400, 401, 404) if self.view.takes_table else (401, 404)
        )
        return {**files, **problems(*refused)}


class FileView(APIView):
    """A file of a row; `of` says of what, `form` in which form."""

    content_negotiation_class = AsItComes
    schema = FileSchema()
    of: ClassVar[str] = ASSET
    form: ClassVar[str] = "csv"

    @property
    def takes_table(self) -> bool:
        return self.form == "csv" and self.of != SHEET

    @property
    def media_type(self) -> str:
        if self.form == "pdf":
            return PDF
        return "text/csv" if self.of == SHEET and self.form == "csv" else FORMS[self.form].media_type

    def get(self, request: Request, pk: UUID) -> HttpResponseBase:
        person = cast(Person, request.user)
        if self.of == SHEET:
            return one_sheet(find(person, FieldSheet, pk), self.form)
        scope = zone_scope(person, pk) if self.of == ZONE else asset_scope(person, pk)
        if self.form == "pdf":
            return _document(scope, person)
        name = request.query_params.get("table") if self.takes_table else None
        return everything(scope, self.form) if name is None else one_table(scope, _table(scope, name))


def _document(scope: Scope, person: Person) -> HttpResponseBase:
    try:
        return asset_pdf(scope.asset, person) if scope.zone is None else zone_pdf(scope.zone, person)
    except StillMoving as problem:
        raise Busy(str(problem)) from None


def _table(scope: Scope, name: str) -> Any:
    there = {table.name: table for table in tables_of(scope)}
    if name not in there:
        raise ValidationError(
            {"table": [say('"{name}" is no table here; there are: {tables}.', name=name[:80], tables=", ".join(there))]}
        )
    return there[name]


urlpatterns: list[URLPattern] = [
    path(f"{COLLECTION[of]}/<uuid:pk>/files/{form}/", FileView.as_view(of=of, form=form), name=f"api_{of}_{form}")
    for of, forms in ((ASSET, (*FORMS, "pdf")), (ZONE, (*FORMS, "pdf")), (SHEET, ("csv", "xlsx")))
    for form in forms
]
