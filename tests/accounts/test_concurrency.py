"""Many at once on one asset: no entry lost, the chain without a gap, and the same operation recorded once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from accounts.acting import perform
from accounts.ids import new_id
from accounts.people import Appointment, Person
from accounts.record import Entry, Record
from accounts.verify import verify
from tests.accounts.conftest import Firm, founded
from tests.factories import PersonFactory, recorded
from tests.proofs import in_child

THREADS = 8
EACH = 4

pytestmark = pytest.mark.django_db(transaction=True)


def _in_threads(works: list[Callable[[], object]]) -> list[object]:
    def work_and_hang_up(work: Callable[[], object]) -> object:
        try:
            return work()
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(work_and_hang_up, works))


def _people(firm: Firm, count: int) -> list[Person]:
    people = [PersonFactory(organisation=firm.organisation) for _ in range(count)]
    recorded(*people)
    return people


def _appoint(firm: Firm, people: list[Person]) -> None:
    for person in people:
        perform("appoint", firm.admin, firm.asset.pk, {"email": person.email, "role": "crew"})


def _share(people: list[Person], number: int) -> list[Person]:
    return people[number * EACH : (number + 1) * EACH]


def _prove(firm: Firm, people: list[Person]) -> None:
    assert Appointment.objects.filter(person__in=people).count() == len(people)
    for pk, before in ((firm.asset.pk, 3), (firm.organisation.pk, 5)):
        numbers = Entry.objects.filter(record=pk).order_by("seq").values_list("seq", flat=True)
        assert list(numbers) == list(range(1, before + len(people) + 1))
    assert list(verify()) == []


def test_eight_threads_on_one_asset_lose_nothing() -> None:
    firm = founded()
    people = _people(firm, THREADS * EACH)
    _in_threads([lambda n=n: _appoint(firm, _share(people, n)) for n in range(THREADS)])
    _prove(firm, people)


def test_two_processes_of_eight_threads_on_one_asset_lose_nothing() -> None:
    firm = founded()
    people = _people(firm, 2 * THREADS * EACH)

    def process(number: int) -> None:
        shares = range(number * THREADS, (number + 1) * THREADS)
        _in_threads([lambda n=n: _appoint(firm, _share(people, n)) for n in shares])

    assert in_child(lambda: process(0), lambda: process(1)) == [0, 0]
    _prove(firm, people)


def test_one_operation_sent_by_eight_at_once_is_recorded_once() -> None:
    firm = founded()
    operation = new_id()

    def send() -> str:
        given = {"name": "Una Holt", "email": "una@sill.example"}
        return perform("invite_person", firm.admin, firm.organisation.pk, given, operation=operation).status

    statuses = _in_threads([send] * THREADS)
    assert sorted(map(str, statuses)) == ["already"] * (THREADS - 1) + ["recorded"]
    assert Person.objects.filter(pk=operation).count() == 1
    assert list(verify()) == []


def test_the_first_entry_of_a_record_is_made_by_one_of_eight() -> None:
    firm = founded()
    people = _people(firm, THREADS)
    perform(
        "create_asset",
        firm.admin,
        firm.organisation.pk,
        {"name": "Tank 8", "kind": "potable water tank", "time_zone": "Europe/Oslo"},
    )
    bare = Firm(firm.organisation, firm.admin, firm.organisation.assets.get(name="Tank 8"), *[None] * 3)  # type: ignore[arg-type]
    _in_threads([lambda person=person: _appoint(bare, [person]) for person in people])
    assert Record.objects.get(pk=bare.asset.pk).head_seq == 1 + THREADS
    assert list(verify()) == []
