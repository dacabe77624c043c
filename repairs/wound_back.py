"""A coating as it stood at an earlier moment: what had happened by then, whenever it was recorded. Reads only.

Every fact carries its time, so rows that happened later are left out, strikings, closings and decisions made later are
undone, and what is derived (standing of swaths, coverage, state of patches) is worked out again from what is left.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, NamedTuple, TypeVar
from uuid import UUID

from django.db.models import F, Prefetch, Q, QuerySet

from inspections import tested
from inspections.asking import asked_of
from inspections.coatings import Coating
from inspections.flaws import Classification, Flaw
from inspections.run_basis import basis_questions
from inspections.runs import CheckEvent, Reinstatement, ReturnProof, Run, Swath, TouchTest, Verification
from inspections.spot_doubts import past_of
from inspections.standing import FoundFlaw, Standing, marks_on_flaws
from mapping.zones import ExclusionDecision, Zone
from repairs.gathered import Gathered, Word, gather
from repairs.release import Concession, Release
from repairs.work import Cycle, PatchFlaw, Step
from repairs.worked_out import along, coverage_rows, put_states, swept

AnyRow = TypeVar("AnyRow", bound=Any)
Marks = Mapping[UUID, tuple[str, ...]]


class Then(NamedTuple):
    """What the picture is made of, as it stood."""

    rows: Gathered
    marks: Marks


def coating_at(zone: Zone, at: datetime) -> Coating | None:
    """The coating that the zone had then; None where none had begun."""
    return zone.coatings.filter(begun_at__lte=at).order_by("-number").first()


def wound_back(coating: Coating, at: datetime) -> Then:
    """The coating's rows as they stood at `at`."""
    now = gather([coating])
    pk, zone = coating.pk, coating.zone_id
    runs = _runs(now.runs.get(pk, ()), at)
    swaths = [_swath for run in runs if not run.is_struck for _swath in _settled(run, at)]
    looks = _unstruck(Classification.objects.filter(flaw__sheet__coating=coating), at)
    checks = _unstruck(Verification.objects.filter(run__sheet__coating=coating), at)
    rulings = _unstruck(Reinstatement.objects.filter(run__sheet__coating=coating), at)
    flaws = _flaws(now.flaws.get(pk, ()), runs, at)
    concessions = _unstruck(Concession.objects.filter(coating=coating).select_related("owner"), at)
    worked = Step.objects.filter(cycle__patch__coating=coating).select_related("by", "organisation")
    steps = _unstruck(worked.annotate(coating_id=F("cycle__patch__coating"), patch_id=F("cycle__patch")), at)
    cycles = [_cycle(row, at) for row in now.cycles.get(pk, ()) if row.opened_at <= at]
    patches = _patches(now.patches.get(pk, ()), at)
    put_states(patches, cycles, steps, concessions, {swath.pk: swath.standing for swath in swaths})
    kept = {patch.pk for patch in patches}
    links = PatchFlaw.objects.filter(_standing_then(at), patch__in=kept)
    spots = _unstruck(coating.spots.select_related("sheet__person", "gauge"), at)
    rows = replace(
        now,
        exclusions={zone: _exclusions(coating.zone, at)},
        coverage={pk: coverage_rows(coating, swaths)},
        runs={pk: runs},
        sheets={pk: [_reopened(sheet, "handed_in_at", at) for sheet in now.sheets.get(pk, ()) if sheet.taken_at <= at]},
        permits={
            pk: list(coating.permits.filter(_standing_then(at), recorded_at__lte=at).order_by("recorded_at", "pk"))
        },
        open_swaths={pk: [(s.standing, s.ended_at) for s in swaths if s.standing in ("held", "pending")]},
        asked=asked_of([coating], at, {swath.pk: swath.standing for swath in swaths}),
        retested={pk: swept(swaths, Run.Purpose.RETEST)},
        surveyed={pk: swept(swaths, Run.Purpose.SURVEY)},
        disturbances={pk: _unstruck(coating.disturbances.all(), at)},
        feature_sweeps={pk: [along(swath) for swath in swaths if swath.feature_id]},
        flaws={pk: flaws},
        looks={pk: _words(looks, about=lambda row: row.flaw_id, kind=lambda row: row.kind)},
        checks={pk: _words(checks)},
        rulings={pk: _words(rulings)},
        spots={pk: spots},
        gauges=past_of([spot.gauge_id for spot in spots if spot.gauge_id], [pk], at),
        basis=basis_questions(runs, at),
        patches={pk: patches},
        links={pk: list(links)},
        cycles={pk: cycles},
        steps={pk: steps},
        concessions={pk: concessions},
        releases={pk: _releases(coating, at)},
    )
    return Then(rows, _marks(runs, flaws))


def _standing_then(at: datetime) -> Q:
    return Q(struck_at=None) | Q(struck_at__gt=at)


def _unstruck(rows: QuerySet[AnyRow], at: datetime) -> list[AnyRow]:
    """Rows with a time of their own, in its order, as far as they had happened and were not struck out."""
    return [_reopened(row, "struck_at", at) for row in rows.filter(_standing_then(at), at__lte=at).order_by("at", "pk")]


def _reopened(row: AnyRow, name: str, at: datetime) -> AnyRow:
    """The row without a time that came later, in memory only."""
    if getattr(row, name) is not None and getattr(row, name) > at:
        setattr(row, name, None)
    return row


def _words(
    rows: Iterable[Any], about: Callable[[Any], UUID] | None = None, kind: Callable[[Any], str] | None = None
) -> list[Word]:
    return [Word(row.at, row.pk, row.by.name, about(row) if about else None, kind(row) if kind else "") for row in rows]


def _exclusions(zone: Zone, at: datetime) -> list[Any]:
    decisions = Prefetch(
        "decisions", ExclusionDecision.objects.filter(at__lte=at).select_related("by").order_by("at", "pk")
    )
    rows = zone.exclusions.filter(_standing_then(at), drawn_at__lte=at).select_related("drawn_by")
    return [_reopened(row, "struck_at", at) for row in rows.prefetch_related(decisions).order_by("drawn_at", "pk")]


# Runs and what they swept


def _runs(known: Sequence[Run], at: datetime) -> list[Run]:
    """The runs opened by then, each with the proofs, checks and decisions of its time; the sheets are those gathered."""
    sheets = {run.pk: run.sheet for run in known}

    def by_then(rows: QuerySet[Any]) -> QuerySet[Any]:
        return rows.filter(_standing_then(at), at__lte=at)

    rows = (
        Run.objects.filter(pk__in=list(sheets), opened_at__lte=at)
        .select_related("recorder", "instrument", "electrode")
        .prefetch_related(
            "instrument__certificates",
            Prefetch("return_proofs", by_then(ReturnProof.objects.all())),
            Prefetch("verifications", by_then(Verification.objects.all())),
            Prefetch("touch_tests", by_then(TouchTest.objects.all())),
            Prefetch("events", by_then(CheckEvent.objects.all())),
            Prefetch("reinstatements", by_then(Reinstatement.objects.all())),
        )
        .order_by("opened_at", "pk")
    )
    runs = []
    for run in rows:
        run.sheet = sheets[run.pk]
        for name in ("return_proofs", "verifications", "touch_tests", "events", "reinstatements"):
            for row in getattr(run, name).all():
                _reopened(row, "struck_at", at)
        runs.append(_reopened(_reopened(run, "closed_at", at), "struck_at", at))
    return runs


def _settled(run: Run, at: datetime) -> list[Swath]:
    """The swaths of a run that had been made, with the standing they had."""
    rows = run.swaths.filter(_standing_then(at), ended_at__lte=at).order_by("ended_at", "pk")
    swaths = [_reopened(row, "struck_at", at) for row in rows]
    judged: dict[Hashable, Standing] = tested.judge(run, swaths, until=at)
    for swath in swaths:
        swath.run, swath.standing = run, judged[swath.pk].standing
    return swaths


# Flaws


def _flaws(known: Sequence[Flaw], runs: Sequence[Run], at: datetime) -> list[Flaw]:
    by_pk = {run.pk: run for run in runs}
    flaws = [_reopened(flaw, "struck_at", at) for flaw in known if flaw.found_at <= at and flaw.run_id in by_pk]
    found = {flaw.pk for flaw in flaws}
    for flaw in flaws:
        flaw.run = by_pk[flaw.run_id]
        if flaw.same_as_id not in found:
            flaw.same_as = None
    return flaws


def _marks(runs: Iterable[Run], flaws: Sequence[Flaw]) -> Marks:
    marks: dict[UUID, tuple[str, ...]] = {}
    for run in runs:
        found = [FoundFlaw(flaw.pk, flaw.sheet_seq) for flaw in flaws if flaw.run_id == run.pk]
        said = marks_on_flaws(tested.facts_of(run), tested.checks_of(run), found)
        marks.update({flaw.id: said[flaw.id] for flaw in found if said[flaw.id]})  # type: ignore[misc]
    return marks


# Repairs and decisions


def _patches(known: Sequence[Any], at: datetime) -> list[Any]:
    return [_reopened(patch, "struck_at", at) for patch in known if patch.issued_at <= at]


def _cycle(cycle: Cycle, at: datetime) -> Cycle:
    """The round as it was; one settled later was still open, with no retest."""
    if cycle.settled_at is not None and cycle.settled_at > at:
        cycle.outcome = cycle.settled_at = cycle.retester = cycle.retester_org = cycle.witness = None
        cycle.note = ""
        cycle._state.fields_cache["retest"] = None
    return cycle


def _releases(coating: Coating, at: datetime) -> list[Release]:
    rows = coating.releases.filter(Q(withdrawn_at=None) | Q(withdrawn_at__gt=at), at__lte=at).select_related("owner")
    return list(rows.order_by("-at")[:1])
