"""Rows for tests, straight into the tables; `recorded` makes the entry that tells of them, as an action would."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import factory
from django.db import transaction
from factory.django import DjangoModelFactory

from accounts import evidence, record
from accounts.access import record_id
from accounts.assets import Asset
from accounts.evidence import Evidence
from accounts.ids import new_id
from accounts.people import Appointment, Organisation, Person, Role
from accounts.record import Entry, Record
from accounts.rows import Row

LONG_AGO = datetime(2024, 1, 1, tzinfo=UTC)


class OrganisationFactory(DjangoModelFactory[Organisation]):
    class Meta:
        model = Organisation

    name = factory.Sequence(lambda n: f"Marlow Water {n}")


class PersonFactory(DjangoModelFactory[Person]):
    """`PersonFactory(password="...")` can sign in; without one nobody can."""

    class Meta:
        model = Person

    name = factory.Sequence(lambda n: f"Robin Vale {n}")
    email = factory.Sequence(lambda n: f"robin{n}@marlow.example")
    organisation: Any = factory.SubFactory(OrganisationFactory)

    @classmethod
    def _create(cls, model_class: type[Person], *args: Any, password: str | None = None, **values: Any) -> Person:
        person = model_class(*args, **values)
        person.set_password(password)
        person.save(force_insert=True)
        return person


class AssetFactory(DjangoModelFactory[Asset]):
    class Meta:
        model = Asset

    organisation: Any = factory.SubFactory(OrganisationFactory)
    name = factory.Sequence(lambda n: f"Marlow main {n}")
    kind = "buried water transmission main"
    time_zone = "America/Denver"


class AppointmentFactory(DjangoModelFactory[Appointment]):
    """In force since 2024 on every asset of the person's organisation, unless told otherwise."""

    class Meta:
        model = Appointment

    person: Any = factory.SubFactory(PersonFactory)
    organisation: Any = factory.SelfAttribute("person.organisation")
    role = Role.CREW
    since = LONG_AGO


class EvidenceFactory(DjangoModelFactory[Evidence]):
    """`EvidenceFactory(record=..., content=b"...")` keeps the bytes too."""

    class Meta:
        model = Evidence

    name = "gauge certificate.pdf"
    media_type = "application/pdf"
    received_at = LONG_AGO

    @classmethod
    def _create(cls, model_class: type[Evidence], *args: Any, content: bytes = b"%PDF-1.7", **values: Any) -> Evidence:
        row = model_class(*args, sha256=evidence.keep(content), size=len(content), **values)
        row.save(force_insert=True)
        return row


def appointed(role: Role, asset: Asset, organisation: Organisation | None = None) -> Person:
    """A person who holds the role on the asset since 2024, of the owner's organisation unless another is given."""
    person = PersonFactory(organisation=organisation or asset.organisation)
    AppointmentFactory(person=person, asset=asset, role=role)
    return person


@transaction.atomic
def recorded(*rows: Row) -> list[Entry]:
    """Append one entry on each record these rows belong to, holding them as they are now."""
    by_record: dict[UUID, list[Row]] = {}
    for row in rows:
        by_record.setdefault(record_id(row), []).append(row)
    entries = []
    for locked in record.lock(by_record):
        operation = new_id()
        entries.append(
            record.append(
                locked,
                operation=operation,
                request_digest=hashlib.sha256(operation.bytes).hexdigest(),
                what="set_up",
                actor=None,
                organisation=None,
                device_at=LONG_AGO,
                server_at=LONG_AGO,
                clock_offset_s=None,
                given={},
                rows=by_record[locked.pk],
                consequences=[],
            )
        )
    return entries


def record_of(row: Row) -> Record:
    """The record the row belongs to, made when there is none yet."""
    return Record.objects.get_or_create(pk=record_id(row))[0]
