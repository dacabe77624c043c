"""What rests on an instrument, electrode, certificate, batch or person, what would be lost without it, and how it comes back."""

from __future__ import annotations

from typing import cast
from urllib.parse import urlencode
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe
from rest_framework.exceptions import ValidationError

from accounts.access import visible
from accounts.people import Organisation, Person
from accounts.wording import say
from inspections.instruments import Certificate
from repairs.downloads import CSV, disposition
from repairs.reader_words import said_in
from repairs.restoring import restoring
from repairs.restoring_words import set_in_words, without_a_sweep
from repairs.spoken import Spoken
from repairs.trace import ALWAYS, Trace, trace
from repairs.trace_asked import Asked, asked_of, days_in_words
from repairs.trace_file import trace_csv
from repairs.trace_reading import in_words
from repairs.trace_subjects import PARTS, PERSONS_PARTS, Kind, Subject, find_subject
from repairs.what_if import MOST_ZONES, TooMany, WhatIf, sentence_of, what_if
from repairs.work import Step

MOST_LINES = 200
"""Lines of one table on the page; the file has all."""


@login_required
@require_safe
def trace_page(request: HttpRequest, pk: UUID, kind: Kind) -> HttpResponseBase:
    """The page of a trace; with `file=csv` all of it as a file."""
    person = cast(Person, request.user)
    given = request.GET.dict()
    errors: list[str] = []
    try:
        asked = asked_of(person, kind, pk, given)
    except ValidationError as wrong:
        detail = cast(dict[str, list[str]], wrong.detail)
        errors = [f"{_NAMES[name]()}: {said}" for name, some in detail.items() for said in some]
        asked = Asked(find_subject(person, kind, pk), ALWAYS)
    found = trace(person, asked.subject, asked.period)

    spoken = said_in(person.units)
    loss, too_many = _loss(found, spoken)
    sets = restoring(loss) if loss else ()
    if request.GET.get("file") == "csv" and not errors:
        answer = HttpResponse(trace_csv(found, loss, sets), content_type=CSV)
        answer["Content-Disposition"] = disposition(say("What rests on {name}", name=asked.subject.name), "csv")
        answer["Cache-Control"] = "private, no-store"
        return answer
    return render(
        request,
        "repairs/trace.html",
        {
            "subject": asked.subject,
            "trace": found,
            "days": days_in_words(asked.period),
            "errors": errors,
            "given": given,
            "parts": [(part, say(PARTS[part])) for part in PERSONS_PARTS] if kind == "person" else [],
            "lines": in_words(found, MOST_LINES),
            "most": MOST_LINES,
            "loss": loss,
            "too_many": too_many,
            "most_zones": MOST_ZONES,
            "sets": sets,
            "file": f"?{urlencode({**given, 'file': 'csv'})}",
            "set_sentence": set_in_words(sets, spoken.area),
            "evidence": without_a_sweep(loss) if loss and loss.zones else [],
            "sentence": sentence_of(loss, days_in_words(asked.period), spoken.area) if loss else "",
            "assets": len({coating.zone.asset_id for coating in found.coatings.values()}),
            "counts": _counts(found),
            "nothing": _nothing(asked),
            "crumbs": _crumbs(person, asked.subject),
        },
        status=400 if errors else 200,
    )


_NAMES = {"from": lambda: say("From"), "to": lambda: say("To"), "part": lambda: say("In which part")}


def _loss(found: Trace, spoken: Spoken) -> tuple[WhatIf | None, int]:
    try:
        return what_if(found, spoken=spoken), 0
    except TooMany as more:
        return None, more.count


def _counts(found: Trace) -> dict[str, int]:
    cycles = found.of("cycle")
    return {
        "runs": len(found.runs),
        "spots": len(found.of("spot")),
        "airs": len(found.of("air")),
        "cycles": len(cycles),
        "patches": len({row.id for row in cycles}),
        "zones": len({coating.zone_id for coating in found.coatings.values()}),
        "releases": len(found.of("release")),
    }


def _nothing(asked: Asked) -> str:
    """Why there is nothing to show."""
    row = asked.subject.row
    if isinstance(row, Step) and not row.batch:
        return say("This step names no batch, so nothing can be followed from it.")
    if asked.period != ALWAYS:
        return say("Nothing that you may see rests on it in these days.")
    return say("Nothing that you may see rests on it.")


def _crumbs(person: Person, subject: Subject) -> list[tuple[str, str]]:
    """The way back, as far as the person may go it."""
    row = subject.row
    if isinstance(row, Step):
        patch = row.cycle.patch
        zone = patch.coating.zone
        return [(zone.name, reverse("zone", args=[zone.pk])), (str(patch), reverse("patch", args=[patch.pk]))]
    if isinstance(row, Certificate):
        row = row.instrument
    organisation = visible(person, Organisation).filter(pk=row.organisation_id).first()  # type: ignore[attr-defined]
    if organisation is None:
        return []
    way = [(organisation.name, reverse("organisation", args=[organisation.pk]))]
    if subject.kind != "person":
        way.append((say("Instruments"), reverse("instruments", args=[organisation.pk])))
    return way
