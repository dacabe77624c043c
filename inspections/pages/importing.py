"""Importing a field sheet, or a thickness gauge's file, in two presses: look at it (a dry run that writes no row), then
record all of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast
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
from accounts.typed import given_from_page
from accounts.wording import say
from inspections.actions.importing import PASTED, ImportGaugeFile, gauge_sheet, look
from inspections.coatings import Coating, FieldSheet
from inspections.sheetfile import SheetFile, read_sheet

LOOKED = "looked_at"
TEMPLATES = {"import_sheet": "inspections/import_sheet.html", "import_gauge_file": "inspections/import_gauge_file.html"}
DECLARED = ("unit", "unit_confirmed", "at", "gauge", "area", "shift", "correction", "stage")


class LookAt(serializers.Serializer):
    file = serializers.FileField(required=False, label=_("File"), help_text=_("CSV or XLSX, up to 10 MB."))
    text = serializers.CharField(
        required=False,
        allow_blank=True,
        label=_("Or paste the table"),
        style={"base_template": "textarea.html", "rows": 8},
    )


class LookAtGaugeFile(LookAt):
    """The same with what is said of the whole file, by the fields of the action."""

    def get_fields(self) -> dict[str, serializers.Field]:
        asked = ImportGaugeFile().get_fields()
        return {"unit": asked["unit"], **super().get_fields(), **{name: asked[name] for name in DECLARED[1:]}}


@login_required
def import_sheet(request: HttpRequest, pk: UUID) -> HttpResponse:
    """GET asks for the file; POST shows what recording it would do; POST with `digest` records what was looked at."""
    return _import(request, pk, "import_sheet", LookAt)


@login_required
def import_gauge_file(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The same for what a thickness gauge gave."""
    return _import(request, pk, "import_gauge_file", LookAtGaugeFile)


def _import(request: HttpRequest, pk: UUID, name: str, takes: type[serializers.Serializer]) -> HttpResponse:
    person = cast(Person, request.user)
    coating = find(person, Coating, pk)
    check_may(person, name, coating)
    page = _Page(request, person, coating, name, takes)
    if request.method != "POST":
        return page.answer(page.form())
    if request.POST.get("digest"):
        return _record(page)
    file = request.FILES.get("file")
    text = request.POST.get("text", "")
    if bool(file) == bool(text.strip()):
        return page.refused({"file": [say("Give one of the two: a file, or pasted text.")]})
    if file and (file.size or 0) > MOST_BYTES:
        return page.refused({"file": [say("{file} is larger than the 10 MB that are taken.", file=file.name)]})
    content, filename = (file.read(), str(file.name)) if file else (text.encode(), PASTED)
    declared = page.declared()
    try:
        source = page.source(content, filename, declared)
    except TableError as problem:
        return page.refused({"file": [str(problem)]})
    except serializers.ValidationError as problem:
        return page.refused(problem.detail)
    plan = look(person, coating, source)
    if plan.may_record:
        keep(content)
        looked = {
            "digest": source.digest,
            "name": filename,
            "coating": str(coating.pk),
            "declared": declared,
            "does": name,
        }
        request.session[LOOKED] = looked
    status = 200 if plan.may_record else 422
    return page.answer(page.form(typed=request.POST if declared else None), status, plan=plan, source=source)


@dataclass(frozen=True)
class _Page:
    """One of the two imports on its page: who, on which coating, by which action, asked by which form."""

    request: HttpRequest
    person: Person
    coating: Coating
    name: str
    takes: type[serializers.Serializer]

    def source(self, content: bytes, filename: str, declared: Mapping[str, str]) -> SheetFile:
        """The file as it is read with what was declared. Raises TableError, ValidationError."""
        if self.name == "import_sheet":
            return read_sheet(content, filename)
        given = ImportGaugeFile(data={"text": "-", **declared})
        given.is_valid(raise_exception=True)
        return gauge_sheet(self.coating, content, filename, given.validated_data)

    def declared(self) -> dict[str, str]:
        """What was said of the whole file, as the session keeps it; times by the asset's clock."""
        if self.name == "import_sheet":
            return {}
        typed = given_from_page(
            self.takes(), self.request.POST, self.request.FILES, reader_of(self.person, self.coating)
        )
        return {field: str(typed[field]) for field in DECLARED if typed.get(field) not in (None, "")}

    def form(self, **details: Any) -> Form:
        return build_form(
            self.takes,
            button=say("Look at it first"),
            reader=reader_of(self.person, self.coating),
            url=self.request.get_full_path(),
            cancel=reverse("zone", args=[self.coating.zone_id]),
            **details,
        )

    def refused(self, errors: Any) -> HttpResponse:
        return self.answer(self.form(typed=self.request.POST, errors=errors), 422)

    def answer(self, form: Form, status: int = 200, **more: object) -> HttpResponse:
        zone = self.coating.zone
        shown = {"coating": self.coating, "zone": zone, "asset": zone.asset, "form": form, **more}
        return render(self.request, TEMPLATES[self.name], shown, status=status)


def _record(page: _Page) -> HttpResponse:
    request, person, coating = page.request, page.person, page.coating
    looked = request.session.get(LOOKED) or {}
    digest = request.POST["digest"]
    if (looked.get("digest"), looked.get("coating"), looked.get("does")) != (digest, str(coating.pk), page.name):
        return page.refused({"file": [say("Look at the file first, then record it.")]})
    file = SimpleUploadedFile(looked["name"], kept(digest))
    operation = UUID(request.POST["id"]) if request.POST.get("id") else None
    given = {"file": file, "confirmed": digest, **looked["declared"]}
    try:
        done = perform(page.name, person, coating.pk, given, operation=operation)
    except serializers.ValidationError:
        # Somebody recorded something meanwhile: show the dry run as it stands now.
        plan = look(person, coating, page.source(kept(digest), looked["name"], looked["declared"]))
        return page.answer(page.form(), 422, plan=plan, source=plan.source)
    request.session.pop(LOOKED, None)
    if done.status == "already":
        messages.info(request, " ".join(str(words) for words in done.said))
        return see_other(reverse("zone", args=[coating.zone_id]))
    sheet = cast(FieldSheet, done.made)
    messages.success(request, say("{sheet} is recorded: {name}, every row of it.", sheet=sheet, name=looked["name"]))
    return see_other(reverse("sheet", args=[sheet.pk]))
