"""The record: per asset (and per organisation) an append-only chain of entries, each hashing itself and the one before."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, NamedTuple
from uuid import UUID

import rfc8785
from django.conf import settings
from django.db import connection, models

from accounts.people import Organisation
from accounts.rows import Row

NOTHING_BEFORE = ""
DIGEST_PREFIX = "barespot.1\n"


class Head(NamedTuple):
    """Where a chain stands: number of its last entry and that entry's digest."""

    seq: int
    digest: str


class Record(models.Model):
    """Chain head and lock row; shares its id with the asset or organisation it belongs to."""

    id = models.UUIDField(primary_key=True, editable=False)
    head_seq = models.PositiveBigIntegerField(default=0)
    head_hash = models.CharField(max_length=64, default=NOTHING_BEFORE, blank=True)

    @property
    def head(self) -> Head:
        return Head(self.head_seq, self.head_hash)


class Entry(models.Model):
    """One operation as it was accepted. `body` is canonical JSON (RFC 8785) and is hashed as stored."""

    id = models.BigAutoField(primary_key=True)
    record = models.ForeignKey(Record, models.PROTECT, related_name="entries")
    seq = models.PositiveBigIntegerField()
    operation = models.UUIDField()
    request_digest = models.CharField(max_length=64)
    what = models.CharField(max_length=60)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    organisation = models.ForeignKey(Organisation, models.PROTECT, null=True, related_name="+")
    device_at = models.DateTimeField()
    server_at = models.DateTimeField()
    body = models.TextField()
    previous = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["record", "seq"]
        constraints = [
            models.UniqueConstraint(fields=["record", "seq"], name="entry_seq_once"),
            models.UniqueConstraint(fields=["record", "previous"], name="entry_previous_once"),
            models.UniqueConstraint(fields=["record", "operation"], name="entry_operation_once"),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.what}"


def plain(value: Any) -> Any:
    """A value as canonical JSON takes it: ids and times as text (UTC, microseconds), shapes as hex WKB."""
    if value is None or isinstance(value, bool | str | float):
        return value
    if isinstance(value, int):
        return value if abs(value) < 2**53 else str(value)
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, models.Model):
        return str(value.pk)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if hasattr(value, "wkb_hex"):
        return value.wkb_hex
    return str(value)


def canonical(value: Any) -> str:
    return rfc8785.dumps(plain(value)).decode()


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def digest_of(previous: str, body: str) -> str:
    """The entry's digest: sha256 of a fixed prefix, the previous digest and the body text."""
    return sha256(f"{DIGEST_PREFIX}{previous}\n{body}")


def image(row: Row) -> dict[str, Any]:
    """The after-image of a row: every stored column but the derived and the private ones."""
    left_out = {*row.derived, *row.private}
    return {
        field.attname: plain(field.value_from_object(row))
        for field in row._meta.concrete_fields
        if field.name not in left_out
    }


def table_of(row: Row | type[Row]) -> str:
    return row._meta.db_table


def lock(ids: Iterable[UUID]) -> list[Record]:
    """The records with these ids, made where missing and locked until the transaction ends, always in id order."""
    wanted = sorted(set(ids))
    rows = Record.objects.filter(pk__in=wanted).order_by("pk")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(no_key=True)
    found = list(rows)
    if len(found) != len(wanted):
        Record.objects.bulk_create([Record(pk=pk) for pk in wanted], ignore_conflicts=True)
        found = list(rows.all())
    return found


def append(
    record: Record,
    *,
    operation: UUID,
    request_digest: str,
    what: str,
    actor: models.Model | None,
    organisation: models.Model | None,
    device_at: datetime,
    server_at: datetime,
    clock_offset_s: float | None,
    given: Any,
    rows: Sequence[Row],
    consequences: Sequence[Any],
) -> Entry:
    """Append one entry to a locked record and move its head."""
    seq = record.head_seq + 1
    body = canonical(
        {
            "v": 1,
            "record": record.pk,
            "operation": operation,
            "request_digest": request_digest,
            "seq": seq,
            "what": what,
            "actor": actor,
            "organisation": organisation,
            "device_at": device_at,
            "server_at": server_at,
            "clock_offset_s": clock_offset_s,
            "input": given,
            "rows": [[table_of(row), image(row)] for row in rows],
            "consequences": list(consequences),
        }
    )
    entry = Entry(
        record=record,
        seq=seq,
        operation=operation,
        request_digest=request_digest,
        what=what,
        actor_id=actor.pk if actor else None,
        organisation_id=organisation.pk if organisation else None,
        device_at=device_at,
        server_at=server_at,
        body=body,
        previous=record.head_hash,
        digest=digest_of(record.head_hash, body),
    )
    entry.save(force_insert=True)
    record.head_seq, record.head_hash = entry.seq, entry.digest
    record.save(update_fields=["head_seq", "head_hash"])
    return entry
