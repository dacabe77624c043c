"""The description of the API: valid OpenAPI 3.1, without a warning, complete, and naming who may do what."""

from __future__ import annotations

import io
import json
from functools import cache
from typing import Any

import pytest
from django.core.management import call_command
from openapi_spec_validator import OpenAPIV31SpecValidator, validate
from rest_framework.test import APIClient

from tests.api.contract import ACTIONS, COLLECTIONS, OTHER_READS, WORKSHEETS

SCHEMA = "/api/v1/schema/"
PROBLEM = "application/problem+json"


@cache
def described() -> dict[str, Any]:
    out = io.StringIO()
    call_command("spectacular", "--fail-on-warn", "--format", "openapi-json", stdout=out)
    return json.loads(out.getvalue())


def operations() -> dict[str, dict[str, Any]]:
    return {
        operation["operationId"]: operation
        for path in described()["paths"].values()
        for method, operation in path.items()
        if method in {"get", "post", "put", "patch", "delete"}
    }


def test_the_description_is_made_without_a_warning() -> None:
    assert described()  # refused with the warning, were there one


def test_the_description_is_valid_openapi_3_1() -> None:
    assert described()["openapi"].startswith("3.1.")
    validate(described(), cls=OpenAPIV31SpecValidator)


def test_the_description_comes_as_yaml_too() -> None:
    assert APIClient().get(SCHEMA).content.startswith(b"openapi: 3.1")


def test_every_read_every_action_and_every_worksheet_is_described_once() -> None:
    worksheets = {f"work_out_{name.replace('-', '_')}" for name in WORKSHEETS}
    assert set(ACTIONS) | set(OTHER_READS.values()) | worksheets <= set(operations())
    assert len(operations()) == len(ACTIONS) + len(OTHER_READS) + 2 * len(COLLECTIONS) + len(WORKSHEETS)


@pytest.mark.parametrize("name", sorted(ACTIONS))
def test_an_action_names_its_roles_and_its_refusals(name: str) -> None:
    operation = operations()[name]
    assert f"Roles: {', '.join(ACTIONS[name].roles.split())}." in operation["description"]
    assert ("A decision:" in operation["description"]) is ACTIONS[name].decision
    for status in ("400", "401", "403", "404", "409", "412"):
        assert PROBLEM in operation["responses"][status]["content"], status


def test_everything_is_filed_under_one_of_the_four_parts() -> None:
    tags = {tag for operation in operations().values() for tag in operation["tags"]}
    assert tags == {"Who and whose", "Where", "Tested and found", "Put right, let go"}


def test_an_action_with_a_file_is_described_as_a_form_as_well() -> None:
    assert set(operations()["reinstate"]["requestBody"]["content"]) == {"application/json", "multipart/form-data"}
