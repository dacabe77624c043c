"""Importing a field sheet that a crew wrote as a CSV or XLSX file. All of it is recorded, or nothing."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import NotFound, PermissionDenied

from accounts import access
from accounts.acting import Acting, AlreadyRecorded, action
from accounts.people import Person, Role
from accounts.record import Entry
from accounts.tablefile import MOST_BYTES, TableError
from accounts.wording import say
from inspections import intake, intake_plan
from inspections.coatings import Coating, FieldSheet
from inspections.sheetfile import SheetFile, read_sheet

PASTED = "pasted.csv"


class ImportSheet(serializers.Serializer):
    """A file, or the same as pasted text. What was pasted is kept as the file is, and not once more in the entry."""

    private = ("text",)

    file = serializers.FileField(
        required=False,
        allow_null=True,
        default=None,
        label=_("File"),
        max_length=200,
        help_text=_("CSV (UTF-8 or Windows-1252) or XLSX, up to 10 MB."),
    )
    text = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        trim_whitespace=False,
        max_length=MOST_BYTES,
        label=_("Or paste the table"),
        style={"base_template": "textarea.html"},
    )
    confirmed = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=64,
        label=_("Digest of the dry run"),
        help_text=_("sha256 of the file that was looked at; left empty it is not compared."),
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if bool(given["file"]) == bool(given["text"].strip()):
            raise serializers.ValidationError({"file": say("Give one of the two: a file, or pasted text.")})
        if given["file"] and given["file"].size > MOST_BYTES:
            size = f"{given['file'].size / 1e6:.1f} MB"
            raise serializers.ValidationError(
                {
                    "file": say(
                        "{file} has {size}; up to {most_bytes} MB are taken.",
                        file=given["file"].name,
                        size=size,
                        most_bytes=MOST_BYTES // 1_000_000,
                    )
                }
            )
        return given


@action("import_sheet", takes=ImportSheet, roles={Role.CREW}, on=Coating, title=_("Import a field sheet"))
def import_sheet(act: Acting, coating: Coating, given: dict[str, Any]) -> FieldSheet:
    """Record a field sheet from its file: all rows, or none and every bad one named. Twice the same changes nothing."""
    file = given["file"]
    content, name = (file.read(), file.name) if file else (given["text"].encode(), PASTED)
    try:
        source = read_sheet(content, name)
    except TableError as problem:
        act.refuse("file", str(problem))
    if given["confirmed"] and given["confirmed"] != source.digest:
        act.refuse(
            "confirmed", say("This is not the file that was looked at; its digest is {digest}.", digest=source.digest)
        )
    plan = intake.plan(coating, act.person, act.organisation, act.roles, source, act.now)
    if not plan.may_record:
        raise plan.refusal()
    if plan.changes_nothing:
        # The sheet's first entry is the one after the head it was begun on.
        entry = Entry.objects.get(record=coating.zone.asset_id, seq=plan.sheet.base_seq + 1)
        raise AlreadyRecorded(entry, plan.summary)
    return intake_plan.record(act, plan)


def look(person: Person, coating: Coating, source: SheetFile) -> intake_plan.Plan:
    """The dry run, for whoever may import: what recording the file would do. Writes nothing.

    Raises NotFound or PermissionDenied as the action does.
    """
    if not access.visible(person, Coating).filter(pk=coating.pk).exists():
        raise NotFound(say("There is no such coating."))
    held = access.roles_on(person, coating)
    if Role.CREW not in held:
        raise PermissionDenied(say('"Import a field sheet" is done by: inspection crew.'))
    return intake.plan(coating, person, held[Role.CREW], held, source, timezone.now())
