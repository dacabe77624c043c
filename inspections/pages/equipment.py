"""An organisation's instruments and electrodes, and the files kept as evidence."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.acting import find, may
from accounts.evidence import Evidence
from accounts.forms import act_on_page
from accounts.people import Organisation, Person
from accounts.wording import say
from inspections.instruments import Certificate, Instrument


class Listed(NamedTuple):
    """An instrument with the certificate in force and all it has; `days_left` where that falls due soon."""

    instrument: Instrument
    paper: Certificate | None
    days_left: int | None
    papers: list[Certificate]


def _listed(instrument: Instrument, now: datetime) -> Listed:
    paper = instrument.certificate_at(now)
    papers = sorted(instrument.certificates.all(), key=lambda each: (each.issued, each.due), reverse=True)
    return Listed(instrument, paper, paper.due_within(now.date()) if paper else None, papers)


@login_required
@require_safe
def instruments(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    organisation = find(person, Organisation, pk)
    now = timezone.now()
    rows = (
        Instrument.objects.filter(organisation=organisation, retired_at=None)
        .prefetch_related("certificates__struck_by", "certificates__evidence")
        .order_by("kind", "name")
    )
    listed = [_listed(row, now) for row in rows]
    return render(
        request,
        "inspections/instruments.html",
        {
            "organisation": organisation,
            "rows": listed,
            "wanting": [row for row in listed if row.paper is None or row.days_left is not None],
            "retired": Instrument.objects.filter(organisation=organisation).exclude(retired_at=None).order_by("name"),
            "detectors": any(row.instrument.kind == Instrument.Kind.DETECTOR for row in listed),
            "electrodes": organisation.electrodes.filter(retired_at=None).order_by("-width"),
            "may_register": may(person, "register_instrument", organisation),
            "here": request.get_full_path(),
        },
    )


@login_required
def amend_instrument(request: HttpRequest, pk: UUID) -> HttpResponse:
    instrument = find(cast(Person, request.user), Instrument, pk)
    back = reverse("instruments", args=[instrument.organisation_id])
    return act_on_page(
        request,
        "amend_instrument",
        instrument,
        initial={name: getattr(instrument, name) for name in ("name", "volts_min", "volts_max", "reads")},
        context={"lead": str(instrument), "crumbs": [(say("Instruments"), back)]},
        success=say("Corrected."),
        to=back,
        cancel=back,
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
