"""The first start: one organisation, one administrator who owns, one entry; and never again."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client

from accounts.beginning import AlreadyBegun, begin_with
from accounts.people import Organisation, Person
from accounts.record import Entry
from accounts.verify import verify

pytestmark = pytest.mark.django_db
FIRST = {"organisation": "Sill Coatings", "name": "Ada Fenn", "email": "Ada@Sill.example"}


def _begin(*extra: str) -> str:
    out = StringIO()
    arguments = [f"--{name}={value}" for name, value in FIRST.items()]
    call_command("begin", *arguments, *extra, stdout=out)
    return out.getvalue()


def test_it_makes_an_administrator_who_owns_everything() -> None:
    _, person = begin_with(**FIRST)
    held = person.appointments.values_list("role", "asset", "until")
    assert sorted(held) == [("admin", None, None), ("owner", None, None)]


def test_the_email_is_kept_in_lower_case() -> None:
    assert begin_with(**FIRST).person.email == "ada@sill.example"


def test_it_is_recorded_and_proves_whole() -> None:
    begun = begin_with(**FIRST)
    entry = Entry.objects.get(record=begun.organisation.pk)
    assert (entry.seq, entry.what, entry.actor) == (1, "begin", begun.person)
    assert list(verify()) == []


def test_the_record_holds_no_name_or_email() -> None:
    begun = begin_with(**FIRST)
    body = Entry.objects.get(record=begun.organisation.pk).body
    assert "Fenn" not in body
    assert "sill.example" not in body.lower()


def test_it_is_refused_once_begun() -> None:
    begin_with(**FIRST)
    with pytest.raises(AlreadyBegun):
        begin_with(organisation="Osk Painting", name="Una Holt", email="una@osk.example")
    assert Organisation.objects.count() == 1


def test_a_weak_password_makes_nothing() -> None:
    with pytest.raises(ValidationError):
        begin_with(**FIRST, password="12345678")
    assert not Person.objects.exists()


def test_the_command_with_a_password_lets_the_administrator_sign_in() -> None:
    _begin("--password=paper-ink-steel-9")
    answer = Client().post("/accounts/login/", {"login": "ada@sill.example", "password": "paper-ink-steel-9"})
    assert answer["Location"] == "/"


def test_the_command_without_a_password_prints_a_link_that_sets_one() -> None:
    said = _begin()
    link = next(line.split(": ")[1] for line in said.splitlines() if line.startswith("Set the password at"))
    page = Client().get(link, follow=True)
    assert b"Choose a password" in page.content


def test_the_printed_link_begins_with_the_address_of_the_site() -> None:
    said = _begin("--address=https://barespot.example.org/")

    assert "Set the password at: https://barespot.example.org/accounts/" in said


def test_the_command_refuses_in_words() -> None:
    _begin()
    with pytest.raises(CommandError, match="has begun here already"):
        _begin()


def test_the_command_refuses_a_bad_email_in_words() -> None:
    with pytest.raises(CommandError, match="valid email"):
        call_command("begin", "--organisation=Sill", "--name=Ada", "--email=nowhere")
