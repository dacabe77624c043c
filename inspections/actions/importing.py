"""Importing a field sheet that a crew wrote as a CSV or XLSX file. All of it is recorded, or nothing."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
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
from inspections.actions.sheets import next_letter
from inspections.coatings import Coating, FieldSheet
from inspections.gaugefile import DECLARABLE, Declared, read_gauge_file
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
    try:
        source = read_sheet(*_content(given))
    except TableError as problem:
        act.refuse("file", str(problem))
    return _record(act, coating, source, given["confirmed"])


def _content(given: Mapping[str, Any]) -> tuple[bytes, str]:
    """The bytes of the file or of what was pasted, and its name."""
    file = given["file"]
    return (file.read(), file.name) if file else (given["text"].encode(), PASTED)


def _record(act: Acting, coating: Coating, source: SheetFile, confirmed: str) -> FieldSheet:
    """Record what was read, all of it or nothing."""
    if confirmed and confirmed != source.digest:
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


class ImportGaugeFile(ImportSheet):
    """What a thickness gauge gave, with what is said of the whole file."""

    unit = serializers.ChoiceField(
        choices=[(unit, unit) for unit in DECLARABLE],
        label=_("Readings are in"),
        help_text=_("Read it on the gauge: a file without its unit is not a measurement."),
    )
    unit_confirmed = serializers.BooleanField(
        required=False,
        default=False,
        label=_("The unit is right"),
        help_text=_("Tick it where the readings look as if they were in another unit, and are not."),
        style={"tick": True},
    )
    at = serializers.DateTimeField(
        required=False,
        allow_null=True,
        default=None,
        label=_("First reading taken"),
        help_text=_(
            "Day and time, for rows that name none: a check of the gauge counts for what was measured around it."
        ),
    )
    gauge = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=60,
        label=_("Gauge, serial number"),
        help_text=_("For rows that name none."),
    )
    area = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=60, label=_("Area measurement")
    )
    shift = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=60, label=_("Coated in shift")
    )
    correction = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=40,
        label=_("Correction for the profile"),
        help_text=_(
            "Subtracted from each reading. Empty: what the specification says; 0 for a gauge zeroed on the profile."
        ),
    )
    stage = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=60, label=_("Coat stage"),
        help_text=_("Leave empty for the finished system."),
    )  # fmt: skip

    def get_fields(self) -> dict[str, serializers.Field]:
        """The digest of the dry run comes last: people do not fill it."""
        fields = super().get_fields()
        return {**fields, "confirmed": fields.pop("confirmed")}


def gauge_sheet(coating: Coating, content: bytes, name: str, given: Mapping[str, Any]) -> SheetFile:
    """A gauge's file as a field sheet. The same file comes on the sheet it made before, another on the next free one.

    Raises TableError when it cannot be read at all.
    """
    digest = hashlib.sha256(content).hexdigest()
    before = FieldSheet.objects.filter(coating=coating, source__sha256=digest).first()
    declared = Declared(
        unit=given["unit"],
        letter=before.letter if before else next_letter(coating),
        surface=coating.zone.surface.kind,
        start=given["at"].astimezone(coating.zone.asset.zone_info).replace(tzinfo=None) if given["at"] else None,
        gauge=given["gauge"],
        stage=given["stage"],
        area=given["area"],
        shift=given["shift"],
        correction=given["correction"],
        is_right=given["unit_confirmed"],
    )
    return read_gauge_file(content, name, declared)


@action(
    "import_gauge_file",
    takes=ImportGaugeFile,
    roles={Role.CREW},
    on=Coating,
    title=_("Import thickness readings"),
)
def import_gauge_file(act: Acting, coating: Coating, given: dict[str, Any]) -> FieldSheet:
    """Record thickness spots from a gauge's file: all rows, or none and every bad one named. Twice the same changes nothing."""
    content, name = _content(given)
    try:
        source = gauge_sheet(coating, content, name, given)
    except TableError as problem:
        act.refuse("file", str(problem))
    return _record(act, coating, source, given["confirmed"])


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
