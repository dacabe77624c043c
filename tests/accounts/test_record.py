"""The chain: canonical text, digests, images and heads, checked against published examples and plain recomputation."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_DNS, UUID

import pytest
from django.db import IntegrityError, transaction
from shapely import Point

from accounts.acting import perform
from accounts.ids import named_id, new_id
from accounts.people import Person, Role
from accounts.record import Entry, Head, Record, canonical, digest_of, image, lock, plain, sha256
from tests.accounts.conftest import Firm
from tests.factories import AppointmentFactory, AssetFactory, PersonFactory, recorded


def test_canonical_text_is_the_example_of_rfc_8785() -> None:
    # RFC 8785, section 3.2.2 (input) and 3.2.4 (its canonical form).
    value = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    assert canonical(value) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_canonical_names_are_sorted_as_in_rfc_8785() -> None:
    # RFC 8785, section 3.2.3: by UTF-16 code units, so that the emoji comes before the Hebrew letter.
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    told = json.loads(canonical(dict.fromkeys(names, 0)), object_pairs_hook=lambda pairs: [name for name, _ in pairs])
    assert told == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


def test_a_digest_is_the_sha_256_of_fips_180() -> None:
    # FIPS 180-4, example "abc".
    assert sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_ids_of_named_rows_are_the_version_5_of_rfc_9562() -> None:
    # RFC 9562, appendix A.4.
    assert named_id(NAMESPACE_DNS, "www.example.com") == UUID("2ed6657d-e927-568b-95e1-2665a8aea6a2")


def test_names_that_join_alike_give_other_ids() -> None:
    assert named_id(NAMESPACE_DNS, "B1", "7") != named_id(NAMESPACE_DNS, "B", "17")


def test_new_ids_are_of_version_7_and_in_the_order_they_were_made() -> None:
    ids = [new_id() for _ in range(1000)]
    assert {(each.version, each.variant) for each in ids} == {(7, "specified in RFC 4122")}
    assert ids == sorted(ids)


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (UUID(int=1), "00000000-0000-0000-0000-000000000001"),
        (datetime(2025, 3, 1, 14, 5, 6, 7, timezone(timedelta(hours=2))), "2025-03-01T12:05:06.000007Z"),
        (date(2025, 3, 1), "2025-03-01"),
        (Decimal("1.50"), "1.50"),
        (Role.CREW, "crew"),
        (2**53 - 1, 2**53 - 1),
        (2**53, "9007199254740992"),
        ((1, {"a": UUID(int=2)}), [1, {"a": "00000000-0000-0000-0000-000000000002"}]),
        (Point(1, 2), Point(1, 2).wkb_hex),
    ],
)
def test_values_are_told_as_canonical_json_takes_them(value: Any, told: Any) -> None:
    assert plain(value) == told
    json.loads(canonical(value))


def test_no_number_that_json_lacks_is_written() -> None:
    with pytest.raises(ValueError, match="nan"):
        canonical(float("nan"))


def test_an_image_leaves_out_private_columns() -> None:
    person = Person(id=UUID(int=1), organisation_id=UUID(int=2), name="Ivo Reed", email="ivo@sill.example")
    assert image(person) == {
        "id": str(UUID(int=1)),
        "version": 1,
        "units": "si",
        "language": "",
        "organisation_id": str(UUID(int=2)),
        "is_active": True,
    }


def test_an_image_is_the_same_when_the_row_is_read_again(firm: Firm) -> None:
    for row in firm.rows:
        assert canonical(image(type(row)._base_manager.get(pk=row.pk))) == canonical(image(row))


def test_every_entry_hashes_itself_and_the_one_before(firm: Firm) -> None:
    before = ""
    for entry in Entry.objects.filter(record=firm.organisation.pk).order_by("seq"):
        assert entry.previous == before
        assert entry.digest == hashlib.sha256(f"barespot.1\n{before}\n{entry.body}".encode()).hexdigest()
        before = entry.digest
    assert Record.objects.get(pk=firm.organisation.pk).head == Head(4, before)


def test_a_body_is_stored_as_canonical_text_and_hashed_as_stored(firm: Firm) -> None:
    entry = Entry.objects.filter(record=firm.asset.pk).earliest("seq")
    assert canonical(json.loads(entry.body)) == entry.body
    assert digest_of(entry.previous, entry.body + " ") != entry.digest


def test_a_body_says_what_who_for_whom_when_and_which_rows(firm: Firm) -> None:
    sent_at = datetime.now(UTC) - timedelta(seconds=90)
    device_at = firm.appointment.since
    given = {"email": firm.admin.email, "role": "observer"}
    done = perform("appoint", firm.admin, firm.asset.pk, given, device_at=device_at, sent_at=sent_at)
    mine, other = Entry.objects.filter(operation=done.entry.operation).order_by("pk")
    body = json.loads(mine.body)
    assert mine == done.entry
    assert {name: body[name] for name in ("v", "record", "what", "actor", "organisation", "device_at", "rows")} == {
        "v": 1,
        "record": str(firm.asset.pk),
        "what": "appoint",
        "actor": str(firm.admin.pk),
        "organisation": str(firm.organisation.pk),
        "device_at": plain(device_at),
        "rows": [],
    }
    assert body["input"] == {"target": str(firm.asset.pk), "role": "observer"}
    assert 90 <= body["clock_offset_s"] <= 100
    assert json.loads(other.body)["rows"] == [["accounts_appointment", plain(image(done.made))]]


def test_locking_makes_the_records_that_are_missing_and_keeps_to_the_order_of_ids(db: None) -> None:
    with transaction.atomic():
        Record.objects.create(pk=UUID(int=2))
        assert [record.pk.int for record in lock([UUID(int=3), UUID(int=1), UUID(int=2), UUID(int=1)])] == [1, 2, 3]


def test_rows_of_several_records_are_told_on_each(db: None) -> None:
    asset = AssetFactory()
    entries = recorded(asset, asset.organisation, person := PersonFactory(organisation=asset.organisation))
    told = {entry.record_id: [row[1]["id"] for row in json.loads(entry.body)["rows"]] for entry in entries}
    assert told == {asset.pk: [str(asset.pk)], asset.organisation_id: [str(asset.organisation_id), str(person.pk)]}


def test_a_repeated_operation_on_one_record_is_refused_by_the_database(firm: Firm) -> None:
    last = Entry.objects.filter(record=firm.asset.pk).latest("seq")
    again = Entry.objects.get(pk=last.pk)
    again.pk, again.seq, again.previous = None, last.seq + 1, last.digest
    with pytest.raises(IntegrityError, match="operation"), transaction.atomic():
        again.save(force_insert=True)


def test_appointments_told_twice_keep_one_chain(firm: Firm) -> None:
    recorded(AppointmentFactory(person=firm.crew, role=Role.LEAD))
    recorded(AppointmentFactory(person=firm.crew, role=Role.OBSERVER))
    assert list(Entry.objects.filter(record=firm.organisation.pk).values_list("seq", flat=True)) == [1, 2, 3, 4, 5, 6]
