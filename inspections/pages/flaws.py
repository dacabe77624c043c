"""Reporting a flaw (tap, steps from a landmark, or typed), its tag shown huge, and its own page."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.acting import Done, find, may
from accounts.forms import act_on_page
from accounts.people import Person
from accounts.wording import say
from inspections.flaws import Flaw
from inspections.pages.doing import told
from inspections.runs import Run
from mapping.landmarks import Landmark
from mapping.zones import Zone


@login_required
def report(request: HttpRequest, pk: UUID) -> HttpResponse:
    run = find(cast(Person, request.user), Run, pk)
    zone = run.sheet.coating.zone
    marks = landmarks_near(zone)
    last = run.flaws.order_by("-sheet_seq").first()
    return act_on_page(
        request,
        "report_flaw",
        run,
        template="inspections/report_flaw.html",
        hidden=("sheet_seq", "number"),
        initial={"place": request.GET.get("place", "")},
        context={
            "run": run,
            "zone": zone,
            "landmarks": marks,
            "landmark_places": [
                {"name": str(mark), "x": mark.x, "said": zone.surface.chainage.print(mark.x)} for mark in marks
            ],
            "surface": {
                "low": zone.surface.outline.bounds[0],
                "high": zone.surface.outline.bounds[2],
                "period": zone.surface.period,
                "words": reverse("place_words", args=[zone.pk]),
            },
            "last": last,
            "sheet_url": reverse("zone_drawing", args=[zone.pk]),
        },
        success=lambda done: told(_tag(done), done),
        to=lambda done: reverse("flaw_tag", args=[done.entry.operation]),
        cancel=reverse("run", args=[run.pk]),
    )


def _tag(done: Done) -> str:
    return done.made.tag if done.made else "Flaw"


def landmarks_near(zone: Zone) -> list[Landmark]:
    """Landmarks of the zone and the nearest on either side, in order of chainage."""
    low, _, high, _ = zone.surface.outline.bounds
    return list(
        Landmark.objects.filter(asset=zone.asset, struck_at=None, x__gte=low - 15, x__lte=high + 15).order_by("x")
    )


@login_required
@require_safe
def tag(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The tag, shown huge to paint beside the flaw."""
    flaw = find(cast(Person, request.user), Flaw, pk)
    return render(request, "inspections/tag.html", {"flaw": flaw, "run": flaw.run, "zone": flaw.sheet.coating.zone})


@login_required
@require_safe
def flaw_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    flaw = find(person, Flaw, pk)
    zone = flaw.sheet.coating.zone
    return render(
        request,
        "inspections/flaw.html",
        {
            "flaw": flaw,
            "run": flaw.run,
            "zone": zone,
            "asset": zone.asset,
            "printed": zone.surface.print_place(flaw.x, flaw.y),
            "from_landmarks": from_landmarks(zone, flaw),
            "classifications": flaw.classifications.select_related("by").order_by("-at"),
            "may_classify": may(person, "classify_flaw", flaw),
            "here": request.get_full_path(),
        },
    )


def from_landmarks(zone: Zone, flaw: Any) -> list[str]:
    """The way from the nearest landmark on either side, as a painter measures it."""
    marks = landmarks_near(zone)
    before = max((mark for mark in marks if mark.x <= flaw.x), key=lambda mark: mark.x, default=None)
    after = min((mark for mark in marks if mark.x > flaw.x), key=lambda mark: mark.x, default=None)
    length = zone.surface.chainage.print_length
    said = []
    if before:
        said.append(say("{length} past {before}", length=length(flaw.x - before.x), before=before))
    if after:
        said.append(say("{length} before {after}", length=length(after.x - flaw.x), after=after))
    return said


@login_required
@require_safe
def place_words(request: HttpRequest, pk: UUID) -> JsonResponse:
    """The spoken form of plane metres x, y on a zone: `{"said": "1+250.40 @ 4:30:00"}`."""
    zone = find(cast(Person, request.user), Zone, pk)
    try:
        x, y = float(request.GET["x"]), float(request.GET["y"])
        said = zone.surface.print_place(x, y)
        zone.surface.read_place(said)
    except (KeyError, ValueError) as problem:
        return JsonResponse({"problem": str(problem)}, status=400)
    return JsonResponse({"said": said})
