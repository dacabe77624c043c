"""The database itself refuses what the record promises never happens, on both databases and after a table remake."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.apps import apps
from django.core.checks import run_checks
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction
from django.test.utils import isolate_apps

from accounts import guards
from accounts.people import Appointment, Person
from accounts.record import Entry, digest_of
from accounts.rows import Row, Strikeable
from tests.accounts.conftest import Firm, founded
from tests.proofs import LET_THROUGH, answer_of, unrefused

ENTRY_COLUMNS = tuple(field.name for field in Entry._meta.concrete_fields if field.name != "id")


def test_every_guard_stands_after_migrating(db: None) -> None:
    assert guards.missing() == []


@pytest.mark.parametrize("model", guards.recorded_models(), ids=lambda model: model._meta.label)
def test_every_recorded_table_refuses_deletes(db: None, model: type[Row]) -> None:
    assert f"guard_delete_{model._meta.db_table}" in {guard.name for guard in guards.wanted()}


def test_a_row_class_without_a_record_path_is_not_concrete() -> None:
    assert [model for model in apps.get_models() if issubclass(model, Row) and not model.record_path] == []


def test_no_raw_statement_changes_facts_or_deletes_rows(firm: Firm) -> None:
    assert [unrefused(row, ("id", *type(row).facts)) for row in firm.rows] == [[]] * len(firm.rows)


def test_no_raw_statement_changes_or_deletes_an_entry(firm: Firm) -> None:
    assert unrefused(Entry.objects.filter(record=firm.asset.pk).last(), ENTRY_COLUMNS) == []


def test_a_record_is_not_deleted(firm: Firm) -> None:
    assert "accounts_record: " in answer_of("DELETE FROM accounts_record")


def test_what_was_set_aside_is_not_deleted(firm: Firm) -> None:
    from accounts.sync import set_aside

    set_aside(firm.photo.pk, "report_flaw", firm.asset.pk, firm.crew, {"said": "3 o'clock"}, "not a position")
    assert "accounts_setaside: " in answer_of("DELETE FROM accounts_setaside")


def test_refusals_are_integrity_errors(firm: Firm) -> None:
    with pytest.raises(IntegrityError, match="accounts_appointment: never changes"), transaction.atomic():
        Appointment.objects.update(role="owner")


def test_columns_that_are_no_facts_can_be_amended(firm: Firm) -> None:
    assert Person.objects.filter(pk=firm.crew.pk).update(units="us") == 1


def test_saving_a_row_whole_without_a_change_is_no_change_of_facts(firm: Firm) -> None:
    firm.appointment.refresh_from_db()
    firm.appointment.save()


def _next_entry(firm: Firm, **changes: object) -> Entry:
    last = Entry.objects.filter(record=firm.asset.pk).latest("seq")
    entry = Entry.objects.get(pk=last.pk)
    entry.pk = None
    entry.operation = firm.crew.pk
    entry.seq, entry.previous = last.seq + 1, last.digest
    for name, value in changes.items():
        setattr(entry, name, value)
    entry.digest = digest_of(entry.previous, entry.body)
    return entry


@pytest.mark.parametrize("seq", [0, 1, 5, 2**31])
def test_an_entry_with_the_wrong_number_is_refused(firm: Firm, seq: int) -> None:
    with pytest.raises(IntegrityError, match="accounts_entry: wrong number"), transaction.atomic():
        _next_entry(firm, seq=seq).save(force_insert=True)


def test_an_entry_with_the_wrong_previous_digest_is_refused(firm: Firm) -> None:
    with pytest.raises(IntegrityError, match="accounts_entry: wrong number or wrong previous"), transaction.atomic():
        _next_entry(firm, previous="0" * 64).save(force_insert=True)


def test_the_next_entry_is_taken(firm: Firm) -> None:
    _next_entry(firm).save(force_insert=True)
    assert Entry.objects.filter(record=firm.asset.pk).latest("seq").operation == firm.crew.pk


def test_entries_in_bulk_are_checked_one_by_one(firm: Firm) -> None:
    first = _next_entry(firm)
    second = _next_entry(firm, seq=first.seq + 1, operation=firm.photo.pk, previous="0" * 64)
    with pytest.raises(IntegrityError, match="accounts_entry: wrong number"), transaction.atomic():
        Entry.objects.bulk_create([first, second])


def _remake(model: type[models.Model]) -> None:
    """What a migration of SQLite does to alter a column: a new table, the rows copied, the old one dropped."""
    with connection.schema_editor() as editor:
        editor._remake_table(model)


def _lose(model: type[models.Model]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"ALTER TABLE {model._meta.db_table} DISABLE TRIGGER USER")


@pytest.fixture
def without_guards(transactional_db: None) -> Callable[[type[models.Model]], None]:
    """Makes a table lose its guards silently, as the database in use can."""
    return _remake if connection.vendor == "sqlite" else _lose


def test_guards_lost_by_a_table_remake_are_noticed(without_guards: Callable[[type[models.Model]], None]) -> None:
    without_guards(Appointment)
    lost = {guard.table for guard in guards.missing()}
    guards.install()
    assert lost == {"accounts_appointment"}


def test_the_system_check_names_lost_guards(without_guards: Callable[[type[models.Model]], None]) -> None:
    without_guards(Appointment)
    told = [message.msg for message in run_checks(databases=["default"]) if message.id == "accounts.W001"]
    guards.install()
    assert 'The guard "guard_facts_accounts_appointment" on table accounts_appointment is not in place.' in told


def test_migrate_puts_lost_guards_back(without_guards: Callable[[type[models.Model]], None]) -> None:
    firm = founded()
    without_guards(Appointment)
    assert answer_of("DELETE FROM accounts_appointment") == LET_THROUGH
    call_command("migrate", verbosity=0)
    assert unrefused(firm.appointment, ("id", *Appointment.facts)) == []


def test_installing_twice_changes_nothing(db: None) -> None:
    guards.install()
    guards.install()
    assert guards.missing() == []


def test_a_guard_with_another_definition_is_replaced(db: None) -> None:
    name, table = "guard_delete_accounts_asset", "accounts_asset"
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"DROP TRIGGER {name} ON {table}")
            cursor.execute(
                f"CREATE TRIGGER {name} BEFORE DELETE ON {table} FOR EACH ROW WHEN (false)"
                " EXECUTE FUNCTION barespot_refuse('nothing')"
            )
        else:
            cursor.execute(f"DROP TRIGGER {name}")
            cursor.execute(f"CREATE TRIGGER {name} BEFORE DELETE ON {table} WHEN 0 BEGIN SELECT 1; END")
    assert [guard.name for guard in guards.missing()] == [name]
    guards.install()
    assert guards.missing() == []


def test_a_guard_nobody_asks_for_any_more_is_dropped(db: None) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE TRIGGER guard_old BEFORE UPDATE ON accounts_person FOR EACH ROW"
                " EXECUTE FUNCTION barespot_refuse('accounts_person: old')"
            )
        else:
            cursor.execute(
                "CREATE TRIGGER guard_old BEFORE UPDATE ON accounts_person BEGIN SELECT RAISE(ABORT, 'old'); END"
            )
    guards.install()
    assert answer_of("UPDATE accounts_person SET units = 'us'") == LET_THROUGH


@pytest.mark.postgresql
def test_a_hollowed_out_function_is_noticed(db: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE OR REPLACE FUNCTION barespot_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'"
        )
    assert "guard_delete_accounts_asset" in {guard.name for guard in guards.missing()}


@isolate_apps("accounts")
def test_struck_out_stays_struck_out(db: None) -> None:
    class Remark(Row, Strikeable):
        record_path = "self"

        class Meta:
            app_label = "accounts"

    write = guards._for_postgresql if connection.vendor == "postgresql" else guards._for_sqlite
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE accounts_remark (id text, struck_at text, struck_by_id text, struck_why text)")
        for refusal in guards._never_changed(connection, Remark):
            cursor.execute(write(refusal).sql)
        cursor.execute("INSERT INTO accounts_remark (id) VALUES ('1')")
        cursor.execute("UPDATE accounts_remark SET struck_at = 'noon', struck_by_id = 'ivo', struck_why = 'twice'")
    undo = "UPDATE accounts_remark SET struck_at = NULL, struck_by_id = NULL, struck_why = NULL"
    assert "accounts_remark: struck out stays so" in answer_of(undo)
    assert "accounts_remark: struck out stays so" in answer_of("UPDATE accounts_remark SET struck_why = 'other'")
    assert answer_of("UPDATE accounts_remark SET struck_why = 'twice'") == LET_THROUGH
