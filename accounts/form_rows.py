"""One row of a page form for each field of an action's serializer: how it is asked, what it starts with, what is wrong.

Nested serializers become headings with their own rows; a list of them repeats. Nothing is read or performed here.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any, NamedTuple, cast

from django.http import QueryDict
from rest_framework import serializers
from rest_framework.fields import empty

from accounts.problems import allowed
from accounts.typed import LISTS, NOBODY, Reader, items_posted, must_be_answered
from accounts.units import Quantity, QuantityField, from_si
from accounts.wording import noted, say

EMPTY = noted("Fill this in.")
MOST_TILES = 6
WORDY = 48
LONG_TEXT = 500
LOCAL = "%Y-%m-%dT%H:%M"
Choices = Mapping[str, Sequence[tuple[str, str]]]


class Choice(NamedTuple):
    value: str
    label: str
    chosen: bool


@dataclass(frozen=True)
class FormRow:
    """One row. `kind`: text, area, select, tiles (one of), tick, ticks (some of), file, hidden, group (a heading),
    item (the heading of one of several alike, which a press removes), more (a press adds another; value: how many).

    `within` names the item a row belongs to.
    """

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
    later: bool = False
    within: str = ""

    @property
    def id(self) -> str:
        return f"id_{self.scope}{self.name.replace('.', '_')}"

    @property
    def wordy(self) -> bool:
        """Whether its choices are sentences, to be shown one below the other."""
        return any(len(choice.label) > WORDY for choice in self.choices)

    @property
    def described_by(self) -> str:
        """Ids of the help, unit and error texts that belong to the input."""
        parts = [(self.help, "help"), (self.unit, "unit"), (self.errors, "error")]
        return " ".join(f"{self.id}_{part}" for shown, part in parts if shown)


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
    within: str = "",
) -> list[FormRow]:
    """One row for each field people fill in; a nested serializer is a heading and its own rows, named with dots.

    A serializer may set out its fields under headings: `sections = ((title, help, (field, ...)), ...)`.
    """
    page = _Page(reader, typed, choices or {}, frozenset(hidden))
    return page.rows_of(serializer, initial or {}, errors, prefix, within)


@dataclass(frozen=True)
class _Page:
    """What all rows of one page form share."""

    reader: Reader
    typed: QueryDict | None
    choices: Choices
    hidden: frozenset[str]

    def rows_of(
        self, serializer: serializers.Serializer, initial: Mapping[str, Any], errors: Any, prefix: str, within: str
    ) -> list[FormRow]:
        wrong = errors if isinstance(errors, Mapping) else {}
        rows: list[FormRow] = []
        for title, words, names in getattr(serializer, "sections", (("", "", tuple(serializer.fields)),)):
            if title:
                rows.append(FormRow(f"{prefix}{names[0]}_section", str(title), "group", help=str(words), within=within))
            for name in names:
                each, start = serializer.fields[name], initial.get(name, empty)
                if not (each.read_only or isinstance(each, serializers.HiddenField)):
                    rows += self._field(each, f"{prefix}{name}", start, wrong.get(name), within)
        return rows

    def _field(self, each: serializers.Field, name: str, start: Any, wrong: Any, within: str) -> list[FormRow]:
        if isinstance(each, serializers.ListSerializer):
            return self._repeated(each, name, start, wrong, within)
        if isinstance(each, serializers.Serializer):
            inner = start if isinstance(start, Mapping) else {}
            return [*_heading(each, name, wrong, within), *self.rows_of(each, inner, wrong, f"{name}.", within)]
        row = _row(
            each,
            name,
            self.reader,
            self.typed,
            start,
            messages_of(wrong),
            self.choices.get(name),
            name in self.hidden,
        )
        return [replace(row, within=within)]

    def _repeated(
        self, each: serializers.ListSerializer, name: str, start: Any, wrong: Any, within: str
    ) -> list[FormRow]:
        """A heading, then each item with its rows, then the press that adds another."""
        items = start if isinstance(start, list | tuple) else []
        count = len(items) if self.typed is None else items_posted(self.typed, name)
        count = max(count, 0 if each.allow_empty else 1)
        child = cast(serializers.Serializer, each.child)
        one = str(each.style.get("one") or _label(each))
        refused = _by_place(wrong)
        rows = _heading(each, name, [] if refused else wrong, within)
        for number in range(count):
            title = say("{what} {number}", what=one, number=number + 1)
            inner = items[number] if number < len(items) and isinstance(items[number], Mapping) else {}
            rows.append(FormRow(f"{name}.{number}", title, "item", within=within))
            wrong_here = refused.get(number)
            rows += self.rows_of(child, inner, wrong_here, f"{name}.{number}.", title)
        press = str(each.style.get("more") or say("Add another"))
        return [*rows, FormRow(name, press, "more", value=str(count), within=within)]


def _by_place(wrong: Any) -> dict[int, Any]:
    """What is wrong with the items of a repeated part, by their place; empty where the whole is meant."""
    if isinstance(wrong, Mapping) and all(isinstance(key, int) for key in wrong):
        return dict(wrong)
    if isinstance(wrong, list) and all(isinstance(item, Mapping) for item in wrong):
        return dict(enumerate(wrong))
    return {}


def _heading(each: serializers.Field, name: str, wrong: Any, within: str) -> list[FormRow]:
    """The heading of what is nested, with what is wrong with it as a whole; none for one that is `bare`."""
    whole = wrong.get("non_field_errors") if isinstance(wrong, Mapping) else wrong
    errors = messages_of(whole)
    if each.style.get("bare") and not errors:
        return []
    return [FormRow(name, _label(each), "group", help=str(each.help_text or ""), errors=errors, within=within)]


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
    figure = _child(each)
    unit = figure.unit_for(reader.units) if isinstance(figure, QuantityField) else ""
    if hide:
        kind, unit = "hidden", ""
    if kind == "tiles" and len(offered) == 1 and not values:
        values = [offered[0][0]]  # there is nothing to choose: it has to be said, and there is one answer
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
        # What can follow later is folded away, unless something in it was refused.
        later=bool(each.style.get("later")) and not errors,
    )


def _allowed(each: serializers.Field, errors: tuple[str, ...]) -> str:
    """What the field takes, unless its messages say so already or it was only left empty."""
    words = allowed(each)
    said = not errors or errors == (say(EMPTY),) or any(words in error for error in errors)
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
        if len(offered) <= MOST_TILES and each.style.get("tiles", not _is_long(each)):
            return "tiles", offered if _must_say(each) else [("", say("not said")), *offered]
        return "select", [("", say("choose") if each.required else say("not said")), *offered]
    if isinstance(inner, serializers.FileField):
        return "file", []
    if isinstance(each, serializers.BooleanField):
        if must_be_answered(each):
            return "tiles", _yes_or_no()
        return ("tiles", [*_yes_or_no(), ("", say("not said"))]) if each.allow_null else ("tick", [])
    long = isinstance(each, serializers.CharField) and (each.max_length or 0) >= LONG_TEXT
    if many or long or isinstance(each, serializers.JSONField) or each.style.get("base_template") == "textarea.html":
        return "area", []
    return "text", []


def _yes_or_no() -> list[tuple[str, str]]:
    return [("true", say("yes")), ("false", say("no"))]


def _is_long(each: serializers.Field) -> bool:
    """Whether the field belongs to a form of many fields under headings, where tiles would take too much room."""
    parent = each.parent
    while parent is not None and not hasattr(parent, "sections"):
        parent = parent.parent
    return parent is not None


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
    longest = getattr(each, "max_length", None)
    if longest:
        shown |= {"maxlength": str(longest)}
    if "input_type" in each.style:
        shown |= {"type": str(each.style["input_type"])}
    return shown


def _values(each: serializers.Field, name: str, reader: Reader, typed: QueryDict | None, start: Any) -> list[str]:
    if typed is not None:
        return [value for value in typed.getlist(name) if isinstance(value, str)]
    if start is empty:
        start = each.default if each.default is not empty and not callable(each.default) else None
    items = start if isinstance(start, list | tuple | set) and not isinstance(start, Quantity) else [start]
    return [_spoken(_child(each), item, reader) for item in items if item is not None]


def _child(each: serializers.Field) -> serializers.Field:
    """The field itself, or what a list is of."""
    return each.child if isinstance(each, serializers.ListField) else each


def _spoken(each: serializers.Field, value: Any, reader: Reader) -> str:
    """A starting value as the page types it; a unit that stands beside the box is not said twice."""
    if isinstance(each, QuantityField) and isinstance(value, str):
        return value.removesuffix(f" {each.unit_for(reader.units)}")
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


def messages_of(detail: Any) -> tuple[str, ...]:
    """The messages of one field, in our words where the library's name nothing."""
    if detail is None:
        return ()
    if isinstance(detail, Mapping):
        return tuple(f"{_place(key)}{text}" for key, inner in detail.items() for text in messages_of(inner))
    if isinstance(detail, list | tuple):
        return tuple(text for inner in detail for text in messages_of(inner))
    if getattr(detail, "code", "") in {"required", "blank", "null"}:
        return (say(EMPTY),)
    return (str(detail),)


def _place(key: Any) -> str:
    return f"{say('number {number}', number=int(key) + 1)}: " if str(key).isdigit() else f"{key}: "
