"""The registry of worksheets: computations that anybody may ask for without stored data, each a page and an endpoint.

    @worksheet("density", takes=DensityGiven, title=_("Flaw density"), part=_("Counting"), example={...})
    def density(given, units): ...

The functions translate between what was typed and the pure computation, and put source beside every figure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, ClassVar, Literal, NamedTuple

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from accounts.people import Person
from accounts.wording import noted, say

Mark = Literal["published", "from memory", "common practice", "plain arithmetic"]
MARKS = (noted("published"), noted("from memory"), noted("common practice"), noted("plain arithmetic"))
Tone = Literal["", "done", "work", "held", "open"]
Plain = str | int | float | bool | None


class Source(NamedTuple):
    """Where a figure comes from, and how well we know it: `mark` is printed beside every figure."""

    document: str
    edition: str = ""
    mark: Mark = "published"

    @property
    def words(self) -> str:
        document = say(self.document)
        return f"{document}, {self.edition}" if self.edition else document


class Figure(NamedTuple):
    """One figure: `value` in `unit` (SI), and `shown` as the reader sees it."""

    key: str
    name: str
    value: Plain
    unit: str
    shown: str
    formula: str
    source: Source


class Cell(NamedTuple):
    """One cell of a table: its value (SI, in the column's unit) and how it is shown."""

    value: Plain
    shown: str


class Column(NamedTuple):
    key: str
    name: str
    unit: str = ""


@dataclass(frozen=True)
class Table:
    """Rows beside each other. `cut` rows more are not listed. Without a source of its own, a column `known` names each."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    source: Source | None = None
    cut: int = 0

    @property
    def shown(self) -> list[list[tuple[str, str]]]:
        """Rows of (column name, shown)."""
        return [
            [(column.name, cell.shown) for column, cell in zip(self.columns, row, strict=True)] for row in self.rows
        ]


class Shape(NamedTuple):
    """Ground of one kind, for programs: GeoJSON in structure, in plane metres of the unrolled surface."""

    key: str
    name: str
    area: float
    geometry: Mapping[str, Any]


class Piece(NamedTuple):
    """A path of a drawing and its style."""

    style: str
    path: str


class Label(NamedTuple):
    x: float
    y: float
    text: str
    anchor: str = "start"


@dataclass(frozen=True)
class Drawing:
    """A picture of the answer, in marks (px) from the upper left corner; `words` say how it is to be read."""

    width: float
    height: float
    pieces: tuple[Piece, ...]
    labels: tuple[Label, ...]
    key: tuple[tuple[str, str], ...]
    words: str


@dataclass(frozen=True)
class Answer:
    """A plain sentence first, then figures, each with its source; cautions where the work can hurt people."""

    sentence: str
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    shapes: tuple[Shape, ...] = ()
    drawing: Drawing | None = None
    tone: Tone = ""


class WorksheetGiven(serializers.Serializer):
    """What every worksheet takes. `variant` narrows a page's form to one kind of thing, named by `variant_field`."""

    variant_field: ClassVar[str] = ""

    def __init__(self, *args: Any, variant: str = "", **kwargs: Any) -> None:
        self.variant = variant
        super().__init__(*args, **kwargs)

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        fields["units"] = serializers.ChoiceField(
            choices=Person.Units.choices,
            default=Person.Units.SI,
            label=_("Units"),
            help_text=_("How figures are shown; values stay in SI."),
        )
        return fields


Rule = Callable[[dict[str, Any], str], Answer]


@dataclass(frozen=True)
class Worksheet:
    """One computation. `variants` are kinds of thing its page can be asked about, each with its own example."""

    name: str
    title: Any
    about: Any
    part: Any
    takes: type[WorksheetGiven]
    rule: Rule
    example: Mapping[str, Any]
    variants: Mapping[str, Any]
    examples: Mapping[str, Mapping[str, Any]]

    def example_for(self, variant: str) -> Mapping[str, Any]:
        return {**self.example, **self.examples.get(variant, {})}

    @cached_property
    def first_variant(self) -> str:
        return next(iter(self.variants), "")

    def form(self, variant: str = "", **kwargs: Any) -> WorksheetGiven:
        return self.takes(variant=variant, **kwargs)

    def known(self, variant: str) -> dict[str, str]:
        """What a page of this variant need not ask."""
        return {self.takes.variant_field: variant} if variant else {}

    def answer(self, given: WorksheetGiven) -> Answer:
        """The answer to what was given. Raises ValidationError, naming field and value where one is to blame."""
        given.is_valid(raise_exception=True)
        return self.rule(dict(given.validated_data), given.validated_data["units"])


REGISTRY: dict[str, Worksheet] = {}


def worksheet(
    name: str,
    *,
    takes: type[WorksheetGiven],
    title: Any,
    about: Any,
    part: Any,
    example: Mapping[str, Any],
    variants: Mapping[str, Any] | None = None,
    examples: Mapping[str, Mapping[str, Any]] | None = None,
) -> Callable[[Rule], Rule]:
    """Register a function as the worksheet `name`. `example` is what its page shows first, as it would be typed."""

    def register(rule: Rule) -> Rule:
        if name in REGISTRY:
            raise ValueError(f"worksheet {name} is registered twice")
        REGISTRY[name] = Worksheet(name, title, about, part, takes, rule, example, variants or {}, examples or {})
        return rule

    return register


def refuse(field: str, message: str) -> ValidationError:
    """What to raise when a field is to blame that only the computation could judge."""
    return ValidationError({field: [message]})


def cut(table: Table, most: int) -> Table:
    """The table with at most so many rows; how many more there are is said."""
    left = len(table.rows) - most
    return table if left <= 0 else replace(table, rows=table.rows[:most], cut=left)
