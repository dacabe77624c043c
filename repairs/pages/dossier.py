"""Prints the dossier of a zone."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from accounts.acting import find
from accounts.people import Person
from accounts.wording import say
from mapping.zones import Zone
from repairs.dossier import Reader, StillMoving, dossier_of
from repairs.downloads import disposition
from repairs.pages.zones import current_coating


@login_required
@require_safe
@cache_control(private=True, no_store=True)
def dossier(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The zone's current coating (or its last) as a PDF in the reader's units."""
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    coating = current_coating(zone)
    if coating is None:
        raise Http404(say("No coating has begun on this zone, so there is nothing to print."))
    printed_at = timezone.now()
    reader = Reader(person.name, person.units, zone.asset.zone_info)
    try:
        document = dossier_of(coating, reader, printed_at)
    except StillMoving as problem:
        return HttpResponse(
            say("{problem} Try again in a minute.", problem=problem),
            status=503,
            content_type="text/plain; charset=utf-8",
        )
    answer = HttpResponse(document, content_type="application/pdf")
    day = f"{printed_at.astimezone(reader.clock):%Y-%m-%d}"
    answer["Content-Disposition"] = disposition(
        say("{asset}, {zone}, dossier {day}", asset=zone.asset.name, zone=zone.name, day=day), "pdf"
    )
    return answer
