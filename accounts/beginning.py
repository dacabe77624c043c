"""The first start: the first organisation and its administrator, written with a record entry like everything after it.

The one change that no appointment allows, because none exists yet; it is refused once any organisation exists.
"""

from __future__ import annotations

from typing import NamedTuple

from django.contrib.auth.password_validation import validate_password
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from accounts import record
from accounts.ids import new_id
from accounts.people import Appointment, Organisation, Person, Role
from accounts.wording import say


class AlreadyBegun(Exception):
    """An organisation exists; new ones are made by its administrators."""


class Begun(NamedTuple):
    organisation: Organisation
    person: Person


def begin_with(*, organisation: str, name: str, email: str, password: str | None = None) -> Begun:
    """Make the first organisation, and its first person as administrator and owner of all its assets.

    Without a password the person sets one by the invitation link.

    Raises AlreadyBegun; django's ValidationError for a bad email or a weak password.
    """
    validate_email(email)
    with transaction.atomic():
        if Organisation.objects.exists():
            raise AlreadyBegun(
                say("Barespot has begun here already: sign in, or ask an administrator for an invitation.")
            )
        firm = Organisation(name=organisation)
        person = Person(organisation=firm, name=name, email=email)
        if password is None:
            person.set_unusable_password()
        else:
            validate_password(password, person)
            person.set_password(password)
        now = timezone.now()
        roles = [
            Appointment(person=person, organisation=firm, asset=None, role=role, since=now)
            for role in (Role.ADMIN, Role.OWNER)
        ]
        rows = [firm, person, *roles]
        for row in rows:
            row.save(force_insert=True)
        operation = new_id()
        (locked,) = record.lock([firm.pk])
        record.append(
            locked,
            operation=operation,
            request_digest=record.sha256(record.canonical({"what": "begin", "input": {"organisation": organisation}})),
            what="begin",
            actor=person,
            organisation=firm,
            device_at=now,
            server_at=now,
            clock_offset_s=None,
            given={"target": str(firm.pk), "organisation": organisation},
            rows=rows,
            consequences=[],
        )
    return Begun(firm, person)
