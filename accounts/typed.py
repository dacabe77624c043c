"""Reads what a page sent into an action's input.

Units printed beside a box are added to bare numbers, times are local to the asset, absent ticks mean no. It refuses
nothing: what cannot be read goes on as typed, for the serializer to refuse.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Any

from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from rest_framework import serializers
from rest_framework.fields import empty

from accounts.units import NotRead, QuantityField, read

LISTS = (serializers.ListField, serializers.MultipleChoiceField)
LIST_BREAKS = re.compile(r"\n|;|,\s")


@dataclass(frozen=True)
class Reader:
    """Who reads and types: their units ("si" or "us"), and the zone their times are in."""

    units: str = "si"
    zone: tzinfo = UTC


NOBODY = Reader()


def must_be_answered(each: serializers.BooleanField) -> bool:
    """A required yes or no is asked as two tiles: leaving a tick away must not decide. `style={"tick": True}` asks one."""
    return each.required and not each.allow_null and not each.style.get("tick", False)


def given_from_page(
    serializer: serializers.Serializer,
    posted: QueryDict,
    files: MultiValueDict[str, Any],
    reader: Reader,
    prefix: str = "",
) -> dict[str, Any]:
    """The action's input as a page sent it: plain values by field name, ready for `perform`."""
    given: dict[str, Any] = {}
    for name, each in serializer.fields.items():
        if each.read_only or isinstance(each, serializers.HiddenField):
            continue
        full = f"{prefix}{name}"
        value: Any
        if isinstance(each, serializers.Serializer):
            value = given_from_page(each, posted, files, reader, f"{full}.") or empty
        elif isinstance(each, LISTS):
            value = _list(each, full, posted, files, reader)
        elif isinstance(each, serializers.FileField):
            value = files.get(full, empty)
        elif isinstance(each, serializers.BooleanField) and not each.allow_null and not must_be_answered(each):
            value = posted.get(full, "") not in ("", "false", "False")
        else:
            value = _one(each, posted.get(full, ""), reader)
        if value is not empty:
            given[name] = value
    return given


def _list(each: Any, name: str, posted: QueryDict, files: MultiValueDict[str, Any], reader: Reader) -> Any:
    child = getattr(each, "child", each)
    if isinstance(child, serializers.FileField):
        return files.getlist(name) or empty
    texts = posted.getlist(name)
    if len(texts) == 1 and not isinstance(child, serializers.ChoiceField | serializers.UUIDField):
        texts = _split(texts[0], isinstance(child, QuantityField | serializers.FloatField | serializers.IntegerField))
    items = [_one(child, text, reader) for text in texts if text.strip()]
    return items if items or not each.required else empty


def _split(text: str, figures: bool) -> list[str]:
    """Lines, and what semicolons or commas with a space part; figures without a unit may also be parted by spaces."""
    parts: list[str] = []
    for piece in LIST_BREAKS.split(text.replace("\r", "")):
        words = piece.split()
        bare = figures and all(re.fullmatch(r"[+-]?[\d.,]+", word) for word in words)
        parts += words if bare else [piece.strip()]
    return parts


def _one(each: serializers.Field, text: str, reader: Reader) -> Any:
    if text.strip() == "":
        if getattr(each, "allow_blank", False):
            return ""
        return None if each.allow_null else empty
    if isinstance(each, serializers.DateTimeField):
        return local_moment(text, reader.zone)
    if isinstance(each, QuantityField):
        return with_unit(text, each, reader.units)
    if isinstance(each, serializers.FloatField | serializers.DecimalField):
        return text.strip().replace("\u2212", "-").replace(",", ".")
    if isinstance(each, serializers.JSONField):
        try:
            return json.loads(text)
        except ValueError:
            return text
    return text


def local_moment(text: str, zone: tzinfo) -> str:
    """A page's local time with the zone's offset; what cannot be read is passed on for the serializer to refuse."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return text
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).isoformat()


def with_unit(text: str, each: QuantityField, units_of_person: str) -> str:
    """The text with the unit printed beside its box when it names none."""
    try:
        _, unit = read(text, each.kind)
    except NotRead:
        return text
    return text.strip() if unit else f"{text.strip()} {each.unit_for(units_of_person)}"
