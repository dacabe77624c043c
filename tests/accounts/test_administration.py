"""People are corrected and let go, appointments have dates, and a row may be closed to who holds the role."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from rest_framework.exceptions import ValidationError

from accounts.acting import may, perform, refused
from accounts.people import Appointment
from tests.accounts.conftest import Firm
from tests.factories import PersonFactory
from tests.scenes import pipe_scene

pytestmark = pytest.mark.django_db


def test_a_person_is_corrected_and_signs_in_with_the_new_address(firm: Firm) -> None:
    person = PersonFactory(organisation=firm.organisation)
    perform("amend_person", firm.admin, person.pk, {"name": "Una Holt", "email": "Una@Sill.example"})

    person.refresh_from_db()
    assert (person.name, person.email) == ("Una Holt", "una@sill.example")


def test_an_address_of_another_account_is_refused(firm: Firm) -> None:
    person = PersonFactory(organisation=firm.organisation)
    with pytest.raises(ValidationError, match="belongs to another account"):
        perform("amend_person", firm.admin, person.pk, {"name": "Una Holt", "email": firm.admin.email})


def test_a_closed_account_signs_in_no_more_and_can_be_opened_again(firm: Firm) -> None:
    person = PersonFactory(organisation=firm.organisation)
    assert perform("close_account", firm.admin, person.pk, {}).made.is_active is False
    assert perform("reopen_account", firm.admin, person.pk, {}).made.is_active is True


def test_nobody_closes_their_own_account(firm: Firm) -> None:
    with pytest.raises(ValidationError, match="another administrator"):
        perform("close_account", firm.admin, firm.admin.pk, {})


def appoint(firm: Firm, **dates: object) -> Appointment:
    person = PersonFactory(organisation=firm.organisation)
    given = {"email": person.email, "role": "observer", **dates}
    return perform("appoint_everywhere", firm.admin, firm.organisation.pk, given).made


def test_an_appointment_may_begin_and_end_on_days_to_come(firm: Firm) -> None:
    soon = timezone.now() + timedelta(days=2)
    made = appoint(firm, since=soon.isoformat(), until=(soon + timedelta(days=5)).isoformat())

    assert made not in Appointment.objects.in_force(timezone.now())
    assert made in Appointment.objects.in_force(soon + timedelta(days=1))


def test_an_appointment_does_not_end_before_it_begins(firm: Firm) -> None:
    with pytest.raises(ValidationError, match="after the beginning"):
        appoint(firm, until="2001-01-01T00:00:00Z")


def test_an_appointment_can_be_ended_on_a_later_day(firm: Firm) -> None:
    made = appoint(firm)
    later = timezone.now() + timedelta(days=3)
    perform("end_appointment", firm.admin, made.pk, {"until": later.isoformat()})

    assert made in Appointment.objects.in_force(timezone.now())
    assert made not in Appointment.objects.in_force(later + timedelta(minutes=1))


def test_a_row_that_is_closed_to_the_contractor_is_said_before_the_press() -> None:
    scene = pipe_scene()
    run = scene.open_run()

    assert not may(scene.painter, "mark_swept", run)
    assert "run of the inspection crew" in str(refused(scene.painter, "mark_swept", run))
    assert may(scene.crew, "mark_swept", run)


def test_an_asset_is_corrected_without_moving_what_was_spoken() -> None:
    scene = pipe_scene()
    given = {"name": "Marlow main, north", "kind": "main", "place": "", "datum": ""}
    made = scene.do("amend_asset", scene.owner, scene.asset, **given)

    assert (made.name, made.unit_system) == ("Marlow main, north", scene.asset.unit_system)
