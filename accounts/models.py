"""Re-exports the models of this app for Django."""

from __future__ import annotations

from accounts.assets import Asset
from accounts.evidence import Evidence
from accounts.people import Appointment, Organisation, Person, Role
from accounts.record import Entry, Record
from accounts.sync import SetAside
from accounts.tokens import Token

__all__ = ["Appointment", "Asset", "Entry", "Evidence", "Organisation", "Person", "Record", "Role", "SetAside", "Token"]
