"""Take it with you: an asset or zone as files, each form explained, and the files themselves."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.acting import find
from accounts.assets import Asset
from accounts.people import Person
from accounts.wording import say
from inspections.coatings import FieldSheet
from mapping.zones import Zone
from repairs.downloads import FORMS, everything, landmarks_along, one_sheet, one_table
from repairs.exports.jointlist import NAME, along
from repairs.exports.scope import Scope
from repairs.exports.tables import tables_of


@login_required
@require_safe
def take_asset(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What can be taken of an asset, and in which form."""
    scope = asset_scope(cast(Person, request.user), pk)
    joints = any(True for _ in along(scope.asset))
    return render(request, "repairs/take.html", {**_shown(scope), "asset": scope.asset, "joints": joints})


@login_required
@require_safe
def take_zone(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What can be taken of a zone, and in which form."""
    scope = zone_scope(cast(Person, request.user), pk)
    sheets = FieldSheet.objects.filter(coating__zone=scope.zone).select_related("person", "coating")
    return render(
        request,
        "repairs/take.html",
        {
            **_shown(scope),
            "asset": scope.asset,
            "zone": scope.zone,
            "sheets": sheets.order_by("coating__number", "taken_at", "pk"),
            "begun": scope.zone.coatings.exists() if scope.zone else False,
        },
    )


@login_required
@require_safe
def asset_file(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """An asset in one of the forms, one of its tables, or its joint list."""
    scope = asset_scope(cast(Person, request.user), pk)
    if request.GET.get("what") == NAME:
        return landmarks_along(scope.asset)
    return _file(request, scope)


@login_required
@require_safe
def zone_file(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """A zone in one of the forms, or one of its tables."""
    return _file(request, zone_scope(cast(Person, request.user), pk))


@login_required
@require_safe
def sheet_file(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """A field sheet as a file that the import reads."""
    sheet = find(cast(Person, request.user), FieldSheet, pk)
    form = request.GET.get("form", "csv")
    if form not in ("csv", "xlsx"):
        raise Http404(say("A field sheet can be taken as csv or xlsx."))
    return one_sheet(sheet, form)


def asset_scope(person: Person, pk: UUID) -> Scope:
    return Scope(find(person, Asset, pk))


def zone_scope(person: Person, pk: UUID) -> Scope:
    zone = find(person, Zone, pk)
    return Scope(zone.asset, zone)


def _file(request: HttpRequest, scope: Scope) -> HttpResponseBase:
    """Everything in the form that `what` names, or the table of that name as CSV; a workbook when nothing is named."""
    what = request.GET.get("what", "xlsx")
    if what in FORMS:
        return everything(scope, what)
    there = {table.name: table for table in tables_of(scope)}
    if what not in there:
        raise Http404(say("There is no such file here; there are: {files}.", files=", ".join([*FORMS, *there])))
    return one_table(scope, there[what])


def _shown(scope: Scope) -> dict[str, object]:
    return {
        "tables": [(table.name, say(table.what), len(table.columns)) for table in tables_of(scope)],
        "head": scope.head(),
        "title": scope.title,
        "file_url": reverse("zone_file", args=[scope.zone.pk])
        if scope.zone
        else reverse("asset_file", args=[scope.asset.pk]),
    }
