"""How lists come in pages: rows by cursor in the order of their ids, entries of a record by their number."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request

from accounts.wording import say

PAGE = 100
MOST = 1000


def whole_number(request: Request, name: str, *, least: int, most: int, default: int) -> int:
    """The query parameter `name`. Raises ValidationError saying what is allowed."""
    said = request.query_params.get(name)
    if said is None:
        return default
    if not (said.isascii() and said.isdecimal() and len(said) < 20 and least <= int(said) <= most):
        raise ValidationError(
            {
                name: [
                    say(
                        '"{said}" is not allowed: a whole number from {least} to {most}.',
                        said=said[:40],
                        least=least,
                        most=most,
                    )
                ]
            }
        )
    return int(said)


class ByCursor(CursorPagination):
    """Pages that neither skip nor repeat a row while others are added; `next` and `previous` are whole addresses."""

    ordering = ("pk",)
    page_size = PAGE
    page_size_query_param = "limit"
    max_page_size = MOST
    page_size_query_description = f"Rows a page: 1 to {MOST}, {PAGE} when left out."
    cursor_query_description = "Taken from `next` or `previous`, never made up."

    def get_page_size(self, request: Request) -> int:
        return whole_number(request, "limit", least=1, most=MOST, default=PAGE)

    def get_ordering(self, request: Request, queryset: QuerySet[Any], view: Any) -> tuple[str, ...]:
        return self.ordering

    def decode_cursor(self, request: Request) -> Cursor | None:
        """The cursor as sent. Raises ValidationError when it is none of ours."""
        try:
            cursor = super().decode_cursor(request)
            if cursor is not None and cursor.position is not None:
                UUID(str(cursor.position))
        except (NotFound, ValueError):
            raise ValidationError({"cursor": [say("This is no cursor: take it from next or previous.")]}) from None
        return cursor

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        parameters = super().get_schema_operation_parameters(view)
        for parameter in parameters:
            if parameter["name"] == "limit":
                parameter["schema"] = {"type": "integer", "minimum": 1, "maximum": MOST, "default": PAGE}
        return parameters

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        link = {"type": ["string", "null"], "format": "uri", "readOnly": True}
        return {
            "type": "object",
            "required": ["next", "previous", "results"],
            "properties": {"next": link, "previous": link, "results": schema},
        }
