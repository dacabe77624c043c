"""Voltage rules as data: what a rule is, how one is read from JSON and checked, and those that are shipped.

Owners' own tables and formulas come through the same door. Every problem is reported with field, value and allowed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, cast

from accounts.wording import say
from inspections.vocabulary import (
    CONDITIONS,
    FAMILIES,
    KINDS,
    MEDIA,
    METHODS,
    PROVENANCES,
    SUBSTRATES,
    THICKNESS_BASES,
    UNITS,
)
from inspections.voltage_formulas import Below, Formula, PerUnit, Power, Span, Step, Steps, Unit, Way

WAYS = ("nearest", "up", "down")
_NUMBER = re.compile(r"\d{1,9}(\.\d{1,6})?")


class RuleRefused(ValueError):
    """A rule that cannot be read; `problems` name each field, its value and what is allowed."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


@dataclass(frozen=True)
class Scope:
    """What a rule is for; an empty tuple means any."""

    families: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()
    substrates: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    media: tuple[str, ...] = ()


@dataclass(frozen=True)
class Branch:
    """A range of thickness and the formula for it."""

    span: Span
    formula: Formula


@dataclass(frozen=True)
class Form:
    """A rule as the document states it in one unit. `thickness_to`: thickness is first rounded to a multiple of it."""

    unit: Unit
    branches: tuple[Branch, ...]
    thickness_to: Fraction | None = None


@dataclass(frozen=True)
class Tolerance:
    """Allowed either side of the voltage: in percent, or in volts."""

    percent: Fraction | None = None
    volts: int | None = None


@dataclass(frozen=True)
class Rule:
    """A test-voltage rule. `forms` is empty where the document's table is not ours to ship.

    thickness_range: films the document is for, over all its forms. volts_from, volts_to: range of the applied voltage
    the document states, ends included.
    """

    id: str
    document: str
    edition: str
    kind: str
    provenance: str
    scope: Scope
    forms: tuple[Form, ...]
    thickness_basis: str = ""
    thickness_range: Span | None = None
    volts_from: Fraction | None = None
    volts_to: Fraction | None = None
    tolerance: Tolerance | None = None
    volts_rounding_to: int = 1
    volts_rounding_way: Way = "nearest"
    doubt: str = ""
    note: str = ""

    @property
    def name(self) -> str:
        return f"{self.document}, {self.edition}" if self.edition else self.document


def shipped_bodies() -> dict[str, dict[str, Any]]:
    """The bodies of the rules that come with the product, by id: what a specification copies. New at every call."""
    texts = (
        file.read_text("utf-8") for file in (files("inspections") / "rules").iterdir() if file.name.endswith(".json")
    )
    return {body["id"]: body for body in sorted(map(json.loads, texts), key=lambda body: body["id"])}


@cache
def shipped_rules() -> tuple[Rule, ...]:
    """The rules that come with the product, by id, checked like any other."""
    return tuple(rule_from_json(body) for body in shipped_bodies().values())


def shipped_rule(rule_id: str) -> Rule:
    """The shipped rule of that id. Raises KeyError naming those there are."""
    for rule in shipped_rules():
        if rule.id == rule_id:
            return rule
    raise KeyError(f'rule "{rule_id}" is not one of: {", ".join(rule.id for rule in shipped_rules())}.')


def rule_from_json(body: object) -> Rule:
    """Return a rule from its JSON body; numbers are read as the decimals they print.

    Raises RuleRefused with every problem found, each naming field, value and what is allowed.
    """
    problems: list[str] = []
    if not isinstance(body, Mapping):
        raise RuleRefused((say("the rule is {value}; it must be an object", value=_show(body)),))
    top = _Fields(body, "", problems)
    scope = top.object("scope", required=False)
    tolerance = top.object("tolerance", required=False) if body.get("tolerance") is not None else None
    rounding = top.object("volts_rounding", required=False)
    films = top.object("thickness_range", required=False) if body.get("thickness_range") is not None else None
    rule = Rule(
        id=top.text("id", longest=60),
        document=top.text("document"),
        edition=top.text("edition", required=False),
        kind=top.choice("kind", tuple(KINDS)),
        provenance=top.choice("provenance", tuple(PROVENANCES)),
        scope=Scope(
            scope.choices("families", tuple(FAMILIES)),
            scope.choices("conditions", tuple(CONDITIONS)),
            scope.choices("substrates", tuple(SUBSTRATES)),
            scope.choices("methods", tuple(METHODS)),
            scope.choices("media", tuple(MEDIA)),
        ),
        forms=tuple(_form(form) for form in top.objects("forms")),
        thickness_basis=top.choice("thickness_basis", ("", *THICKNESS_BASES), required=False),
        thickness_range=_span(films, cast(Unit, films.choice("unit", tuple(UNITS)) or "um")) if films else None,
        volts_from=top.number("volts_from", required=False),
        volts_to=top.number("volts_to", required=False),
        tolerance=_tolerance(tolerance) if tolerance else None,
        volts_rounding_to=rounding.whole("to") or 1,
        volts_rounding_way=cast(Way, rounding.choice("way", WAYS, required=False) or "nearest"),
        doubt=top.text("doubt", required=False, longest=400),
        note=top.text("note", required=False, longest=400),
    )
    top.read.update(("tolerance", "thickness_range"))
    for fields in (top, scope, tolerance, rounding, films):
        if fields:
            fields.refuse_unknown()
    units = [form.unit for form in rule.forms]
    for unit in sorted({unit for unit in units if units.count(unit) > 1}):
        problems.append(
            say("forms has {count} forms in {unit}; it must have one a unit", count=units.count(unit), unit=unit)
        )
    if rule.volts_from is not None and rule.volts_to is not None and rule.volts_to < rule.volts_from:
        problems.append(
            say(
                "volts_to is {high}; it must not be below volts_from, {low}",
                high=_show(body["volts_to"]),
                low=body["volts_from"],
            )
        )
    if problems:
        raise RuleRefused(tuple(problems))
    return rule


def _tolerance(fields: _Fields) -> Tolerance:
    percent, volts = fields.number("percent", required=False, zero=True), fields.whole("volts", zero=True)
    if (percent is None) == (volts is None):
        fields.problem(say("give percent or volts, one of the two"))
    if percent is not None and percent >= 100:
        fields.refuse("percent", say("from 0 to below 100"))
    return Tolerance(percent, volts)


def _form(fields: _Fields) -> Form:
    unit = cast(Unit, fields.choice("unit", tuple(UNITS)) or "um")
    branches = []
    for inner in fields.objects("branches", least=1):
        formula = _formula(inner.object("formula"), unit)
        span = formula.span if isinstance(formula, Steps) and "from" not in inner.body else _span(inner, unit)
        inner.refuse_unknown()
        branches.append(Branch(span, formula))
    fields.ascending("branches", [branch.span for branch in branches])
    form = Form(unit, tuple(branches), fields.number("thickness_to", required=False))
    fields.refuse_unknown()
    return form


def _span(fields: _Fields, unit: Unit) -> Span:
    own = cast(Unit, fields.choice("unit", tuple(UNITS), required=False) or unit)
    low, high = fields.number("from", required=False, zero=True), fields.number("to", required=False)
    if low is not None and high is not None and high < low:
        fields.refuse("to", say("not below from, {low}", low=fields.body["from"]))
    return Span(own, low, high, fields.flag("from_in"), fields.flag("to_in"))


def _formula(fields: _Fields, unit: Unit) -> Formula:
    kind = fields.choice("kind", ("power", "per unit", "steps", "below"))
    formula: Formula
    if kind == "power":
        exponent = fields.number("exponent") or Fraction(1)
        if not (exponent <= 2 and 1000 % exponent.denominator == 0):
            fields.refuse("exponent", say("above 0 and at most 2, with at most three decimals"))
            exponent = Fraction(1)
        formula = Power(fields.number("factor") or Fraction(1), exponent)
    elif kind == "per unit":
        formula = PerUnit(fields.number("factor") or Fraction(1), fields.number("cap", required=False))
    elif kind == "below":
        formula = Below(fields.number("volts") or Fraction(1))
    else:
        formula = _steps(fields, unit) if kind else Steps((Step(Span(unit), Fraction(1)),))
    if kind:
        fields.refuse_unknown()
    return formula


def _steps(fields: _Fields, unit: Unit) -> Steps:
    rows, before = [], Fraction(0)
    for inner in fields.objects("rows", least=1):
        row = Step(_span(inner, unit), inner.number("volts") or Fraction(1))
        if row.volts < before:
            inner.refuse("volts", say("not below the row before, {before:g}", before=float(before)))
        before = row.volts
        inner.refuse_unknown()
        rows.append(row)
    fields.ascending("rows", [row.span for row in rows])
    return Steps(tuple(rows) or (Step(Span(unit), Fraction(1)),))


class _Fields:
    """An object of the body being read: hands out fields by name and notes what is wrong with them."""

    def __init__(self, body: Mapping[str, Any], path: str, problems: list[str]) -> None:
        self.body, self.path, self.problems = body, path, problems
        self.read: set[str] = set()

    def problem(self, text: str) -> None:
        self.problems.append(f"{self.path[:-1] or say('the rule')}: {text}")

    def refuse(self, name: str, allowed: str) -> None:
        self.problems.append(
            say(
                "{name} is {value}; it must be {allowed}",
                name=f"{self.path}{name}",
                value=_show(self.body.get(name)),
                allowed=allowed,
            )
        )

    def refuse_unknown(self) -> None:
        for name in self.body:
            if name not in self.read:
                self.problem(
                    say(
                        'has an unknown field "{name}"; it may have: {names}',
                        name=name,
                        names=", ".join(sorted(self.read)),
                    )
                )

    def _get(self, name: str) -> Any:
        self.read.add(name)
        return self.body.get(name)

    def text(self, name: str, *, required: bool = True, longest: int = 200) -> str:
        value = self._get(name)
        if value is None and not required:
            return ""
        if not isinstance(value, str) or len(value) > longest or (required and not value.strip()):
            self.refuse(name, say("text of {least} to {most} characters", least=int(required), most=longest))
            return ""
        return value

    def choice(self, name: str, allowed: tuple[str, ...], *, required: bool = True) -> str:
        value = self._get(name)
        if value is None and not required:
            return ""
        if value not in allowed:
            self.refuse(name, say("one of: {allowed}", allowed=", ".join(word for word in allowed if word)))
            return ""
        return cast(str, value)

    def choices(self, name: str, allowed: tuple[str, ...]) -> tuple[str, ...]:
        value = self._get(name)
        if value is None:
            return ()
        if not isinstance(value, list) or any(word not in allowed for word in value):
            self.refuse(name, say("a list of: {allowed}", allowed=", ".join(allowed)))
            return ()
        return tuple(value)

    def flag(self, name: str) -> bool:
        value = self._get(name)
        if value is not None and not isinstance(value, bool):
            self.refuse(name, say("true or false"))
        return value is not False

    def number(self, name: str, *, required: bool = True, zero: bool = False) -> Fraction | None:
        value = self._get(name)
        if value is None and not required:
            return None
        allowed = say(
            "a number from 0 up, below a thousand million, with at most six decimals"
            if zero
            else "a number above 0, below a thousand million, with at most six decimals"
        )
        if isinstance(value, bool) or not isinstance(value, (int, float, str)) or not _NUMBER.fullmatch(str(value)):
            self.refuse(name, allowed)
            return None
        number = Fraction(str(value))
        if number == 0 and not zero:
            self.refuse(name, allowed)
            return None
        return number

    def whole(self, name: str, *, zero: bool = False) -> int | None:
        number = self.number(name, required=False, zero=zero)
        if number is not None and number.denominator != 1:
            self.refuse(name, say("a whole number of volts"))
            return None
        return None if number is None else int(number)

    def object(self, name: str, *, required: bool = True) -> _Fields:
        value = self._get(name)
        if value is None and not required:
            value = {}
        if not isinstance(value, Mapping):
            self.refuse(name, say("an object"))
            value = {}
        return _Fields(value, f"{self.path}{name}.", self.problems)

    def objects(self, name: str, *, least: int = 0) -> list[_Fields]:
        value = self._get(name)
        if not isinstance(value, list) or len(value) < least or any(not isinstance(item, Mapping) for item in value):
            self.refuse(name, say("a list of at least one object") if least else say("a list of objects"))
            return []
        return [_Fields(item, f"{self.path}{name}[{at}].", self.problems) for at, item in enumerate(value)]

    def ascending(self, name: str, spans: list[Span]) -> None:
        for at, (before, after) in enumerate(zip(spans, spans[1:], strict=False), 1):
            ends, begins = before.high, after.low
            if ends is None or begins is None or begins < ends or (begins == ends and before.high_in and after.low_in):
                self.problems.append(
                    say(
                        "{after_name} is {after}; it must begin after {before_name} ends, which is {before}",
                        after_name=f"{self.path}{name}[{at}]",
                        after=after,
                        before_name=f"{name}[{at - 1}]",
                        before=before,
                    )
                )


def _show(value: object) -> str:
    if value is None:
        return say("absent")
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."
