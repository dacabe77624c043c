"""Proves the record: chain, columns, rows, derivations, files and guards. Reads only, in one snapshot, streaming.

What it names is where stored data and the record part; it never repairs. Private and derived columns are not in the
record: derived ones are proved by recomputation (`register_derivation`), private ones cannot be.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain, pairwise
from typing import Any, NamedTuple
from uuid import UUID

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection, transaction

from accounts import guards
from accounts.evidence import Evidence
from accounts.record import Entry, Head, Record, canonical, digest_of, image, plain, table_of
from accounts.rows import Row

CHUNK = 500
FEW = 20  # entries at a time: the body of one may hold 500 images
ENTRY, RECORD = Entry._meta.db_table, Record._meta.db_table
MISSING = "missing"
# Columns of an entry that its hashed body says again; "previous" and "digest" are proved by the chain itself.
SAID_AGAIN = ("record", "operation", "request_digest", "seq", "what", "actor", "organisation", "device_at", "server_at")
COLUMN = {field.name: field.attname for field in Entry._meta.concrete_fields}
ANY_ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


class Problem(NamedTuple):
    """One place where stored data is not what the record says."""

    table: str
    row: str
    column: str
    expected: str
    found: str

    def __str__(self) -> str:
        return f"{self.table} {self.row} {self.column}: expected {self.expected}, found {self.found}"


@dataclass
class Tally:
    """What was gone through, filled while the problems are read."""

    entries: int = 0
    rows: int = 0
    files: int = 0
    heads: dict[UUID, Head] = field(default_factory=dict)


Derivation = Callable[[UUID], Iterable[Problem]]
DERIVATIONS: dict[str, Derivation] = {}


def register_derivation(name: str, prove: Derivation) -> None:
    """Add a proof of derived columns or tables: called with each record's id, it yields where recomputation differs."""
    if name in DERIVATIONS:
        raise ValueError(f"derivation {name} is registered twice")
    DERIVATIONS[name] = prove


def verify(record: UUID | None = None, tally: Tally | None = None) -> Iterator[Problem]:
    """Every problem in one record, or in all of them."""
    tally = tally if tally is not None else Tally()
    with _snapshot():
        yield from (Problem(guard.table, "-", guard.name, "guard in place", MISSING) for guard in guards.missing())
        images = _Images()
        moved: set[Problem] = set()  # an entry in the wrong record is met where it is and where it lacks
        records = Record.objects.order_by("pk")
        for found in (records.filter(pk=record) if record else records).iterator(CHUNK):
            for problem in _prove_chain(found, images, tally):
                if problem not in moved:
                    yield problem
                if problem.column == "record":
                    moved.add(problem)
        for model in guards.recorded_models():
            yield from _prove_rows(model, record, images, tally)
        # Last, because they are recomputed from the rows: where those differ, what follows here may be a consequence.
        for pk in tally.heads:
            yield from _prove_derivations(pk)


@contextmanager
def _snapshot() -> Iterator[None]:
    """One consistent view while others go on writing."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    else:
        # Not atomic(): that begins by taking the write lock, and a long proof would keep everyone waiting.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")


class _Images:
    """Digest and place of each row's last image, in a scratch file: a big record does not fit in memory."""

    def __init__(self) -> None:
        self._scratch = sqlite3.connect("")
        self._scratch.executescript(
            "CREATE TABLE image (name, id, entry, place, digest, seen DEFAULT 0, PRIMARY KEY (name, id)) WITHOUT ROWID;"
            "CREATE TABLE doubtful (id PRIMARY KEY) WITHOUT ROWID;"
        )
        self._body: tuple[int, Any] = (0, None)

    def add(self, entry: Entry, rows: list[tuple[str, dict[str, Any]]]) -> None:
        for place, (table, told) in enumerate(rows):
            self._scratch.execute(
                "INSERT OR REPLACE INTO image (name, id, entry, place, digest) VALUES (?, ?, ?, ?, ?)",
                (table, told["id"], entry.pk, place, _digest(canonical(told))),
            )
            self._scratch.execute("DELETE FROM doubtful WHERE id = ?", (told["id"],))

    def doubt(self, entry: Entry) -> None:
        """A damaged body proves nothing about the rows it names until a later entry names them again."""
        ids = {str(entry.operation), *ANY_ID.findall(entry.body)}
        self._scratch.executemany("INSERT OR IGNORE INTO doubtful VALUES (?)", ((found,) for found in ids))

    def is_doubtful(self, pk: str) -> bool:
        return self._scratch.execute("SELECT 1 FROM doubtful WHERE id = ?", (pk,)).fetchone() is not None

    def find(self, table: str, pk: str) -> tuple[int, int, bytes] | None:
        """Entry, place in it and digest of the row's last image."""
        found: tuple[int, int, bytes] | None = self._scratch.execute(
            "SELECT entry, place, digest FROM image WHERE name = ? AND id = ?", (table, pk)
        ).fetchone()
        return found

    def mark(self, table: str, pk: str) -> None:
        self._scratch.execute("UPDATE image SET seen = 1 WHERE name = ? AND id = ?", (table, pk))

    def unseen(self, table: str) -> Iterator[tuple[str, int, int]]:
        """Id, entry and place of each image whose row was not marked."""
        yield from self._scratch.execute("SELECT id, entry, place FROM image WHERE name = ? AND NOT seen", (table,))

    def read(self, entry: int, place: int) -> dict[str, Any]:
        if self._body[0] != entry:
            self._body = (entry, _parse(Entry.objects.values_list("body", flat=True).get(pk=entry)))
        told: dict[str, Any] = self._body[1]["rows"][place][1]
        return told


def _prove_chain(record: Record, images: _Images, tally: Tally) -> Iterator[Problem]:
    """Walk the entries in order; each is judged alone first, so that one changed byte is named where it is."""
    last = Head(0, "")
    entries = record.entries.order_by("seq").iterator(FEW)
    for entry, after in pairwise(chain(entries, (None,))):
        assert entry is not None
        tally.entries += 1
        previous, digest = entry.previous, entry.digest
        if digest_of(previous, entry.body) != digest:
            follows = after.previous if after else record.head_hash
            if digest_of(last.digest, entry.body) == digest:
                yield _wrong(entry, "previous", last.digest, previous)
                previous = last.digest
            elif digest_of(previous, entry.body) == follows:
                yield _wrong(entry, "digest", follows, digest)
                digest = follows
            else:
                yield _wrong(
                    entry, "body", f"text with digest {digest}", f"text with digest {digest_of(previous, entry.body)}"
                )
                images.doubt(entry)
                yield from _not_linked(record, last, Head(entry.seq, previous), images)
                last = Head(entry.seq, digest)
                continue
        said = _parse(entry.body)
        for name in SAID_AGAIN:
            stored = plain(getattr(entry, COLUMN[name]))
            if stored != said.get(name):
                yield _wrong(entry, name, said.get(name), stored)
        if said["record"] != str(record.pk) or (said["seq"] != entry.seq and previous != last.digest):
            continue  # named above; its images count where it belongs, when the walk finds a gap there
        yield from _not_linked(record, last, Head(int(said["seq"]), previous), images)
        images.add(entry, said["rows"])
        last = Head(int(said["seq"]), digest)
    yield from _wrong_head(record, last, images)
    tally.heads[record.pk] = record.head


def _not_linked(record: Record, last: Head, here: Head, images: _Images) -> Iterator[Problem]:
    """What is wrong between the last entry and this one; `here` is its number and the digest it names as previous."""
    between = _between(last.digest, here.digest)
    if between is not None:
        for entry in between:
            images.add(entry, _parse(entry.body)["rows"])
            if entry.record_id != record.pk:
                yield _wrong(entry, "record", record.pk, entry.record_id)
    elif here.seq > last.seq + 1:
        yield Problem(ENTRY, str(record.pk), "seq", f"entries {last.seq + 1} to {here.seq - 1}", MISSING)
    else:
        yield Problem(ENTRY, f"{record.pk} seq {here.seq}", "previous", last.digest, here.digest)


def _between(start: str, end: str) -> list[Entry] | None:
    """The entries that lead from one digest to the other though they stand elsewhere; None when nothing leads there."""
    found: list[Entry] = []
    while end != start:
        entry = Entry.objects.filter(digest=end).first()
        if entry is None or entry in found or digest_of(entry.previous, entry.body) != entry.digest:
            return None
        found.insert(0, entry)
        end = entry.previous
    return found


def _wrong_head(record: Record, last: Head, images: _Images) -> Iterator[Problem]:
    both = record.head_seq != last.seq and record.head_hash != last.digest
    if both and _between(last.digest, record.head_hash) is not None:
        yield from _not_linked(record, last, record.head, images)
        return
    if both and record.head_seq > last.seq:
        yield Problem(ENTRY, str(record.pk), "seq", f"entries {last.seq + 1} to {record.head_seq}", MISSING)
        return
    if record.head_seq != last.seq:
        yield Problem(RECORD, str(record.pk), "head_seq", str(last.seq), str(record.head_seq))
    if record.head_hash != last.digest:
        yield Problem(RECORD, str(record.pk), "head_hash", last.digest, record.head_hash)


def _prove_rows(model: type[Row], record: UUID | None, images: _Images, tally: Tally) -> Iterator[Problem]:
    """Every stored row equals its last image, every image has its row."""
    table = table_of(model)
    rows = model._base_manager.order_by("pk")
    if record:
        rows = rows.filter(**{"pk" if model.record_path == "self" else model.record_path: record})
    for row in rows.iterator(CHUNK):
        tally.rows += 1
        pk = str(row.pk)
        last = images.find(table, pk)
        images.mark(table, pk)
        if images.is_doubtful(pk):
            continue
        if last is None:
            yield Problem(table, pk, "id", "an entry that made this row", MISSING)
            continue
        stored = image(row)
        same = _digest(canonical(stored)) == last[2]
        changed = [] if same else list(_changed(table, pk, images.read(*last[:2]), stored))
        yield from changed
        if isinstance(row, Evidence) and row.redacted_at is None and not changed:
            tally.files += 1
            yield from _prove_file(row)
    for pk, entry, place in images.unseen(table):
        lost = model._base_manager.filter(pk=pk).first()
        if lost is None:
            yield Problem(table, pk, "id", "the row", MISSING)
        elif not images.is_doubtful(pk):  # a changed reference makes it look like a row of another record
            yield from _changed(table, pk, images.read(entry, place), image(lost))


def _changed(table: str, pk: str, told: dict[str, Any], stored: dict[str, Any]) -> Iterator[Problem]:
    """The columns that differ. A column younger than the image is in no entry and is not judged."""
    for column, value in told.items():
        if column in stored and canonical(stored[column]) != canonical(value):
            yield Problem(table, pk, column, canonical(value), canonical(stored[column]))


def _prove_derivations(record: UUID) -> Iterator[Problem]:
    for name, prove in DERIVATIONS.items():
        try:
            yield from prove(record)
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, ObjectDoesNotExist) as failure:
            # Changed rows can be such that nothing can be computed from them; the other records are still proved.
            yield Problem(name, str(record), "recomputation", "a result", f"{type(failure).__name__}: {failure}")


def _prove_file(row: Evidence) -> Iterator[Problem]:
    try:
        with row.path.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        found = MISSING
    if found != row.sha256:
        yield Problem(table_of(row), str(row.pk), "file", row.sha256, found)


def _wrong(entry: Entry, column: str, expected: Any, found: Any) -> Problem:
    return Problem(
        ENTRY,
        str(entry.pk),
        column,
        *(f"{value:.0f}" if column == "seq" else str(value) for value in (expected, found)),
    )


def _parse(body: str) -> Any:
    """Canonical JSON knows one kind of number; whole numbers above 2**53 come back as they were only as floats."""
    return json.loads(body, parse_int=float)


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode()).digest()
