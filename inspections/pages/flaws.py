"""Reporting a flaw (tap, steps from a landmark, or typed), its tag shown huge, and its own page."""

from __future__ import annotations

from typing import cast
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
from inspections.marks import MARKS, marks_in
from inspections.pages.doing import told
from inspections.runs import Run
from mapping.axes import placed, size_words, two_bearings
from mapping.fields import place_on
from mapping.landmarks import landmarks_near
from mapping.stepping import as_json, steps_of
from mapping.surface_forms import FORMS
from mapping.surfaces.plane import Place
from mapping.zones import Zone


@login_required
def report(request: HttpRequest, pk: UUID) -> HttpResponse:
    run = find(cast(Person, request.user), Run, pk)
    zone = run.sheet.coating.zone
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
            "axes": steps_of(zone.surface, landmarks_near(zone)),
            "stepping": {
                "words": reverse("place_words", args=[zone.pk]),
                "axes": [as_json(axis) for axis in steps_of(zone.surface, [])],
            },
            "sizes": size_words(zone.surface),
            "note": zone.surface.distance_note,
            "example": FORMS[zone.surface_kind].example,
            "last": last,
            "sheet_url": reverse("zone_drawing", args=[zone.pk]),
        },
        success=lambda done: told(_tag(done), done),
        to=lambda done: reverse("flaw_tag", args=[done.entry.operation]),
        cancel=reverse("run", args=[run.pk]),
    )


def _tag(done: Done) -> str:
    return done.made.tag if done.made else say("Flaw")


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
            "from_landmarks": from_landmarks(zone, flaw.x, flaw.y),
            "sizes": size_words(zone.surface),
            "classifications": flaw.classifications.select_related("by").order_by("-at"),
            "may_classify": may(person, "classify_flaw", flaw),
            "marks": [MARKS[mark] for mark in marks_in(flaw.run, [flaw]).get(flaw.pk, ())],
            "asks_wet_run": flaw.run.surface_state == Run.SurfaceState.PUDDLES and flaw.run.method == "wet_sponge",
            "here": request.get_full_path(),
        },
    )


def from_landmarks(zone: Zone, x: float, y: float) -> list[str]:
    """The way from two landmarks that lie another way each, as a painter measures it."""
    marks = [mark.mark_on(zone.surface) for mark in landmarks_near(zone)]
    return [each.words for each in two_bearings(zone.surface, marks, Place(x, y))]


@login_required
@require_safe
def place_words(request: HttpRequest, pk: UUID) -> JsonResponse:
    """The spoken form of a place on a zone: of plane metres x, y, or of the figures of its two axes, first and second."""
    zone = find(cast(Person, request.user), Zone, pk)
    try:
        if "first" in request.GET:
            x, y = placed(zone.surface, float(request.GET["first"]), float(request.GET["second"]))
        else:
            x, y = float(request.GET["x"]), float(request.GET["y"])
        said = place_on(zone.surface, x, y).said
    except (KeyError, ValueError, OverflowError) as problem:
        return JsonResponse({"problem": str(problem)}, status=400)
    return JsonResponse({"said": said})
