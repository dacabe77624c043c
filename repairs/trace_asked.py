"""What is asked of a trace: the subject, the days that are in doubt, and in which part a person's work is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import NamedTuple
from uuid import UUID

from rest_framework.exceptions import ValidationError

from accounts.languages import day_words
from accounts.people import Person
from accounts.wording import say
from repairs.trace import Period
from repairs.trace_subjects import PERSONS_PARTS, Kind, Subject, find_subject


class Asked(NamedTuple):
    """What somebody asked, read from the address."""

    subject: Subject
    period: Period


def asked_of(person: Person, kind: Kind, pk: UUID, given: Mapping[str, str]) -> Asked:
    """The subject (NotFound) and the days. Raises ValidationError naming what is not allowed."""
    subject = find_subject(person, kind, pk)
    wrong: dict[str, list[str]] = {}
    days: dict[str, date | None] = {}
    for name in ("from", "to"):
        said = given.get(name, "").strip()
        try:
            days[name] = date.fromisoformat(said) if said else None
        except ValueError:
            wrong[name] = [say('"{said}" is not allowed: a day as 2025-06-03.', said=said[:40])]
    part = given.get("part", "")
    if part and (kind != "person" or part not in PERSONS_PARTS):
        allowed = ", ".join(PERSONS_PARTS) if kind == "person" else say("none")
        wrong["part"] = [say('"{said}" is not allowed: {allowed}.', said=part[:40], allowed=allowed)]
    since, until = days.get("from"), days.get("to")
    if since and until and until < since:
        wrong["to"] = [say("{until} is not allowed: {since} or later.", until=until, since=since)]
    if wrong:
        raise ValidationError(wrong)
    if part:
        subject = find_subject(person, kind, pk, frozenset({part}))
    return Asked(subject, Period(since, until))


def days_in_words(period: Period) -> str:
    """The days of a period, "" for always."""
    since, until = period
    if since and until:
        if since == until:
            return day_words(since)
        return say("{since} to {until}", since=day_words(since), until=day_words(until))
    if since:
        return say("{since} and later", since=day_words(since))
    return say("the time up to {until}", until=day_words(until)) if until else ""
