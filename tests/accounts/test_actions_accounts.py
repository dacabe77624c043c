"""Organisations, people, appointments and assets change only by these actions."""

from __future__ import annotations

from typing import Any
from unittest import mock

import pytest
from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError

from accounts import record
from accounts.access import roles_on, visible
from accounts.acting import may, perform
from accounts.assets import Asset
from accounts.people import Appointment, Organisation, Person, Role
from accounts.record import Entry
from accounts.verify import verify
from tests.accounts.conftest import Firm
from tests.factories import PersonFactory, appointed

ASSET = {"name": "North main", "kind": "buried water main", "time_zone": "America/Denver"}


def _refused(name: str, person: Person, target: Any, given: dict[str, Any]) -> dict[str, list[str]]:
    with pytest.raises(ValidationError) as refused:
        perform(name, person, target.pk, given)
    return {field: [str(text) for text in texts] for field, texts in refused.value.detail.items()}


def test_whoever_adds_an_organisation_administers_it(firm: Firm) -> None:
    made = perform("create_organisation", firm.admin, firm.organisation.pk, {"name": "Osk Painting"}).made
    assert set(roles_on(firm.admin, made)) == {Role.ADMIN}
    assert list(verify()) == []


def test_a_second_organisation_of_the_same_name_is_refused(firm: Firm) -> None:
    told = _refused("create_organisation", firm.admin, firm.organisation, {"name": "sill coatings"})
    assert told == {"name": ['There is an organisation "sill coatings" already. Choose another name.']}


def test_an_invited_person_belongs_to_the_organisation_and_cannot_sign_in_yet(firm: Firm) -> None:
    given = {"name": "Una Holt", "email": "Una@Sill.example"}
    person = perform("invite_person", firm.admin, firm.organisation.pk, given).made
    assert (person.organisation, person.email) == (firm.organisation, "una@sill.example")
    assert not person.has_usable_password()


def test_an_invitation_leaves_name_and_email_out_of_the_record(firm: Firm) -> None:
    entry = perform(
        "invite_person", firm.admin, firm.organisation.pk, {"name": "Una Holt", "email": "u@x.example"}
    ).entry
    assert "Holt" not in entry.body
    assert "u@x.example" not in entry.body


def test_an_email_is_invited_once(firm: Firm) -> None:
    told = _refused("invite_person", firm.admin, firm.organisation, {"name": "Ivo", "email": "IVO@sill.example"})
    assert told == {"email": ["ivo@sill.example has an account already. Appoint this person instead."]}


def test_an_appointment_is_written_on_the_records_of_asset_and_organisation(firm: Firm) -> None:
    records = Entry.objects.filter(what="appoint").values_list("record", flat=True)
    assert set(records) == {firm.asset.pk, firm.organisation.pk}


def test_both_records_of_an_appointment_are_locked_at_once_in_one_order(firm: Firm) -> None:
    given = {"email": firm.crew.email, "role": "observer"}
    with mock.patch("accounts.acting.record.lock", side_effect=record.lock) as lock:
        perform("appoint", firm.admin, firm.asset.pk, given)
    assert [set(call.args[0]) for call in lock.call_args_list] == [{firm.asset.pk, firm.crew.organisation_id}]


def test_a_person_is_appointed_for_another_organisation(firm: Firm) -> None:
    osk = perform("create_organisation", firm.admin, firm.organisation.pk, {"name": "Osk Painting"}).made
    una = perform("invite_person", firm.admin, osk.pk, {"name": "Una Holt", "email": "una@osk.example"}).made
    given = {"email": una.email, "role": "contractor", "organisation": str(osk.pk)}
    perform("appoint", firm.admin, firm.asset.pk, given)
    assert roles_on(una, firm.asset) == {Role.CONTRACTOR: osk}


def test_left_out_a_person_acts_for_their_own_organisation(firm: Firm) -> None:
    assert firm.appointment.organisation == firm.crew.organisation


def test_nobody_out_of_sight_can_be_appointed(firm: Firm) -> None:
    stranger = PersonFactory()
    told = _refused("appoint", firm.admin, firm.asset, {"email": stranger.email, "role": "crew"})
    assert told["email"][0].startswith(f"{stranger.email} is nobody in the organisations you administer")


def test_an_organisation_out_of_sight_cannot_be_acted_for(firm: Firm) -> None:
    foreign = Organisation.objects.create(name="Osk Painting")
    given = {"email": firm.crew.email, "role": "crew", "organisation": str(foreign.pk)}
    assert _refused("appoint", firm.admin, firm.asset, given) == {
        "organisation": [f"{foreign.pk} is no organisation you can see."]
    }


def test_the_same_appointment_twice_is_refused(firm: Firm) -> None:
    told = _refused("appoint", firm.admin, firm.asset, {"email": firm.crew.email, "role": "crew"})
    assert told == {"role": ["Ivo Reed is inspection crew there already."]}


def test_an_appointment_over_everything_reaches_later_assets(firm: Firm) -> None:
    given = {"email": firm.crew.email, "role": "observer"}
    perform("appoint_everywhere", firm.admin, firm.organisation.pk, given)
    later = perform("create_asset", firm.admin, firm.organisation.pk, ASSET).made
    assert set(roles_on(firm.crew, later)) == {Role.OBSERVER}


def test_an_ended_appointment_shows_nothing_any_more(firm: Firm) -> None:
    perform("end_appointment", firm.admin, firm.appointment.pk, {})
    assert not visible(firm.crew, Asset).exists()


def test_an_appointment_ends_once(firm: Firm) -> None:
    perform("end_appointment", firm.admin, firm.appointment.pk, {})
    told = _refused("end_appointment", firm.admin, firm.appointment, {})
    assert told == {"non_field_errors": ["This appointment has ended already."]}


def test_the_last_administrator_stays(firm: Firm) -> None:
    last = Appointment.objects.get(person=firm.admin, role=Role.ADMIN)
    told = _refused("end_appointment", firm.admin, last, {})
    assert told == {"non_field_errors": ["This is the last administrator. Appoint another one first."]}


def test_an_administrator_beside_another_can_leave(firm: Firm) -> None:
    perform("appoint_everywhere", firm.admin, firm.organisation.pk, {"email": firm.crew.email, "role": "admin"})
    leaving = Appointment.objects.get(person=firm.admin, role=Role.ADMIN)
    ended = perform("end_appointment", firm.crew, leaving.pk, {}).made
    assert ended.until is not None


@pytest.mark.parametrize("role", [Role.CREW, Role.LEAD, Role.CONTRACTOR, Role.OBSERVER, Role.OWNER])
@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("create_organisation", {"name": "Osk Painting"}),
        ("invite_person", {"name": "Una Holt", "email": "una@osk.example"}),
        ("appoint_everywhere", {"email": "ivo@sill.example", "role": "admin"}),
    ],
)
def test_people_and_organisations_are_the_administrators_alone(
    firm: Firm, role: Role, name: str, given: dict[str, Any]
) -> None:
    person = appointed(role, firm.asset)
    with pytest.raises(PermissionDenied, match="is done by: administrator"):
        perform(name, person, firm.organisation.pk, given)


def test_an_owner_of_one_asset_adds_no_other(firm: Firm) -> None:
    with pytest.raises(PermissionDenied):
        perform("create_asset", appointed(Role.OWNER, firm.asset), firm.organisation.pk, ASSET)


def test_an_organisation_out_of_sight_is_not_there(firm: Firm) -> None:
    foreign = Organisation.objects.create(name="Osk Painting")
    with pytest.raises(NotFound):
        perform("invite_person", firm.admin, foreign.pk, {"name": "Una Holt", "email": "una@osk.example"})


def test_an_asset_keeps_how_its_places_are_spoken(firm: Firm) -> None:
    given = {
        **ASSET,
        "unit_system": "imperial",
        "foot": "survey",
        "chainage_start": -12.5,
        "station_equations": "1225.00 back = 1250.00 ahead\n\n2000 = 1990",
    }
    asset = perform("create_asset", firm.admin, firm.organisation.pk, given).made
    asset.refresh_from_db()
    assert (asset.unit_system, asset.foot, asset.chainage_start) == ("imperial", "survey", -12.5)
    assert asset.station_equations == [[1225.0, 1250.0], [2000.0, 1990.0]]


def test_two_assets_of_one_owner_differ_in_name(firm: Firm) -> None:
    told = _refused("create_asset", firm.admin, firm.organisation, {**ASSET, "name": "Tank 7"})
    assert told == {"name": ['Sill Coatings has an asset "Tank 7" already. Choose another name.']}


def test_a_time_zone_is_one_of_the_iana_database(firm: Firm) -> None:
    told = _refused("create_asset", firm.admin, firm.organisation, {**ASSET, "time_zone": "Oslo"})
    assert told == {
        "time_zone": ['"Oslo" is no time zone. Write a name of the IANA database: Europe/Oslo, America/Denver, UTC.']
    }


@pytest.mark.parametrize(
    ("unit_system", "equations", "read"),
    [
        ("metric", "1+225.00 back = 1+250.00 ahead", [[1225.0, 1250.0]]),
        ("imperial", "12+40.5 back = 12+00 ahead", [[1240.5, 1200.0]]),
    ],
)
def test_station_equations_are_read_as_they_are_spoken(
    firm: Firm, unit_system: str, equations: str, read: list[list[float]]
) -> None:
    given = {**ASSET, "unit_system": unit_system, "station_equations": equations}

    assert perform("create_asset", firm.admin, firm.organisation.pk, given).made.station_equations == read


def test_an_offset_that_reaches_the_next_station_is_refused(firm: Firm) -> None:
    given = {**ASSET, "unit_system": "imperial", "station_equations": "12+240 back = 12+00 ahead"}

    refused = _refused("create_asset", firm.admin, firm.organisation, given)

    assert refused["station_equations"] == [
        '"12+240 back = 12+00 ahead" is no station equation: after the plus stands less than 100.'
    ]


@pytest.mark.parametrize(
    ("equations", "told"),
    [
        ("1225 back 1250", '"1225 back 1250" is no station equation.'),
        ("1.2.3 = 4", '"1.2.3 = 4" is no station equation.'),
        ([[1, 2, 3]], '"[1, 2, 3]" is no station equation.'),
        ([[1, "2"]], "\"[1, '2']\" is no station equation."),
        ([[True, 2]], '"[True, 2]" is no station equation.'),
        ({"back": 1}, "\"{'back': 1}\" is no list of station equations."),
        ([[10, 10]], '"10 back = 10 ahead" does not jump.'),
        ([[-5, 10]], '"-5 back = 10 ahead" is out of order.'),
        ([[100, 50], [40, 90]], '"40 back = 90 ahead" is out of order.'),
        ([[10.001, 20]], '"10.001 back = 20 ahead" is finer than 0.01.'),
        ([[100, 50], [100, 50]], "Chainage 50 would occur more than twice"),
    ],
)
def test_station_equations_that_could_not_be_spoken_are_refused(firm: Firm, equations: Any, told: str) -> None:
    refused = _refused("create_asset", firm.admin, firm.organisation, {**ASSET, "station_equations": equations})
    assert refused["station_equations"][0].startswith(told)


def test_everybody_changes_only_their_own_units(firm: Firm) -> None:
    assert perform("amend_my_units", firm.crew, firm.crew.pk, {"units": "us"}).made.units == "us"
    with pytest.raises(PermissionDenied):
        perform("amend_my_units", firm.crew, firm.admin.pk, {"units": "us"})


@pytest.mark.parametrize(
    ("name", "given"), [("amend_my_units", {"units": "us"}), ("amend_my_language", {"language": "es"})]
)
def test_units_and_language_are_one_s_own_also_with_a_single_asset_or_none(
    firm: Firm, name: str, given: dict[str, str]
) -> None:
    nobody = perform(
        "invite_person", firm.admin, firm.organisation.pk, {"name": "Una", "email": "una@sill.example"}
    ).made
    owner = perform(
        "invite_person", firm.admin, firm.organisation.pk, {"name": "Odd", "email": "odd@sill.example"}
    ).made
    perform("appoint", firm.admin, firm.asset.pk, {"email": owner.email, "role": "owner"})

    for person in (nobody, owner):
        assert may(person, name, person)
        done = perform(name, person, person.pk, given)
        assert (done.status, done.entry.organisation) == ("recorded", firm.organisation)
        assert not may(person, "amend_person", person)
