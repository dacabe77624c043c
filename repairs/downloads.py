"""Answers that are files: their types and names, and that nobody on the way keeps a copy."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from typing import IO, NamedTuple
from urllib.parse import quote

from django.http import FileResponse, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone

from accounts.assets import Asset
from accounts.wording import say
from inspections.coatings import FieldSheet
from repairs.exports.csvfile import archive, table_file
from repairs.exports.jointlist import joint_list
from repairs.exports.plane import collection
from repairs.exports.scope import Scope, Table
from repairs.exports.sheetfile import sheet_csv, sheet_workbook
from repairs.exports.workbook import workbook

PDF = "application/pdf"
CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class Form(NamedTuple):
    """A form in which everything is taken along: media type, and how its bytes are made."""

    media_type: str
    make: Callable[[Scope], Iterable[bytes] | IO[bytes]]


FORMS: dict[str, Form] = {
    "csv": Form("application/zip", archive),
    "xlsx": Form(XLSX, workbook),
    "geojson": Form("application/geo+json", collection),
}
_ENDINGS = {"csv": "zip"}


def everything(scope: Scope, form: str) -> HttpResponseBase:
    """All of the scope in one of FORMS."""
    media_type, make = FORMS[form]
    return named(make(scope), media_type, scope.title, "everything", scope.asset, _ENDINGS.get(form, form))


def one_table(scope: Scope, table: Table) -> HttpResponseBase:
    return named(table_file(table, scope), CSV, scope.title, table.name, scope.asset, "csv")


def landmarks_along(asset: Asset) -> HttpResponseBase:
    """The landmarks along an asset as the import of a joint list reads them."""
    return named(joint_list(asset), CSV, asset.name, say("joint list"), asset, "csv")


def one_sheet(sheet: FieldSheet, form: str) -> HttpResponseBase:
    """A field sheet as the import reads it: csv or xlsx."""
    zone = sheet.coating.zone
    content = sheet_workbook(sheet) if form == "xlsx" else sheet_csv(sheet)
    media_type = XLSX if form == "xlsx" else CSV
    return named(content, media_type, f"{zone.asset.name}, {zone.name}", f"sheet {sheet.letter}", zone.asset, form)


def named(
    content: bytes | Iterable[bytes] | IO[bytes], media_type: str, title: str, what: str, asset: Asset, ending: str
) -> HttpResponseBase:
    """The answer, named after what it is of, what it is, and the day at the asset."""
    answer: HttpResponseBase
    if isinstance(content, bytes):
        answer = HttpResponse(content, content_type=media_type)
    elif hasattr(content, "read"):
        answer = FileResponse(content, content_type=media_type)
    else:
        answer = StreamingHttpResponse(content, content_type=media_type)
    day = f"{timezone.now().astimezone(asset.zone_info):%Y-%m-%d}"
    answer["Content-Disposition"] = disposition(f"{title}, {what} {day}", ending)
    answer["Cache-Control"] = "private, no-store"
    return answer


def disposition(name: str, ending: str) -> str:
    """An attachment's header: a name in ASCII for everybody, and the true one for those who read UTF-8 (RFC 6266)."""
    full = " ".join(re.sub(r'[\x00-\x1f\x7f/\\:*?"<>|]', " ", name).split())
    plain = unicodedata.normalize("NFKD", full).encode("ascii", "ignore").decode()
    plain = " ".join(re.sub(r"[^A-Za-z0-9 ,.+_-]", "", plain).split())
    return f"attachment; filename=\"{plain}.{ending}\"; filename*=UTF-8''{quote(f'{full}.{ending}', safe='')}"
