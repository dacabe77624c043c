"""What is to be said of runs, read from the rows: for one run or a thousand in the same number of queries. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import chain
from typing import Any
from uuid import UUID

from django.db.models import Max, Min, QuerySet

from accounts.people import Organisation, Person
from inspections.briefings import Attendee
from inspections.coatings import Coating, Permit
from inspections.permits import PermitFact, Work, not_permitted, with_renewals
from inspections.qualifications import Qualification
from inspections.qualified import PaperFact, same
from inspections.run_notes import Briefed, RunFacts, RunNote, Worker, notes
from inspections.runs import Run, Swath
from inspections.vocabulary import HIGH_VOLTAGE

Notes = Mapping[UUID, tuple[RunNote, ...]]
DAY = timedelta(days=1)


def named(organisation: Organisation, name: str) -> Person | None:
    """The person of an organisation who is called that; None where nobody is, or several are."""
    people = [person for person in organisation.people.all() if same(person.name) == same(name)]
    return people[0] if len(people) == 1 else None


def with_what_notes_need(runs: QuerySet[Run]) -> QuerySet[Run]:
    return runs.select_related(
        "sheet__coating__specification", "sheet__coating__zone__asset", "sheet__organisation", "recorder", "swept_by"
    )


def with_notes(runs: QuerySet[Run], now: datetime) -> list[Run]:
    """These runs in their order, each with what is to be said of it."""
    found = list(with_what_notes_need(runs))
    notes = notes_of(found, now)
    for run in found:
        run.notes = notes[run.pk]
    return found


def noted_on(coatings: Iterable[Coating], now: datetime) -> list[Run]:
    """The runs of these coatings of which something is to be said, with it, in order of opening."""
    runs = Run.objects.filter(sheet__coating__in=[coating.pk for coating in coatings], struck_at=None)
    return [run for run in with_notes(runs.order_by("opened_at", "pk"), now) if run.notes]


def notes_of(runs: Sequence[Run], now: datetime) -> Notes:
    """The notes of each of these runs as things stand; a run that was struck out has none."""
    counting = [run for run in runs if not run.is_struck]
    permits = permits_of(counting)
    sweeps = _sweeps(counting, permits)
    papers = _papers(counting)
    briefed = _briefed(counting)
    said: dict[UUID, tuple[RunNote, ...]] = {run.pk: () for run in runs}
    for run in counting:
        asset = run.sheet.coating.zone.asset
        terms = run.sheet.coating.terms
        day = run.opened_at.astimezone(asset.zone_info).date()
        said[run.pk] = notes(
            RunFacts(
                opened_at=run.opened_at,
                closed_at=run.closed_at,
                now=now,
                clock=asset.zone_info,
                high_voltage=run.method in HIGH_VOLTAGE,
                sweeper=_worker(run.sweeper, run.swept_by_id, papers),
                recorder=_worker(run.recorder.name, run.recorder_id, papers),
                organisation=run.sheet.organisation.name,
                permit_asked=terms.permit_asked,
                permits=permits[run.pk],
                sweeps=sweeps.get(run.pk, ()),
                briefed=tuple(
                    each for each in briefed.get(asset.pk, ()) if each.at.astimezone(asset.zone_info).date() == day
                ),
                asked=terms.sweeper_asked,
            )
        )
    return said


def _worker(name: str, pk: UUID | None, papers: Mapping[UUID, tuple[PaperFact, ...]]) -> Worker:
    return Worker(name, pk, papers.get(pk, ()) if pk else ())


def permits_of(runs: Sequence[Run]) -> dict[UUID, tuple[PermitFact, ...]]:
    """The permits of each run with their renewals, in order of expiry."""
    rows: dict[UUID, list[Permit]] = defaultdict(list)
    coatings = {run.sheet.coating_id for run in runs}
    for row in Permit.objects.filter(coating__in=coatings, struck_at=None) if coatings else ():
        rows[row.coating_id].append(row)
    return {run.pk: chain_of(run, rows[run.sheet.coating_id]) for run in runs}


def chain_of(run: Run, permits: Iterable[Permit]) -> tuple[PermitFact, ...]:
    """Of the permits of its coating those that the run stands under: what it named, what came later, and their renewals."""
    rows = list(permits)
    own = [row.pk for row in rows if row.for_run_id == run.pk]
    return with_renewals([row.fact for row in rows], [*own, *([run.permit_id] if run.permit_id else [])])


def _sweeps(runs: Sequence[Run], permits: Mapping[UUID, tuple[PermitFact, ...]]) -> dict[UUID, tuple[Work, ...]]:
    """The swaths of those runs that were not permitted from their first to their last one."""
    under = [run.pk for run in runs if permits[run.pk]]
    if not under:
        return {}
    rows = Swath.objects.filter(run__in=under, struck_at=None)
    ends = rows.order_by().values("run").annotate(first=Min("started_at"), last=Max("ended_at"))
    bare = [each["run"] for each in ends if not_permitted(permits[each["run"]], each["first"], each["last"])]
    found: dict[UUID, list[Work]] = defaultdict(list)
    times = rows.filter(run__in=bare).order_by("started_at", "pk").values_list("run", "pk", "started_at", "ended_at")
    for run, pk, start, end in times if bare else ():
        found[run].append(Work(pk, start, end))
    return {run: tuple(work) for run, work in found.items()}


def _papers(runs: Sequence[Run]) -> dict[UUID, tuple[PaperFact, ...]]:
    people = {pk for pk in chain.from_iterable((run.swept_by_id, run.recorder_id) for run in runs) if pk}
    found: dict[UUID, list[PaperFact]] = defaultdict(list)
    rows = Qualification.objects.filter(person__in=people, struck_at=None).order_by("issued", "pk")
    for row in rows if people else ():
        found[row.person_id].append(row.fact)
    return {pk: tuple(papers) for pk, papers in found.items()}


def _briefed(runs: Sequence[Run]) -> dict[UUID, list[Briefed]]:
    """Who was briefed for high voltage at the assets of these runs, from a day before the first to a day after the last."""
    high: list[Any] = [run for run in runs if run.method in HIGH_VOLTAGE]
    found: dict[UUID, list[Briefed]] = defaultdict(list)
    if not high:
        return found
    first, last = min(run.opened_at for run in high) - DAY, max(run.opened_at for run in high) + DAY
    rows = Attendee.objects.filter(
        briefing__asset__in={run.sheet.coating.zone.asset_id for run in high},
        briefing__method__in=HIGH_VOLTAGE,
        briefing__struck_at=None,
        struck_at=None,
        briefing__at__range=(first, last),
    )
    for asset, name, person, at in rows.order_by("at", "pk").values_list("briefing__asset", "name", "person", "at"):
        found[asset].append(Briefed(name, person, at))
    return found
