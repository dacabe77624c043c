"""Who sees which rows and holds which roles, when: own and foreign, in force and ended."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from accounts.access import assets_of, owner_model, record_id, roles_on, visible
from accounts.assets import Asset
from accounts.evidence import Evidence
from accounts.people import Appointment, Organisation, Person, Role
from accounts.record import Record
from tests.factories import (
    LONG_AGO,
    AppointmentFactory,
    AssetFactory,
    EvidenceFactory,
    OrganisationFactory,
    PersonFactory,
    appointed,
    record_of,
)

NOW = datetime(2025, 6, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)

pytestmark = pytest.mark.django_db


def test_an_appointment_on_an_asset_shows_that_asset_alone() -> None:
    asset = AssetFactory()
    AssetFactory(organisation=asset.organisation)
    assert list(visible(appointed(Role.CREW, asset), Asset)) == [asset]


def test_an_appointment_on_every_asset_shows_later_assets_too() -> None:
    person = AppointmentFactory(role=Role.OWNER).person
    asset = AssetFactory(organisation=person.organisation)
    AssetFactory()
    assert list(visible(person, Asset)) == [asset]


def test_an_appointment_on_every_asset_of_a_contractor_shows_none_of_its_customers() -> None:
    customers = AssetFactory()
    contractor = appointed(Role.CONTRACTOR, customers, OrganisationFactory())
    foreman = AppointmentFactory(person__organisation=contractor.organisation, role=Role.CONTRACTOR).person
    assert list(visible(foreman, Asset)) == []


def test_belonging_to_the_owner_without_an_appointment_shows_no_asset() -> None:
    assert list(visible(PersonFactory(organisation=AssetFactory().organisation), Asset)) == []


@pytest.mark.parametrize(
    ("since", "until", "seen"),
    [
        (NOW - DAY, None, True),
        (NOW, None, True),
        (NOW + DAY, None, False),
        (NOW - DAY, NOW + DAY, True),
        (NOW - DAY, NOW, False),
        (NOW - 2 * DAY, NOW - DAY, False),
    ],
)
def test_an_appointment_counts_from_its_start_until_before_its_end(
    since: datetime, until: datetime | None, seen: bool
) -> None:
    asset = AssetFactory()
    person = PersonFactory()
    AppointmentFactory(person=person, asset=asset, role=Role.CREW, since=since, until=until)
    assert assets_of(person, NOW).exists() is seen
    assert bool(roles_on(person, asset, NOW)) is seen


def test_somebody_whose_account_is_closed_sees_nothing() -> None:
    person = appointed(Role.OWNER, AssetFactory())
    person.is_active = False
    assert not visible(person, Asset).exists()
    assert not visible(person, Organisation).exists()


def test_people_see_their_own_organisation_and_those_they_act_for() -> None:
    asset = AssetFactory()
    OrganisationFactory()
    person = PersonFactory()
    AppointmentFactory(person=person, organisation=asset.organisation, asset=asset, role=Role.OBSERVER)
    assert set(visible(person, Organisation)) == {person.organisation, asset.organisation}


def test_people_of_a_foreign_organisation_are_not_seen() -> None:
    person = PersonFactory()
    PersonFactory()
    assert list(visible(person, Person)) == [person]


def test_appointments_of_a_foreign_organisation_are_not_seen() -> None:
    appointment = AppointmentFactory()
    AppointmentFactory()
    assert list(visible(appointment.person, Appointment)) == [appointment]


def test_evidence_is_seen_with_the_asset_or_the_organisation_whose_record_holds_it() -> None:
    asset = AssetFactory()
    person = appointed(Role.CREW, asset)
    photo = EvidenceFactory(record=record_of(asset), content=b"photo")
    certificate = EvidenceFactory(record=record_of(person.organisation), content=b"certificate")
    EvidenceFactory(record=record_of(AssetFactory()), content=b"foreign")
    assert set(visible(person, Evidence)) == {photo, certificate}


def test_a_row_leads_to_its_record() -> None:
    appointment = AppointmentFactory(asset=(asset := AssetFactory()))
    assert record_id(asset) == asset.pk
    assert record_id(appointment) == appointment.organisation_id
    assert record_id(EvidenceFactory(record=record_of(asset))) == asset.pk


def test_a_model_leads_to_the_end_of_its_record_path() -> None:
    assert [owner_model(model) for model in (Asset, Appointment, Person, Evidence)] == [
        Asset,
        Organisation,
        Organisation,
        Record,
    ]


def test_a_lead_may_all_that_crew_may() -> None:
    asset = AssetFactory()
    lead = appointed(Role.LEAD, asset)
    assert roles_on(lead, asset) == {Role.LEAD: lead.organisation, Role.CREW: lead.organisation}


def test_no_other_role_stands_for_another() -> None:
    asset = AssetFactory()
    for role in set(Role) - {Role.LEAD}:
        assert set(roles_on(appointed(role, asset), asset)) == {role}


def test_each_role_carries_the_organisation_it_is_held_for() -> None:
    asset = AssetFactory()
    person = PersonFactory()
    AppointmentFactory(person=person, asset=asset, role=Role.CREW)
    AppointmentFactory(person=person, asset=asset, role=Role.OBSERVER, organisation=asset.organisation)
    assert roles_on(person, asset) == {Role.CREW: person.organisation, Role.OBSERVER: asset.organisation}


def test_the_oldest_appointment_to_a_role_says_for_whom_one_acts() -> None:
    asset = AssetFactory()
    person = PersonFactory()
    AppointmentFactory(person=person, asset=asset, role=Role.CREW, organisation=asset.organisation, since=NOW - DAY)
    AppointmentFactory(person=person, asset=asset, role=Role.CREW, since=LONG_AGO)
    assert roles_on(person, asset, NOW) == {Role.CREW: person.organisation}


def test_a_role_on_one_asset_is_none_on_another() -> None:
    asset = AssetFactory()
    other = AssetFactory(organisation=asset.organisation)
    assert roles_on(appointed(Role.OWNER, asset), other) == {}


@pytest.mark.parametrize("role", [Role.OWNER, Role.ADMIN])
def test_an_owner_or_administrator_of_one_asset_is_none_of_the_organisation(role: Role) -> None:
    asset = AssetFactory()
    assert roles_on(appointed(role, asset), asset.organisation) == {}


@pytest.mark.parametrize("role", [Role.CREW, Role.LEAD, Role.CONTRACTOR, Role.OBSERVER])
def test_other_roles_on_one_asset_count_on_the_record_of_the_organisation_acted_for(role: Role) -> None:
    asset = AssetFactory()
    assert role in roles_on(appointed(role, asset), asset.organisation)


def test_roles_on_evidence_of_an_organisation_are_those_on_the_organisation() -> None:
    appointment = AppointmentFactory(role=Role.ADMIN)
    certificate = EvidenceFactory(record=record_of(appointment.organisation))
    assert set(roles_on(appointment.person, certificate)) == {Role.ADMIN}
