"""All tables of an export in their order, and the page that goes before them: what is what."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from accounts.assets import Asset
from accounts.record import Head
from accounts.wording import say
from repairs.exports import asked, equipment, film, people, put_right, recorded, tested, where
from repairs.exports.scope import Line, Scope, Table

FIRST = "what-is-what"
"""Name of the page that goes before the tables."""
TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        *where.TABLES,
        *asked.TABLES,
        *tested.TABLES,
        *equipment.TABLES,
        *people.TABLES,
        *film.TABLES,
        *put_right.TABLES,
        *recorded.TABLES,
    )  # fmt: skip
}


class Taken(NamedTuple):
    """When an export was made, and where the record stood before its first row and after its last was read."""

    at: datetime
    before: Head
    after: Head


def tables_of(scope: Scope) -> list[Table]:
    """The tables there are for an asset or for a zone."""
    return [table for table in TABLES.values() if scope.zone is None or not table.of_asset_only]


def what_is_what(scope: Scope, taken: Taken) -> Iterator[Line]:
    """The page before the tables, in the reader's language: two or three cells a line."""
    head = taken.after
    yield (say("Barespot"), say("everything recorded of {what}", what=scope.title))
    yield (say("written"), scope.moment(taken.at))
    yield (say("record"), say("at entry {seq}, sha256 {digest}", seq=head.seq, digest=head.digest or "–"))
    if taken.before != taken.after:
        yield (
            say("still moving"),
            say(
                "Entries {first} to {last} were recorded while the tables were read; their rows may be in some tables "
                "and not in others.",
                first=taken.before.seq + 1,
                last=taken.after.seq,
            ),
        )
    yield (say("units"), say("metres, square metres, µm, volts and °C, as the headings say; decimals have a point"))
    yield (
        say("times"),
        say(
            "ISO 8601 with the difference to UTC, by the clock of {zone}",
            zone=scope.asset.time_zone,
        ),
    )
    yield (
        say("places"),
        say("x and y are metres in the plane of the zone's unrolled surface, not longitude and latitude"),
    )
    yield from _how_places_are_spoken(scope.asset)
    yield (
        say("words"),
        say("headings and coded values are the same in every language; free text stands as it was typed"),
    )
    yield (
        say("formulas"),
        say(
            "Nothing here is a formula. In CSV, text that a spreadsheet would run (it begins with = + - @ or a tab) has an "
            "apostrophe before it, and so has text that begins with an apostrophe before one of these; numbers have none. In "
            "XLSX such text is marked as text."
        ),
    )
    yield (
        say("private"),
        say(
            "email addresses, the testers of permits and the numbers of cards are left out; names of people and free text are in"
        ),
    )
    yield (
        say("proof"),
        say(
            "These files can be changed after they were taken; the record cannot. Compare entry and sha256 above with the "
            "record before relying on them."
        ),
    )
    yield (
        say("caution"),
        say(
            "Barespot never authorises entry or work. Its figures help a competent person; they replace neither the standard, "
            "the product data sheet, local codes nor licensed practice."
        ),
    )
    yield ()
    yield (say("table"), say("column"), say("what it says"))
    for table in tables_of(scope):
        yield (table.name, "", say(table.what))
        for column in table.columns:
            yield (table.name, column.name, say(column.what))


def _how_places_are_spoken(asset: Asset) -> Iterator[Line]:
    """Without these a place that was said cannot be read again."""
    yield (say("chainage"), f"{asset.get_unit_system_display()}; {asset.get_foot_display()}")
    jumps = "; ".join(f"{back:.2f} back = {ahead:.2f} ahead" for back, ahead in asset.station_equations)
    yield (say("station equations"), jumps or say("none"))
    if asset.datum:
        yield (say("datum"), asset.datum)
