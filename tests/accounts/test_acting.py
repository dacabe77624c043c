"""The one way in: rights, replay, refusal and what each leaves behind, with throw-away actions on an asset."""

from __future__ import annotations

import hashlib
import json
import os
import signal
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from rest_framework import serializers
from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError

from accounts import evidence
from accounts.acting import REGISTRY, Acting, Conflict, NoInput, action, may, perform
from accounts.assets import Asset
from accounts.evidence import Evidence
from accounts.ids import new_id
from accounts.people import Appointment, Person, Role
from accounts.record import Entry
from accounts.sync import SetAside
from accounts.verify import verify
from tests.accounts.conftest import Firm
from tests.factories import AppointmentFactory, AssetFactory, OrganisationFactory, appointed, record_of
from tests.proofs import KILLED, in_child


class PlaceGiven(serializers.Serializer):
    private = ("told_by",)

    place = serializers.CharField(max_length=20)
    told_by = serializers.CharField(required=False)


class PhotoGiven(serializers.Serializer):
    photo = serializers.FileField()


@pytest.fixture(autouse=True)
def throw_away(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four actions that exist in these tests only."""
    for name in ("note_place", "photograph", "import_many", "approve"):
        monkeypatch.setitem(REGISTRY, name, None)  # so that the registry is as before afterwards
        del REGISTRY[name]

    @action("note_place", takes=PlaceGiven, roles={Role.CREW}, on=Asset, title="Note the place")
    def note_place(act: Acting, asset: Asset, given: dict[str, Any]) -> Asset:
        """Says where the asset is."""
        act.amend(asset, place=given["place"])
        if given["place"] == "nowhere":
            act.refuse("place", '"nowhere" is no place. Name the nearest town.')
        act.tell(f"The place is {given['place']}.")
        return asset

    @action("photograph", takes=PhotoGiven, roles={Role.CREW}, on=Asset, title="Photograph")
    def photograph(act: Acting, asset: Asset, given: dict[str, Any]) -> Evidence:
        content = given["photo"].read()
        record = record_of(asset)
        return act.insert(
            Evidence(
                id=act.id,
                record=record,
                sha256=evidence.keep(content),
                media_type="image/jpeg",
                size=len(content),
                received_at=act.now,
            )
        )

    @action("import_many", takes=NoInput, roles={Role.OWNER}, on=Asset, title="Import many")
    def import_many(act: Acting, asset: Asset, given: dict[str, Any]) -> None:
        ended = {"person": act.person, "organisation": act.organisation, "role": Role.OBSERVER, "since": act.now}
        act.insert_many([Appointment(until=act.now, asset=asset, **ended) for _ in range(1201)])

    @action("approve", takes=NoInput, roles={Role.OWNER}, on=Asset, title="Approve", decision=True)
    def approve(act: Acting, asset: Asset, given: dict[str, Any]) -> None:
        act.tell("approved")


def _entries() -> int:
    return Entry.objects.count()


def test_an_action_is_registered_once() -> None:
    with pytest.raises(ValueError, match="note_place is registered twice"):
        action("note_place", takes=NoInput, roles=set(), on=Asset, title="Again")(lambda act, row, given: None)


def test_the_summary_of_an_action_is_the_first_line_of_its_rule() -> None:
    assert REGISTRY["note_place"].summary == "Says where the asset is."


def test_an_action_changes_the_row_one_version_on_and_leaves_one_entry(firm: Firm) -> None:
    before = _entries()
    done = perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"})
    assert (done.status, done.made.place, done.made.version) == ("recorded", "Hamar", 2)
    assert done.consequences == ("The place is Hamar.",)
    assert json.loads(done.entry.body)["consequences"] == ["The place is Hamar."]
    assert _entries() == before + 1
    assert list(verify()) == []


def test_what_one_may_not_see_is_not_there(firm: Firm) -> None:
    stranger = appointed(Role.CREW, AssetFactory())
    for pk in (firm.asset.pk, new_id(), "no id at all"):
        with pytest.raises(NotFound, match="There is no such asset"):
            perform("note_place", stranger, pk, {"place": "Hamar"})


def test_what_one_may_not_do_names_who_may(firm: Firm) -> None:
    with pytest.raises(PermissionDenied, match=r'"Note the place" is done by: inspection crew\.'):
        perform("note_place", appointed(Role.OBSERVER, firm.asset), firm.asset.pk, {"place": "Hamar"})


def test_buttons_are_shown_to_those_who_may(firm: Firm) -> None:
    assert may(firm.crew, "note_place", firm.asset)
    assert not may(appointed(Role.OBSERVER, firm.asset), "note_place", firm.asset)


@pytest.mark.parametrize("given", [{}, {"place": ""}, {"place": "x" * 21}, {"place": "nowhere"}])
def test_a_refused_input_names_its_field_and_writes_nothing(firm: Firm, given: dict[str, Any]) -> None:
    before = _entries()
    with pytest.raises(ValidationError) as refused:
        perform("note_place", firm.crew, firm.asset.pk, given)
    assert list(refused.value.detail) == ["place"]
    assert _entries() == before
    assert list(verify()) == []


def test_private_input_is_left_out_of_the_record(firm: Firm) -> None:
    done = perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar", "told_by": "Old Tom"})
    assert "Old Tom" not in done.entry.body
    assert json.loads(done.entry.body)["input"] == {"target": str(firm.asset.pk), "place": "Hamar"}


def test_a_page_and_a_device_that_send_the_same_are_one_operation(firm: Firm) -> None:
    operation = new_id()
    perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
    page = QueryDict("place=Hamar&csrfmiddlewaretoken=x")
    assert perform("note_place", firm.crew, str(firm.asset.pk), page, operation=operation).status == "already"


def test_the_same_operation_again_does_nothing_and_answers_with_its_entry(firm: Firm) -> None:
    operation = new_id()
    first = perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
    before = _entries()
    again = perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
    assert (again.status, again.entry) == ("already", first.entry)
    assert _entries() == before
    assert Asset.objects.get(pk=firm.asset.pk).version == 2


def test_a_resend_is_answered_even_when_the_role_has_ended_since(firm: Firm) -> None:
    operation = new_id()
    perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
    perform("end_appointment", firm.admin, firm.appointment.pk, {})
    AppointmentFactory(person=firm.crew, asset=firm.asset, role=Role.OBSERVER)
    assert perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation).status == "already"


@pytest.mark.django_db(transaction=True)
def test_the_same_id_with_other_content_is_set_aside_whole(firm: Firm) -> None:
    operation = new_id()
    perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
    before = _entries()
    with pytest.raises(Conflict, match="The id was used before with other content"):
        perform("note_place", firm.crew, firm.asset.pk, {"place": "Gjovik"}, operation=operation)
    aside = SetAside.objects.get()
    assert (aside.operation, aside.action, aside.target, aside.person) == (
        operation,
        "note_place",
        firm.asset.pk,
        firm.crew,
    )
    assert aside.payload == {"place": "Gjovik"}
    assert _entries() == before
    assert Asset.objects.get(pk=firm.asset.pk).place == "Hamar"


def test_an_id_that_belongs_to_another_row_is_a_conflict(firm: Firm) -> None:
    photo = SimpleUploadedFile("b17.jpg", b"another photo")
    with pytest.raises(Conflict, match="belongs to something else"):
        perform("photograph", firm.crew, firm.asset.pk, {"photo": photo}, operation=firm.photo.pk)
    assert SetAside.objects.get().operation == firm.photo.pk


def test_a_file_is_told_by_name_size_and_sha256(firm: Firm) -> None:
    photo = SimpleUploadedFile("b18.jpg", b"flaw B18")
    done = perform("photograph", firm.crew, firm.asset.pk, {"photo": photo})
    assert json.loads(done.entry.body)["input"]["photo"] == {
        "file": "b18.jpg",
        "size": 8,
        "sha256": hashlib.sha256(b"flaw B18").hexdigest(),
    }
    assert done.made.path.read_bytes() == b"flaw B18"


def test_a_file_sent_again_is_already_there(firm: Firm) -> None:
    operation = new_id()
    for status in ("recorded", "already"):
        photo = SimpleUploadedFile("b18.jpg", b"flaw B18")
        assert perform("photograph", firm.crew, firm.asset.pk, {"photo": photo}, operation=operation).status == status


def test_a_big_import_leaves_one_entry_per_500_rows(firm: Firm) -> None:
    owner = appointed(Role.OWNER, firm.asset)
    operation = new_id()
    perform("import_many", owner, firm.asset.pk, {}, operation=operation)
    entries = Entry.objects.filter(what="import_many", record=firm.organisation.pk).order_by("seq")
    bodies = [json.loads(entry.body) for entry in entries]
    assert [len(body["rows"]) for body in bodies] == [500, 500, 201]
    assert [body["input"].get("continues") for body in bodies] == [None, str(operation), str(operation)]


def test_a_device_clock_far_ahead_is_not_believed(firm: Firm) -> None:
    ahead = datetime.now(UTC) + timedelta(days=2)
    entry = perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, device_at=ahead).entry
    assert entry.device_at == entry.server_at + timedelta(minutes=5)


def test_the_role_counts_at_the_time_of_the_device(firm: Firm) -> None:
    before = firm.appointment.since - timedelta(days=1)
    with pytest.raises(PermissionDenied):
        perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, device_at=before)


def test_a_token_that_may_not_decide_does_not(firm: Firm) -> None:
    owner = appointed(Role.OWNER, firm.asset)
    with pytest.raises(PermissionDenied, match="This token may not decide"):
        perform("approve", owner, firm.asset.pk, {}, may_decide=False)
    assert perform("approve", owner, firm.asset.pk, {}).status == "recorded"


def test_one_acts_for_the_organisation_one_is_appointed_for(firm: Firm) -> None:
    contractor = appointed(Role.CREW, firm.asset, OrganisationFactory())
    entry = perform("note_place", contractor, firm.asset.pk, {"place": "Hamar"}).entry
    assert entry.organisation_id == contractor.organisation_id


def test_only_rows_that_can_be_struck_out_are(firm: Firm) -> None:
    now = firm.appointment.since
    act = Acting(REGISTRY["approve"], firm.admin, firm.organisation, frozenset(), new_id(), now, now)
    with pytest.raises(TypeError, match="Asset cannot be struck out"):
        act.strike(firm.asset, "twice")


@pytest.mark.django_db(transaction=True)
def test_an_operation_whose_answer_was_eaten_is_already_there_when_sent_again(firm: Firm) -> None:
    operation = new_id()

    def send_and_die() -> None:
        perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
        os.kill(os.getpid(), signal.SIGKILL)

    assert in_child(send_and_die) == [KILLED]
    again = perform("note_place", firm.crew, firm.asset.pk, {"place": "Hamar"}, operation=operation)
    assert again.status == "already"
    assert Asset.objects.get(pk=firm.asset.pk).version == 2
    assert list(verify()) == []


def test_ids_from_the_client_are_kept(firm: Firm) -> None:
    operation = UUID("01900000-0000-7000-8000-000000000001")
    given = {"name": "Una Holt", "email": "una@sill.example"}
    perform("invite_person", firm.admin, firm.organisation.pk, given, operation=operation)
    assert Person.objects.get(pk=operation).email == "una@sill.example"
