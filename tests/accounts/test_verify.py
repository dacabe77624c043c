"""One byte changed in any column, row or file is named exactly; an honest record proves whole."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO
from itertools import chain
from threading import Thread
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from accounts import guards
from accounts.acting import perform
from accounts.people import Appointment, Organisation, Person
from accounts.record import Entry, Record
from accounts.verify import DERIVATIONS, SAID_AGAIN, Problem, Tally, register_derivation, verify
from tests.accounts.conftest import Firm, founded
from tests.factories import AssetFactory, OrganisationFactory, record_of, recorded
from tests.proofs import guards_lifted, named, tampered, unnamed_changes

CHAINED = [*SAID_AGAIN, "previous", "digest", "body"]


def _entries(firm: Firm) -> list[Entry]:
    return list(Entry.objects.filter(record=firm.organisation.pk).order_by("seq"))


def test_an_honest_record_has_no_problem(firm: Firm) -> None:
    tally = Tally()
    assert list(verify(tally=tally)) == []
    assert (tally.entries, tally.rows, tally.files) == (7, 8, 1)
    assert tally.heads == {record.pk: record.head for record in Record.objects.all()}


def test_an_amended_row_is_proved_by_its_last_image(firm: Firm) -> None:
    perform("end_appointment", firm.admin, firm.appointment.pk, {})
    assert list(verify()) == []


def test_the_ground_of_these_proofs_has_a_row_of_every_table_of_accounts(firm: Firm) -> None:
    tables = {model for model in guards.recorded_models() if model._meta.app_label == "accounts"}
    assert {type(row) for row in firm.rows} == tables


@pytest.mark.parametrize("place", range(5))
def test_one_changed_byte_in_any_column_of_a_row_is_named_exactly(firm: Firm, place: int) -> None:
    assert unnamed_changes(firm.rows[place]) == []


@pytest.mark.parametrize("place", [0, 1, -1], ids=["first", "middle", "last"])
@pytest.mark.parametrize("column", CHAINED)
def test_one_changed_byte_in_any_column_of_an_entry_is_named_exactly(firm: Firm, column: str, place: int) -> None:
    entry = _entries(firm)[place]
    with tampered(entry, column) as changed:
        assert changed
        assert named(verify()) == [("accounts_entry", str(entry.pk), column)]


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.75, 0.99])
def test_one_changed_byte_anywhere_in_a_body_is_named_exactly(firm: Firm, share: float) -> None:
    entry = _entries(firm)[0]
    place = int(len(entry.body) * share)
    changed = entry.body[:place] + chr(ord(entry.body[place]) ^ 1) + entry.body[place + 1 :]
    with guards_lifted():
        Entry.objects.filter(pk=entry.pk).update(body=changed)
    assert named(verify()) == [("accounts_entry", str(entry.pk), "body")]


@pytest.mark.parametrize("column", ["head_seq", "head_hash"])
def test_one_changed_byte_in_a_head_is_named_exactly(firm: Firm, column: str) -> None:
    with tampered(record_of(firm.asset), column):
        assert named(verify()) == [("accounts_record", str(firm.asset.pk), column)]


@pytest.mark.parametrize("place", [0, 1, 2])
def test_an_entry_moved_to_another_record_is_named_once(firm: Firm, place: int) -> None:
    entry = Entry.objects.filter(record=firm.asset.pk).order_by("seq")[place]
    with guards_lifted():
        Entry.objects.filter(pk=entry.pk).update(record=Record.objects.create(pk=UUID(int=7)))
    assert named(verify()) == [("accounts_entry", str(entry.pk), "record")]


def test_an_entry_moved_to_another_record_is_named_when_only_its_own_is_proved(firm: Firm) -> None:
    entry = Entry.objects.filter(record=firm.asset.pk).order_by("seq")[1]
    with guards_lifted():
        Entry.objects.filter(pk=entry.pk).update(record=Record.objects.create(pk=UUID(int=7)))
    assert ("accounts_entry", str(entry.pk), "record") in named(verify(firm.asset.pk))


def test_an_older_image_put_last_is_not_taken_for_the_last(firm: Firm) -> None:
    perform("end_appointment", firm.admin, firm.appointment.pk, {})
    made = Entry.objects.get(record=firm.organisation.pk, what="appoint")
    with guards_lifted():
        Entry.objects.filter(pk=made.pk).update(seq=made.seq + 1000)
    assert named(verify()) == [("accounts_entry", str(made.pk), "seq")]


def test_a_deleted_entry_in_the_middle_is_named_by_its_number(firm: Firm) -> None:
    entry = _entries(firm)[2]
    with guards_lifted():
        Entry.objects.filter(pk=entry.pk).delete()
    assert Problem("accounts_entry", str(firm.organisation.pk), "seq", "entries 3 to 3", "missing") in list(verify())


def test_a_deleted_last_entry_is_named_by_its_number(firm: Firm) -> None:
    with guards_lifted():
        _entries(firm)[-1].delete()
    assert Problem("accounts_entry", str(firm.organisation.pk), "seq", "entries 4 to 4", "missing") in list(verify())


def test_a_rewritten_entry_with_a_right_digest_of_its_own_breaks_the_chain_after_it(firm: Firm) -> None:
    from accounts.record import digest_of

    entry, following = _entries(firm)[1:3]
    body = entry.body.replace("create_asset", "creates_asset")
    with guards_lifted():
        Entry.objects.filter(pk=entry.pk).update(
            body=body, what="creates_asset", digest=digest_of(entry.previous, body)
        )
    assert [problem.column for problem in verify()] == ["previous"]
    assert str(following.seq) in next(verify()).row


def test_a_deleted_row_is_named(firm: Firm) -> None:
    with guards_lifted():
        Appointment.objects.filter(pk=firm.appointment.pk).delete()
    assert named(verify()) == [("accounts_appointment", str(firm.appointment.pk), "id")]


def test_a_row_no_entry_tells_of_is_named(firm: Firm) -> None:
    stranger = AssetFactory(organisation=firm.organisation)
    assert list(verify()) == [
        Problem("accounts_asset", str(stranger.pk), "id", "an entry that made this row", "missing")
    ]


def test_a_row_under_another_id_is_named_under_both(firm: Firm) -> None:
    with guards_lifted():
        Appointment.objects.filter(pk=firm.appointment.pk).update(id=UUID(int=5))
    assert set(named(verify())) == {
        ("accounts_appointment", str(UUID(int=5)), "id"),
        ("accounts_appointment", str(firm.appointment.pk), "id"),
    }


def test_a_row_moved_to_another_record_is_named_when_one_record_is_proved(firm: Firm) -> None:
    other = OrganisationFactory()
    recorded(other)
    with guards_lifted():
        Appointment.objects.filter(pk=firm.appointment.pk).update(organisation=other)
    assert named(verify(firm.organisation.pk)) == [
        ("accounts_appointment", str(firm.appointment.pk), "organisation_id")
    ]


def test_only_the_asked_record_is_proved(firm: Firm) -> None:
    Organisation.objects.filter(pk=firm.organisation.pk).update(name="Sill Coatingz")
    assert list(verify(firm.asset.pk)) == []
    assert named(verify(firm.organisation.pk)) == [("accounts_organisation", str(firm.organisation.pk), "name")]


def test_private_columns_are_not_in_the_record(firm: Firm) -> None:
    Person.objects.filter(pk=firm.crew.pk).update(name="Somebody Else")
    assert list(verify()) == []
    assert not Entry.objects.filter(body__contains="Ivo Reed").exists()


def test_one_changed_byte_in_a_file_is_named_exactly(firm: Firm) -> None:
    content = bytearray(firm.photo.path.read_bytes())
    content[3] ^= 1
    firm.photo.path.write_bytes(content)
    assert named(verify()) == [("accounts_evidence", str(firm.photo.pk), "file")]


def test_a_file_that_is_gone_is_named(firm: Firm) -> None:
    firm.photo.path.unlink()
    assert list(verify()) == [Problem("accounts_evidence", str(firm.photo.pk), "file", firm.photo.sha256, "missing")]


def test_a_redacted_file_may_be_gone(firm: Firm) -> None:
    firm.photo.redacted_at, firm.photo.redacted_why = firm.photo.received_at, "shows a bystander"
    firm.photo.version += 1
    firm.photo.save()
    recorded(firm.photo)
    firm.photo.path.unlink()
    assert list(verify()) == []


def test_lost_guards_are_named(firm: Firm) -> None:
    guards.remove()
    problems = list(verify())
    guards.install()
    assert {problem.column for problem in problems} == {guard.name for guard in guards.wanted()}


@pytest.fixture
def registered() -> Iterator[None]:
    before = dict(DERIVATIONS)
    yield
    DERIVATIONS.clear()
    DERIVATIONS.update(before)


def test_a_derivation_is_asked_about_every_record(firm: Firm, registered: None) -> None:
    asked: list[UUID] = []

    def prove(record: UUID) -> list[Problem]:
        asked.append(record)
        return [Problem("inspections_swath", "1", "standing", "stands", "lost")]

    register_derivation("standing", prove)
    assert named(verify()) == [("inspections_swath", "1", "standing")] * 2
    assert set(asked) == {firm.asset.pk, firm.organisation.pk}


def test_a_derivation_that_fails_on_changed_rows_is_named_and_the_others_are_asked(
    firm: Firm, registered: None
) -> None:
    def prove(record: UUID) -> list[Problem]:
        raise ValueError('system "metrib" is not allowed')

    register_derivation("standing", prove)
    register_derivation("shares", lambda record: [Problem("shares", str(record), "share", "1", "2")])
    told = [problem for problem in verify() if problem.row == str(firm.asset.pk)]
    assert [problem.table for problem in told] == ["standing", "shares"]
    assert told[0].found == 'ValueError: system "metrib" is not allowed'


def test_a_derivation_is_registered_once(registered: None) -> None:
    register_derivation("one of its kind", lambda record: [])
    with pytest.raises(ValueError, match="one of its kind is registered twice"):
        register_derivation("one of its kind", lambda record: [])


@pytest.mark.once
def test_images_of_a_big_import_are_all_proved(firm: Firm) -> None:
    assets = [AssetFactory.build(organisation=firm.organisation, name=f"Vat {n}") for n in range(1100)]
    for asset in assets:
        asset.save(force_insert=True)
    recorded(*assets)
    tally = Tally()
    assert list(verify(tally=tally)) == []
    assert tally.rows == 1108


def test_the_command_prints_counts_and_heads(firm: Firm) -> None:
    told = StringIO()
    call_command("verify_record", stdout=told, no_color=True)
    head = record_of(firm.asset).head
    assert f"{firm.asset.pk} head {head.seq} {head.digest}" in told.getvalue()
    assert "Proved: 2 records, 7 entries, 8 rows, 1 files" in told.getvalue()


def test_the_command_fails_with_a_list_of_what_differs(firm: Firm) -> None:
    Organisation.objects.filter(pk=firm.organisation.pk).update(name="Sill Coatingz")
    told = StringIO()
    with pytest.raises(CommandError, match="1 problems") as failure:
        call_command("verify_record", stdout=told, no_color=True)
    assert failure.value.returncode == 1
    assert (
        f'accounts_organisation {firm.organisation.pk} name: expected "Sill Coatings", found "Sill Coatingz"'
        in told.getvalue()
    )


def test_the_command_proves_one_record(firm: Firm) -> None:
    told = StringIO()
    call_command("verify_record", record=str(firm.asset.pk), stdout=told, no_color=True)
    assert "Proved: 1 records, 3 entries, 2 rows" in told.getvalue()


@pytest.mark.parametrize("text", ["7", "00000000-0000-0000-0000-000000000007"])
def test_the_command_names_a_record_that_does_not_exist(db: None, text: str) -> None:
    with pytest.raises(CommandError, match=f'--record "{text}": allowed is the id of an asset or organisation'):
        call_command("verify_record", record=text)


@pytest.mark.django_db(transaction=True)
def test_proving_takes_no_lock_and_leaves_no_transaction_open() -> None:
    founded()
    problems = verify()
    assert list(problems) == []
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    assert connection.get_autocommit()
    assert not connection.in_atomic_block


@pytest.mark.django_db(transaction=True)
def test_what_is_recorded_meanwhile_is_no_false_alarm() -> None:
    firm = founded()
    stranger = AssetFactory(organisation=firm.organisation)
    problems = verify()
    first = next(problems)  # from here on the proof looks at one moment

    def write_more() -> None:
        perform("end_appointment", firm.admin, firm.appointment.pk, {})
        connection.close()

    writer = Thread(target=write_more)
    writer.start()
    writer.join()
    assert Appointment.objects.filter(pk=firm.appointment.pk, until=None).exists()
    assert named(chain([first], problems)) == [("accounts_asset", str(stranger.pk), "id")]
    assert Appointment.objects.exclude(until=None).exists()
