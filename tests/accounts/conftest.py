"""A small firm whose every row came through an action: the ground for proofs on the record."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from accounts.acting import perform
from accounts.assets import Asset
from accounts.beginning import begin_with
from accounts.evidence import Evidence
from accounts.people import Appointment, Organisation, Person
from accounts.rows import Row
from tests.factories import EvidenceFactory, record_of, recorded


@dataclass(frozen=True)
class Firm:
    organisation: Organisation
    admin: Person
    asset: Asset
    crew: Person
    appointment: Appointment
    photo: Evidence

    @property
    def rows(self) -> list[Row]:
        """One row of every recorded table of accounts."""
        return [self.organisation, self.crew, self.asset, self.appointment, self.photo]


def founded() -> Firm:
    """Begin, create an asset, invite and appoint somebody, keep a photo: records of four and three entries."""
    organisation, admin = begin_with(organisation="Sill Coatings", name="Ada Fenn", email="ada@sill.example")
    asset = perform(
        "create_asset",
        admin,
        organisation.pk,
        {"name": "Tank 7", "kind": "potable water tank", "time_zone": "Europe/Oslo", "chainage_start": 12.25},
    ).made
    crew = perform("invite_person", admin, organisation.pk, {"name": "Ivo Reed", "email": "ivo@sill.example"}).made
    appointment = perform("appoint", admin, asset.pk, {"email": crew.email, "role": "crew"}).made
    photo = EvidenceFactory(record=record_of(asset), content=b"a photo of flaw B17", media_type="image/jpeg")
    recorded(photo)
    return Firm(organisation, admin, asset, crew, appointment, photo)


@pytest.fixture
def firm(db: None) -> Firm:
    return founded()
