"""The input of a change as it was sent: plain data for the digest and the record, and what of it cannot be kept."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from rest_framework.exceptions import ValidationError

from accounts import record
from accounts.wording import say

YEARS = (1900, 2200)  # a time further off is a slip, and no calendar of a time zone takes the very first and last years
LONG_AGO = datetime(YEARS[0], 1, 1, tzinfo=UTC)


def untellable(heard: Mapping[str, Any]) -> dict[str, list[str]]:
    """By name, the inputs that no entry can hold."""
    wrong = {}
    for name, value in heard.items():
        try:
            record.canonical(value)
        except ValueError:
            wrong[name] = [say("This holds a number without end or half a character, which cannot be kept.")]
    return wrong


def check_years(given: Mapping[str, Any]) -> None:
    """Refuse days and moments that are a slip of the hand."""
    low, high = YEARS
    wrong = {
        name: [
            say(
                "{value:%Y-%m-%d} is no day to work on; years from {low} to {high} are taken.",
                value=value,
                low=low,
                high=high,
            )
        ]
        for name, value in given.items()
        if isinstance(value, date) and not low <= value.year <= high
    }
    if wrong:
        raise ValidationError(wrong)


def as_heard(given: Mapping[str, Any]) -> dict[str, Any]:
    """The input as plain data for digest and record: lists of a form flattened, files by name, size and sha256."""
    heard: dict[str, Any] = {}
    for name in given:
        values = given.getlist(name) if hasattr(given, "getlist") else [given[name]]
        told = [_told(value) for value in values]
        heard[name] = told[0] if len(told) == 1 else told
    heard.pop("csrfmiddlewaretoken", None)
    return heard


def _told(value: Any) -> Any:
    if isinstance(value, UploadedFile):
        content = value.read()
        value.seek(0)
        return {"file": value.name, "size": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    return record.plain(value)
