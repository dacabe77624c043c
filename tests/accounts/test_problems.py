"""Refusals under /api/ are problem details (RFC 9457); on pages they are pages."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client, RequestFactory
from rest_framework import exceptions, serializers
from rest_framework.authentication import SessionAuthentication
from rest_framework.permissions import AllowAny, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory
from rest_framework.views import APIView

from accounts import pages
from accounts.lines import LinesField
from accounts.problems import PROBLEMS, document, errors_of
from accounts.units import FilmField
from mapping.worksheets.asked import OnSurfaceGiven

RFC_9457_MEMBERS = {"type", "title", "status", "detail"}  # RFC 9457, section 3.1 ("instance" is optional)


class Asked(serializers.Serializer):
    film = FilmField(min_value=0)
    count = serializers.IntegerField(min_value=1, max_value=5)
    kind = serializers.ChoiceField(choices=["pinhole", "void"])


class Raises(APIView):
    """A view that raises what it is given."""

    authentication_classes = (SessionAuthentication,)
    permission_classes = (AllowAny,)
    takes = Asked
    problem: Exception = Exception()

    def post(self, request: Request) -> Response:
        raise self.problem


def _answer(problem: Exception, body: Any = None) -> Response:
    view = Raises.as_view(problem=problem)
    return view(APIRequestFactory().post("/api/v1/x/", body or {}, format="json"))


def test_bad_input_is_named_by_field_value_and_what_is_allowed() -> None:
    body = {"film": "thick", "count": 9, "kind": "dent"}
    asked = Asked(data=body)
    asked.is_valid()
    answer = _answer(exceptions.ValidationError(asked.errors), body)
    assert (answer.status_code, answer.content_type) == (400, "application/problem+json")
    assert set(answer.data) >= RFC_9457_MEMBERS
    assert answer.data["errors"] == [
        {
            "field": "film",
            "message": '"thick" does not start with a number. Write a number in µm, mm or mil, 0 µm or more.',
            "value": "thick",
            "allowed": "Write a number in µm, mm or mil, 0 µm or more.",
        },
        {
            "field": "count",
            "message": "Ensure this value is less than or equal to 5.",
            "value": 9,
            "allowed": "A whole number from 1 to 5.",
        },
        {
            "field": "kind",
            "message": '"dent" is not a valid choice.',
            "value": "dent",
            "allowed": "One of: pinhole, void.",
        },
    ]


def test_a_nested_field_is_named_with_dots_and_places_from_zero() -> None:
    detail = {"rows": [{}, {"film": ["bad"]}]}
    given = {"rows": [{}, {"film": "thick"}]}
    assert errors_of(detail, given) == [{"field": "rows.1.film", "message": "bad", "value": "thick"}]


class Lot(serializers.Serializer):
    rows = Asked(many=True)
    one = Asked()
    parts = LinesField(Asked, most=3)


@pytest.mark.parametrize(
    ("path", "told"),
    [
        (("rows", "1", "count"), "A whole number from 1 to 5."),
        (("one", "kind"), "One of: pinhole, void."),
        (("parts", "0", "film"), "Write a number in µm, mm or mil, 0 µm or more."),
        (("rows", "0"), "By name: film, count, kind."),
        (("one", "colour"), "By name: film, count, kind."),
    ],
)
def test_what_is_allowed_is_told_of_the_innermost_field(path: tuple[str, ...], told: str) -> None:
    detail: Any = ["bad"]
    for step in reversed(path):
        detail = {step: detail}
    (error,) = errors_of(detail, {}, Lot)
    assert (error["field"], error["allowed"]) == (".".join(path), told)


def test_a_list_that_is_refused_is_told_as_json() -> None:
    (error,) = errors_of({"count": ["bad"]}, {"count": [1, {"a": None}]}, Asked)
    assert error["value"] == '[1, {"a": null}]'


def test_a_size_of_a_surface_says_what_its_kind_allows() -> None:
    given = {"surface_kind": "strake", "surface": {"number": 0, "heigt": 2}}
    detail = {"surface": {"number": ["too small"], "heigt": ["no such size"]}}
    number, strange = errors_of(detail, given, OnSurfaceGiven)
    assert number["allowed"] == "A whole number from 1 to 9999."
    assert strange["allowed"] == "The sizes of its kind by name, in metres."


def test_a_refusal_of_the_whole_names_no_field() -> None:
    assert errors_of({"non_field_errors": ["The run is closed."]}) == [{"field": "", "message": "The run is closed."}]


def test_a_long_value_is_shortened() -> None:
    (error,) = errors_of({"note": ["too long"]}, {"note": "x" * 1000})
    assert len(error["value"]) == 201


@pytest.mark.parametrize(
    ("problem", "status", "name"),
    [
        (exceptions.NotAuthenticated(), 401, "not-signed-in"),
        (exceptions.AuthenticationFailed(), 401, "not-signed-in"),
        (exceptions.PermissionDenied("Done by: lead inspector."), 403, "not-allowed"),
        (PermissionDenied("Done by: lead inspector."), 403, "not-allowed"),
        (exceptions.NotFound(), 404, "not-there"),
        (Http404(), 404, "not-there"),
        (exceptions.Throttled(wait=7), 429, "too-many"),
    ],
)
def test_each_refusal_has_its_status_and_type(problem: Exception, status: int, name: str) -> None:
    answer = _answer(problem)
    assert (answer.status_code, answer.data["type"]) == (status, f"/api/v1/problems/#{name}")


def test_signed_out_is_401_with_a_challenge_and_never_a_redirect() -> None:
    view = Raises.as_view(permission_classes=(IsAuthenticated,), problem=Exception())
    answer = view(APIRequestFactory().post("/api/v1/x/"))
    assert (answer.status_code, answer["WWW-Authenticate"]) == (401, "Token")


def test_too_many_says_how_long_to_wait() -> None:
    assert _answer(exceptions.Throttled(wait=7))["Retry-After"] == "8"


def test_an_unknown_address_under_the_api_is_a_problem_and_a_page_elsewhere() -> None:
    answers = [pages.not_there(RequestFactory().get(path), Http404()) for path in ("/api/v1/no/", "/no/")]
    assert [answer.status_code for answer in answers] == [404, 404]
    assert json.loads(answers[0].content) == document(404)
    assert b"There is no such page" in answers[1].content


def test_a_fault_under_the_api_is_a_problem_and_a_page_elsewhere() -> None:
    answers = [pages.fault(RequestFactory().get(path)) for path in ("/api/v1/x/", "/x/")]
    assert [answer.status_code for answer in answers] == [500, 500]
    assert answers[0]["Content-Type"] == "application/problem+json"
    assert b"This press recorded nothing" in answers[1].content


def test_every_type_is_explained_where_it_points(client: Client, db: None) -> None:
    page = client.get("/api/v1/problems/").content.decode()
    assert [name for name in (problem.name for problem in PROBLEMS.values()) if f'id="{name}"' not in page] == []
