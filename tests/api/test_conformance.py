"""Generated requests against the description, in process: no fault, and every answer as it is described.

Ids in addresses are those of rows that are there, the person holds every role, texts for places are places and If-Match
holds, so that requests get past 404, 403, 400 and 412 and reach the rules.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, connection, transaction
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

import config.api
from config.wsgi import application
from tests.api.conftest import World, authorization

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
SPOT, GROUND = "1+007.00 @ 2:00", "1+003.00 to 1+009.00"
SERVED = {each.collection: each.model() for each in config.api.COLLECTIONS}
# Reads share one implementation, so a few requests each do; actions get every border of every field as well, once:
# input is checked before a database is asked. Forms of parts within parts have thousands of borders, so they get a few requests;
# of an action with many borders every third counts from MANY on, evenly over its fields.
MANY, EVERY = 30, 3
OF_PARTS = (
    r"/(draft_specification|amend_draft|issue_specification|add_rule|new_rule_version|add_zone|correct_surface)/$"
)
ON_SQLITE = connection.vendor == "sqlite"
CONFIG = SchemathesisConfig.from_dict(
    {
        "seed": 7,
        "phases": {"coverage": {"enabled": ON_SQLITE, "unexpected-methods": []}},
        "operations": [
            {"include-method": "GET", "phases": {"coverage": {"enabled": False}}},
            {"include-path-regex": OF_PARTS, "phases": {"coverage": {"enabled": False}}},
        ],
    }
)
met: Counter[str] = Counter()
schema = schemathesis.openapi.from_wsgi("/api/v1/schema/?format=json", application, config=CONFIG)


@pytest.fixture(scope="module", autouse=True)
def _connections_kept() -> Iterator[None]:
    """A server closes connections between requests; here all requests share the test's own, as with Django's client."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


@pytest.fixture
def token(own: World) -> str:
    return authorization(own.everything)


@schema.parametrize()
@settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.filter_too_much, HealthCheck.too_slow],
)
def test_every_answer_is_as_it_is_described(case: Any, own: World, token: str) -> None:
    if case.meta.phase.name == "coverage":
        met[case.operation.label] += 1
        if met[case.operation.label] > MANY and met[case.operation.label] % EVERY:
            return
    collection = case.path.removeprefix("/api/v1/").partition("/")[0]
    if "id" in case.path_parameters:
        row = own.scene.asset if collection == "records" else own.rows[SERVED[collection]]
        case.path_parameters["id"] = str(row.pk)
    if "If-Match" in (case.headers or {}):
        case.headers["If-Match"] = "*"
    if isinstance(case.body, dict) and isinstance(case.body.get("place"), str):
        case.body["place"] = SPOT if case.operation.label.endswith(("report_flaw/", "record_spot/")) else GROUND
    with transaction.atomic():
        case.call_and_validate(checks=CHECKS, headers={"Authorization": token})
        transaction.set_rollback(True)
