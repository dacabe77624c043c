"""What an instrument read over time, wherever a person may see it, and where it read the same again and again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from itertools import groupby
from typing import NamedTuple, TypeVar

from accounts.access import visible
from accounts.assets import Asset
from accounts.people import Person
from accounts.units import show
from accounts.wording import say
from inspections.air import air_of, steel_words
from inspections.coatings import Atmosphere, Spot
from inspections.gauges import GaugeCheck
from inspections.instruments import Instrument
from inspections.odd_readings import ALIKE
from inspections.runs import Run, Verification

MOST = 200
_Value = TypeVar("_Value")


class InstrumentReading(NamedTuple):
    """One reading: where it was made, what was read and what was asked, and how it came out ("" where nothing is judged).

    same : how many readings in a row say the same to the digit, this one among them; 1 where nothing is odd.
    """

    at: datetime
    asset: Asset
    run: Run | None
    what: str
    read: str
    asked: str
    outcome: str
    by: str
    same: int = 1

    @property
    def odd(self) -> bool:
        return self.same >= ALIKE


def alike(values: Sequence[_Value]) -> list[int]:
    """For each value the length of the row of equal values it stands in.

    >>> alike([3, 3, 3, 4])
    [3, 3, 3, 1]
    """
    lengths: list[int] = []
    for _, same in groupby(values):
        count = len(list(same))
        lengths += [count] * count
    return lengths


def readings_of(instrument: Instrument, person: Person) -> list[InstrumentReading]:
    """The latest readings of an instrument that the person may see, the latest first."""
    match instrument.kind:
        case Instrument.Kind.DETECTOR:
            checks = visible(person, Verification).filter(run__instrument=instrument)
            return _checks(checks, person.units)
        case Instrument.Kind.CREST_VOLTMETER:
            return _checks(visible(person, Verification).filter(voltmeter=instrument), person.units)
        case Instrument.Kind.GAUGE:
            return _latest([*_gauge_checks(instrument, person), *_spots(instrument, person)])
    return _airs(instrument, person)


def _latest(rows: Iterable[InstrumentReading]) -> list[InstrumentReading]:
    return sorted(rows, key=lambda row: row.at, reverse=True)[:MOST]


def _checks(checks: Iterable[Verification], units: str) -> list[InstrumentReading]:
    rows = list(
        checks.filter(struck_at=None, run__struck_at=None)  # type: ignore[attr-defined]
        .select_related("run__sheet__coating__zone__asset", "by")
        .order_by("-at", "-pk")[:MOST]
    )
    # A known resistor is the same one every time: that is nothing odd.
    same = alike([row.measured if row.unit == Verification.Unit.VOLT else row.pk for row in rows])
    return [
        InstrumentReading(
            row.at,
            row.run.sheet.coating.zone.asset,
            row.run,
            row.get_phase_display(),
            show(row.measured, row.kind, units) + ("" if row.alarm_seen else f", {say('no alarm')}"),
            say(
                "{expected} ± {tolerance}",
                expected=show(row.expected, row.kind, units),
                tolerance=show(row.tolerance, row.kind, units),
            ),
            row.get_outcome_display(),
            row.by.name,
            count,
        )
        for row, count in zip(rows, same, strict=True)
    ]


def _gauge_checks(gauge: Instrument, person: Person) -> list[InstrumentReading]:
    rows = list(
        visible(person, GaugeCheck)
        .filter(gauge=gauge, struck_at=None)
        .select_related("sheet__coating__zone__asset", "by")
        .order_by("-at", "-pk")[:MOST]
    )
    # The shim is read to the digit by a good gauge; only the same reading on different shims would be odd.
    return [
        InstrumentReading(
            row.at,
            row.sheet.coating.zone.asset,
            None,
            row.plate or say("shim"),
            show(row.measured, "film", person.units),
            say(
                "{expected} ± {tolerance}",
                expected=show(row.shim, "film", person.units),
                tolerance=show(row.tolerance, "film", person.units),
            ),
            row.get_outcome_display(),
            row.by.name,
        )
        for row in rows
    ]


def _spots(gauge: Instrument, person: Person) -> list[InstrumentReading]:
    rows = list(
        visible(person, Spot)
        .filter(gauge=gauge, struck_at=None)
        .select_related("sheet__coating__zone__asset", "sheet__person")
        .order_by("-at", "-pk")[:MOST]
    )
    return [
        InstrumentReading(
            row.at,
            row.sheet.coating.zone.asset,
            None,
            row.said,
            " / ".join(row.readings),
            "",
            "",
            row.sheet.person.name,
            count,
        )
        for row, count in zip(rows, alike([row.readings for row in rows]), strict=True)
    ]


def _airs(instrument: Instrument, person: Person) -> list[InstrumentReading]:
    used = {"hygrometer": instrument} if instrument.kind == Instrument.Kind.HYGROMETER else {"thermometer": instrument}
    rows = list(
        visible(person, Atmosphere)
        .filter(**used, struck_at=None)
        .select_related("coating__zone__asset", "by")
        .order_by("-at", "-pk")[:MOST]
    )
    airs = [air_of(row) for row in rows]
    same = alike([(row.air, row.humidity, row.wet_bulb, row.steel) for row in rows])
    return [
        InstrumentReading(
            air.row.at,
            air.row.coating.zone.asset,
            None,
            air.row.coating.zone.name,
            say(
                "air {air}, {humidity}; steel {steel}",
                air=show(air.row.air, "celsius", person.units, 1),
                humidity=f"{air.humidity:.0f} %" if air.humidity is not None else "–",
                steel=steel_words(air.row, person.units),
            ),
            "",
            "",
            air.row.by.name,
            count,
        )
        for air, count in zip(airs, same, strict=True)
    ]
