"""What imports of tables share: a file or pasted text, kept as evidence, every bad row named."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError

from accounts import access
from accounts.acting import REGISTRY, Acting, AlreadyRecorded
from accounts.assets import Asset
from accounts.evidence import Evidence, keep
from accounts.people import Person
from accounts.record import Entry, Record
from accounts.tablefile import MOST_BYTES, Problem, media_type
from accounts.wording import say

PASTED = "pasted.csv"


class TableGiven(serializers.Serializer):
    """A file, or the same as pasted text."""

    private = ("text",)

    file = serializers.FileField(
        required=False,
        allow_null=True,
        default=None,
        label=_("File"),
        max_length=200,
        help_text=_("CSV or XLSX, up to 10 MB."),
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

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if refused := refusal_of(given["file"], given["text"]):
            raise serializers.ValidationError({"file": refused})
        return given


def refusal_of(file: UploadedFile | None, text: str) -> str:
    """Why this is not one table of a size that is taken; empty when it is."""
    if bool(file) == bool(text.strip()):
        return say("Give one of the two: a file, or pasted text.")
    if file and (file.size or 0) > MOST_BYTES:
        size, most = (file.size or 0) / 1e6, MOST_BYTES // 1_000_000
        return say("{name} has {size:.1f} MB; up to {most} MB are taken.", name=file.name, size=size, most=most)
    return ""


def content_of(file: UploadedFile | None, text: str) -> tuple[bytes, str]:
    """The bytes of the table and the name it has."""
    return (file.read(), str(file.name)) if file else (text.encode(), PASTED)


def check_may_look(person: Person, name: str, asset: Asset) -> None:
    """Raises NotFound or PermissionDenied as the action itself does."""
    if not access.visible(person, Asset).filter(pk=asset.pk).exists():
        raise NotFound(say("There is no such asset."))
    what = REGISTRY[name]
    if not what.roles & set(access.roles_on(person, asset)):
        names = ", ".join(sorted(role.label.lower() for role in what.roles))
        raise PermissionDenied(say('"{title}" is done by: {names}.', title=what.title, names=names))


def refuse_rows(problems: Iterable[Problem]) -> None:
    """Raises ValidationError with every bad cell by its row and column; nothing when there is none."""
    told: dict[str, dict[str, list[str]]] = {}
    for item in problems:
        told.setdefault(f"row {item.row}", {}).setdefault(item.column, []).append(item.sentence)
    if told:
        raise ValidationError({"file": told})


def refuse_nothing_new(act: Acting, asset: Asset, empty: str, words: str) -> None:
    """The table says nothing new: it is recorded already, or there is nothing in it."""
    entries = Entry.objects.filter(record=asset.pk).order_by("seq")
    entry = entries.filter(what=act.action.name).last() or entries.last()
    if entry is None:
        act.refuse("file", empty)
    raise AlreadyRecorded(entry, words)


def keep_table(act: Acting, asset: Asset, content: bytes, name: str) -> None:
    """Keep the file as evidence, once."""
    digest = keep(content)
    if not Evidence.objects.filter(record=asset.pk, sha256=digest).exists():
        act.insert(
            Evidence(
                record=Record.objects.get(pk=asset.pk),
                sha256=digest,
                name=name[:200],
                media_type=media_type(content),
                size=len(content),
                received_at=timezone.now(),
            )
        )
