"""Adding a zone: which kind of surface it is, then its sizes."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import find, may
from accounts.assets import Asset
from accounts.forms import act_on_page, check_may
from accounts.people import Person
from accounts.wording import say
from mapping.actions.zones import AddZone
from mapping.surface_forms import FORMS


def form_of_kind(kind: str, asks: type[serializers.Serializer]) -> type[serializers.Serializer]:
    """An action's input with the sizes of one kind of surface asked one by one."""
    sizes = FORMS[kind].takes(label=_("Sizes"))
    return type(f"{asks.__name__}Of{kind.capitalize()}", (asks,), {"surface_kind": None, "surface": sizes})


@login_required
def add_zone(request: HttpRequest, pk: UUID) -> HttpResponse:
    """First which kind of surface the new zone is, then (`?kind=`) its sizes."""
    asset = find(cast(Person, request.user), Asset, pk)
    kind = request.GET.get("kind", "")
    if kind not in FORMS:
        return _kinds(request, asset)
    form = FORMS[kind]
    last = asset.zones.order_by("-order").first()
    here = reverse("add_zone", args=[asset.pk])
    return act_on_page(
        request,
        "add_zone",
        asset,
        takes=form_of_kind(kind, AddZone),
        known={"surface_kind": kind},
        initial={"face": form.face, "order": last.order + 1 if last else 1},
        context={
            "title": say("Add a zone: {kind}", kind=str(form.title).lower()),
            "lead": say("{says} Places on it are spoken like {example}.", says=form.says, example=form.example),
            "crumbs": [(asset.name, reverse("asset", args=[asset.pk])), (say("Add a zone"), here)],
        },
        success=lambda done: _added(done.made),
        to=lambda done: reverse("zone", args=[done.entry.operation]),
        cancel=here,
    )


def _kinds(request: HttpRequest, asset: Asset) -> HttpResponse:
    person = cast(Person, request.user)
    check_may(person, "add_zone", asset)
    here = reverse("add_zone", args=[asset.pk])
    shown = {
        "asset": asset,
        "kinds": [(f"{here}?kind={kind}", form) for kind, form in FORMS.items()],
        "may_import": may(person, "import_zones", asset),
    }
    return render(request, "mapping/kinds.html", shown, status=200 if request.method == "GET" else 422)


def _added(zone: Any) -> str:
    if zone is None:
        return say("This zone was added before; nothing changed.")
    return say('"{name}" is added: {limits}.', name=zone.name, limits=zone.surface.limits_text())
