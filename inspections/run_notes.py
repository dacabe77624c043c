"""What is to be said of a run beside its ground: its permit, the briefing of its day, and what its people were qualified as.

A note flags and never erases: it changes neither a swath's standing nor a gate, and Barespot authorises neither entry nor
work. No Django: facts in, sentences out.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any, Literal, NamedTuple

from accounts.wording import Day, Moment, noted, say, say_many
from inspections.permits import PermitFact, Work, in_force, not_permitted, ran_out, work_without_permit
from inspections.qualified import Asked, PaperFact, same, shown_on

Code = Literal[
    "permit_absent", "permit_not_in_force", "swept_without_permit", "permit_ran_out", "not_briefed", "briefed_late",
    "sweeper_unknown", "sweeper_not_qualified", "sweeper_lapsed", "recorder_not_qualified", "recorder_lapsed",
]  # fmt: skip
SOURCE = noted(
    "Common practice of the trade; the permit, the specification, local codes and the scheme of each qualification rule."
)


class RunNote(NamedTuple):
    """One thing to be said of a run: a code, and a sentence with its gaps, put into words when it is shown."""

    code: Code
    sentence: str
    gaps: Mapping[str, Any] = {}

    @property
    def words(self) -> str:
        return say(self.sentence, **self.gaps)

    @property
    def on_permit(self) -> bool:
        return self.code in ("permit_absent", "permit_not_in_force", "swept_without_permit", "permit_ran_out")

    @property
    def on_briefing(self) -> bool:
        return self.code in ("not_briefed", "briefed_late")

    def __str__(self) -> str:
        return self.words


class Worker(NamedTuple):
    """Somebody of the run: by name, whether they are registered with their organisation, and their papers."""

    name: str
    id: Hashable | None = None
    papers: tuple[PaperFact, ...] = ()


class Briefed(NamedTuple):
    """Somebody who took part in a high-voltage briefing at the asset, and when."""

    name: str
    id: Hashable | None
    at: datetime


@dataclass(frozen=True)
class RunFacts:
    """What the notes look at, for one run.

    Parameters
    ----------
    clock : the asset's time zone; days and hours are said by it.
    permit_asked : whether the specification asks for a permit where the spark can ignite gas.
    permits : those of the run with their renewals.
    sweeps : its swaths, of which some may have been swept under no permit.
    briefed : who was briefed at the asset on the day of opening.
    """

    opened_at: datetime
    closed_at: datetime | None
    now: datetime
    clock: tzinfo
    high_voltage: bool
    sweeper: Worker
    recorder: Worker
    organisation: str = ""
    permit_asked: bool = False
    permits: tuple[PermitFact, ...] = ()
    sweeps: tuple[Work, ...] = ()
    briefed: tuple[Briefed, ...] = ()
    asked: Asked = field(default_factory=Asked)

    @property
    def day(self) -> date:
        return self.opened_at.astimezone(self.clock).date()


def notes(facts: RunFacts) -> tuple[RunNote, ...]:
    """Return all that is to be said of a run, the permit first."""
    return (*_permit(facts), *_briefing(facts), *_sweeper(facts), *_recorder(facts))


def _permit(facts: RunFacts) -> Iterator[RunNote]:
    if not facts.permits:
        if facts.permit_asked and facts.high_voltage:
            yield RunNote(
                "permit_absent", noted("The specification asks for a permit for high voltage; this run names none.")
            )
        return
    if in_force(facts.permits, facts.opened_at) is None:
        yield RunNote(
            "permit_not_in_force",
            noted("No permit held when the run was opened at {opened}: {permits}."),
            {
                "opened": _hour(facts, facts.opened_at),
                "permits": _Listed(tuple(_Held(row, facts) for row in facts.permits)),
            },
        )
    bare = work_without_permit(facts.permits, facts.sweeps)
    if bare:
        spans = not_permitted(facts.permits, min(row.start for row in bare), max(row.end for row in bare))
        yield RunNote(
            "swept_without_permit",
            noted("{swaths} while no permit held, {start} to {end}. The ground stays as it is; ask how work went on."),
            {
                "swaths": _Swept(len(bare)),
                "start": _hour(facts, spans[0].start),
                "end": _hour(facts, spans[-1].end),
            },
        )
    gone = ran_out(facts.permits, facts.now) if facts.closed_at is None else None
    if gone is not None:
        yield RunNote(
            "permit_ran_out",
            noted("Permit {permit} ran out at {expired} and the run is open: renew the permit or close the run."),
            {"permit": gone.name, "expired": _hour(facts, gone.expires_at)},
        )


def _briefing(facts: RunFacts) -> Iterator[RunNote]:
    if not facts.high_voltage:
        return
    own = [each.at for each in facts.briefed if _is_same(each, facts.sweeper)]
    if not own:
        yield RunNote(
            "not_briefed",
            noted("{name} is in no high-voltage briefing of {day} at this asset."),
            {"name": facts.sweeper.name, "day": Day(facts.day)},
        )
    elif min(own) > facts.opened_at:
        yield RunNote(
            "briefed_late",
            noted("{name} was briefed at {briefed}, after the run was opened at {opened}."),
            {
                "name": facts.sweeper.name,
                "briefed": _hour(facts, min(own)),
                "opened": _hour(facts, facts.opened_at),
            },
        )


def _is_same(one: Briefed, worker: Worker) -> bool:
    if one.id is not None and worker.id is not None:
        return one.id == worker.id
    return same(one.name) == same(worker.name)


def _sweeper(facts: RunFacts) -> Iterator[RunNote]:
    worker, day, asked = facts.sweeper, facts.day, facts.asked
    if worker.id is None:
        if asked.anything:
            yield RunNote(
                "sweeper_unknown",
                noted("{name} swept; nobody of that name is registered with {organisation}, and asked is: {asked}."),
                {"name": worker.name, "organisation": facts.organisation, "asked": asked.sentence},
            )
        return
    shown = shown_on(worker.papers, day, asked.accepted)
    if shown.held == "lapsed" and shown.paper is not None:
        yield RunNote("sweeper_lapsed", LAPSED, {**_lapsed(worker, shown.paper, day), "did": _Said(noted("swept"))})
    elif asked.anything and shown.held != "valid":
        yield RunNote(
            "sweeper_not_qualified",
            noted("{name} swept on {day} and no qualification as asked is recorded ({asked})."),
            {"name": worker.name, "day": Day(day), "asked": asked.sentence},
        )


def _recorder(facts: RunFacts) -> Iterator[RunNote]:
    worker, day = facts.recorder, facts.day
    shown = shown_on(worker.papers, day)
    if shown.held == "lapsed" and shown.paper is not None:
        yield RunNote("recorder_lapsed", LAPSED, {**_lapsed(worker, shown.paper, day), "did": _Said(noted("recorded"))})
    elif facts.asked.anything and shown.held == "none":
        yield RunNote(
            "recorder_not_qualified",
            noted("{name} recorded on {day} and no qualification of theirs is recorded."),
            {"name": worker.name, "day": Day(day)},
        )


LAPSED = noted("{name} {did} on {day}; their qualification had run out on {expired} ({paper}).")


def _lapsed(worker: Worker, paper: PaperFact, day: date) -> dict[str, Any]:
    assert paper.expires is not None
    return {"name": worker.name, "day": Day(day), "expired": Day(paper.expires), "paper": paper.label}


def _hour(facts: RunFacts, moment: datetime) -> str | Moment:
    """The hour by the asset's clock; with its day where that is not the day of opening."""
    local = moment.astimezone(facts.clock)
    return f"{local:%H:%M}" if local.date() == facts.day else Moment(local)


class _Said(NamedTuple):
    """A word that is looked up when it is shown."""

    word: str

    def __format__(self, spec: str) -> str:
        return say(self.word)


class _Swept(NamedTuple):
    swaths: int

    def __format__(self, spec: str) -> str:
        return say_many("{count} swath was swept", "{count} swaths were swept", self.swaths)


class _Held(NamedTuple):
    """From when to when a permit held."""

    permit: PermitFact
    facts: RunFacts

    def __format__(self, spec: str) -> str:
        begins, ends = _hour(self.facts, self.permit.begins_at), _hour(self.facts, self.permit.expires_at)
        return say("{permit} from {begins} to {ends}", permit=self.permit.name, begins=begins, ends=ends)


class _Listed(NamedTuple):
    parts: tuple[_Held, ...]

    def __format__(self, spec: str) -> str:
        return "; ".join(f"{part}" for part in self.parts)
