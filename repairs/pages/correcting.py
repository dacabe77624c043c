"""Correcting the surface of a zone or the stationing of an asset, with what stands now filled in."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from accounts.acting import find
from accounts.assets import Asset
from accounts.forms import act_on_page
from accounts.people import Person
from accounts.wording import say, say_many
from inspections.pages.doing import OWN_PAGES
from inspections.runs import Run
from mapping.pages.zones import form_of_kind
from mapping.surface_forms import FORMS, sizes_as_typed
from mapping.zones import Zone
from repairs.actions.correction import CorrectSurface


@login_required
def correct_surface(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The zone's sizes; `?kind=` where even the kind of surface was wrong."""
    zone = find(cast(Person, request.user), Zone, pk)
    kind = request.GET.get("kind", zone.surface_kind)
    if kind not in FORMS:
        kind = zone.surface_kind
    sizes = sizes_as_typed(zone.surface) if kind == zone.surface_kind else {}
    runs = Run.objects.filter(sheet__coating__zone=zone).count()
    here = reverse("zone", args=[zone.pk])
    lead = (
        say_many(
            "{count} run is recorded on it. Every place is read anew from what was said, and coverage is computed again.",
            "{count} runs are recorded on it. Every place is read anew from what was said, and coverage is computed again.",
            runs,
        )
        if runs
        else say("Nothing is recorded on it yet.")
    )
    return act_on_page(
        request,
        "correct_surface",
        zone,
        takes=form_of_kind(kind, CorrectSurface),
        known={"surface_kind": kind},
        initial={"face": zone.face, "surface": sizes},
        context={
            "lead": lead,
            "crumbs": [(zone.asset.name, reverse("asset", args=[zone.asset_id])), (zone.name, here)],
        },
        success=say("{name} is corrected.", name=zone.name),
        to=here,
        cancel=here,
    )


OWN_PAGES["correct_surface"] = correct_surface


@login_required
def set_stationing(request: HttpRequest, pk: UUID) -> HttpResponse:
    """How chainage is spoken on an asset, with what stands now filled in."""
    asset = find(cast(Person, request.user), Asset, pk)
    here = reverse("asset", args=[asset.pk])
    equations = [f"{back:.2f} back = {ahead:.2f} ahead" for back, ahead in asset.station_equations]
    return act_on_page(
        request,
        "set_stationing",
        asset,
        initial={
            "unit_system": asset.unit_system,
            "foot": asset.foot,
            "chainage_start": asset.chainage_start,
            "station_equations": equations,
        },
        context={
            "lead": say("What was said stays; every zone, landmark and place is read anew from it."),
            "crumbs": [(asset.name, here)],
        },
        success=say("Recorded. Chainages are read and printed so from now on."),
        to=here,
        cancel=here,
    )


OWN_PAGES["set_stationing"] = set_stationing
