"""What a run rests on beside its ground: air and steel it was swept under, briefing, permit and papers of its people.

The one statement takes such runs wide, because days are the asset's and permits renew each other; here they are cut.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db.models import Q

from accounts.people import Person
from inspections.briefings import Attendee, Briefing
from inspections.coatings import Coating, Permit
from inspections.noted_runs import HIGH_VOLTAGE, chain_of
from inspections.odd_readings import AIR_LASTS
from inspections.qualifications import Qualification
from inspections.qualified import holds, same
from inspections.runs import Run
from repairs.trace_subjects import Found, Subject

BESIDE = ("under", "briefer", "gas tester", "papers")


def wide_of_person(person: Person) -> dict[str, Q]:
    """By part, runs among which are those that rest on what the person did beside the ground. A gas tester is a name."""
    held = Briefing.objects.filter(by=person, method__in=HIGH_VOLTAGE, struck_at=None)
    tested = Permit.objects.filter(tester__iexact=person.name, struck_at=None)
    papers = Qualification.objects.filter(by=person, struck_at=None).values("person")
    return {
        "briefer": Q(method__in=HIGH_VOLTAGE, sheet__coating__zone__asset__in=held.values("asset")),
        "gas tester": Q(sheet__coating__in=tested.values("coating")),
        "papers": Q(swept_by__in=papers) | Q(recorder__in=papers),
    }


def resting_beside(subject: Subject, rows: Sequence[Found], coatings: Mapping[UUID, Coating]) -> list[Found]:
    """The rows without runs that were taken wide and do not rest on it."""
    asked = {row.id for row in rows if row.part in BESIDE}
    if not asked:
        return list(rows)
    runs = {run.pk: run for run in Run.objects.filter(pk__in=asked).select_related("sheet")}
    for run in runs.values():
        run.sheet.coating = coatings[run.sheet.coating_id]
    parts = {row.part for row in rows}
    resting: dict[str, Collection[UUID]] = {}
    if "under" in parts:
        resting["under"] = _under([row for row in rows if row.leg == "air"], runs)
    if isinstance(subject.row, Person):
        by_part = {"briefer": _briefed_by, "gas tester": _permitted_by, "papers": _with_papers_of}
        resting |= {part: found(subject.row, runs) for part, found in by_part.items() if part in parts}
    return [row for row in rows if row.part not in BESIDE or row.id in resting[row.part]]


def _under(airs: Sequence[Found], runs: Mapping[UUID, Run]) -> set[UUID]:
    """Runs that were open while one of the readings counted: as long as a run may go without another one."""
    read: dict[UUID, list[Any]] = defaultdict(list)
    for air in airs:
        read[air.coating].append(air.at)
    return {
        pk
        for pk, run in runs.items()
        if any(
            run.opened_at - AIR_LASTS <= at and (run.closed_at is None or at <= run.closed_at)
            for at in read[run.sheet.coating_id]
        )
    }


def _briefed_by(person: Person, runs: Mapping[UUID, Run]) -> set[UUID]:
    """Runs whose sweeper was in a high-voltage briefing that the person held at the asset on the day of opening."""
    rows = Attendee.objects.filter(
        briefing__by=person, briefing__method__in=HIGH_VOLTAGE, briefing__struck_at=None, struck_at=None
    ).select_related("briefing__asset")
    names: set[tuple[Any, ...]] = set()
    for row in rows:
        where = (row.briefing.asset_id, row.briefing.day)
        names |= {(*where, same(row.name)), (*where, row.person_id)} - {(*where, None)}
    found = set()
    for pk, run in runs.items():
        asset = run.sheet.coating.zone.asset
        where = (asset.pk, run.opened_at.astimezone(asset.zone_info).date())
        if {(*where, same(run.sweeper)), (*where, run.swept_by_id)} & names:
            found.add(pk)
    return found


def _permitted_by(person: Person, runs: Mapping[UUID, Run]) -> set[UUID]:
    """Runs that stand under a permit, or a renewal of theirs, whose gas somebody of the person's name tested."""
    permits: dict[UUID, list[Permit]] = defaultdict(list)
    coatings = {run.sheet.coating_id for run in runs.values()}
    for permit in Permit.objects.filter(coating__in=coatings, struck_at=None):
        permits[permit.coating_id].append(permit)
    tested = {each.pk for some in permits.values() for each in some if same(each.tester) == same(person.name)}
    return {
        pk
        for pk, run in runs.items()
        if any(fact.id in tested for fact in chain_of(run, permits[run.sheet.coating_id]))
    }


def _with_papers_of(person: Person, runs: Mapping[UUID, Run]) -> set[UUID]:
    """Runs on whose day a paper that the person recorded held, for who swept or recorded."""
    papers: dict[UUID, list[Qualification]] = defaultdict(list)
    for paper in Qualification.objects.filter(by=person, struck_at=None):
        papers[paper.person_id].append(paper)
    found = set()
    for pk, run in runs.items():
        day = run.opened_at.astimezone(run.sheet.coating.zone.asset.zone_info).date()
        people = [one for one in (run.swept_by_id, run.recorder_id) if one]
        if any(holds(paper.fact, day) for one in people for paper in papers[one]):
            found.add(pk)
    return found
