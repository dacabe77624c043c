"""Renders an action's serializer as a page form, and performs the action when the form is sent.

The serializer stays the only input type for pages and API. The form's hidden id is the operation: pressing twice, or
sending again after a broken line, is one operation. Whatever was typed is shown again when something is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts import access
from accounts.acting import REGISTRY, Conflict, Done, may, perform, refused
from accounts.assets import Asset
from accounts.form_rows import Choices, FormRow, form_rows, messages_of
from accounts.ids import new_id
from accounts.people import Person
from accounts.rows import Row
from accounts.signing_in import ask_to_sign_in_again, signed_in_recently, typed_before
from accounts.typed import Reader, given_from_page, rows_changed
from accounts.wording import noted, say

BACK_AGAIN = noted("It is you. What you typed is below; look it over and press the button again.")


class Told(NamedTuple):
    """A line of the summary on top of a form: what is wrong, and the id of the row it belongs to ("" for the whole)."""

    row: str
    message: str


@dataclass(frozen=True)
class Form:
    """What templates/parts/form.html shows. Sending the same `operation` twice is one operation."""

    rows: list[FormRow]
    button: str
    operation: UUID
    url: str = ""
    cancel: str = ""
    told: tuple[Told, ...] = ()
    note: str = ""

    @property
    def first(self) -> list[FormRow]:
        """The rows shown at once."""
        return [row for row in self.rows if not row.later]

    @property
    def later(self) -> list[FormRow]:
        """The rows folded away under the button: they can follow later."""
        return [row for row in self.rows if row.later]

    @property
    def has_files(self) -> bool:
        return any(row.kind == "file" for row in self.rows)

    @property
    def repeats(self) -> bool:
        """Whether some of its parts can be added and removed by a press."""
        return any(row.kind == "more" for row in self.rows)


def build_form(
    takes: type[serializers.Serializer],
    *,
    button: str,
    reader: Reader,
    typed: QueryDict | None = None,
    initial: Mapping[str, Any] | None = None,
    errors: Any = None,
    choices: Choices | None = None,
    hidden: Iterable[str] = (),
    operation: UUID | None = None,
    url: str = "",
    cancel: str = "",
    note: str = "",
    scope: str = "",
) -> Form:
    """A form for the serializer: `typed` (what was sent) rules over `initial`; `errors` is a refusal's detail.

    `scope` sets its ids apart when a page has several forms.
    """
    rows = form_rows(
        takes(), reader=reader, typed=typed, initial=initial, errors=errors, choices=choices, hidden=hidden
    )
    rows = [replace(row, scope=scope) for row in rows]
    return Form(rows, button, operation or new_id(), url, cancel, told_of(rows, errors), note)


def told_of(rows: list[FormRow], errors: Any) -> tuple[Told, ...]:
    """What a refusal says, the whole first, then by row."""
    told = [Told(row.id, f"{_named(row)}: {message}") for row in rows for message in row.errors]
    names = {row.name.split(".")[0] for row in rows}
    loose = {key: value for key, value in errors.items() if key not in names} if isinstance(errors, Mapping) else errors
    if isinstance(loose, Mapping):
        whole = [
            text
            for key, value in loose.items()
            for text in messages_of(value if key == "non_field_errors" else {key: value})
        ]
    else:
        whole = list(messages_of(loose))
    return tuple([Told("", text) for text in whole] + told)


def _named(row: FormRow) -> str:
    """A row as the summary names it: what it belongs to, its label, and what was typed."""
    label = say("{item}, {label}", item=row.within, label=row.label) if row.within else row.label
    return f"{label} ({row.value})" if row.value and row.kind in ("text", "select") else label


def reader_of(person: Any, target: Row | None = None) -> Reader:
    """The person's units, and the time zone of the asset the row belongs to (UTC off any asset)."""
    asset = Asset.objects.filter(pk=access.record_id(target)).first() if target is not None else None
    return Reader(person.units, asset.zone_info if asset else UTC)


def form_of(name: str, person: Any, target: Row, *, url: str, **details: Any) -> Form | None:
    """The form of an action, to place on another page; None when this person may not do it. `details` as build_form."""
    if not may(person, name, target):
        return None
    what = REGISTRY[name]
    return build_form(
        what.takes, button=str(what.title), reader=reader_of(person, target), url=url, scope=f"{name}_", **details
    )


def check_may(person: Person, name: str, target: Row) -> None:
    """Raises PermissionDenied, naming who does it, where this person may not do the action on this row."""
    if (why := refused(person, name, target)) is not None:
        raise PermissionDenied(why)


class SeeOther(HttpResponseRedirect):
    """A redirect after a press (303): the next page is fetched, never sent again."""

    status_code = 303


def see_other(url: str) -> HttpResponse:
    return SeeOther(url)


def _operation(request: HttpRequest) -> UUID:
    try:
        return UUID(request.POST.get("id", ""))
    except ValueError:
        return new_id()


def _rows_note(posted: QueryDict) -> str:
    if "more" in posted:
        return say("There is room for one more below. Nothing is recorded until you press the button at the end.")
    return say("It is taken out. Nothing is recorded until you press the button at the end.")


def act_on_page(
    request: HttpRequest,
    action_name: str,
    target: Row,
    *,
    success: str | Callable[[Done], str],
    to: str | Callable[[Done], str],
    template: str = "accounts/act.html",
    context: Mapping[str, Any] | None = None,
    initial: Mapping[str, Any] | None = None,
    choices: Choices | None = None,
    hidden: Iterable[str] = (),
    cancel: str = "",
    takes: type[serializers.Serializer] | None = None,
    known: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """GET shows the action's form on `target`; POST performs it.

    Refused input comes back as 422 with everything typed; success is a message and a redirect (303) to `to`. A decision
    asks for a recent sign-in first and comes back to the form as it was typed. `success` and `to` may be functions of
    what was done; its `made` is None when the same press arrived twice. `takes` asks for a part of the action's input
    in more detail; `known` is what the page knows already and does not ask.
    """
    person = cast(Person, request.user)
    what = REGISTRY[action_name]
    takes = takes or what.takes
    check_may(person, action_name, target)
    reader = reader_of(person, target)

    def page(status: int, typed: QueryDict | None, **details: Any) -> HttpResponse:
        form = build_form(
            takes,
            button=str(what.title),
            reader=reader,
            typed=typed,
            initial=initial,
            choices=choices,
            hidden=hidden,
            url=request.get_full_path(),
            cancel=cancel,
            **details,
        )
        shown = {"target": target, "action": what, "title": what.title, **(context or {}), "form": form}
        return render(request, template, shown, status=status)

    if request.method != "POST":
        typed = typed_before(request)
        return page(200, typed, note=say(BACK_AGAIN) if typed is not None else "")
    operation = _operation(request)
    changed = rows_changed(request.POST)
    if changed is not None:
        return page(200, changed, operation=operation, note=_rows_note(request.POST))
    if what.decision and not signed_in_recently(request):
        return ask_to_sign_in_again(request)
    given = {**given_from_page(takes(), request.POST, request.FILES, reader), **(known or {})}
    try:
        done = perform(action_name, person, target.pk, given, operation=operation)
    except ValidationError as refused:
        return page(422, request.POST, errors=refused.detail, operation=operation)
    except Conflict as refused:
        # The page's id was used up by an earlier press; the next press is a new operation.
        return page(
            409,
            request.POST,
            errors=[say("{detail} Press again to record this as something new.", detail=refused.detail)],
        )
    words = success(done) if callable(success) else success
    if words:
        messages.success(request, words)
    return see_other(to(done) if callable(to) else to)
