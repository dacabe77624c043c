"""Triggers that make the database itself refuse what the record promises never happens.

Generated from each model's `facts` line for SQLite and PostgreSQL, put in place after every migration, and asserted by
a system check and by verify_record. They stop bugs and misuse, not the database's owner.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple, cast

from django.apps import apps
from django.core.checks import CheckMessage, Warning
from django.db import DEFAULT_DB_ALIAS, connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from accounts.record import Entry, Record
from accounts.rows import Row, Strikeable
from accounts.sync import SetAside

PREFIX = "guard_"
STRUCK = ("struck_at", "struck_by", "struck_why")

# 23001 (restrict violation), so that both databases answer with an IntegrityError.
REFUSE = """
BEGIN
    RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = '23001';
END
"""
NEXT_ENTRY = """
DECLARE
    last_seq bigint;
    last_digest text;
BEGIN
    SELECT seq, digest INTO last_seq, last_digest FROM accounts_entry
        WHERE record_id = NEW.record_id ORDER BY seq DESC LIMIT 1;
    IF NEW.seq IS DISTINCT FROM coalesce(last_seq, 0) + 1
            OR NEW.previous IS DISTINCT FROM coalesce(last_digest, '') THEN
        RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = '23001';
    END IF;
    RETURN NEW;
END
"""
FUNCTIONS = {"barespot_refuse": REFUSE, "barespot_next_entry": NEXT_ENTRY}
NOT_NEXT_ENTRY = """
    NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM accounts_entry WHERE record_id = NEW.record_id)
    OR NEW.previous IS NOT coalesce(
        (SELECT digest FROM accounts_entry WHERE record_id = NEW.record_id ORDER BY seq DESC LIMIT 1), '')
"""


class Refusal(NamedTuple):
    """What one trigger refuses: the event, the condition on OLD and NEW ("" = always), and the sentence it answers."""

    table: str
    name: str
    event: str
    when: str
    sentence: str


class Guard(NamedTuple):
    """One trigger as it should stand in the database; `mark` is what tells it from an older or a hollowed-out one."""

    table: str
    name: str
    sql: str
    mark: str


def recorded_models() -> list[type[Row]]:
    """Every concrete model whose rows belong to a record, in order of their tables."""
    found = [model for model in apps.get_models() if issubclass(model, Row) and model.record_path]
    return sorted(found, key=lambda model: model._meta.db_table)


def wanted(using: str = DEFAULT_DB_ALIAS) -> list[Guard]:
    """The guards of every table that exists in the database."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    write = _for_postgresql if connection.vendor == "postgresql" else _for_sqlite
    return [write(refusal) for refusal in _refusals(connection) if refusal.table in tables]


def missing(using: str = DEFAULT_DB_ALIAS) -> list[Guard]:
    """The guards that should stand and do not, or stand switched off or with another definition."""
    there = _standing(connections[using])
    return [guard for guard in wanted(using) if there.get((guard.table, guard.name)) != guard.mark]


def install(using: str = DEFAULT_DB_ALIAS) -> None:
    """Put every guard in place; those that already stand as they should are left alone."""
    connection = connections[using]
    should = wanted(using)
    there = _standing(connection)
    marks = {(guard.table, guard.name): guard.mark for guard in should}
    with transaction.atomic(using=using), connection.cursor() as cursor:
        for key in there:
            if marks.get(key) != there[key]:
                cursor.execute(_drop(connection, *key))
        lacking = [guard for guard in should if there.get((guard.table, guard.name)) != guard.mark]
        if lacking and connection.vendor == "postgresql":
            for name, source in FUNCTIONS.items():
                cursor.execute(
                    f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $guard${source}$guard$"
                )
        for guard in lacking:
            cursor.execute(guard.sql)


def remove(using: str = DEFAULT_DB_ALIAS) -> None:
    """Drop every guard: a migration that changes a guarded table needs it. `install` follows when it is done."""
    connection = connections[using]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        for table, name in _standing(connection):
            cursor.execute(_drop(connection, table, name))


def check_guards(*, databases: Sequence[str] | None, **kwargs: Any) -> list[CheckMessage]:
    """System check (run with --database). A warning, because `migrate`, the remedy, stops at errors."""
    return [
        Warning(
            f'The guard "{guard.name}" on table {guard.table} is not in place.',
            hint='Run "manage.py migrate": it puts every guard back. Then run "manage.py verify_record".',
            id="accounts.W001",
        )
        for using in databases or ()
        for guard in missing(using)
    ]


def _refusals(connection: BaseDatabaseWrapper) -> Iterator[Refusal]:
    entry = Entry._meta.db_table
    yield Refusal(
        entry, _name("insert", entry), "INSERT", NOT_NEXT_ENTRY, f"{entry}: wrong number or wrong previous digest"
    )
    yield Refusal(entry, _name("update", entry), "UPDATE", "", f"{entry}: an entry is never changed")
    kept: list[type[models.Model]] = [Entry, Record, SetAside, *recorded_models()]
    for model in kept:
        yield from _never_deleted(connection, model._meta.db_table)
    for row_model in recorded_models():
        yield from _never_changed(connection, row_model)


def _never_deleted(connection: BaseDatabaseWrapper, table: str) -> Iterator[Refusal]:
    sentence = f"{table}: rows are never deleted, only struck out"
    yield Refusal(table, _name("delete", table), "DELETE", "", sentence)
    if connection.vendor == "postgresql":
        yield Refusal(table, _name("truncate", table), "TRUNCATE", "", sentence)


def _never_changed(connection: BaseDatabaseWrapper, model: type[Row]) -> Iterator[Refusal]:
    table = model._meta.db_table
    facts = ("id", *model.facts)
    yield Refusal(
        table,
        _name("facts", table),
        "UPDATE",
        _changed(connection, model, facts),
        f"{table}: never changes: {', '.join(facts)}",
    )
    if model.placed:
        yield Refusal(
            table,
            _name("placed", table),
            "UPDATE",
            f"NEW.version <= OLD.version AND ({_changed(connection, model, model.placed)})",
            f"{table}: changes only with a new version: {', '.join(model.placed)}",
        )
    if issubclass(model, Strikeable):
        changed = _changed(connection, model, STRUCK)
        yield Refusal(
            table,
            _name("struck", table),
            "UPDATE",
            f"OLD.struck_at IS NOT NULL AND ({changed})",
            f"{table}: struck out stays so",
        )


def _changed(connection: BaseDatabaseWrapper, model: type[models.Model], names: tuple[str, ...]) -> str:
    """SQL that is true when one of the columns really changes: a full save that rewrites the same value does not."""
    differs = "IS DISTINCT FROM" if connection.vendor == "postgresql" else "IS NOT"
    found = [cast("models.Field[Any, Any]", model._meta.get_field(name)) for name in names]
    columns = [connection.ops.quote_name(cast(str, field.column)) for field in found]
    return " OR ".join(f"OLD.{column} {differs} NEW.{column}" for column in columns)


def _name(what: str, table: str) -> str:
    return f"{PREFIX}{what}_{table}"


def _for_sqlite(refusal: Refusal) -> Guard:
    when = f" WHEN {refusal.when}" if refusal.when else ""
    sql = (
        f'CREATE TRIGGER "{refusal.name}" BEFORE {refusal.event} ON "{refusal.table}" FOR EACH ROW{when}'
        f" BEGIN SELECT RAISE(ABORT, '{refusal.sentence}'); END"
    )
    return Guard(refusal.table, refusal.name, sql, sql)


def _for_postgresql(refusal: Refusal) -> Guard:
    each = "STATEMENT" if refusal.event == "TRUNCATE" else "ROW"
    function, when = "barespot_refuse", f" WHEN ({refusal.when})" if refusal.when else ""
    if refusal.event == "INSERT":  # a WHEN of PostgreSQL may not look into the table, so the function does
        function, when = "barespot_next_entry", ""
    sql = (
        f'CREATE TRIGGER "{refusal.name}" BEFORE {refusal.event} ON "{refusal.table}" FOR EACH {each}{when}'
        f" EXECUTE FUNCTION {function}('{refusal.sentence}')"
    )
    mark = hashlib.sha256(sql.encode()).hexdigest()
    comment = f'COMMENT ON TRIGGER "{refusal.name}" ON "{refusal.table}" IS \'{mark}\''
    return Guard(refusal.table, refusal.name, f"{sql}; {comment}", f"{mark} {FUNCTIONS[function]}")


def _standing(connection: BaseDatabaseWrapper) -> dict[tuple[str, str], str]:
    """Mark of every guard now in the database, by table and name; PostgreSQL's switched off ones have none."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT c.relname, t.tgname, CASE WHEN t.tgenabled IN ('O', 'A')"
                " THEN coalesce(obj_description(t.oid, 'pg_trigger'), '') || ' ' || p.prosrc ELSE '' END"
                " FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid"
                " WHERE NOT t.tgisinternal AND pg_table_is_visible(c.oid) AND starts_with(t.tgname, %s)",
                [PREFIX],
            )
        else:
            cursor.execute(
                "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger' AND substr(name, 1, %s) = %s",
                [len(PREFIX), PREFIX],
            )
        return {(table, name): mark for table, name, mark in cursor.fetchall()}


def _drop(connection: BaseDatabaseWrapper, table: str, name: str) -> str:
    on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
    return f'DROP TRIGGER "{name}"{on}'
