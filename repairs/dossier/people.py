"""Who swept and recorded, what they were qualified as, the briefings of the days, the permits; and what is to be said of it."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from accounts.wording import say, say_many
from inspections.coatings import Permit
from inspections.qualified import holds
from inspections.run_notes import SOURCE
from inspections.runs import Run
from repairs.dossier.layout import LEAD, NOTE, Paper, item, says, section, table
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader


def people_of(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """The runs of which something is to be said, then people, briefings and permits as they were recorded."""
    noted = [run for run in papers.runs if papers.notes.get(run.pk)]
    lead = (
        say_many("Something is to be said of {count} run.", "Something is to be said of {count} runs.", len(noted))
        if noted
        else say("Nothing is to be said of any run.")
    )
    flags = say("It flags and takes nothing away: ground stands by its own proofs, and no gate turns red for it.")
    return [
        section(say("People, briefings, permits")),
        says(f"{lead} {flags}", LEAD),
        *(item(f"⚑ {run}: {note.words}") for run in noted for note in papers.notes[run.pk]),
        *_qualifications(papers, reader, paper),
        *_briefings(papers, reader, paper),
        *_permits(papers.permits, reader, paper),
        says(say(SOURCE), NOTE),
        says(say("Barespot never authorises entry or work; the permit and local rules do."), NOTE),
    ]


def _qualifications(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """The cards of whoever swept or recorded, with the runs of theirs that fell into the days of each."""
    if not papers.qualifications:
        return [says(say("No qualification of anybody who swept or recorded is recorded."))]
    rows = [
        [
            card.person.name,
            str(card),
            reader.day(card.issued),
            reader.day(card.expires) if card.expires else say("does not run out"),
            ", ".join(_under(papers.runs, card.person_id, lambda day, fact=card.fact: holds(fact, day), reader))
            or NOTHING,
        ]
        for card in papers.qualifications
    ]
    heads = [say("who"), say("qualified as"), say("issued"), say("last day"), say("runs on days it held")]
    return table(heads, rows, [110, 150, 70, 80, 101], paper.measure)


def _under(runs: Sequence[Run], person: object, held: object, reader: Reader) -> list[str]:
    return [
        run.label
        for run in runs
        if person in (run.swept_by_id, run.recorder_id) and held(run.opened_at.astimezone(reader.clock).date())  # type: ignore[operator]
    ]


def _briefings(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    if not papers.briefings:
        return [says(say("No briefing is recorded for the days of these runs."))]
    rows = [
        [
            reader.moment(briefing.at),
            str(briefing.get_method_display()),
            say_many("{count} point", "{count} points", len(briefing.points)),
            briefing.by.name,
            ", ".join(each.name for each in briefing.attendees.all() if not each.is_struck) or NOTHING,
        ]
        for briefing in papers.briefings
    ]
    heads = [say("briefing"), say("method"), say("gone through"), say("by"), say("who took part")]
    return table(heads, rows, [80, 100, 60, 90, 181], paper.measure)


def _permits(permits: Sequence[Permit], reader: Reader, paper: Paper) -> list[Flowable]:
    if not permits:
        return [says(say("No permit is recorded."))]
    numbers = {permit.pk: permit.number for permit in permits}
    rows = [
        [
            f"{permit}"
            + (f", {say('renews {number}', number=numbers[permit.renews_id])}" if permit.renews_id in numbers else ""),
            f"{permit.gas_reading} ({permit.gas_limits})" if permit.gas_limits else permit.gas_reading,
            permit.tester,
            f"{reader.moment(permit.begins_at)} – {reader.moment(permit.expires_at)}",
            f"{permit.by.name}, {reader.moment(permit.recorded_at)}",
        ]
        for permit in permits
    ]
    heads = [say("permit"), say("gas reading"), say("tested by"), say("holds"), say("recorded by")]
    return table(heads, rows, [120, 100, 80, 101, 110], paper.measure)
