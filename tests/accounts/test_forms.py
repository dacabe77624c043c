"""An action's serializer as a page form: what is shown, what is kept, what is read back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.http import QueryDict
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils.datastructures import MultiValueDict
from rest_framework import serializers

from accounts.acting import REGISTRY, action, perform
from accounts.form_rows import FormRow, form_rows
from accounts.forms import build_form
from accounts.ids import new_id
from accounts.people import Organisation, Person, Role
from accounts.record import Entry
from accounts.sync import SetAside
from accounts.typed import Reader, given_from_page, rows_changed
from accounts.units import FilmField, LengthField, Quantity
from tests.accounts.conftest import Firm

pytestmark = pytest.mark.once

OSLO = Reader("si", ZoneInfo("Europe/Oslo"))
DENVER_US = Reader("us", ZoneInfo("America/Denver"))


class Weather(serializers.Serializer):
    air = serializers.FloatField(label="Air")


class Asked(serializers.Serializer):
    film = FilmField(label="Film", help_text="By gauge.", min_value=0)
    width = LengthField(required=False, page_unit="mm", page_unit_us="in")
    at = serializers.DateTimeField()
    kind = serializers.ChoiceField(choices=[("pinhole", "Pinhole"), ("void", "Void")], default="pinhole")
    wet = serializers.BooleanField(default=False)
    readings = serializers.ListField(child=FilmField(), required=False)
    note = serializers.CharField(required=False, allow_blank=True, max_length=2000)
    weather = Weather()


def _row(name: str, **details: Any) -> FormRow:
    return next(row for row in form_rows(Asked(), **details) if row.name == name)


def _read(body: str, reader: Reader = OSLO) -> dict[str, Any]:
    return given_from_page(Asked(), QueryDict(body), MultiValueDict(), reader)


def test_a_field_is_shown_by_what_it_takes() -> None:
    kinds = {row.name: row.kind for row in form_rows(Asked())}
    assert kinds == {
        "film": "text",
        "width": "text",
        "at": "text",
        "kind": "tiles",
        "wet": "tick",
        "readings": "area",
        "note": "area",
        "weather": "group",
        "weather.air": "text",
    }


def test_a_quantity_is_typed_as_text_so_that_a_unit_can_follow() -> None:
    assert _row("film").attributes == {"type": "text", "autocomplete": "off", "inputmode": "decimal"}


def test_the_unit_beside_the_box_is_the_readers() -> None:
    assert [_row("width", reader=reader).unit for reader in (OSLO, DENVER_US)] == ["mm", "in"]


def test_more_than_six_choices_are_a_list() -> None:
    many = [(str(number), f"Instrument {number}") for number in range(7)]
    assert _row("film", choices={"film": many}).kind == "select"


def test_the_only_thing_there_is_to_choose_is_chosen() -> None:
    class Begin(serializers.Serializer):
        specification = serializers.UUIDField()

    (row,) = form_rows(Begin(), choices={"specification": [("one", "Lining, edition 1")]})
    assert [choice.chosen for choice in row.choices] == [True]


def test_a_choice_with_a_default_offers_no_empty_tile() -> None:
    assert [choice.value for choice in _row("kind").choices] == ["pinhole", "void"]


def test_a_starting_moment_is_shown_in_the_assets_zone() -> None:
    moment = serializers.DateTimeField().to_internal_value("2031-05-14T14:40:00Z")
    assert _row("at", reader=OSLO, initial={"at": moment}).value == "2031-05-14T16:40"


@pytest.mark.parametrize(("start", "shown"), [(Quantity(304.8, "12 mil"), "12 mil"), (304.8, "12")])
def test_a_starting_quantity_is_shown_as_said_or_in_the_readers_unit(start: Any, shown: str) -> None:
    assert _row("film", reader=DENVER_US, initial={"film": start}).value == shown


def test_what_was_typed_rules_over_the_start() -> None:
    assert _row("film", typed=QueryDict("film=thick"), initial={"film": 300}).value == "thick"


def test_an_error_is_told_at_the_field_and_on_top_with_its_value() -> None:
    asked = Asked(data={"film": "thick"})
    asked.is_valid()
    form = build_form(Asked, button="Record", reader=OSLO, typed=QueryDict("film=thick"), errors=asked.errors)
    assert form.told[0] == (
        "id_film",
        'Film (thick): "thick" does not start with a number. Write a number in µm, mm or mil, 0 µm or more.',
    )
    assert form.rows[0].errors[0].startswith('"thick" does not start')


def test_a_field_left_empty_is_asked_for_in_our_words() -> None:
    asked = Asked(data={})
    asked.is_valid()
    assert _row("film", errors=asked.errors).errors == ("Fill this in.",)


def test_what_an_error_leaves_unsaid_about_the_allowed_is_added() -> None:
    asked = Asked(data={"weather": {"air": "cold"}})
    asked.is_valid()
    assert _row("weather.air", errors=asked.errors).allowed == "A number."


def test_a_refusal_of_the_whole_is_told_on_top() -> None:
    form = build_form(Asked, button="Record", reader=OSLO, errors=["The run is closed."])
    assert form.told == (("", "The run is closed."),)


@pytest.mark.parametrize(
    ("typed", "given"),
    [("12", "12 mil"), ("300 µm", "300 µm"), ("thick", "thick"), ("0,3 mm", "0,3 mm")],
)
def test_a_bare_number_means_the_unit_beside_its_box(typed: str, given: str) -> None:
    assert _read(f"film={typed}", DENVER_US)["film"] == given


def test_a_local_time_gets_the_assets_offset() -> None:
    assert _read("at=2031-05-14T16:40")["at"] == "2031-05-14T16:40:00+02:00"


def test_a_time_that_cannot_be_read_is_passed_on_to_be_refused() -> None:
    assert _read("at=noon")["at"] == "noon"


def test_an_absent_tick_means_no() -> None:
    assert [_read("wet=true")["wet"], _read("")["wet"]] == [True, False]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("305 310 298", ["305 µm", "310 µm", "298 µm"]),
        ("305\n310", ["305 µm", "310 µm"]),
        ("0,3 mm; 12 mil", ["0,3 mm", "12 mil"]),
        ("305, 310", ["305 µm", "310 µm"]),
    ],
)
def test_readings_are_parted_by_spaces_lines_semicolons_or_commas(text: str, said: list[str]) -> None:
    body = QueryDict(mutable=True)
    body["readings"] = text
    assert given_from_page(Asked(), body, MultiValueDict(), OSLO)["readings"] == said


def test_what_is_left_blank_is_left_out_unless_blank_is_an_answer() -> None:
    given = _read("film=&width=&note=&weather.air=")
    assert given == {"wet": False, "note": "", "readings": []}


def test_a_nested_answer_is_read_under_its_name() -> None:
    assert _read("weather.air=4,5")["weather"] == {"air": "4.5"}


# One action on a page, from opening the form to the redirect.


@pytest.fixture
def admin(firm: Firm) -> Client:
    client = Client()
    firm.admin.set_password("paper-ink-steel-9")
    firm.admin.save()
    client.post(reverse("account_login"), {"login": firm.admin.email, "password": "paper-ink-steel-9"})
    return client


@pytest.fixture
def address(firm: Firm) -> str:
    return reverse("invite_person", kwargs={"pk": firm.organisation.pk})


def test_a_press_performs_the_action_and_goes_on(admin: Client, firm: Firm, address: str) -> None:
    answer = admin.post(address, {"id": str(new_id()), "name": "Una Holt", "email": "una@sill.example"})
    assert (answer.status_code, answer["Location"]) == (
        303,
        reverse("organisation", kwargs={"pk": firm.organisation.pk}),
    )
    assert Person.objects.filter(email="una@sill.example").count() == 1


def test_the_same_press_twice_is_one_operation(admin: Client, address: str) -> None:
    body = {"id": str(new_id()), "name": "Una Holt", "email": "una@sill.example"}
    answers = [admin.post(address, body).status_code for _ in range(2)]
    assert answers == [303, 303]
    assert Entry.objects.filter(operation=body["id"]).count() == 1


def test_refused_input_comes_back_as_typed_under_the_same_operation(admin: Client, address: str) -> None:
    body = {"id": str(new_id()), "name": "Una Holt", "email": "nowhere"}
    answer = admin.post(address, body)
    assert answer.status_code == 422
    form = answer.context["form"]
    assert [row.value for row in form.rows] == ["Una Holt", "nowhere"]
    assert str(form.operation) == body["id"]


def test_an_id_used_before_with_other_content_is_set_aside_and_offered_anew(admin: Client, address: str) -> None:
    operation = str(new_id())
    admin.post(address, {"id": operation, "name": "Una Holt", "email": "una@sill.example"})
    answer = admin.post(address, {"id": operation, "name": "Una Holt", "email": "other@sill.example"})
    assert answer.status_code == 409
    assert SetAside.objects.filter(operation=operation).count() == 1
    assert str(answer.context["form"].operation) != operation


def test_a_person_without_the_role_is_told_whose_it_is(firm: Firm, address: str) -> None:
    client = Client()
    client.force_login(firm.crew)
    answer = client.get(address)
    assert answer.status_code == 403
    assert "&quot;Invite&quot; is done by: administrator." in answer.content.decode()


def test_a_row_of_somebody_else_is_not_there(admin: Client, db: None) -> None:
    foreign = Organisation.objects.create(name="Osk Painting")
    answers = [admin.get(reverse("organisation", kwargs={"pk": pk})).status_code for pk in (foreign.pk, new_id())]
    assert answers == [404, 404]


def test_a_signed_out_person_is_sent_to_sign_in(db: None, firm: Firm, address: str) -> None:
    answer = Client().get(address)
    assert answer["Location"] == f"{reverse('account_login')}?next={address}"


# Decisions ask for a recent sign-in.


@pytest.fixture
def decision() -> Iterator[None]:
    """Inviting, made a decision for this test."""
    ordinary = REGISTRY.pop("invite_person")
    action(
        "invite_person",
        takes=ordinary.takes,
        roles={Role.ADMIN},
        on=Organisation,
        title="Invite",
        decision=True,
    )(ordinary.rule)
    yield
    REGISTRY["invite_person"] = ordinary


def test_a_decision_by_a_recent_sign_in_is_taken(decision: None, admin: Client, address: str) -> None:
    body = {"id": str(new_id()), "name": "Una Holt", "email": "una@sill.example"}
    assert admin.post(address, body).status_code == 303


def test_a_decision_by_an_old_sign_in_asks_again_and_comes_back_to_what_was_typed(
    decision: None, admin: Client, address: str
) -> None:
    session = admin.session
    for record in session["account_authentication_methods"]:
        record["at"] -= 3601
    session.save()
    asked = admin.post(address, {"id": str(new_id()), "name": "Una Holt", "email": "una@sill.example"})
    assert asked["Location"].startswith(reverse("account_reauthenticate"))
    assert not Person.objects.filter(email="una@sill.example").exists()
    back = admin.post(asked["Location"], {"password": "paper-ink-steel-9", "next": address}, follow=True)
    assert [row.value for row in back.context["form"].rows] == ["Una Holt", "una@sill.example"]
    assert back.context["form"].note.startswith("It is you.")


def test_two_forms_on_one_page_share_no_id(admin: Client, firm: Firm) -> None:
    page = admin.get(reverse("organisation", kwargs={"pk": firm.organisation.pk}))
    ids = [row.id for name in ("invite_form", "appoint_form") for row in page.context[name].rows]
    assert len(ids) == len(set(ids))


def test_a_page_runs_no_inline_script_or_style(admin: Client, address: str) -> None:
    answer = admin.get(address)
    page = answer.content.decode()
    assert "style=" not in page
    assert "<script>" not in page
    assert "default-src 'none'" in answer["Content-Security-Policy"]


def test_typed_mark_up_is_shown_as_text(admin: Client, address: str) -> None:
    answer = admin.post(address, {"name": '"><script>alert(1)</script>', "email": "x"})
    assert "<script>alert" not in answer.content.decode()


def test_perform_takes_what_a_page_reads(firm: Firm) -> None:
    takes = REGISTRY["amend_my_units"].takes
    given = given_from_page(takes(), QueryDict("units=us"), MultiValueDict(), OSLO)
    assert perform("amend_my_units", firm.admin, firm.admin.pk, given).made.units == "us"


@pytest.mark.parametrize("name", sorted(REGISTRY))
def test_every_action_can_be_asked_for_on_a_page(name: str) -> None:
    what = REGISTRY[name]
    form = build_form(what.takes, button=what.title, reader=DENVER_US)
    page = render_to_string("parts/form.html", {"form": form})
    asked = [row for row in form.rows if row.kind not in ("group", "item", "more")]
    assert [row.name for row in asked if f'name="{row.name}"' not in page] == []
    assert given_from_page(what.takes(), QueryDict(""), MultiValueDict(), DENVER_US) is not None


class Decided(serializers.Serializer):
    accepted = serializers.BooleanField()
    read = serializers.BooleanField(style={"tick": True})


def test_a_required_yes_or_no_is_two_tiles_and_decides_nothing_when_left() -> None:
    row, ticked = form_rows(Decided())
    assert [(choice.value, choice.chosen) for choice in row.choices] == [("true", False), ("false", False)]
    assert ticked.kind == "tick"
    assert given_from_page(Decided(), QueryDict(""), MultiValueDict(), OSLO) == {"read": False}


@pytest.mark.parametrize("answer", ["true", "false"])
def test_an_answered_yes_or_no_is_read(answer: str) -> None:
    given = given_from_page(Decided(), QueryDict(f"accepted={answer}"), MultiValueDict(), OSLO)
    asked = Decided(data=given)
    assert asked.is_valid()
    assert asked.validated_data["accepted"] is (answer == "true")


class Coat(serializers.Serializer):
    name = serializers.CharField(label="Name")
    share = serializers.FloatField(default=100.0)


class Body(serializers.Serializer):
    coats = Coat(many=True, required=False, style={"one": "Coat", "more": "Add a coat"})
    note = serializers.CharField(required=False, allow_blank=True)


class Draft(serializers.Serializer):
    body = Body(required=False)


def _draft(body: str) -> dict[str, Any]:
    return given_from_page(Draft(), QueryDict(body), MultiValueDict(), OSLO)


def test_items_left_blank_at_the_end_are_not_sent() -> None:
    typed = "body.coats.rows=2&body.coats.0.name=primer&body.coats.0.share=90&body.coats.1.name=&body.coats.1.share=100"
    assert _draft(typed)["body"]["coats"] == [{"name": "primer", "share": "90"}]


def test_a_part_of_which_only_an_item_is_typed_is_sent() -> None:
    assert _draft("body.coats.0.name=primer")["body"]["coats"] == [{"name": "primer"}]


def test_a_part_that_may_lack_and_is_left_blank_is_not_sent() -> None:
    assert _draft("body.coats.rows=1&body.coats.0.name=&body.coats.0.share=100&body.note=") == {}


def test_a_press_adds_room_for_one_more_and_keeps_what_was_typed() -> None:
    changed = rows_changed(QueryDict("body.coats.rows=1&body.coats.0.name=primer&more=body.coats"))
    rows = form_rows(Draft(), typed=changed)
    assert [row.value for row in rows if row.label == "Name"] == ["primer", ""]


def test_a_press_takes_one_out_and_moves_the_others_up() -> None:
    typed = "body.coats.rows=2&body.coats.0.name=primer&body.coats.1.name=topcoat&drop=body.coats.0"
    rows = form_rows(Draft(), typed=rows_changed(QueryDict(typed)))
    assert [row.value for row in rows if row.label == "Name"] == ["topcoat"]


def test_what_is_wrong_in_an_item_is_told_with_the_item_it_is_in() -> None:
    asked = Draft(data={"body": {"coats": [{"name": "primer"}, {}]}})
    asked.is_valid()
    initial = {"body": {"coats": [{"name": "primer"}, {}]}}
    form = build_form(Draft, button="Save", reader=OSLO, initial=initial, errors=asked.errors)
    assert [line.message for line in form.told] == ["Coat 2, Name: Fill this in."]
