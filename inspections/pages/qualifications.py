"""What a person is qualified as: every card with its last day, those that run out soon said on top."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.acting import find, may
from accounts.people import Organisation, Person
from inspections.qualifications import Qualification
from inspections.qualified import state_of, state_words


@login_required
@require_safe
def qualifications(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One person's cards; everybody reads their own."""
    me = cast(Person, request.user)
    person = find(me, Person, pk)
    today = timezone.localdate()
    rows = Qualification.objects.filter(person=person).select_related("by", "struck_by", "evidence")
    listed = [(row, state_of(row.fact, today), state_words(row.fact, today)) for row in rows.order_by("-issued", "-pk")]
    counting = [each for each in listed if not each[0].is_struck]
    return render(
        request,
        "inspections/qualifications.html",
        {
            "of": person,
            "is_me": person.pk == me.pk,
            "papers": listed,
            "wanting": [each for each in counting if each[1] in ("soon", "lapsed")],
            "counting": counting,
            "may_record": may(me, "record_qualification", person),
            "here": request.get_full_path(),
        },
    )


@login_required
@require_safe
def of_organisation(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Everybody of an organisation with their cards, so that what runs out is seen in time."""
    me = cast(Person, request.user)
    organisation = find(me, Organisation, pk)
    today = timezone.localdate()
    rows = Qualification.objects.filter(person__organisation=organisation, struck_at=None).order_by("-issued", "-pk")
    held: dict[UUID, list[tuple[Qualification, str, str]]] = {}
    for row in rows:
        held.setdefault(row.person_id, []).append((row, state_of(row.fact, today), state_words(row.fact, today)))
    people = [
        (person, held.get(person.pk, []))
        for person in organisation.people.filter(is_active=True).order_by("name", "pk")
    ]
    wanting = [(person, *paper) for person, papers in people for paper in papers if paper[1] in ("soon", "lapsed")]
    return render(
        request,
        "inspections/organisation_qualifications.html",
        {"organisation": organisation, "people": people, "wanting": wanting, "here": request.get_full_path()},
    )
