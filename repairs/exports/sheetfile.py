"""A field sheet as a file in the format that the import reads: what was struck out is left out, all else comes back the same."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from operator import itemgetter
from typing import IO, Any, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from openpyxl import Workbook

from accounts.units import FILM, NotRead, read
from inspections.briefings import Briefing
from inspections.coatings import Atmosphere, FieldSheet, Permit
from inspections.flaws import Flaw
from inspections.listed import joined
from inspections.noted_runs import chain_of
from inspections.runs import Run, Swath
from repairs.exports.csvfile import MARK, written
from repairs.exports.scope import Line
from repairs.exports.workbook import saved, text_cell
from repairs.state import with_status

HEADS = (
    "what", "run", "no", "time", "until", "name", "place", "distance (m)", "lane", "island", "measured (V)", "resistor (Ω)", "alarm", "phase", "voltmeter", "kind", "found by",
    "along (m)", "around (m)", "depth (µm)", "give or take (m)", "note", "reading", "gauge", "area", "shift", "correction", "unit is right", "plate", "shim", "measured film", "tolerance", "stage", "purpose", "method",
    "instrument", "electrode", "set (V)", "basis", "thickness", "surface", "medium", "sweeper", "witness", "permit", "cautions", "gas", "limits", "renews",
    "tester", "valid until", "air (°C)", "humidity (%)", "wet bulb (°C)", "steel (°C)", "steel at", "hygrometer", "thermometer", "people", "gone through",
)  # fmt: skip
_NUMBERED = re.compile(r"lane \d+ of \d+", re.IGNORECASE)


def sheet_lines(sheet: FieldSheet) -> list[Line]:
    """The lines of the file, the declarations first; each with as many cells as it needs."""
    return list(_Writing(sheet).lines())


def sheet_csv(sheet: FieldSheet) -> bytes:
    return written(sheet_lines(sheet), MARK)


def sheet_workbook(sheet: FieldSheet) -> IO[bytes]:
    book = Workbook(write_only=True)
    page: Any = book.create_sheet(str(sheet))
    for line in sheet_lines(sheet):
        page.append([text_cell(page, str(cell)) for cell in line])
    return saved(book)


class _Writing:
    """Goes through a sheet in the order of recording."""

    def __init__(self, sheet: FieldSheet) -> None:
        self.sheet = sheet
        self.zone = sheet.coating.zone
        self.clock: ZoneInfo = self.zone.asset.zone_info

    def lines(self) -> Iterator[Line]:
        sheet = self.sheet
        yield ("what", "value")
        yield ("zone", self.zone.name)
        yield ("sheet", sheet.letter)
        yield ("recorder", sheet.person.name)
        yield HEADS
        runs = list(
            Run.objects.filter(sheet=sheet, struck_at=None)
            .select_related("instrument", "electrode", "witness")
            .order_by("number")
        )
        permits = list(Permit.objects.filter(coating=sheet.coating, struck_at=None).order_by("recorded_at", "pk"))
        chains = {run.pk: [fact.id for fact in chain_of(run, permits)] for run in runs}
        used = {pk for chain in chains.values() for pk in chain}
        numbers = {permit.pk: permit.number for permit in permits if permit.pk in used}
        for permit in permits:
            if permit.pk in used:
                yield self._line(
                    "permit", no=permit.number, time=permit.begins_at, kind=permit.kind, gas=permit.gas_reading,
                    limits=permit.gas_limits, tester=permit.tester, valid_until=permit.expires_at,
                    renews=numbers.get(permit.renews_id) if permit.renews_id else None,
                )  # fmt: skip
        for briefing in self._briefings(runs):
            names = [each.name for each in briefing.attendees.all() if each.struck_at is None]
            yield self._line(
                "briefing", time=briefing.at, method=briefing.method, people=joined(names), gone_through="yes",
            )  # fmt: skip
        for air in self._airs(runs):
            yield self._line(
                "atmosphere", time=air.at, **{"air (°C)": air.air, "humidity (%)": air.humidity, "wet bulb (°C)": air.wet_bulb},
                **{"steel (°C)": joined(f"{reading:g}" for reading in air.steel)}, steel_at=joined(air.steel_at),
                hygrometer=air.hygrometer.serial if air.hygrometer else None,
                thermometer=air.thermometer.serial if air.thermometer else None,
            )  # fmt: skip
        for run in runs:
            run.sheet = sheet
            named = run.permit_id if run.permit_id in used else next(iter(chains[run.pk]), None)
            yield from self._run(run, numbers.get(cast(UUID, named)))
        for spot in sheet.spots.filter(struck_at=None).select_related("gauge").order_by("at", "pk"):
            yield self._line(
                "spot", time=spot.at, place=spot.said, stage=spot.stage, reading=joined(spot.readings),
                gauge=spot.gauge.serial if spot.gauge else None, area=spot.area, shift=spot.shift,
                correction=spot.correction_said, purpose=spot.purpose,
                **{"unit is right": "yes" if spot.unit_confirmed else None},
            )  # fmt: skip
        for check in sheet.gauge_checks.filter(struck_at=None).select_related("gauge").order_by("at", "pk"):
            yield self._line(
                "gauge check", time=check.at, gauge=check.gauge.serial, plate=check.plate, shim=check.shim_said,
                tolerance=check.tolerance_said, note=check.note, **{"measured film": check.measured_said},
            )  # fmt: skip
        if sheet.handed_in_at:
            yield self._line("hand in", time=sheet.handed_in_at)

    def _briefings(self, runs: list[Run]) -> list[Briefing]:
        """What was held at the asset on the days of the sheet's runs, by its calendar: the notes on a run look there."""
        if not runs:
            return []
        days = {run.opened_at.astimezone(self.clock).date() for run in runs}
        first, last = (datetime.combine(day, time(), self.clock) for day in (min(days), max(days)))
        held = Briefing.objects.filter(
            asset=self.zone.asset, struck_at=None, at__gte=first, at__lt=last + timedelta(days=1)
        )
        rows = held.select_related("asset").prefetch_related("attendees").order_by("at", "pk")
        return [row for row in rows if row.day in days]

    def _airs(self, runs: list[Run]) -> QuerySet[Atmosphere]:
        """What was measured of air and steel from the sheet's taking on, until its last run was closed or it came in."""
        ends = [run.closed_at for run in runs if run.closed_at] + [self.sheet.handed_in_at]
        end = max((at for at in ends if at), default=None)
        rows = Atmosphere.objects.filter(coating=self.sheet.coating, struck_at=None, at__gte=self.sheet.taken_at)
        return (rows.filter(at__lte=end) if end else rows).order_by("at", "pk")

    def _run(self, run: Run, permit: str | None) -> Iterator[Line]:
        yield self._line(
            "run", run=run.number, time=run.opened_at, purpose=run.purpose, stage=run.stage, method=run.method,
            instrument=run.instrument.serial if run.instrument else None,
            electrode=run.electrode.name if run.electrode else None,
            basis=run.thickness_basis, thickness=_measured(run.thickness_said), surface=run.surface_state, medium=run.medium or None,
            sweeper=run.sweeper, witness=run.witness.name if run.witness else None,
            permit=permit,
            cautions="yes" if run.cautions_by_id else None, **{"set (V)": run.set_volts},
        )  # fmt: skip
        for _, line in sorted(self._course(run), key=itemgetter(0)):
            yield line
        if run.closed_at:
            yield self._line("close", run=run.number, time=run.closed_at)

    def _course(self, run: Run) -> Iterator[tuple[int, Line]]:
        number = run.number
        for proof in run.return_proofs.filter(struck_at=None):
            yield (
                proof.sheet_seq,
                self._line("return", run=number, time=proof.at, place=proof.said, island=proof.island),
            )
        for touch in run.touch_tests.filter(struck_at=None):
            yield touch.sheet_seq, self._line(
                "touch", run=number, time=touch.at, place=touch.said, island=touch.island,
                alarm="yes" if touch.alarm else "no", **{"distance (m)": touch.distance, "set (V)": touch.volts},
            )  # fmt: skip
        for check in run.verifications.filter(struck_at=None).select_related("voltmeter"):
            yield check.sheet_seq, self._line(
                "check", run=number, time=check.at, phase=check.phase, alarm="yes" if check.alarm_seen else "no",
                voltmeter=check.voltmeter.serial if check.voltmeter else None, note=check.note,
                **{"resistor (Ω)" if check.unit == "Ω" else "measured (V)": check.measured},
            )  # fmt: skip
        for event in run.events.filter(struck_at=None):
            yield event.sheet_seq, self._line("event", run=number, time=event.at, kind=event.kind)
        for swath in run.swaths.filter(struck_at=None).select_related("feature").defer("shape"):
            if swath.feature is not None:
                named = f"{swath.feature.kind} {swath.feature.name}"
                part = swath.said.removeprefix(named).removeprefix(", ")
                yield swath.sheet_seq, self._line(
                    "feature", run=number, time=swath.started_at, until=swath.ended_at, name=named, place=part,
                    island=swath.island,
                )  # fmt: skip
                continue
            place, lane = self._swept(run, swath)
            yield swath.sheet_seq, self._line(
                "swept", run=number, time=swath.started_at, until=swath.ended_at, place=place, lane=lane,
                island=swath.island,
            )  # fmt: skip
        for flaw in with_status(Flaw.objects.filter(run=run, struck_at=None)):
            yield flaw.sheet_seq, self._line(
                "flaw", run=number, no=flaw.number, time=flaw.found_at, place=flaw.said, kind=flaw.kind_now, note=flaw.note,
                **{"found by": flaw.found_by, "along (m)": flaw.size_x or None, "around (m)": flaw.size_y or None,
                   "depth (µm)": flaw.depth, "give or take (m)": flaw.give_or_take},
            )  # fmt: skip

    def _swept(self, run: Run, swath: Swath) -> tuple[str, str]:
        """Place and lane as the import takes them: a lane that is numbered in the place is as wide as the electrode."""
        if not _NUMBERED.fullmatch(swath.lane):
            return swath.said, swath.lane
        width = self.zone.surface.chainage.print_length(run.electrode.width) if run.electrode else ""
        return swath.said.removesuffix(f", {width} wide"), ""

    def _line(self, what: str, **cells: Any) -> Line:
        """A row of the kind: its cells by heading (underscores stand for blanks), as far as the last that is filled."""
        given = {name.replace("_", " "): self._text(value) for name, value in cells.items()}
        line = [what, *[given.pop(head, "") for head in HEADS[1:]]]
        if given:
            raise KeyError(f"no heading for {', '.join(given)}")
        while not line[-1]:
            line.pop()
        return tuple(line)

    def _text(self, value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, datetime):
            return f"{value.astimezone(self.clock):%Y-%m-%d %H:%M:%S}"
        return repr(value) if isinstance(value, float) else str(value)


def _measured(said: str) -> str:
    """A thickness that was given for the run; one taken from the specification is taken from it again."""
    try:
        read(said, FILM)
    except NotRead:
        return ""
    return said
