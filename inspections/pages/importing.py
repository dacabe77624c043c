"""Importing a field sheet in two presses: look at it (a dry run that writes no row), then record all of it."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import find, perform
from accounts.evidence import keep, kept
from accounts.forms import Form, build_form, check_may, reader_of, see_other
from accounts.people import Person
from accounts.tablefile import MOST_BYTES, TableError
from accounts.wording import say
from inspections.actions.importing import PASTED, look
from inspections.coatings import Coating, FieldSheet
from inspections.sheetfile import read_sheet

LOOKED = "looked_at"


class LookAt(serializers.Serializer):
    file = serializers.FileField(required=False, label=_("File"), help_text=_("CSV or XLSX, up to 10 MB."))
    text = serializers.CharField(
        required=False,
        allow_blank=True,
        label=_("Or paste the table"),
        style={"base_template": "textarea.html", "rows": 8},
    )


@login_required
def import_sheet(request: HttpRequest, pk: UUID) -> HttpResponse:
    """GET asks for the file; POST shows what recording it would do; POST with `digest` records what was looked at."""
    person = cast(Person, request.user)
    coating = find(person, Coating, pk)
    check_may(person, "import_sheet", coating)
    if request.method != "POST":
        return _page(request, coating, _form(person, coating, request))
    if request.POST.get("digest"):
        return _record(request, person, coating)
    file = request.FILES.get("file")
    text = request.POST.get("text", "")
    if bool(file) == bool(text.strip()):
        return _refused(request, person, coating, say("Give one of the two: a file, or pasted text."))
    if file and (file.size or 0) > MOST_BYTES:
        return _refused(
            request, person, coating, say("{file} is larger than the 10 MB that are taken.", file=file.name)
        )
    content, name = (file.read(), str(file.name)) if file else (text.encode(), PASTED)
    try:
        source = read_sheet(content, name)
    except TableError as problem:
        return _refused(request, person, coating, str(problem))
    plan = look(person, coating, source)
    if plan.may_record:
        keep(content)
        request.session[LOOKED] = {"digest": source.digest, "name": name, "coating": str(coating.pk)}
    status = 200 if plan.may_record else 422
    return _page(request, coating, _form(person, coating, request), status, plan=plan, source=source)


def _record(request: HttpRequest, person: Person, coating: Coating) -> HttpResponse:
    looked = request.session.get(LOOKED) or {}
    digest = request.POST["digest"]
    if looked.get("digest") != digest or looked.get("coating") != str(coating.pk):
        return _refused(request, person, coating, say("Look at the file first, then record it."))
    file = SimpleUploadedFile(looked["name"], kept(digest))
    operation = UUID(request.POST["id"]) if request.POST.get("id") else None
    try:
        done = perform("import_sheet", person, coating.pk, {"file": file, "confirmed": digest}, operation=operation)
    except serializers.ValidationError:
        # Somebody recorded something meanwhile: show the dry run as it stands now.
        plan = look(person, coating, read_sheet(kept(digest), looked["name"]))
        return _page(request, coating, _form(person, coating, request), 422, plan=plan, source=plan.source)
    request.session.pop(LOOKED, None)
    if done.status == "already":
        messages.info(request, " ".join(str(words) for words in done.said))
        return see_other(reverse("zone", args=[coating.zone_id]))
    sheet = cast(FieldSheet, done.made)
    messages.success(request, say("{sheet} is recorded: {name}, every row of it.", sheet=sheet, name=looked["name"]))
    return see_other(reverse("sheet", args=[sheet.pk]))


def _form(person: Person, coating: Coating, request: HttpRequest, **details: object) -> Form:
    return build_form(
        LookAt,
        button=say("Look at it first"),
        reader=reader_of(person, coating),
        url=request.get_full_path(),
        cancel=reverse("zone", args=[coating.zone_id]),
        **details,  # type: ignore[arg-type]
    )


def _refused(request: HttpRequest, person: Person, coating: Coating, message: str) -> HttpResponse:
    form = _form(person, coating, request, typed=request.POST, errors={"file": [message]})
    return _page(request, coating, form, 422)


def _page(request: HttpRequest, coating: Coating, form: Form, status: int = 200, **more: object) -> HttpResponse:
    shown = {"coating": coating, "zone": coating.zone, "asset": coating.zone.asset, "form": form, **more}
    return render(request, "inspections/import_sheet.html", shown, status=status)
