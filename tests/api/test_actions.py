"""Actions over the API: recorded once, told twice; refused by field; conflicting content set aside; files; versions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as SessionClient
from django.urls import reverse
from rest_framework.test import APIClient

from accounts.ids import new_id
from accounts.people import Role
from accounts.record import Entry
from accounts.sync import SetAside
from inspections.flaws import Flaw
from inspections.runs import Reinstatement, Swath
from tests.api.conftest import World
from tests.factories import AppointmentFactory, PersonFactory

API = "/api/v1/"
PASSWORD = "quiet-heron-17"
Client = Callable[..., APIClient]


@pytest.fixture
def crew(own: World, client_of: Client) -> APIClient:
    return client_of(own.scene.crew)


@pytest.fixture
def flaws(own: World) -> str:
    """Where flaws of the open run are reported."""
    return f"{API}runs/{own.scene.runs[0].pk}/report_flaw/"


def flaw_given(**more: Any) -> dict[str, Any]:
    return {"id": str(new_id()), "place": "1+007.00 @ 2:00", "kind": "pinhole", "size_x": "12 mm", **more}


def test_an_action_answers_with_the_id_and_the_place_of_its_entry(crew: APIClient, flaws: str) -> None:
    given = flaw_given()
    answer = crew.post(flaws, given)
    assert answer.status_code == 201
    told = answer.json()
    entry = Entry.objects.get(operation=given["id"])
    assert (told["status"], told["id"]) == ("recorded", given["id"])
    assert told["entry"] == {"record": str(entry.record_id), "seq": entry.seq, "digest": entry.digest}
    assert Flaw.objects.get(pk=given["id"]).size_x == pytest.approx(0.012)


def test_the_same_sent_twice_is_recorded_once_and_answered_alike(crew: APIClient, flaws: str) -> None:
    given = flaw_given()
    first, again = crew.post(flaws, given), crew.post(flaws, given)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == {**first.json(), "status": "already"}
    assert Entry.objects.filter(operation=given["id"]).count() == 1


def test_a_resend_is_told_what_followed_the_first_time(own: World, crew: APIClient) -> None:
    run = own.scene.open_run()
    own.scene.close(run)
    given = flaw_given()
    crew.post(f"{API}runs/{run.pk}/report_flaw/", given)
    again = crew.post(f"{API}runs/{run.pk}/report_flaw/", given).json()
    assert again["consequences"] == [f"{run} was closed before {Flaw.objects.get(pk=given['id']).tag} was reported."]


def test_the_same_id_with_other_content_is_a_conflict_and_set_aside(own: World, crew: APIClient, flaws: str) -> None:
    given = flaw_given()
    crew.post(flaws, given)
    answer = crew.post(flaws, {**given, "place": "1+008.00 @ 2:00"})
    assert answer.status_code == 409
    assert answer["Content-Type"] == "application/problem+json"
    aside = SetAside.objects.get(operation=given["id"])
    assert (aside.action, aside.payload["place"], aside.person) == ("report_flaw", "1+008.00 @ 2:00", own.scene.crew)
    assert Flaw.objects.get(pk=given["id"]).said == "1+007.00 @ 2:00"


def test_a_conflict_under_if_match_is_set_aside_too(own: World, crew: APIClient, flaws: str) -> None:
    given = flaw_given()
    crew.post(flaws, given)
    answer = crew.post(flaws, {**given, "place": "1+008.00 @ 2:00"}, headers={"If-Match": "*"})
    assert answer.status_code == 409
    assert SetAside.objects.filter(operation=given["id"]).exists()


def test_an_id_that_belongs_to_a_row_of_somebody_else_is_a_conflict(
    foreign: World, crew: APIClient, flaws: str
) -> None:
    taken = foreign.rows[Flaw].pk
    answer = crew.post(flaws, flaw_given(id=str(taken)))
    assert answer.status_code == 409
    assert SetAside.objects.get(operation=taken).payload["place"] == "1+007.00 @ 2:00"


def test_every_bad_field_is_named_with_its_value_and_what_is_allowed(crew: APIClient, flaws: str) -> None:
    answer = crew.post(flaws, flaw_given(kind="hole", size_x="12 furlongs"))
    assert answer.status_code == 400
    errors = {error["field"]: error for error in answer.json()["errors"]}
    assert set(errors) == {"kind", "size_x"}
    assert errors["kind"]["value"] == "hole"
    assert "pinhole" in errors["kind"]["allowed"]


def test_a_field_the_action_does_not_know_is_refused_and_nothing_is_written(crew: APIClient, flaws: str) -> None:
    given = flaw_given(deph=300)
    answer = crew.post(flaws, given)
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "deph"
    assert not Flaw.objects.filter(pk=given["id"]).exists()


@pytest.mark.parametrize(
    "body",
    [
        '["a list"]',
        '"text"',
        "nothing like JSON",
        '{"place": "1+007.00 @ 2:00", "note": "a\\u0000b"}',
        '{"place": "1+007.00 @ 2:00", "note": "\\ud800"}',
        '{"place": "1+007.00 @ 2:00", "size_x": 1e999}',
        '{"place": "1+007.00 @ 2:00", "number": 99999999999999999999}',
        '{"place": ' + "[" * 100_000 + "]" * 100_000 + "}",
        '{"id": "not an id", "place": "1+007.00 @ 2:00"}',
        '{"device_at": "yesterday", "place": "1+007.00 @ 2:00"}',
    ],
)
def test_a_body_that_cannot_be_kept_is_refused_and_not_a_fault(body: str, crew: APIClient, flaws: str) -> None:
    answer = crew.post(flaws, body, content_type="application/json")
    assert answer.status_code == 400, answer.content
    assert answer["Content-Type"] == "application/problem+json"


def test_a_body_that_is_too_large_is_refused_by_its_stated_length(crew: APIClient, flaws: str) -> None:
    answer = crew.post(flaws, '{"note": "' + "x" * 13_000_000 + '"}', content_type="application/json")
    assert answer.status_code == 413


def test_a_media_type_that_is_not_read_is_refused(crew: APIClient, flaws: str) -> None:
    assert crew.post(flaws, "place=here", content_type="application/x-www-form-urlencoded").status_code == 415


def test_the_devices_own_time_is_kept_beside_the_servers(crew: APIClient, flaws: str) -> None:
    given = flaw_given(device_at="2025-03-04T09:30:00+01:00", sent_at="2025-03-04T09:31:00+01:00")
    assert crew.post(flaws, given).status_code == 201
    entry = Entry.objects.get(operation=given["id"])
    assert entry.device_at.isoformat() == "2025-03-04T08:30:00+00:00"
    assert Flaw.objects.get(pk=given["id"]).found_at == entry.device_at


def test_an_action_with_a_file_takes_a_form_and_keeps_the_file(own: World, client_of: Client) -> None:
    scene = own.scene
    run = scene.open_run()
    scene.sweep(run, "1+000.00 to 1+002.00")
    scene.check(run, measured=1000)
    assert set(Swath.objects.filter(run=run).values_list("standing", flat=True)) == {"lost"}
    photo = SimpleUploadedFile("voltmeter.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 40, content_type="image/png")
    given = {"id": str(new_id()), "grounds": "late check", "why": "Read 2490 V before any adjustment.", "file": photo}
    answer = client_of(scene.lead).post(f"{API}runs/{run.pk}/reinstate/", given, format="multipart")
    assert answer.status_code == 201, answer.content
    kept = Reinstatement.objects.get(pk=given["id"]).evidence
    assert kept is not None
    assert (kept.name, kept.size) == ("voltmeter.png", 48)


def test_a_row_that_was_amended_since_it_was_read_is_not_changed_over_it(own: World, client_of: Client) -> None:
    scene = own.scene
    lead = client_of(scene.lead)
    sheet = f"{API}sheets/{scene.take_sheet().pk}/"
    tag = lead.get(sheet)["ETag"]
    scene.hand_in()
    answer = lead.post(f"{sheet}give_up_sheet/", {"why": "Lost in the tank."}, headers={"If-Match": tag})
    assert answer.status_code == 412
    assert "version is 2" in answer.json()["detail"]


def test_a_row_that_was_not_amended_is_changed_under_its_tag_and_a_resend_is_told_so(
    own: World, client_of: Client
) -> None:
    scene = own.scene
    lead = client_of(scene.lead)
    sheet = f"{API}sheets/{scene.take_sheet().pk}/"
    held = {"If-Match": lead.get(sheet)["ETag"]}
    given = {"id": str(new_id()), "why": "Lost in the tank."}
    assert lead.post(f"{sheet}give_up_sheet/", given, headers=held).status_code == 201
    assert lead.post(f"{sheet}give_up_sheet/", given, headers=held).status_code == 200


def signed_in(own: World, *, seconds_ago: float = 0.0) -> SessionClient:
    owner = PersonFactory(organisation=own.scene.asset.organisation, password=PASSWORD)
    AppointmentFactory(person=owner, role=Role.OWNER)
    client = SessionClient()
    client.post(reverse("account_login"), {"login": owner.email, "password": PASSWORD})
    session = client.session
    for proof in session["account_authentication_methods"]:
        proof["at"] -= seconds_ago
    session.save()
    return client


def decide(client: SessionClient, own: World) -> Any:
    exclusion = own.scene.do(
        "draw_exclusion", own.scene.crew, own.scene.zone, place="1+000.00 to 1+001.00", reason="under the clamp"
    )
    path = f"{API}exclusions/{exclusion.pk}/decide_exclusion/"
    return client.post(path, {"accepted": True}, content_type="application/json")


def test_a_decision_from_a_recent_sign_in_is_recorded(own: World) -> None:
    assert decide(signed_in(own), own).status_code == 201


def test_a_decision_from_an_old_sign_in_asks_to_sign_in_again(own: World) -> None:
    answer = decide(signed_in(own, seconds_ago=4000), own)
    assert answer.status_code == 403
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["sign_in_again"] == reverse("account_reauthenticate")


def test_an_old_sign_in_still_records_what_is_no_decision(own: World) -> None:
    client = signed_in(own, seconds_ago=4000)
    path = f"{API}zones/{own.scene.zone.pk}/draw_exclusion/"
    given = {"place": "1+000.00 to 1+001.00", "reason": "under the clamp"}
    assert client.post(path, given, content_type="application/json").status_code == 201


def test_a_session_without_its_forgery_token_changes_nothing(own: World) -> None:
    client = signed_in(own)
    client.handler.enforce_csrf_checks = True
    answer = decide(client, own)
    assert answer.status_code == 403
    assert "CSRF" in answer.json()["detail"]


def test_an_operation_without_an_id_gets_one(crew: APIClient, flaws: str) -> None:
    answer = crew.post(flaws, {"place": "1+007.00 @ 2:00"})
    assert Flaw.objects.filter(pk=UUID(answer.json()["id"])).exists()
