"""API tokens: shown once and hashed at rest, revoked at once, and deciding only when made so."""

from __future__ import annotations

import pytest
from django.db import connection
from rest_framework.test import APIClient

from accounts.people import Person, Role
from accounts.tokens import Token
from tests.api.conftest import ClientOf, World

ME = "/api/v1/me/"


@pytest.fixture
def crew(own: World) -> Person:
    return own.scene.crew


def client_with(text: str) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {text}")
    return client


def test_no_column_of_a_token_holds_its_text(crew: Person) -> None:
    token, text = Token.objects.create(user=crew, name="tablet")
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {Token._meta.db_table}")
        stored = " ".join(str(column) for row in cursor.fetchall() for column in row)
    assert token.digest in stored
    assert text not in stored


def test_a_token_stands_for_its_person(crew: Person) -> None:
    _, text = Token.objects.create(user=crew, name="tablet")
    assert client_with(text).get(ME).json()["id"] == str(crew.pk)


def test_a_revoked_token_signs_nobody_in(crew: Person) -> None:
    token, text = Token.objects.create(user=crew, name="tablet")
    token.delete()
    assert client_with(text).get(ME).status_code == 401


def test_a_token_of_a_closed_account_signs_nobody_in(crew: Person) -> None:
    _, text = Token.objects.create(user=crew, name="tablet")
    Person.objects.filter(pk=crew.pk).update(is_active=False)
    assert client_with(text).get(ME).status_code == 401


@pytest.mark.parametrize("header", ["Token", "Token made-up", "Token a b", "Token \xff", "Bearer abc"])
def test_a_header_that_is_no_token_asks_to_sign_in(header: str, db: None) -> None:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=header)
    answer = client.get(ME)
    assert answer.status_code == 401
    assert answer.json()["type"].endswith("#not-signed-in")


def test_a_token_made_for_recording_does_not_decide(own: World, client_of: ClientOf) -> None:
    client = client_of(own.people[Role.OWNER], may_decide=False)
    answer = client.post(f"/api/v1/coatings/{own.scene.coating.pk}/end_coating/", {"why": "Stripped."})
    assert answer.status_code == 403
    assert "may not decide" in answer.json()["detail"]


def test_a_token_made_for_deciding_decides(own: World, client_of: ClientOf) -> None:
    client = client_of(own.people[Role.OWNER], may_decide=True)
    answer = client.post(f"/api/v1/coatings/{own.scene.coating.pk}/end_coating/", {"why": "Stripped."})
    assert answer.status_code == 201, answer.content
