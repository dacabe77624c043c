"""Ways to break the database and to see whether it notices; they work on the rows of any app.

unnamed_changes(rows)   stored columns whose change verify does not name exactly
unrefused(row)          raw SQL and bulk writes that the guards let through
in_child, killed_at     work in a forked process, killed before or after any of its SQL statements
"""

from __future__ import annotations

import math
import os
import signal
import sys
import traceback
import uuid
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import zip_longest
from typing import Any, NamedTuple
from unittest import mock

from django.db import IntegrityError, connection, connections, models, transaction
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from accounts import guards
from accounts.record import Entry, Record
from accounts.rows import Row
from accounts.verify import DERIVATIONS, Problem, verify

KILLED = -signal.SIGKILL
LET_THROUGH = "let through"


class Point(NamedTuple):
    """Where to kill: at the statement with this number (from 1), before or after it runs."""

    statement: int
    after: bool


def in_child(*works: Callable[[], object]) -> list[int]:
    """Run each work in its own forked process, all at once; their exit codes (0 done, 1 raised, KILLED)."""
    connections.close_all()  # a connection must not be shared with a child
    children = []
    for work in works:
        sys.stdout.flush()
        sys.stderr.flush()
        pid = os.fork()
        if pid == 0:
            _run_and_leave(work)
        children.append(pid)
    return [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in children]


def _run_and_leave(work: Callable[[], object]) -> None:
    try:
        work()
        connections.close_all()
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)


def killed_at(point: Point, work: Callable[[], object]) -> int:
    """Exit code of a child that is killed at the point, or ends by itself when the point lies beyond its end."""
    count = 0

    def kill(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        nonlocal count
        count += 1
        if count == point.statement and not point.after:
            os.kill(os.getpid(), signal.SIGKILL)
        result = execute(sql, params, many, context)
        if count == point.statement:
            os.kill(os.getpid(), signal.SIGKILL)
        return result

    def watched() -> None:
        with connection.execute_wrapper(kill):
            work()

    return in_child(watched)[0]


def statements_of(work: Callable[[], object]) -> int:
    """How many SQL statements the work takes, counted while it really runs."""
    count = 0

    def tick(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        nonlocal count
        count += 1
        return execute(sql, params, many, context)

    with connection.execute_wrapper(tick):
        work()
    return count


@contextmanager
def guards_lifted() -> Iterator[None]:
    """As somebody who owns the database could: the triggers dropped, later put back (unless they lacked already)."""
    stood = not guards.missing()
    guards.remove()
    yield
    if stood:
        guards.install()


@contextmanager
def tampered(row: models.Model, name: str) -> Iterator[bool]:
    """The smallest change of one stored column, undone afterwards; False when a constraint allows no such change."""
    rows = type(row)._base_manager.filter(pk=row.pk)
    stored = rows.get()
    field = row._meta.get_field(name)
    before = getattr(stored, name) if not field.is_relation else getattr(stored, field.attname)
    with guards_lifted():
        changed = any(_takes(rows, field.attname, value) for value in other_values(field, before))
    try:
        yield changed
    finally:
        with guards_lifted():
            rows.update(**{field.attname: before})


def _takes(rows: models.QuerySet[Any], column: str, value: Any) -> bool:
    try:
        with transaction.atomic():
            rows.update(**{column: value})
    except IntegrityError:
        return False
    return True


def other_values(field: models.Field[Any, Any], value: Any) -> list[Any]:
    """Values that differ as little as the type allows, the smallest change first."""
    if field.is_relation:
        field = field.target_field
    if value is None:
        return [_anything(field)]
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value + 1000]
    if isinstance(value, float):
        return [math.nextafter(value, math.inf)]
    if isinstance(value, Decimal):
        return [value + Decimal(1).scaleb(int(value.as_tuple().exponent))]
    if isinstance(value, uuid.UUID):
        return [uuid.UUID(int=value.int ^ 1)]
    if isinstance(value, datetime):
        return [value + timedelta(microseconds=1)]
    if isinstance(value, date):
        return [value + timedelta(days=1)]
    if isinstance(value, list):
        return [[*value, 0]]
    if isinstance(value, dict):
        return [{**value, "~": 0}]
    if isinstance(value, BaseGeometry):
        return [translate(value, 0.001)]
    if isinstance(value, str):
        return [value[:-1] + chr(ord(value[-1]) ^ 1)] if value else ["~"]
    raise TypeError(f"no other value known for {type(value).__name__}")


def _anything(field: models.Field[Any, Any]) -> Any:
    if isinstance(field, models.DateTimeField):
        return datetime(2024, 1, 1, tzinfo=UTC)
    if isinstance(field, models.DateField):
        return date(2024, 1, 1)
    if isinstance(field, models.UUIDField):
        return uuid.UUID(int=1)
    if isinstance(field, models.BooleanField):
        return True
    if isinstance(field, models.IntegerField | models.FloatField | models.DecimalField | models.JSONField):
        return 1
    return "~"


def proved_columns(model: type[Row]) -> list[str]:
    """Names of the columns the record holds: all but id, private and derived ones."""
    left_out = {"id", *model.private, *model.derived}
    return [field.name for field in model._meta.concrete_fields if field.name not in left_out]


def unnamed_changes(*rows: Row) -> list[str]:
    """Columns of recorded rows, each of another table, whose change is not named exactly.

    One column of every row is changed at a time and all are named by one proof, which takes as long for one as for all.
    """
    wrong = []
    columns = _columns_by_table()
    # What is recomputed changes with a row and is proved elsewhere; here it would only take long.
    with guards_lifted(), mock.patch.dict(DERIVATIONS, clear=True):
        for names in zip_longest(*(proved_columns(type(row)) for row in rows)):
            expected = set()
            with ExitStack() as changes:
                for row, name in zip(rows, names, strict=True):
                    # The database's own constraints refuse some changes.
                    if name is not None and changes.enter_context(tampered(row, name)):
                        expected.add((row._meta.db_table, str(row.pk), row._meta.get_field(name).attname))
                told = [place for place in named(verify()) if place[2] in columns.get(place[0], ())]
            wrong += [f"not named once: {place}" for place in sorted(expected) if told.count(place) != 1]
            wrong += [f"named without cause: {place}" for place in told if place not in expected]
    return wrong


def _columns_by_table() -> dict[str, set[str]]:
    """What the record itself holds. Lifted guards are not in it."""
    found: dict[str, set[str]] = {
        model._meta.db_table: {f.attname for f in model._meta.fields} for model in (Entry, Record)
    }
    for model in guards.recorded_models():
        names = ("id", *proved_columns(model))
        found[model._meta.db_table] = {"file"} | {model._meta.get_field(name).attname for name in names}
    return found


def named(problems: Iterable[Problem]) -> list[tuple[str, str, str]]:
    """Table, row and column of each problem."""
    return [(problem.table, problem.row, problem.column) for problem in problems]


def answer_of(sql: str, params: list[Any] | None = None) -> str:
    """What the database answers to a raw statement: its refusal, or LET_THROUGH (and then it is undone)."""
    try:
        with transaction.atomic():
            with connection.cursor() as cursor:
                if connection.vendor == "postgresql":  # it truncates nothing while foreign keys wait to be checked
                    cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
                cursor.execute(sql, params)
            transaction.set_rollback(True)
    except IntegrityError as refusal:
        return str(refusal)
    return LET_THROUGH


def unrefused(row: models.Model, facts: tuple[str, ...]) -> list[str]:
    """Attempts on a stored row that no guard of its table refuses; empty is good.

    An insert that turns into an update meets the table's own checks first: those refuse as well.
    """
    table = row._meta.db_table
    answers = {sql: answer_of(sql, params) for sql, params in _attempts(row, facts)}
    upserts = {f"bulk upsert of {name}": _bulk_upsert(row, name) for name in facts if name != "id"}
    return [f"{sql}: {answer}" for sql, answer in answers.items() if f"{table}: " not in answer] + [
        f"{sql}: {answer}"
        for sql, answer in upserts.items()
        if f"{table}: " not in answer and "check constraint" not in answer.lower()
    ]


def _attempts(row: models.Model, facts: tuple[str, ...]) -> Iterator[tuple[str, list[Any]]]:
    quote = connection.ops.quote_name
    table = quote(row._meta.db_table)
    key = row._meta.pk.get_db_prep_value(row.pk, connection)
    fields = row._meta.concrete_fields
    stored = type(row)._base_manager.get(pk=row.pk)
    for name in facts:
        field = row._meta.get_field(name)
        value = other_values(field, getattr(stored, field.attname))[0]
        yield f"UPDATE {table} SET {quote(field.column)} = %s WHERE id = %s", [_stored(field, value), key]
    yield f"DELETE FROM {table} WHERE id = %s", [key]
    if connection.vendor == "postgresql":
        yield f"TRUNCATE {table} CASCADE", []
    columns = ", ".join(quote(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    values = [_stored(field, getattr(stored, field.attname)) for field in fields]
    if connection.vendor == "sqlite":
        yield f"INSERT OR REPLACE INTO {table} ({columns}) VALUES ({places})", values
        yield f"UPDATE OR REPLACE {table} SET id = %s WHERE id = %s", [_stored(row._meta.pk, _other_key(row)), key]
    for name in facts:
        field = row._meta.get_field(name)
        other = other_values(field, getattr(stored, field.attname))[0]
        yield (
            f"INSERT INTO {table} ({columns}) VALUES ({places})"
            f" ON CONFLICT (id) DO UPDATE SET {quote(field.column)} = %s",
            [*values, _stored(field, other)],
        )


def _other_key(row: models.Model) -> Any:
    return other_values(row._meta.pk, row.pk)[0]


def _stored(field: models.Field[Any, Any], value: Any) -> Any:
    """The value as the column takes it in raw SQL."""
    return field.get_db_prep_save(value, connection)


def _bulk_upsert(row: models.Model, name: str) -> str:
    changed = type(row)._base_manager.get(pk=row.pk)
    field = row._meta.get_field(name)
    setattr(changed, field.attname, other_values(field, getattr(changed, field.attname))[0])
    try:
        with transaction.atomic():
            type(row)._base_manager.bulk_create(
                [changed], update_conflicts=True, unique_fields=["id"], update_fields=[name]
            )
    except IntegrityError as refusal:
        return str(refusal)
    return LET_THROUGH
