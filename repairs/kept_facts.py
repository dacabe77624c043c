"""What the gates look at, as plain data and back, so that it can be kept and judged again for another reader or moment.

Works from the types of the fields alone, so a new fact needs nothing here. No Django.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from repairs.gate_facts import Facts


def nameless(facts: Facts) -> Facts:
    """The facts without people's names and words: enough to judge, with nothing that would have to be kept private."""
    evidence = {code: tuple(row._replace(who="", what="") for row in rows) for code, rows in facts.evidence.items()}
    conceded = {code: row._replace(who="", because="") for code, row in facts.concessions.items()}
    return replace(facts, evidence=evidence, concessions=conceded)


def facts_to_json(facts: Facts) -> dict[str, Any]:
    """The facts as JSON holds them.

    Raises TypeError for a value of a type that no fact has had so far.
    """
    return _told(facts)  # type: ignore[no-any-return]


def facts_from_json(kept: Mapping[str, Any]) -> Facts:
    """The facts that were kept.

    Raises TypeError or KeyError for what `facts_to_json` did not make.
    """
    return _read(Facts, kept)  # type: ignore[no-any-return]


def _told(value: Any) -> Any:
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, Fraction):
        return str(value)
    if is_dataclass(value):
        return {each.name: _told(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {name: _told(each) for name, each in value.items()}
    if isinstance(value, tuple | list | frozenset):
        return [_told(each) for each in value]
    raise TypeError(f"{value!r} is of a type that is not kept")


def _read(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        (kind,) = (each for each in arguments if each is not NoneType)
        return _read(kind, value)
    if origin is Literal:
        return value
    if origin is tuple:
        kinds = [arguments[0]] * len(value) if arguments[-1] is Ellipsis else arguments
        return tuple(_read(each, part) for each, part in zip(kinds, value, strict=True))
    if origin is not None and issubclass(origin, Mapping):
        return {name: _read(arguments[1], each) for name, each in value.items()}
    if kind is datetime:
        return datetime.fromisoformat(value)
    if kind is Fraction:
        return Fraction(value)
    if is_dataclass(kind):
        return kind(**{name: _read(each, value[name]) for name, each in _hints(kind).items()})  # type: ignore[operator,arg-type]
    if isinstance(kind, type) and issubclass(kind, tuple):
        return kind(*(_read(each, part) for each, part in zip(_hints(kind).values(), value, strict=True)))
    if isinstance(kind, type) and issubclass(kind, bool | int | float | str):
        return value
    raise TypeError(f"{kind} is a type that is not kept")


@lru_cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)
