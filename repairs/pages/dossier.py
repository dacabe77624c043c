"""Prints documents: the dossier of a zone, and the document of a whole asset."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.acting import find
from accounts.assets import Asset
from accounts.people import Person
from accounts.wording import say
from mapping.zones import Zone
from repairs.dossier import Reader, StillMoving, dossier_of
from repairs.dossier.asset import asset_dossier
from repairs.downloads import PDF, named
from repairs.pages.zones import current_coating


@login_required
@require_safe
def dossier(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """The zone's current coating (or its last) as a PDF in the reader's units and language."""
    person = cast(Person, request.user)
    try:
        return zone_pdf(find(person, Zone, pk), person)
    except StillMoving as problem:
        return _try_again(problem)


@login_required
@require_safe
def asset_document(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """The whole asset as a PDF in the reader's units and language."""
    person = cast(Person, request.user)
    try:
        return asset_pdf(find(person, Asset, pk), person)
    except StillMoving as problem:
        return _try_again(problem)


def zone_pdf(zone: Zone, person: Person) -> HttpResponseBase:
    """The dossier as an answer. Raises Http404 before a coating has begun, StillMoving when the record does not rest."""
    coating = current_coating(zone)
    if coating is None:
        raise Http404(say("No coating has begun on this zone, so there is nothing to print."))
    content = dossier_of(coating, _reader(person, zone.asset), timezone.now())
    return named(content, PDF, f"{zone.asset.name}, {zone.name}", say("dossier"), zone.asset, "pdf")


def asset_pdf(asset: Asset, person: Person) -> HttpResponseBase:
    """The asset's document as an answer. Raises StillMoving when the record does not rest."""
    content = asset_dossier(asset, _reader(person, asset), timezone.now())
    return named(content, PDF, asset.name, say("document"), asset, "pdf")


def _reader(person: Person, asset: Asset) -> Reader:
    return Reader(person.name, person.units, asset.zone_info)


def _try_again(problem: StillMoving) -> HttpResponse:
    words = say("{problem} Try again in a minute.", problem=problem)
    return HttpResponse(words, status=503, content_type="text/plain; charset=utf-8")
