"""Killed between any two statements of an action, the database holds all of it or nothing of it."""

from __future__ import annotations

import random
from typing import Any
from uuid import UUID

import pytest

from accounts.acting import perform
from accounts.assets import Asset
from accounts.ids import new_id
from accounts.people import Appointment, Person
from accounts.record import Entry
from accounts.verify import verify
from tests.accounts.conftest import Firm, founded
from tests.proofs import KILLED, Point, killed_at, statements_of

POINTS = 50
SEED = 20250301

pytestmark = pytest.mark.django_db(transaction=True)


class Day:
    """Four actions that write to one record and to two, with ids chosen beforehand as a client does."""

    def __init__(self, firm: Firm, number: int) -> None:
        self.firm = firm
        self.number = number
        self.asset, self.person, self.appointment, self.end = (new_id() for _ in range(4))

    def __call__(self) -> None:
        for name, target, given, operation in self._steps():
            perform(name, self.firm.admin, target, given, operation=operation)

    def _steps(self) -> list[tuple[str, UUID, dict[str, Any], UUID]]:
        organisation = self.firm.organisation.pk
        email = f"una{self.number}@sill.example"
        asset = {"name": f"Vat {self.number}", "kind": "potable water tank", "time_zone": "Europe/Oslo"}
        return [
            ("create_asset", organisation, asset, self.asset),
            ("invite_person", organisation, {"name": "Una Holt", "email": email}, self.person),
            ("appoint", self.asset, {"email": email, "role": "crew"}, self.appointment),
            ("end_appointment", self.appointment, {}, self.end),
        ]

    def recorded(self) -> list[int]:
        """Number of entries of each step."""
        return [Entry.objects.filter(operation=step[3]).count() for step in self._steps()]

    def written(self) -> list[bool]:
        """Whether the rows of each step are there."""
        return [
            Asset.objects.filter(pk=self.asset).exists(),
            Person.objects.filter(pk=self.person).exists(),
            Appointment.objects.filter(pk=self.appointment).exists(),
            Appointment.objects.filter(pk=self.appointment).exclude(until=None).exists(),
        ]


def test_killed_at_fifty_points_every_action_is_whole_or_absent_and_can_be_sent_again() -> None:
    firm = founded()
    statements = statements_of(Day(firm, 0))
    everywhere = [Point(number, after) for number in range(1, statements + 1) for after in (False, True)]
    points = random.Random(SEED).sample(everywhere, POINTS)
    seen = set()
    for number, point in enumerate(points, start=1):
        day = Day(firm, number)
        assert killed_at(point, day) == KILLED, point
        counts = day.recorded()
        seen.add(tuple(counts))
        assert [bool(count) for count in counts] == day.written(), point
        assert counts == [whole * count for whole, count in zip(day.written(), [2, 1, 2, 1], strict=True)], point
        assert list(verify()) == [], point
        day()
        assert day.recorded() == [2, 1, 2, 1], point
    assert list(verify()) == []
    assert len(seen) == 4  # the points really fell into each of the actions


def test_a_child_that_is_not_killed_does_all() -> None:
    firm = founded()
    day = Day(firm, 1)
    assert killed_at(Point(10_000, False), day) == 0
    assert day.recorded() == [2, 1, 2, 1]
