"""Addresses under /api/v1/: reads by collection, actions by the registry, the description of both, and an index."""

from __future__ import annotations

from functools import cache
from typing import Any

from django.http import HttpResponse
from django.urls import URLPattern, URLResolver, path
from django.utils import translation
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

import accounts.api
import inspections.api
import mapping.api
import repairs.api
from accounts.acting import REGISTRY
from accounts.serving import Rows, action_urls
from accounts.worksheet_api import worksheet_urls

COLLECTIONS: tuple[type[Rows], ...] = (
    *accounts.api.COLLECTIONS,
    *mapping.api.COLLECTIONS,
    *inspections.api.COLLECTIONS,
    *repairs.api.COLLECTIONS,
)


class IndexView(APIView):
    """What there is, for people: collections, actions on their rows, and where everything is described."""

    permission_classes = (AllowAny,)

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        def address(name: str) -> str:
            return reverse(name, request=request)

        return Response(
            {
                "schema": address("api_schema"),
                "problems": address("problem_types"),
                "me": address("api_me"),
                "worksheets": address("api_worksheets"),
                "collections": {
                    each.collection: {
                        "what": (each.__doc__ or "").strip(),
                        "address": address(f"api_{each.collection}-list"),
                        "actions": sorted(name for name, does in REGISTRY.items() if does.on is each.model()),
                    }
                    for each in COLLECTIONS
                },
            }
        )


class SchemaView(SpectacularAPIView):
    """The description as YAML or JSON, in the reader's language."""

    @extend_schema(exclude=True)
    def get(self, request: Request) -> HttpResponse:
        wanted = request.accepted_renderer
        name = f'inline; filename="barespot-api.{wanted.format}"'
        content = _written(translation.get_language() or "en", wanted.format)
        return HttpResponse(content, content_type=wanted.media_type, headers={"Content-Disposition": name})


@cache
def _written(language: str, form: str) -> str | bytes:
    """Written once a process: it takes seconds, and anybody may ask."""
    renderer = next(each for each in SchemaView.renderer_classes if each.format == form)
    return renderer().render(_described(language))


@cache
def _described(language: str) -> dict[str, Any]:
    with translation.override(language):
        described: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
        return described


urlpatterns: list[URLPattern | URLResolver] = [
    path("", IndexView.as_view(), name="api_index"),
    path("schema/", SchemaView.as_view(), name="api_schema"),
    *accounts.api.urlpatterns,
    *mapping.api.urlpatterns,
    *inspections.api.urlpatterns,
    *repairs.api.urlpatterns,
    *action_urls(*COLLECTIONS),
    *worksheet_urls(),
]
