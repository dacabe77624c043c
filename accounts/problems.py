"""How refusals are told: RFC 9457 problem details under /api/, and a plain page everywhere else.

Each bad input is named by field, value and what is allowed. No answer under /api/ is ever a redirect to a sign-in page.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import Any, NamedTuple

from django.core.exceptions import PermissionDenied as PageDenied
from django.http import Http404, HttpRequest, JsonResponse
from rest_framework import exceptions, serializers
from rest_framework.response import Response
from rest_framework.settings import api_settings

from accounts.wording import noted, say

MEDIA_TYPE = "application/problem+json"
API = "/api/"
LONGEST_VALUE = 200


class Problem(NamedTuple):
    """A kind of problem: `name` is the anchor on the page that explains it (the `type` of RFC 9457)."""

    name: str
    title: str
    meaning: str


PROBLEMS: dict[int, Problem] = {
    400: Problem(
        "invalid-input",
        noted("Some input cannot be taken."),
        noted("Each bad field is listed: value, and what is allowed."),
    ),
    401: Problem(
        "not-signed-in",
        noted("Sign in first."),
        noted("Send a session cookie or the header Authorization: Token <text>."),
    ),
    403: Problem(
        "not-allowed",
        noted("You may not do this."),
        noted("You can see it, but your roles do not include this action."),
    ),
    404: Problem(
        "not-there",
        noted("There is no such thing."),
        noted("It does not exist, or you hold no appointment that shows it."),
    ),
    405: Problem("method", noted("This address does not take that method."), noted("See the Allow header.")),
    406: Problem("format", noted("This address cannot answer in that format."), noted("Ask for application/json.")),
    409: Problem(
        "conflict",
        noted("This was sent before with other content."),
        noted("What you sent is set aside for a person, not lost."),
    ),
    412: Problem(
        "changed", noted("It was changed meanwhile."), noted("Fetch it again and compare the version in If-Match.")
    ),
    413: Problem("too-large", noted("That is too large."), noted("Send less at once.")),
    415: Problem(
        "media-type", noted("That media type is not read here."), noted("Send application/json unless told otherwise.")
    ),
    428: Problem("if-match", noted("Say which version you amend."), noted("Send If-Match with the ETag you read.")),
    429: Problem("too-many", noted("Too many requests."), noted("Wait as long as Retry-After says.")),
    500: Problem(
        "fault",
        noted("Something broke here, not with you."),
        noted("This request recorded nothing. Send the same again."),
    ),
    503: Problem(
        "busy",
        noted("This cannot be answered just now."),
        noted("The record grows faster than it can be read. Send the same again in a minute."),
    ),
}


def type_of(status: int) -> str:
    return f"/api/v1/problems/#{PROBLEMS[status].name}" if status in PROBLEMS else "about:blank"


def document(status: int, detail: str = "", **members: Any) -> dict[str, Any]:
    """The body of a problem answer."""
    title = say(PROBLEMS[status].title) if status in PROBLEMS else HTTPStatus(status).phrase
    return {"type": type_of(status), "title": title, "status": status, "detail": detail or title, **members}


def problem_answer(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler. None for what is a fault of ours, which ends in `fault` below."""
    if isinstance(exc, Http404):
        exc = exceptions.NotFound(str(exc) or None)
    elif isinstance(exc, PageDenied):
        exc = exceptions.PermissionDenied(str(exc) or None)
    if not isinstance(exc, exceptions.APIException):
        return None
    headers = {}
    status = exc.status_code
    if isinstance(exc, exceptions.NotAuthenticated | exceptions.AuthenticationFailed):
        # DRF answers 403 when its first authenticator has no challenge; a phone must tell them apart.
        status = 401
        headers["WWW-Authenticate"] = "Token"
    wait = getattr(exc, "wait", None)
    if wait:
        headers["Retry-After"] = str(int(wait) + 1)
    if isinstance(exc, exceptions.ValidationError):
        request, view = context.get("request"), context.get("view")
        given = _data(request)
        errors = errors_of(exc.detail, given, getattr(view, "takes", None))
        body = document(status, "; ".join(error["message"] for error in errors[:3]), errors=errors)
    else:
        body = document(status, str(exc.detail))
    return Response(body, status=status, headers=headers, content_type=MEDIA_TYPE)


def errors_of(
    detail: Any, given: Any = None, takes: type[serializers.Serializer] | None = None
) -> list[dict[str, Any]]:
    """Every bad field with its value, the message, and (when the serializer is known) what is allowed.

    `detail` is a ValidationError's; nested fields are named with dots, items of a list by their place from 0.
    """
    form = takes() if takes is not None else None
    errors = []
    for path, message in _flat(detail):
        error: dict[str, Any] = {"field": ".".join(path), "message": message}
        found, value = _value(given, path)
        if found:
            error["value"] = value
        field = _field(form, path, given)
        if field is not None:
            error["allowed"] = allowed(field)
        errors.append(error)
    return errors


def _field(form: Any, path: tuple[str, ...], given: Any) -> serializers.Field | None:
    """The innermost field on the path that a form knows of; None where the first step is already unknown.

    A field whose form depends on what is given beside it tells it by `form_for`.
    """
    found, inside = None, form
    for step in path:
        if hasattr(inside, "form_for"):
            inside = inside.form_for(given)
        if isinstance(inside, serializers.Serializer):
            inside = inside.fields.get(step)
        else:
            inside = getattr(inside, "child", None) if step.isdigit() else None
        if inside is None:
            break
        found = inside
    return found


def allowed(field: serializers.Field) -> str:
    """What a field takes, as a sentence for people; a field of our own says it in its attribute `allowed`."""
    own = getattr(field, "allowed", None)
    if own:
        return str(own)
    if isinstance(field, serializers.Serializer):
        return say("By name: {names}.", names=", ".join(field.fields))
    if hasattr(field, "child"):
        return say("A list. Each: {allowed}", allowed=allowed(field.child))
    for kind, words in _ALLOWED:
        if isinstance(field, kind):
            return words(field)
    return say("As the schema at /api/v1/schema/ says.")


def _choices(field: Any) -> str:
    return say("One of: {list}.", list=", ".join(str(key) for key in field.choices))


def _range(field: Any, what: str) -> str:
    low, high = getattr(field, "min_value", None), getattr(field, "max_value", None)
    if low is not None and high is not None:
        return say("{what} from {low} to {high}.", what=what, low=low, high=high)
    if low is not None:
        return say("{what}, {low} or more.", what=what, low=low)
    if high is not None:
        return say("{what}, {high} or less.", what=what, high=high)
    return f"{what}."


def _text(field: Any) -> str:
    return (
        say("Text of at most {max_length} characters.", max_length=field.max_length)
        if getattr(field, "max_length", None)
        else say("Text.")
    )


_ALLOWED: list[tuple[type[serializers.Field] | tuple[type[serializers.Field], ...], Callable[[Any], str]]] = [
    (serializers.ChoiceField, _choices),
    (serializers.BooleanField, lambda field: say("true or false.")),
    (serializers.IntegerField, lambda field: _range(field, say("A whole number"))),
    ((serializers.FloatField, serializers.DecimalField), lambda field: _range(field, say("A number"))),
    (serializers.DateTimeField, lambda field: say("A date and time with its offset, as 2031-05-14T16:40:00+02:00.")),
    (serializers.DateField, lambda field: say("A date, as 2031-05-14.")),
    (serializers.TimeField, lambda field: say("A time, as 16:40.")),
    (serializers.UUIDField, lambda field: say("An id (UUID).")),
    (serializers.EmailField, lambda field: say("An email address, as name@example.org.")),
    (serializers.FileField, lambda field: say("A file.")),
    (serializers.CharField, _text),
]


def _flat(detail: Any, path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], str]]:
    if isinstance(detail, Mapping):
        flat = []
        for key, inner in detail.items():
            step = () if key == api_settings.NON_FIELD_ERRORS_KEY else (str(key),)
            flat += _flat(inner, (*path, *step))
        return flat
    if isinstance(detail, list | tuple):
        flat = []
        for place, inner in enumerate(detail):
            nested = isinstance(inner, Mapping | list | tuple)
            flat += _flat(inner, (*path, str(place)) if nested else path)
        return flat
    return [(path, str(detail))]


def _value(given: Any, path: tuple[str, ...]) -> tuple[bool, Any]:
    """What was sent at the path, shortened; (False, None) when nothing was."""
    current = given
    for step in path:
        if isinstance(current, Mapping) and step in current:
            current = current[step]
        elif isinstance(current, list) and step.isdigit() and int(step) < len(current):
            current = current[int(step)]
        else:
            return False, None
    if not path:
        return False, None
    if isinstance(current, Mapping | list):
        current = json.dumps(current, ensure_ascii=False, default=str)
    if isinstance(current, str) and len(current) > LONGEST_VALUE:
        current = f"{current[:LONGEST_VALUE]}…"
    if not isinstance(current, str | int | float | bool | None):
        current = str(current)
    return True, current


def _data(request: Any) -> Any:
    try:
        return request.data
    except (AttributeError, exceptions.APIException):
        return None


def bare(status: int, detail: str = "") -> JsonResponse:
    """A problem answer made outside any view (unknown address, fault)."""
    return JsonResponse(document(status, detail), status=status, content_type=MEDIA_TYPE)


def wants_problem(request: HttpRequest) -> bool:
    return request.path.startswith(API)
