"""Renders an action's serializer as a page form, and performs the action when the form is sent.

The serializer stays the only input type for pages and API. The form's hidden id is the operation: pressing twice, or
sending again after a broken line, is one operation. Whatever was typed is shown again when something is refused.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied, ValidationError
from rest_framework.fields import empty

from accounts import access
from accounts.acting import REGISTRY, Conflict, Done, may, perform
from accounts.assets import Asset
from accounts.ids import new_id
from accounts.people import Person
from accounts.problems import allowed
from accounts.rows import Row
from accounts.signing_in import ask_to_sign_in_again, signed_in_recently, typed_before
from accounts.typed import LISTS, NOBODY, Reader, given_from_page
from accounts.units import Quantity, QuantityField, from_si

MOST_TILES = 6
LONG_TEXT = 500
EMPTY = "Fill this in."
BACK_AGAIN = "It is you. What you typed is below; look it over and press the button again."
LOCAL = "%Y-%m-%dT%H:%M"
Choices = Mapping[str, Sequence[tuple[str, str]]]


class Choice(NamedTuple):
    value: str
    label: str
    chosen: bool


@dataclass(frozen=True)
class FormRow:
    """One row. `kind`: text, area, select, tiles (one of), tick, ticks (some of), file, hidden, group (a heading)."""

    name: str
    label: str
    kind: str
    help: str = ""
    value: str = ""
    choices: tuple[Choice, ...] = ()
    errors: tuple[str, ...] = ()
    required: bool = False
    unit: str = ""
    allowed: str = ""
    attributes: Mapping[str, str] = field(default_factory=dict)
    scope: str = ""

    @property
    def id(self) -> str:
        return f"id_{self.scope}{self.name.replace('.', '_')}"

    @property
    def described_by(self) -> str:
        """Ids of the help, unit and error texts that belong to the input."""
        parts = [(self.help, "help"), (self.unit, "unit"), (self.errors, "error")]
        return " ".join(f"{self.id}_{part}" for shown, part in parts if shown)


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
    def has_files(self) -> bool:
        return any(row.kind == "file" for row in self.rows)


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
    return Form(rows, button, operation or new_id(), url, cancel, _told(rows, errors), note)


def form_rows(
    serializer: serializers.Serializer,
    *,
    reader: Reader = NOBODY,
    typed: QueryDict | None = None,
    initial: Mapping[str, Any] | None = None,
    errors: Any = None,
    choices: Choices | None = None,
    hidden: Iterable[str] = (),
    prefix: str = "",
) -> list[FormRow]:
    """One row for each field people fill in; a nested serializer is a heading and its own rows, named with dots."""
    rows: list[FormRow] = []
    errors = errors if isinstance(errors, Mapping) else {}
    for name, each in serializer.fields.items():
        if each.read_only or isinstance(each, serializers.HiddenField):
            continue
        start = (initial or {}).get(name, empty)
        full = f"{prefix}{name}"
        if isinstance(each, serializers.Serializer):
            inner = start if isinstance(start, Mapping) else {}
            rows.append(FormRow(full, _label(each), "group", help=str(each.help_text or "")))
            rows += form_rows(
                each,
                reader=reader,
                typed=typed,
                initial=inner,
                errors=errors.get(name),
                choices=choices,
                prefix=f"{full}.",
            )
            continue
        options = (choices or {}).get(full)
        rows.append(_row(each, full, reader, typed, start, _messages(errors.get(name)), options, name in set(hidden)))
    return rows


def _row(
    each: serializers.Field,
    name: str,
    reader: Reader,
    typed: QueryDict | None,
    start: Any,
    errors: tuple[str, ...],
    options: Sequence[tuple[str, str]] | None,
    hide: bool,
) -> FormRow:
    values = _values(each, name, reader, typed, start)
    kind, offered = _kind(each, options)
    unit = each.unit_for(reader.units) if isinstance(each, QuantityField) else ""
    if hide:
        kind, unit = "hidden", ""
    if kind == "tick":
        values = ["true"] if values in (["true"], ["True"], ["on"]) else []
    return FormRow(
        name=name,
        label=_label(each),
        kind=kind,
        help=str(each.help_text or ""),
        value="\n".join(values) if kind == "area" else (values[0] if values else ""),
        choices=tuple(Choice(value, label, value in values) for value, label in offered),
        errors=errors,
        required=_must_say(each) and kind != "tick",
        unit=unit,
        allowed=_allowed(each, errors) if not offered else "",
        attributes=_attributes(each, kind),
    )


def _allowed(each: serializers.Field, errors: tuple[str, ...]) -> str:
    """What the field takes, unless its messages say so already or it was only left empty."""
    words = allowed(each)
    said = not errors or errors == (EMPTY,) or any(words in error for error in errors)
    return "" if said else words


def _label(each: serializers.Field) -> str:
    return str(each.label or (each.field_name or "").replace("_", " ").capitalize())


def _must_say(each: serializers.Field) -> bool:
    """Required, or a choice that stands at its default until another one is made."""
    chosen = isinstance(each, serializers.ChoiceField) and each.default not in (empty, None, "")
    return each.required or (chosen and not isinstance(each, LISTS))


def _kind(each: serializers.Field, options: Sequence[tuple[str, str]] | None) -> tuple[str, list[tuple[str, str]]]:
    """How the field is shown, and what it offers."""
    many = isinstance(each, LISTS)
    inner = each.child if isinstance(each, serializers.ListField) else each
    if options is None and isinstance(inner, serializers.ChoiceField):
        options = [(str(key), str(label)) for key, label in inner.choices.items()]
    if options is not None:
        offered = [(str(value), str(label)) for value, label in options]
        if many:
            return "ticks", offered
        if len(offered) <= MOST_TILES and each.style.get("tiles", True):
            return "tiles", offered if _must_say(each) else [("", "not said"), *offered]
        return "select", [("", "choose" if each.required else "not said"), *offered]
    if isinstance(inner, serializers.FileField):
        return "file", []
    if isinstance(each, serializers.BooleanField):
        if each.allow_null:
            return "tiles", [("true", "yes"), ("false", "no"), ("", "not said")]
        return "tick", []
    long = isinstance(each, serializers.CharField) and (each.max_length or 0) >= LONG_TEXT
    if many or long or isinstance(each, serializers.JSONField) or each.style.get("base_template") == "textarea.html":
        return "area", []
    return "text", []


def _attributes(each: serializers.Field, kind: str) -> dict[str, str]:
    """The attributes of the input itself."""
    if kind == "file":
        many = {"multiple": ""} if isinstance(each, serializers.ListField) else {}
        return {"accept": each.style["accept"], **many} if "accept" in each.style else many
    if kind == "area":
        return {"rows": str(each.style.get("rows", 3))}
    if kind != "text":
        return {}
    shown = {"type": "text", "autocomplete": str(each.style.get("autocomplete", "off"))}
    if isinstance(each, serializers.DateTimeField):
        shown |= {"type": "datetime-local"}
    elif isinstance(each, serializers.DateField):
        shown |= {"type": "date"}
    elif isinstance(each, serializers.TimeField):
        shown |= {"type": "time"}
    elif isinstance(each, serializers.EmailField):
        shown |= {"type": "email", "inputmode": "email"}
    elif isinstance(each, serializers.IntegerField):
        shown |= {"inputmode": "numeric"}
    elif isinstance(each, QuantityField | serializers.FloatField | serializers.DecimalField):
        # Text, not number: "12 mil" and a decimal comma must be typable.
        shown |= {"inputmode": "decimal"}
    if getattr(each, "max_length", None):
        shown |= {"maxlength": str(each.max_length)}
    if "input_type" in each.style:
        shown |= {"type": str(each.style["input_type"])}
    return shown


def _values(each: serializers.Field, name: str, reader: Reader, typed: QueryDict | None, start: Any) -> list[str]:
    if typed is not None:
        return [value for value in typed.getlist(name) if isinstance(value, str)]
    if start is empty:
        start = each.default if each.default is not empty and not callable(each.default) else None
    items = start if isinstance(start, list | tuple | set) and not isinstance(start, Quantity) else [start]
    return [_spoken(each, item, reader) for item in items if item is not None]


def _spoken(each: serializers.Field, value: Any, reader: Reader) -> str:
    """A starting value as the page types it."""
    if isinstance(value, Quantity):
        return value.said
    if isinstance(value, datetime):
        return value.astimezone(reader.zone).strftime(LOCAL)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(each, QuantityField) and isinstance(value, int | float):
        unit = each.kind.unit(each.unit_for(reader.units))
        return f"{float(from_si(value, unit)):.6g}"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else str(value)
    if isinstance(value, dict):
        return json.dumps(value)
    return str(getattr(value, "pk", value))


def _messages(detail: Any) -> tuple[str, ...]:
    """The messages of one field, in our words where the library's name nothing."""
    if detail is None:
        return ()
    if isinstance(detail, Mapping):
        return tuple(f"{_place(key)}{text}" for key, inner in detail.items() for text in _messages(inner))
    if isinstance(detail, list | tuple):
        return tuple(text for inner in detail for text in _messages(inner))
    if getattr(detail, "code", "") in {"required", "blank", "null"}:
        return (EMPTY,)
    return (str(detail),)


def _place(key: Any) -> str:
    return f"number {int(key) + 1}: " if str(key).isdigit() else f"{key}: "


def _told(rows: list[FormRow], errors: Any) -> tuple[Told, ...]:
    told = [
        Told(
            row.id, f"{row.label}{f' ({row.value})' if row.value and row.kind in ('text', 'select') else ''}: {message}"
        )
        for row in rows
        for message in row.errors
    ]
    names = {row.name.split(".")[0] for row in rows}
    loose = {key: value for key, value in errors.items() if key not in names} if isinstance(errors, Mapping) else errors
    if isinstance(loose, Mapping):
        whole = [
            text
            for key, value in loose.items()
            for text in _messages(value if key == "non_field_errors" else {key: value})
        ]
    else:
        whole = list(_messages(loose))
    return tuple([Told("", text) for text in whole] + told)


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
        what.takes, button=what.title, reader=reader_of(person, target), url=url, scope=f"{name}_", **details
    )


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
) -> HttpResponse:
    """GET shows the action's form on `target`; POST performs it.

    Refused input comes back as 422 with everything typed; success is a message and a redirect (303) to `to`. A decision
    asks for a recent sign-in first and comes back to the form as it was typed. `success` and `to` may be functions of
    what was done; its `made` is None when the same press arrived twice.
    """
    person = cast(Person, request.user)
    what = REGISTRY[action_name]
    if not may(person, action_name, target):
        names = ", ".join(sorted(role.label.lower() for role in what.roles))
        raise PermissionDenied(f'"{what.title}" is done by: {names}.')
    reader = reader_of(person, target)

    def page(status: int, typed: QueryDict | None, **details: Any) -> HttpResponse:
        form = build_form(
            what.takes,
            button=what.title,
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
        return page(200, typed, note=BACK_AGAIN if typed is not None else "")
    operation = _operation(request)
    if what.decision and not signed_in_recently(request):
        return ask_to_sign_in_again(request)
    given = given_from_page(what.takes(), request.POST, request.FILES, reader)
    try:
        done = perform(action_name, person, target.pk, given, operation=operation)
    except ValidationError as refused:
        return page(422, request.POST, errors=refused.detail, operation=operation)
    except Conflict as refused:
        # The page's id was used up by an earlier press; the next press is a new operation.
        return page(409, request.POST, errors=[f"{refused.detail} Press again to record this as something new."])
    messages.success(request, success(done) if callable(success) else success)
    return see_other(to(done) if callable(to) else to)
