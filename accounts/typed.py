"""Reads what a page sent into an action's input.

Units printed beside a box are added to bare numbers, times are local to the asset, absent ticks mean no. It refuses
nothing: what cannot be read goes on as typed, for the serializer to refuse.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Any, cast

from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from rest_framework import serializers
from rest_framework.fields import empty

from accounts.units import NotRead, QuantityField, read

LISTS = (serializers.ListField, serializers.MultipleChoiceField)
MOST_ITEMS = 100
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
        if isinstance(each, serializers.ListSerializer):
            value = _items(each, full, posted, files, reader)
        elif isinstance(each, serializers.Serializer):
            if left_blank(each, posted, f"{full}.") and not each.required:
                value = None if each.allow_null else empty
            else:
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


def items_posted(posted: QueryDict, name: str) -> int:
    """How many items of a repeated part a page sent: those it counted, and any more that are named."""
    counted = posted.get(f"{name}.rows", "")
    named = [
        int(found.group(1)) + 1 for key in posted if (found := re.match(rf"{re.escape(name)}\.(\d{{1,3}})\.", key))
    ]
    return min(max([int(counted) if counted.isdecimal() else 0, *named]), MOST_ITEMS)


def left_blank(serializer: serializers.Serializer, posted: QueryDict, prefix: str) -> bool:
    """Whether nothing was typed into a nested part; choices and what starts with a default do not count."""
    for name, each in serializer.fields.items():
        full = f"{prefix}{name}"
        if isinstance(each, serializers.ListSerializer):
            child = cast(serializers.Serializer, each.child)
            if not all(left_blank(child, posted, f"{full}.{at}.") for at in range(items_posted(posted, full))):
                return False
        elif isinstance(each, serializers.Serializer) and not left_blank(each, posted, f"{full}."):
            return False
        if isinstance(each, serializers.ChoiceField | serializers.BooleanField) and not isinstance(each, LISTS):
            continue
        if each.default in (empty, None, "") and any(text.strip() for text in posted.getlist(f"{prefix}{name}")):
            return False
    return True


def _items(
    each: serializers.ListSerializer, name: str, posted: QueryDict, files: MultiValueDict[str, Any], reader: Reader
) -> list[dict[str, Any]]:
    """The items of a repeated part; those left blank at the end are not sent, so that places and refusals agree."""
    child = cast(serializers.Serializer, each.child)
    count = items_posted(posted, name)
    while count and left_blank(child, posted, f"{name}.{count - 1}."):
        count -= 1
    return [given_from_page(child, posted, files, reader, f"{name}.{number}.") for number in range(count)]


def rows_changed(posted: QueryDict) -> QueryDict | None:
    """What was typed with one item more or less, where that was pressed; None where another button was."""
    more, drop = posted.get("more", ""), posted.get("drop", "")
    if not more and not drop:
        return None
    changed = posted.copy()
    for name in ("more", "drop"):
        changed.pop(name, None)
    if more:
        changed[f"{more}.rows"] = str(min(items_posted(posted, more) + 1, MOST_ITEMS))
        return changed
    name, _, place = drop.rpartition(".")
    if not place.isdecimal():
        return changed
    gone, count = int(place), items_posted(posted, name)
    for number in range(gone, count):
        before, after = f"{name}.{number}.", f"{name}.{number + 1}."
        for key in [key for key in changed if key.startswith(before)]:
            del changed[key]
        for key in [key for key in changed if key.startswith(after)]:
            changed.setlist(before + key.removeprefix(after), changed.getlist(key))
    changed[f"{name}.rows"] = str(max(count - 1, 0))
    return changed


def _list(each: Any, name: str, posted: QueryDict, files: MultiValueDict[str, Any], reader: Reader) -> Any:
    child = getattr(each, "child", each)
    if isinstance(child, serializers.FileField):
        return files.getlist(name) or empty
    texts = posted.getlist(name)
    whole = serializers.ChoiceField | serializers.UUIDField | serializers.JSONField
    if len(texts) == 1 and not isinstance(child, whole):
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
