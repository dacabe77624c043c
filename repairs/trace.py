"""Trace forward: from an instrument, electrode, certificate, batch of paint or person to everything that rests on it.

One statement finds ids, times, counts and areas of all that the person may see; what is only shown (names, places) is
read afterwards in a number of queries that does not depend on how much was found. Reads only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Count, Exists, F, Min, OuterRef, Q, QuerySet, Sum, Value

from accounts.access import visible
from accounts.people import Person
from inspections.coatings import Atmosphere, Coating, Spot
from inspections.instruments import Certificate, Instrument
from inspections.runs import Reinstatement, Run, Swath, Verification
from repairs.gathered import with_what_is_shown
from repairs.release import Release
from repairs.trace_beside import resting_beside, wide_of_person
from repairs.trace_subjects import Found, Leg, Subject
from repairs.work import Cycle, Step

DAY = timedelta(days=1)  # no time zone is further from UTC


UNDATED = ("swept", "release")  # kept for what they hang on
BY_READINGS = ("basis", "under")  # kept for the readings that they rest on


class Period(NamedTuple):
    """Days by the calendar of each asset, both included; None is without end."""

    since: date | None = None
    until: date | None = None

    def has(self, day: date) -> bool:
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)


ALWAYS = Period()


@dataclass(frozen=True)
class Trace:
    """Everything that rests on the subject in a period, in order of time, and the coatings that it lies on."""

    subject: Subject
    period: Period
    found: tuple[Found, ...]
    coatings: Mapping[UUID, Coating]

    def of(self, leg: Leg, *parts: str) -> tuple[Found, ...]:
        return tuple(row for row in self.found if row.leg == leg and (not parts or row.part in parts))

    def ids(self, leg: Leg, *parts: str) -> frozenset[UUID]:
        return frozenset(row.id for row in self.of(leg, *parts))

    @property
    def runs(self) -> frozenset[UUID]:
        """Every run that has to do with it."""
        return frozenset(row.on for row in self.found if row.leg in ("run", "check", "decision"))

    def day_of(self, row: Found) -> date:
        """Its day at the asset."""
        return _day(row, self.coatings)

    @property
    def swept_m2(self) -> float:
        """Ground swept in these runs, overlaps counted twice."""
        return sum(row.area for row in self.of("swept"))


def trace(person: Person, subject: Subject, period: Period = ALWAYS) -> Trace:
    """Everything that rests on the subject, as far as the person sees it: one statement, and the coatings it names.

    The statement cuts days wide and takes every run of a coating that rests on readings; what does not belong is left out
    here.
    """
    rows = [Found(*row) for row in statement(person, subject, period)]
    coatings = with_what_is_shown(Coating.objects.filter(pk__in={row.coating for row in rows}))
    by_pk = {coating.pk: coating for coating in coatings}
    rows = [row for row in rows if row.leg in UNDATED or row.part in BY_READINGS or period.has(_day(row, by_pk))]
    if subject.kind == "certificate":
        rows = _covered(subject, rows, by_pk)
    rows = resting_beside(subject, _resting(rows), by_pk)
    runs = {row.on for row in rows if row.leg in ("run", "check", "decision")}
    rows = [row for row in rows if row.part != "retest" or row.on in runs]
    rows = [row for row in rows if row.leg != "swept" or row.on in runs]
    first: dict[UUID, datetime] = {}
    for row in rows:
        if row.leg != "release":
            first[row.coating] = min(first.get(row.coating, row.at), row.at)
    rows = [row for row in rows if row.leg != "release" or (row.coating in first and first[row.coating] <= row.at)]
    rows.sort(key=lambda row: (row.at, row.leg, row.part, row.id))
    kept = {row.coating for row in rows}
    return Trace(subject, period, tuple(rows), {pk: row for pk, row in by_pk.items() if pk in kept})


def statement(person: Person, subject: Subject, period: Period = ALWAYS) -> QuerySet[Any, Any]:
    """The one statement: lines as `Found` takes them, some of which `trace` leaves out."""
    legs = _Legs(person, subject, period)
    first, *rest = legs.all()
    return first.union(*rest, all=True)


class _Legs:
    """The parts of the statement, each scoped to what the person sees."""

    def __init__(self, person: Person, subject: Subject, period: Period) -> None:
        self.person, self.subject, self.period = person, subject, period
        self.seen = visible(person, Coating).values("pk")

    def all(self) -> list[QuerySet[Any, Any]]:
        row, parts = self.subject.row, self.subject.parts
        runs: dict[str, Q] = {}
        checks = spots = rulings = airs = None
        cycles: dict[str, Q] = {}
        if isinstance(row, Certificate):
            row = row.instrument
        if isinstance(row, Instrument):
            runs["detector"] = Q(instrument=row)
            checks, spots = Q(voltmeter=row), {"gauge": Q(gauge=row)}
            airs = Q(hygrometer=row) | Q(thermometer=row)
        elif isinstance(row, Step):
            said = {"product__iexact": row.product, "batch__iexact": row.batch}
            cycles["batch"] = Q(pk__in=Step.objects.filter(struck_at=None, **said).exclude(batch="").values("cycle"))
        elif isinstance(row, Person):
            # Where a sweeper is named in words alone, whoever bears the name is meant.
            swept = Q(swept_by=row) | Q(swept_by=None, sweeper__iexact=row.name)
            runs = {"sweeper": swept, "recorder": Q(recorder=row), "run witness": Q(witness=row)}
            runs |= wide_of_person(row)
            spots, rulings = {"reader": Q(sheet__person=row)}, Q(by=row)
            cycles = {
                "worker": Q(pk__in=Step.objects.filter(struck_at=None, by=row).values("cycle")),
                "retester": Q(retester=row),
                "witness": Q(witness=row),
            }
        else:
            runs["electrode"] = Q(electrode=row)
        runs = {part: where for part, where in runs.items() if part in parts}
        cycles = {part: where for part, where in cycles.items() if part in parts}
        spots = {part: where for part, where in (spots or {}).items() if part in parts}
        rulings = rulings if "decision" in parts else None
        legs = [self._runs(part, where, self._within("opened_at")) for part, where in runs.items()]
        made = Q(pk__in=[])
        for where in runs.values():
            made |= where
        for where in spots.values():
            # Which spots a run rests on stands in a list: runs of the same coating that rest on any are looked at.
            resting = ~Q(basis_spots=[]) & Q(
                sheet__coating__in=Spot.objects.filter(where, struck_at=None).values("coating")
            )
            legs.append(self._runs("basis", resting, Q()))
            made |= resting
        if airs is not None:
            # Which runs were swept under a reading hangs on both their times: runs of the same coating are looked at.
            under = Q(sheet__coating__in=Atmosphere.objects.filter(airs, struck_at=None).values("coating"))
            legs += [self._airs(airs), self._runs("under", under, Q())]
            made |= under
        if checks is not None:
            legs.append(self._checks(checks))
            made |= Q(Exists(Verification.objects.filter(checks, run=OuterRef("pk"), struck_at=None)))
        if rulings is not None:
            legs.append(self._rulings(rulings))
            made |= Q(Exists(Reinstatement.objects.filter(rulings, run=OuterRef("pk"), struck_at=None)))
        reached = self._all_runs().filter(made).values("pk")
        cycles_of = dict(cycles)
        legs += [self._spots(part, where) for part, where in spots.items()]
        if legs:
            legs += [self._swept(reached), self._retests(reached)]
        legs += [self._cycles(part, where) for part, where in cycles.items()]
        touched = Q(coating__in=reached.values("sheet__coating"))
        for where in spots.values():
            touched |= Q(coating__in=Spot.objects.filter(where, struck_at=None).values("coating"))
        for where in cycles_of.values():
            touched |= Q(coating__in=Cycle.objects.filter(where).values("patch__coating"))
        legs.append(self._releases(touched))
        return legs

    def _within(self, column: str) -> Q:
        since, until = self.period
        where = Q()
        if since is not None:
            where &= Q(**{f"{column}__gte": datetime.combine(since, time(), UTC) - DAY})
        if until is not None:
            where &= Q(**{f"{column}__lt": datetime.combine(until, time(), UTC) + 2 * DAY})
        return where

    def _all_runs(self) -> QuerySet[Run]:
        return Run.objects.filter(struck_at=None, sheet__coating__in=self.seen)

    def _runs(self, part: str, where: Q, days: Q) -> QuerySet[Any, Any]:
        rows = self._all_runs().filter(where, days)
        return _lines("run", Value(part), rows, "pk", "pk", "sheet__coating", "opened_at")

    def _checks(self, where: Q) -> QuerySet[Any, Any]:
        rows = Verification.objects.filter(
            where, self._within("at"), struck_at=None, run__struck_at=None, run__sheet__coating__in=self.seen
        )
        return _lines("check", Value("voltmeter"), rows, "pk", "run", "run__sheet__coating", "at")

    def _rulings(self, where: Q) -> QuerySet[Any, Any]:
        rows = Reinstatement.objects.filter(
            where, self._within("at"), struck_at=None, run__struck_at=None, run__sheet__coating__in=self.seen
        )
        return _lines("decision", Value("decision"), rows, "pk", "run", "run__sheet__coating", "at")

    def _swept(self, runs: QuerySet[Any, Any]) -> QuerySet[Any, Any]:
        rows = (
            Swath.objects.filter(run__in=runs, struck_at=None)
            .values("run", "standing", "run__sheet__coating")
            .annotate(first=Min("started_at"), number=Count("pk"), swept=Sum("area"))
        )
        return rows.values_list(
            Value("swept"), "standing", "run", F("run"), "run__sheet__coating", "first", "number", "swept"
        )

    def _spots(self, part: str, where: Q) -> QuerySet[Any, Any]:
        rows = Spot.objects.filter(where, self._within("at"), struck_at=None, coating__in=self.seen)
        return _lines("spot", Value(part), rows, "pk", "pk", "coating", "at")

    def _airs(self, where: Q) -> QuerySet[Any, Any]:
        rows = Atmosphere.objects.filter(where, self._within("at"), struck_at=None, coating__in=self.seen)
        return _lines("air", Value("air"), rows, "pk", "pk", "coating", "at")

    def _retests(self, runs: QuerySet[Any, Any]) -> QuerySet[Any, Any]:
        rows = self._all_cycles().filter(
            retest__swath__struck_at=None, retest__swath__run__in=runs, settled_at__isnull=False
        )
        return _lines("cycle", Value("retest"), rows, "pk", "retest__swath__run", "patch__coating", "settled_at")

    def _all_cycles(self) -> QuerySet[Cycle]:
        return Cycle.objects.filter(patch__struck_at=None, patch__coating__in=self.seen)

    def _cycles(self, part: str, where: Q) -> QuerySet[Any, Any]:
        """Work counts by the day of the last step with it, a decision by its own day."""
        rows = self._all_cycles().filter(where)
        if part in ("batch", "worker"):
            row: Any = self.subject.row
            mine = Q(by=row) if part == "worker" else Q(product__iexact=row.product, batch__iexact=row.batch)
            worked = Step.objects.filter(mine, cycle=OuterRef("pk"), struck_at=None).order_by("-at").values("at")[:1]
            rows = rows.annotate(worked=worked).filter(self._within("worked"))
            return _lines("cycle", Value(part), rows, "pk", "pk", "patch__coating", "worked")
        rows = rows.filter(self._within("settled_at"), settled_at__isnull=False)
        return _lines("cycle", Value(part), rows, "pk", "pk", "patch__coating", "settled_at")

    def _releases(self, touched: Q) -> QuerySet[Any, Any]:
        rows = Release.objects.filter(touched, withdrawn_at=None, coating__in=self.seen)
        return _lines("release", Value("release"), rows, "pk", "pk", "coating", "at")


def _lines(leg: Leg, part: Any, rows: QuerySet[Any], *columns: str) -> QuerySet[Any, Any]:
    pk, on, coating, at = columns
    return rows.order_by().values_list(Value(leg), part, F(pk), F(on), F(coating), F(at), Value(1), Value(0.0))


def _day(row: Found, coatings: Mapping[UUID, Coating]) -> date:
    return row.at.astimezone(coatings[row.coating].zone.asset.zone_info).date()


def _covered(subject: Subject, rows: Sequence[Found], coatings: Mapping[UUID, Coating]) -> list[Found]:
    """What the certificate vouches for: it is the one in force on the day, as `Instrument.certificate_at` has it."""
    row: Any = subject.row
    papers = list(row.instrument.certificates.filter(struck_at=None))
    kept = []
    for each in rows:
        if (
            each.leg not in ("run", "check", "spot", "air")
            or each.part in BY_READINGS
            or in_force(papers, _day(each, coatings)) == row
        ):
            kept.append(each)
    return kept


def _resting(rows: list[Found]) -> list[Found]:
    """Of the runs that rest on readings those that rest on one of these spots."""
    asked = {row.id for row in rows if row.part == "basis"}
    if not asked:
        return rows
    spots = {str(row.id) for row in rows if row.leg == "spot"}
    lists = Run.objects.filter(pk__in=asked).values_list("pk", "basis_spots")
    resting = {pk for pk, basis in lists if not spots.isdisjoint(basis)}
    return [row for row in rows if row.part != "basis" or row.id in resting]


def in_force(papers: Iterable[Certificate], day: date) -> Certificate | None:
    """The certificate that counts on a day: of several the one issued last."""
    held = [paper for paper in papers if paper.issued <= day <= paper.due]
    return max(held, key=lambda paper: (paper.issued, paper.due, paper.pk), default=None)
