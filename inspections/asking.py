"""From rows to questions: the facts of runs and readings, what is odd about them, and what was said to it. Reads only.

As many queries for a thousand coatings as for one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.db.models import Q, QuerySet

from inspections.answers import Answer
from inspections.coatings import Atmosphere, Coating, Permit, Spot
from inspections.course import Air, Change, Course, LaneSaid, Reading, SpotRead, Swept
from inspections.noted_runs import chain_of
from inspections.odd_readings import sun_on
from inspections.plausibility import questions_of, questions_on_readings
from inspections.questions import Question
from inspections.runs import CheckEvent, Run, Standing, Swath, Verification
from mapping.intervals import total
from mapping.positions import PositionError
from mapping.surfaces import Surface
from mapping.surfaces.deck import Deck
from mapping.surfaces.spoken import take_lane

INSIDE = "inside"


class Asked(NamedTuple):
    """A question with the run it is asked of (None where it hangs on none) and what was said to it, the last word last."""

    question: Question
    run: Run | None
    answers: tuple[Answer, ...]

    @property
    def answer(self) -> Answer | None:
        return self.answers[-1] if self.answers else None

    @property
    def is_open(self) -> bool:
        """Not answered; or the record is still to be corrected, which makes the question go away."""
        return self.answer is None or self.answer.verdict == Answer.Verdict.CORRECTED


Then = Mapping[UUID, str]
"""Standing by swath, where it is not as it is stored."""


def asked_of(
    coatings: Iterable[Coating],
    until: datetime | None = None,
    then: Then | None = None,
    without: Collection[UUID] = (),
) -> dict[UUID, list[Asked]]:
    """Every question about these coatings' runs and readings, by coating, the longest asked first.

    With `until` only what had happened by that moment is looked at, and only what had been said; `then` says how the
    swaths stood. Checks, spots, air and steel `without` which it should be asked are left out.
    """
    by_pk = {coating.pk: coating for coating in coatings}
    courses, runs = _courses(by_pk, until, then or {}, without)
    spots = _spots(by_pk, until, without)
    said: dict[tuple[UUID, str], list[Answer]] = defaultdict(list)
    answers = Answer.objects.filter(coating__in=by_pk).select_related("by").order_by("at", "pk")
    for answer in answers.filter(at__lte=until) if until else answers:
        said[answer.coating_id, answer.key].append(answer)
    found = {}
    for pk in by_pk:
        asked = [question for course in courses[pk].runs for question in questions_of(course)]
        asked += questions_on_readings(courses[pk].airs, spots[pk])
        asked.sort(key=lambda question: (question.since, question.key))
        found[pk] = [
            Asked(question, runs.get(cast(UUID, question.run)), tuple(said[pk, question.key])) for question in asked
        ]
    return found


def not_asked_any_more(coating: Coating, asked: Iterable[Asked]) -> list[Answer]:
    """Answers to questions that are gone, because rows were struck out or added since; the newest first."""
    keys = {each.question.key for each in asked}
    rows = Answer.objects.filter(coating=coating).exclude(key__in=keys).select_related("by", "run__sheet")
    return list(rows.order_by("-at", "-pk"))


def swept_fact(swath: Swath) -> Swept:
    """What the questions of speed look at."""
    return Swept(
        swath.pk,
        swath.said,
        swath.started_at,
        swath.ended_at,
        swath.sheet_seq,
        swath.area,
        total(swath.parts) if swath.along else 0.0,
        swath.hand_timed,
    )


def course_of(run: Run, swaths: Iterable[Swath]) -> Course:
    """The run with these swaths, as far as the questions of speed look at it."""
    return _course(run, run.sheet.coating, tuple(swept_fact(swath) for swath in swaths))


def _course(run: Run, coating: Coating, swept: tuple[Swept, ...]) -> Course:
    terms = coating.terms
    return Course(
        id=run.pk,
        electrical=run.method != "visual",
        opened_at=run.opened_at,
        closed_at=run.closed_at,
        electrode=run.electrode.width if run.electrode else None,
        speed_limit=terms.speed_limit,
        overlap=terms.electrode_overlap,
        swept=swept,
    )


class _OfCoating(NamedTuple):
    runs: list[Course]
    airs: tuple[Air, ...]


def _courses(
    coatings: Mapping[UUID, Coating], until: datetime | None, then: Then, without: Collection[UUID]
) -> tuple[dict[UUID, _OfCoating], dict[UUID, Run]]:
    rows = _by_then(Run.objects.filter(sheet__coating__in=coatings), until, "opened_at")
    runs = {run.pk: run for run in rows.select_related("sheet", "electrode").order_by("opened_at", "pk")}
    for run in runs.values():
        run.sheet.coating = coatings[run.sheet.coating_id]
    swept = _swaths(runs, coatings, until, then)
    checks, batteries = _checks(runs, until, without), _batteries(runs, until)
    airs, permits = _airs(coatings, until, without), _permits(coatings, until)
    found = {pk: _OfCoating([], airs[pk]) for pk in coatings}
    for run in runs.values():
        pk = run.sheet.coating_id
        course = _course(run, coatings[pk], tuple(swept[run.pk]))
        found[pk].runs.append(
            replace(
                course,
                checks=tuple(checks[run.pk]),
                batteries=tuple(batteries[run.pk]),
                permits=chain_of(run, permits[pk]),
                airs=airs[pk],
            )
        )
    return found, runs


def _by_then(rows: QuerySet[Any], until: datetime | None, when: str = "at") -> QuerySet[Any]:
    """The rows that stand; with `until` those that had happened then and were not struck out yet."""
    if until is None:
        return rows.filter(struck_at=None)
    return rows.filter(Q(struck_at=None) | Q(struck_at__gt=until), **{f"{when}__lte": until})


def _swaths(
    runs: Mapping[UUID, Run], coatings: Mapping[UUID, Coating], until: datetime | None, then: Then
) -> dict[UUID, list[Swept]]:
    rows = _by_then(Swath.objects.filter(run__in=runs), until, "ended_at").defer("shape", "cause")
    lanes: dict[UUID, _Lanes] = {}
    found: dict[UUID, list[Swept]] = defaultdict(list)
    for swath in rows:
        pk = runs[swath.run_id].sheet.coating_id
        read = lanes.setdefault(pk, _Lanes(coatings[pk].zone.surface))
        standing = then.get(swath.pk, swath.standing)
        found[swath.run_id].append(
            replace(swept_fact(swath), lane=read.said(swath.said), stands=standing == Standing.STANDS)
        )
    return found


class _Lanes:
    """Reads the lane that ends what was said of a swath, and how wide the ground is that it divides."""

    def __init__(self, surface: Surface) -> None:
        self.surface = surface
        self.across: dict[str, float] = {}

    def said(self, said: str) -> LaneSaid | None:
        parts = said.split(", ")
        try:
            lane = take_lane(parts, self.surface.chainage, said)
        except PositionError:
            return None
        if lane is None or not self.surface.has_lanes:
            return None
        return LaneSaid(lane.number, lane.of, lane.electrode, self._width(", ".join(parts)), self.surface.closed)

    def _width(self, stretch: str) -> float:
        """Of a deck, lanes divide the bay that is named; of every other surface, all of it."""
        if not isinstance(self.surface, Deck) or not stretch:
            return self.surface.across
        if stretch not in self.across:
            _, low, _, high = self.surface.read_region(stretch).bounds
            self.across[stretch] = high - low
        return self.across[stretch]


def _checks(runs: Mapping[UUID, Run], until: datetime | None, without: Collection[UUID]) -> dict[UUID, list[Reading]]:
    found: dict[UUID, list[Reading]] = defaultdict(list)
    rows = _by_then(Verification.objects.filter(run__in=runs, unit=Verification.Unit.VOLT), until)
    rows = rows.exclude(pk__in=without)
    for run, *reading in rows.values_list("run", "pk", "at", "sheet_seq", "measured", "hand_timed"):
        found[run].append(Reading(*reading))
    return found


def _batteries(runs: Mapping[UUID, Run], until: datetime | None) -> dict[UUID, list[Change]]:
    found: dict[UUID, list[Change]] = defaultdict(list)
    rows = _by_then(CheckEvent.objects.filter(run__in=runs, kind=CheckEvent.Kind.BATTERY), until)
    for run, *change in rows.values_list("run", "pk", "at"):
        found[run].append(Change(*change))
    return found


def _airs(
    coatings: Mapping[UUID, Coating], until: datetime | None, without: Collection[UUID]
) -> dict[UUID, tuple[Air, ...]]:
    found: dict[UUID, list[Air]] = {pk: [] for pk in coatings}
    for row in (
        _by_then(Atmosphere.objects.filter(coating__in=coatings), until).exclude(pk__in=without).order_by("at", "pk")
    ):
        zone = coatings[row.coating_id].zone
        inside = zone.face == INSIDE
        sun = sun_on(row.at.astimezone(zone.asset.zone_info), inside=inside)
        found[row.coating_id].append(Air(row.pk, row.at, row.air, tuple(row.steel), sun, inside))
    return {pk: tuple(airs) for pk, airs in found.items()}


def _permits(coatings: Mapping[UUID, Coating], until: datetime | None) -> dict[UUID, list[Permit]]:
    found: dict[UUID, list[Permit]] = defaultdict(list)
    for row in _by_then(Permit.objects.filter(coating__in=coatings), until, "recorded_at"):
        found[row.coating_id].append(row)
    return found


def _spots(
    coatings: Mapping[UUID, Coating], until: datetime | None, without: Collection[UUID]
) -> dict[UUID, list[SpotRead]]:
    found: dict[UUID, list[SpotRead]] = defaultdict(list)
    rows = _by_then(Spot.objects.filter(coating__in=coatings), until).exclude(pk__in=without).order_by("at", "pk")
    for coating, pk, said, at, readings in rows.values_list("coating", "pk", "said", "at", "readings"):
        found[coating].append(SpotRead(pk, said, at, tuple(map(str, readings))))
    return found
