"""Makes the row of each line of a field sheet's file, by the same rules as the crew's own actions, and stores none."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID

from rest_framework.exceptions import ValidationError

from accounts.acting import REGISTRY, Acting
from accounts.ids import new_id
from accounts.people import Organisation, Person, Role
from accounts.rows import Row
from accounts.tablefile import Problem
from accounts.wording import noted, say
from inspections.actions.air import atmosphere_row
from inspections.actions.briefings import attendees_of, briefing_row
from inspections.actions.checks import check_row, sensitivity_row, touch_row
from inspections.actions.features import feature_swath_row
from inspections.actions.findings import flaw_row
from inspections.actions.gauges import check_row as check_gauge_row
from inspections.actions.ground import swath_row
from inspections.actions.permits import permit_row
from inspections.actions.spots import spot_row, unit_asked
from inspections.actions.testing import run_row
from inspections.briefings import Attendee, Briefing
from inspections.coatings import Atmosphere, FieldSheet, Permit, Spot
from inspections.flaws import Flaw
from inspections.gauges import GaugeCheck
from inspections.instruments import Electrode, Instrument
from inspections.intake_cells import Cells, Skip
from inspections.intake_fields import TAKES
from inspections.intake_plan import permit_name, shown
from inspections.runs import CheckEvent, ReturnProof, Run, Swath, TouchTest, Verification
from inspections.sheetfile import Line, SheetFile, named
from mapping.features import Feature

_LANE = re.compile(r"(?:lane )?(\d+) of (\d+)", re.IGNORECASE)
_ENDS_IN_LANE = re.compile(r", (lane \d+ of \d+)$", re.IGNORECASE)
_RUN = re.compile(r"(?:run )?(?:[a-z]{1,4}-)?(\d{1,6})", re.IGNORECASE)
_TAG = re.compile(r"([a-z]{0,4})[- ]?(\d{1,6})", re.IGNORECASE)

_BY_RESISTOR = noted("is for high voltage; this run's wet sponge is checked by a known resistor. Leave it empty.")
_BY_VOLTAGE = noted("is for a wet sponge; this run is checked by its measured voltage. Leave it empty.")


class Maker(Cells):
    """Makes rows in the order of the lines, keeping what later lines refer to: runs, permits, the press before."""

    def __init__(
        self,
        sheet: FieldSheet,
        person: Person,
        organisation: Organisation,
        roles: frozenset[Role],
        source: SheetFile,
        now: datetime,
        problems: list[Problem],
    ) -> None:
        super().__init__(sheet, organisation, source, now, problems)
        self.recorder = person
        if source.recorder:
            head = Line(source.declared_at["recorder"], "recorder", {"value": source.recorder})
            self.recorder = self._person(head, "value") or person
        self.act = Acting(REGISTRY["import_sheet"], self.recorder, organisation, roles, new_id(), now, now)
        instruments = Instrument.objects.filter(organisation=organisation)
        self.instruments = {row.serial.casefold(): row for row in instruments}
        self.electrodes = {row.name.casefold(): row for row in Electrode.objects.filter(organisation=organisation)}
        self.zone_features = list(Feature.objects.filter(zone=sheet.coating.zone, struck_at=None))
        self.features: dict[str, list[Feature]] = defaultdict(list)
        for each in self.zone_features:  # a feature is called by its name, or by its kind and name
            self.features[" ".join(each.name.casefold().split())].append(each)
            self.features[" ".join(f"{each.kind} {each.name}".casefold().split())].append(each)
        self.permits: dict[str, Permit] = {}
        self.attendees: dict[UUID, list[Attendee]] = {}
        self.runs: dict[int, Run] = {}
        self.kinds: dict[UUID, str] = {}
        self.presses: dict[UUID, datetime] = {}
        self.first_at: datetime | None = None
        targets: dict[str, Any] = defaultdict(lambda: Run(sheet=sheet), **{"spot": sheet, "gauge check": sheet})
        self.forms = {what: takes(context={"act": self.act, "target": targets[what]}) for what, takes in TAKES.items()}

    # What a line is called: the same in every edition of the file.

    def name_of(self, line: Line) -> tuple[str, ...]:
        """Kind of row, run, and the number that was given, else what tells the row from others."""
        clock = f"{line.at:%Y-%m-%dT%H:%M:%S}" if line.at else ""
        match line.what:
            case "permit":
                return permit_name(line.cell("no"), line.cell("renews"), clock)
            case "atmosphere":
                return ("atmosphere", clock)
            case "briefing":
                return ("briefing", line.cell("method").casefold(), clock)
            case "run":
                return ("run", str(self._number(line, "run", _RUN)))
            case "flaw":
                return ("flaw", str(self._number(line, "no", _TAG)))
        run = str(self._number(line, "run", _RUN)) if line.what not in ("spot", "gauge check") else ""
        if line.cell("no"):
            return (line.what, run, "no", line.cell("no").casefold())
        place = line.cell("place").casefold()
        said: dict[str, tuple[str, ...]] = {
            "return": (line.cell("island"), place),
            "touch": (line.cell("island"), place, clock),
            "swept": (place, line.cell("lane").casefold()),
            "feature": (" ".join(line.cell("name").casefold().split()), place),
            "spot": (line.cell("stage"), place),
            "gauge check": (line.cell("gauge"), line.cell("plate"), clock),
        }
        return (line.what, run, *said.get(line.what, (line.cell("kind"), clock)))

    def name_of_row(self, row: Permit | Atmosphere) -> tuple[str, ...]:
        """What a recorded permit or atmosphere was called by the file it came from."""
        if isinstance(row, Permit):
            clock = f"{row.recorded_at.astimezone(self.zone):%Y-%m-%dT%H:%M:%S}"
            return permit_name(row.number, row.renews.number if row.renews else "", clock)
        return ("atmosphere", f"{row.at.astimezone(self.zone):%Y-%m-%dT%H:%M:%S}")

    def words(self, row: Row) -> str:
        """A row named for people."""
        match row:
            case Flaw():
                return f"{self.sheet.letter}{row.number:02d} at {row.said}"
            case Swath() | ReturnProof() | TouchTest() | Spot():
                return row.said
            case Run():
                return say("run {row}", row=row.number)
            case Permit() | Briefing():
                return str(row)
            case GaugeCheck():
                return f"{row.gauge}, {shown(row.at, self.zone)}"
            case Verification() | CheckEvent():
                kind = row.phase if isinstance(row, Verification) else row.kind
                return f"{kind}, {shown(row.at, self.zone)}"
            case Atmosphere():
                return shown(row.at, self.zone)
        return ""

    # What a line makes.

    def make(self, line: Line, pk: UUID) -> Row:
        """The line's row, not stored. Raises Skip, with the problems noted, when it cannot be taken."""
        try:
            return getattr(self, f"_{line.what.replace(' ', '_')}")(line, pk)
        except ValidationError as refused:
            self._note(line, refused)

    def spoil(self, line: Line) -> None:
        """Note that a run or permit cannot be taken: what refers to it is not looked at."""
        if line.what in ("run", "permit"):
            self.spoiled.add((line.what, named(line)))

    def keep(self, line: Line, row: Row) -> None:
        """Note what later lines refer to; `row` is the recorded one where there is one."""
        match row:
            case Run():
                row.sheet = self.sheet
                self.runs[row.number] = row
                self.presses[row.pk] = row.opened_at
            case Permit():
                self.permits.setdefault(row.number.casefold(), row)  # a renewal may bear the number of the first
            case Verification():
                self.presses[row.run_id] = row.at
            case Swath():
                self.presses[row.run_id] = row.ended_at
        at = line.at or line.until
        if at is not None:
            local = at.replace(tzinfo=self.zone)
            self.first_at = min(local, self.first_at or local)

    def run_of(self, line: Line) -> Run:
        number = self._number(line, "run", _RUN)
        if ("run", str(number)) in self.spoiled:
            raise Skip
        if number not in self.runs:
            there = ", ".join(map(str, sorted(self.runs))) or "none"
            self._refuse(line, "run", say("is no run above this row; there are: {there}.", there=there))
        return self.runs[number]

    def _permit(self, line: Line, pk: UUID) -> Permit:
        given = self._given(line, expires_at=self.moment(line, "valid until"))
        at = self.moment(line, "time")
        if ("permit", line.cell("renews").lower()) in self.spoiled:
            raise Skip
        renewed = self._one_of(line, "renews", self.permits)
        return permit_row(self.sheet.coating, given, pk=pk, recorded_at=at, by=self.recorder, renews=renewed)

    def _atmosphere(self, line: Line, pk: UUID) -> Atmosphere:
        at = self.moment(line, "time")
        used = {name: self._one_of(line, name, self.instruments) for name in ("hygrometer", "thermometer")}
        given = self._given(line, **{name: row.pk if row else None for name, row in used.items()})
        return atmosphere_row(self.act, self.sheet.coating, given, pk=pk, at=at, by=self.recorder)

    def _briefing(self, line: Line, pk: UUID) -> Briefing:
        at = self.moment(line, "time")
        given = self._given(line, gone_through=self._yes(line, "gone through"))
        briefing = briefing_row(self.act, self.sheet.coating.zone.asset, given, pk=pk, at=at, by=self.recorder)
        self.attendees[pk] = attendees_of(self.act, briefing, given["people"])
        return briefing

    def _run(self, line: Line, pk: UUID) -> Run:
        at = self.moment(line, "time")
        witness = self._person(line, "witness")
        known = {
            "instrument": self._one_of(line, "instrument", self.instruments),
            "electrode": self._one_of(line, "electrode", self.electrodes),
            "permit": self._one_of(line, "permit", self.permits),
        }
        given = self._given(
            line,
            witness=witness.email if witness else "",
            cautions=self._yes(line, "cautions"),
            **{name: row.pk if row else None for name, row in known.items()},
        )
        permit = known["permit"]
        return run_row(
            self.act,
            self.sheet,
            given,
            pk=pk,
            number=self._number(line, "run", _RUN),
            opened_at=at,
            recorder=self.recorder,
            acknowledged_at=at,
            permit_of=lambda _: permit,
        )

    def _return(self, line: Line, pk: UUID) -> ReturnProof:
        run, at = self.run_of(line), self.moment(line, "time")
        return ReturnProof(id=pk, run=run, at=at, sheet_seq=0, by=self.recorder, **self._given(line))

    def _touch(self, line: Line, pk: UUID) -> TouchTest:
        run, at = self.run_of(line), self.moment(line, "time")
        return touch_row(run, self._given(line, alarm=self._yes(line, "alarm")), pk=pk, at=at, seq=0, by=self.recorder)

    def _event(self, line: Line, pk: UUID) -> CheckEvent:
        run, at = self.run_of(line), self.moment(line, "time")
        return CheckEvent(id=pk, run=run, at=at, sheet_seq=0, by=self.recorder, **self._given(line))

    def _check(self, line: Line, pk: UUID) -> Verification:
        run, at = self.run_of(line), self.moment(line, "time")
        sponge = run.sensitivity is not None
        for column in ("measured", "voltmeter") if sponge else ("resistor",):
            if line.cell(column):
                self._refuse(line, column, say(_BY_RESISTOR if sponge else _BY_VOLTAGE))
        if sponge:  # the same row of the sheet tells its known resistor
            given = self._given(replace(line, what="sensitivity"), alarm_seen=self._yes(line, "alarm"))
            return sensitivity_row(self.act, run, given, pk=pk, at=at, seq=0, by=self.recorder)
        voltmeter = self._one_of(line, "voltmeter", self.instruments)
        seen = self._yes(line, "alarm")
        given = self._given(line, alarm_seen=seen, voltmeter=voltmeter.pk if voltmeter else None)
        return check_row(self.act, run, given, pk=pk, at=at, seq=0, by=self.recorder)

    def _swept(self, line: Line, pk: UUID) -> Swath:
        run, ended_at = self.run_of(line), self.moment(line, "until")
        started_at = self.moment(line, "time") if line.at else min(self.presses[run.pk], ended_at)
        place, lane = line.cell("place"), line.cell("lane")
        if numbered := _LANE.fullmatch(lane):
            lane = f"lane {numbered[1]} of {numbered[2]}"  # read back as spoken, so it is the same in every language
            place = f"{place}, {lane}"
        if (ends := _ENDS_IN_LANE.search(place)) and run.electrode is not None:
            lane = lane or ends[1].lower()
            width = self.sheet.coating.zone.surface.chainage.print_length(run.electrode.width)
            place = f"{place}, {width} wide"
        given = self._given(line, place=place, lane=lane)
        return swath_row(self.act, run, given, pk=pk, times=(started_at, ended_at), orders=(0, 0), hand_timed=True)

    def _feature(self, line: Line, pk: UUID) -> Swath:
        run, ended_at = self.run_of(line), self.moment(line, "until")
        started_at = self.moment(line, "time") if line.at else min(self.presses[run.pk], ended_at)
        named = " ".join(line.cell("name").casefold().split())
        found = self.features.get(named, [])
        if len(found) != 1:
            if found:
                several = ", ".join(f"{each.kind} {each.name}" for each in found)
                self._refuse(line, "name", say("may be any of {features}; write which.", features=several))
            there = ", ".join(sorted({each.name for each in self.zone_features})[:20])
            self._refuse(
                line, "name", say("is no feature of this zone; there are: {names}.", names=there or say("none"))
            )
        given = self._given(line, feature=found[0].pk)
        return feature_swath_row(
            self.act, run, given, pk=pk, times=(started_at, ended_at), orders=(0, 0), hand_timed=True
        )

    def _flaw(self, line: Line, pk: UUID) -> Flaw:
        run, at = self.run_of(line), self.moment(line, "time")
        letters, number = _TAG.fullmatch(line.cell("no")).groups()  # type: ignore[union-attr]
        if letters and letters.upper() != self.sheet.letter:
            self._refuse(
                line, "no", say("has the letters of another sheet; this one is {letter}.", letter=self.sheet.letter)
            )
        given = self._given(line)
        self.kinds[pk] = given["kind"]
        return flaw_row(run, given, pk=pk, number=int(number), at=at, seq=0, by=self.recorder)

    def _spot(self, line: Line, pk: UUID) -> Spot:
        gauge = self._one_of(line, "gauge", self.instruments)
        given = self._given(
            line,
            readings=list(line.listed["reading"]),
            gauge=gauge.pk if gauge else None,
            unit_confirmed=self._yes(line, "unit is right"),
        )
        spot = spot_row(self.act, self.sheet, given, pk=pk, at=self.moment(line, "time"))
        if asked := unit_asked(spot, self.sheet.coating.terms):
            words = say('{question} Write the unit that was meant, or yes under "unit is right".', question=asked)
            self._refuse(line, "reading", words)
        return spot

    def _gauge_check(self, line: Line, pk: UUID) -> GaugeCheck:
        gauge = self._one_of(line, "gauge", self.instruments)
        given = self._given(line, gauge=gauge.pk if gauge else None)
        return check_gauge_row(self.act, self.sheet, given, pk=pk, at=self.moment(line, "time"), by=self.recorder)
