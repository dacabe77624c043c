"""What is taken along: an asset or one of its zones, as the record stood at a moment, and the tables that are made of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any, NamedTuple, TypeAlias

from django.db.models import QuerySet

from accounts.assets import Asset
from accounts.record import Head, Record
from mapping.zones import Zone

Cell: TypeAlias = str | int | float | bool | None
"""What stands in a cell. Moments are text: ISO 8601 in the asset's time zone."""
Line: TypeAlias = tuple[Cell, ...]

CHUNK = 500
_MICROMETRES = 6
"""Decimals that are kept: lengths in m to a micrometre."""


@dataclass(frozen=True)
class Scope:
    """One asset, or with `zone` that zone alone."""

    asset: Asset
    zone: Zone | None = None

    @property
    def title(self) -> str:
        return f"{self.asset.name}, {self.zone.name}" if self.zone else self.asset.name

    def zones(self) -> list[Zone]:
        """Its zones, each with its asset."""
        if self.zone is not None:
            return [self.zone]
        rows = list(self.asset.zones.all())
        for row in rows:
            row.asset = self.asset
        return rows

    def of_zone(self, rows: QuerySet[Any], path: str) -> QuerySet[Any]:
        """Those rows whose zone, along `path`, is in the scope."""
        if self.zone is not None:
            return rows.filter(**{path: self.zone})
        return rows.filter(**{f"{path}__asset": self.asset})

    def head(self) -> Head:
        """Where the asset's record stands now."""
        record = Record.objects.filter(pk=self.asset.pk).first()
        return record.head if record else Head(0, "")

    def moment(self, at: datetime | None) -> str | None:
        return at.astimezone(self.asset.zone_info).isoformat(timespec="seconds") if at else None


class Column(NamedTuple):
    """One column: its heading with the unit, what it says (noted), where it comes from, and what is made of that.

    `source` is one lookup or several; `turn` gets their values. Without it the value stands as it is.
    """

    name: str
    what: str
    source: str | tuple[str, ...]
    turn: Callable[..., Any] | None = None

    @property
    def lookups(self) -> tuple[str, ...]:
        return (self.source,) if isinstance(self.source, str) else self.source


@dataclass(frozen=True)
class Table:
    """A table: its name (of the file and the sheet), what its rows are (noted), and how they are asked for, in one query."""

    name: str
    what: str
    columns: tuple[Column, ...]
    rows: Callable[[Scope], QuerySet[Any]]
    several: Callable[[Line], Iterator[Line]] | None = None
    """Makes several lines of one row, where a row holds a list."""
    of_asset_only: bool = False

    @property
    def heads(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    def lines(self, scope: Scope) -> Iterator[Line]:
        """Its lines, read in one query as they are asked for, so that a long table takes no more memory than a short one."""
        lookups = [lookup for column in self.columns for lookup in column.lookups]
        for values in self.rows(scope).values_list(*lookups).iterator(chunk_size=CHUNK):
            line = self._line(values, scope)
            yield from self.several(line) if self.several else (line,)

    def chunks(self, scope: Scope) -> Iterator[list[Line]]:
        lines = self.lines(scope)
        while chunk := list(islice(lines, CHUNK)):
            yield chunk

    def _line(self, values: tuple[Any, ...], scope: Scope) -> Line:
        line: list[Any] = []
        place = 0
        for column in self.columns:
            given = values[place : place + len(column.lookups)]
            place += len(given)
            line.append(_cell(column.turn(*given) if column.turn else given[0], scope))
        return tuple(line)


def _cell(value: Any, scope: Scope) -> Any:
    """A value as a cell: moments by the asset's clock, numbers as numbers, ids and days as text; lists stay for `several`."""
    if value is None or isinstance(value, bool | str | int | list):
        return value
    if isinstance(value, float):
        return round(value, _MICROMETRES)
    if isinstance(value, datetime):
        return scope.moment(value)
    return str(value)
