"""Who sees what and who may do what: every address, method and role, on one's own rows, on foreign and on absent ones."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import transaction
from django.urls import URLPattern, URLResolver, get_resolver
from rest_framework.test import APIClient

import config.api
from accounts.acting import REGISTRY
from accounts.people import Role
from accounts.rows import Row
from tests.api.conftest import NOWHERE, World
from tests.api.contract import ACTIONS, COLLECTIONS, OPEN_TO_ALL, OTHER_READS

pytestmark = pytest.mark.once

API = "/api/v1/"
METHODS = ("get", "post", "put", "patch", "delete")
Client = Callable[..., APIClient]
SERVED = {each.collection: each.model() for each in config.api.COLLECTIONS}


def routes() -> Iterator[str]:
    """Every route under /api/v1/, as the URLconf writes it, without the prefix."""

    def walk(patterns: list[URLPattern | URLResolver], prefix: str) -> Iterator[str]:
        for each in patterns:
            here = prefix + str(each.pattern)
            if isinstance(each, URLResolver):
                yield from walk(each.url_patterns, here)
            elif here.startswith(API[1:]):
                yield here.removeprefix(API[1:])

    yield from walk(get_resolver().url_patterns, "")


def address(route: str, pk: Any) -> str:
    return API + route.replace("<uuid:pk>", str(pk))


def target_of(route: str, world: World) -> Row:
    """The row of that world a route is about."""
    collection = route.partition("/")[0]
    return world.scene.asset if collection == "records" else world.rows[SERVED[collection]]


def refused_by_role(answer: Any) -> bool:
    return answer.status_code == 403 and '" is done by: ' in answer.json()["detail"]


def test_every_route_is_in_the_contract() -> None:
    expected = {f"{name}/" for name in COLLECTIONS} | {f"{name}/<uuid:pk>/" for name in COLLECTIONS}
    expected |= {f"{contract.collection}/<uuid:pk>/{name}/" for name, contract in ACTIONS.items()}
    assert set(routes()) == expected | set(OTHER_READS) | set(OPEN_TO_ALL)


def test_every_registered_action_has_the_roles_of_the_contract() -> None:
    registered = {
        name: (" ".join(sorted(role.value for role in action.roles)), action.decision)
        for name, action in REGISTRY.items()
    }
    assert registered == {name: (contract.roles, contract.decision) for name, contract in ACTIONS.items()}


def test_every_action_is_refused_to_exactly_the_roles_that_do_not_hold_it(own: World, client_of: Client) -> None:
    clients = {role: client_of(person) for role, person in own.people.items()}
    allowed: dict[str, set[str]] = {}
    for name, contract in ACTIONS.items():
        route = f"{contract.collection}/<uuid:pk>/{name}/"
        for role, client in clients.items():
            with transaction.atomic():
                answer = client.post(address(route, target_of(route, own).pk), {})
                transaction.set_rollback(True)
            assert answer.status_code in (200, 201, 400, 403), (name, role, answer.content)
            if not refused_by_role(answer):
                allowed.setdefault(name, set()).add(role.value)
    expected = {name: set(contract.roles.split()) for name, contract in ACTIONS.items()}
    for roles in expected.values():
        if Role.CREW.value in roles:
            roles.add(Role.LEAD.value)
    assert allowed == expected


def test_every_role_reads_its_own_rows(own: World, client_of: Client) -> None:
    for role, person in own.people.items():
        client = client_of(person)
        for route in [f"{name}/<uuid:pk>/" for name in COLLECTIONS] + list(OTHER_READS):
            answer = client.get(address(route, target_of(route, own).pk) if "<" in route else API + route)
            assert answer.status_code == 200, (role, route, answer.content)


def test_a_foreign_row_answers_every_method_like_an_absent_one(own: World, foreign: World, client_of: Client) -> None:
    asked = [(route, method) for route in routes() if "<uuid:pk>" in route for method in METHODS]
    absent = client_of(own.everything)
    nowhere = {(route, method): getattr(absent, method)(address(route, NOWHERE), {}) for route, method in asked}
    for person in [*own.people.values(), own.everything]:
        client = client_of(person)
        for route, method in asked:
            if nowhere[route, method].status_code == 405 and person is not own.everything:
                continue  # what no view answers is the same for everybody
            there = getattr(client, method)(address(route, target_of(route, foreign).pk), {})
            assert there.status_code == nowhere[route, method].status_code, (route, method)
            assert there.status_code in (404, 405), (route, method)
            assert there.json() == nowhere[route, method].json(), (route, method)


def test_a_foreign_row_is_in_no_list(own: World, foreign: World, client_of: Client) -> None:
    client = client_of(own.everything)
    for name in COLLECTIONS:
        listed = {row["id"] for row in client.get(f"{API}{name}/?limit=1000").json()["results"]}
        assert str(own.rows[SERVED[name]].pk) in listed, name
        assert str(foreign.rows[SERVED[name]].pk) not in listed, name


def test_filtering_by_a_foreign_row_answers_like_filtering_by_an_absent_one(
    own: World, foreign: World, client_of: Client
) -> None:
    client = client_of(own.everything)
    there, nowhere = (client.get(f"{API}flaws/?asset={pk}").json() for pk in (foreign.scene.asset.pk, NOWHERE))
    assert there == nowhere
    assert there["results"] == []


def test_signed_out_every_address_asks_to_sign_in_and_never_redirects(own: World) -> None:
    client = APIClient()
    for route in routes():
        if route in OPEN_TO_ALL:
            continue
        for method in METHODS:
            answer = getattr(client, method)(address(route, target_of(route, own).pk if "<" in route else ""), {})
            assert answer.status_code == 401, (route, method)
            assert answer["Content-Type"] == "application/problem+json"
            assert answer.json()["type"].endswith("#not-signed-in")


@pytest.mark.parametrize("route", ["", "schema/"])
def test_the_index_and_the_description_are_open_to_all(route: str, db: None) -> None:
    assert APIClient().get(API + route).status_code == 200


def test_a_row_that_was_struck_out_is_still_read(own: World, client_of: Client) -> None:
    own.scene.do("strike_flaw", own.scene.lead, own.scene.flaw(own.scene.runs[0], "1+001.00 @ 1:00"), why="Wrong run.")
    rows = client_of(own.people[Role.OBSERVER]).get(f"{API}flaws/?struck=true").json()["results"]
    assert [(row["status"], row["struck"]["why"]) for row in rows] == [("struck", "Wrong run.")]


def test_somebody_whose_appointment_ended_sees_the_asset_no_more(own: World, client_of: Client) -> None:
    client = client_of(own.scene.crew)
    own.scene.crew.appointments.update(until="2025-01-01T00:00:00Z")
    assert client.get(f"{API}zones/{own.scene.zone.pk}/").status_code == 404
