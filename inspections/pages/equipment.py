"""An organisation's instruments and electrodes, and the files kept as evidence."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.acting import find, may
from accounts.evidence import Evidence
from accounts.people import Organisation, Person
from accounts.wording import say
from inspections.instruments import Instrument


@login_required
@require_safe
def instruments(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    organisation = find(person, Organisation, pk)
    now = timezone.now()
    rows = (
        Instrument.objects.filter(organisation=organisation).prefetch_related("certificates").order_by("kind", "name")
    )
    return render(
        request,
        "inspections/instruments.html",
        {
            "organisation": organisation,
            "rows": [
                (row, row.certificate_at(now), sorted(row.certificates.all(), key=lambda c: c.due)) for row in rows
            ],
            "electrodes": organisation.electrodes.order_by("-width"),
            "may_register": may(person, "register_instrument", organisation),
            "here": request.get_full_path(),
        },
    )


@login_required
@require_safe
def evidence_file(request: HttpRequest, pk: UUID) -> FileResponse:
    """A file kept as evidence, always as a download: what somebody uploaded is never shown as a page of ours."""
    evidence = find(cast(Person, request.user), Evidence, pk)
    if evidence.redacted_at is not None or not evidence.path.exists():
        raise Http404(say("The file is not here any more; its digest stays in the record."))
    answer = FileResponse(
        evidence.path.open("rb"),
        as_attachment=True,
        filename=evidence.name or evidence.sha256,
        content_type=evidence.media_type,
    )
    answer["Cache-Control"] = "private, no-store"
    return answer
