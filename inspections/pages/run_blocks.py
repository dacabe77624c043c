"""What a run rests on, block by block: each says who and when, or what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.utils.text import capfirst

from accounts.languages import day_words, moment_words
from accounts.units import show, show_as_given
from accounts.wording import say
from inspections.asked_voltage import STATED
from inspections.briefings import Attendee
from inspections.coatings import Permit
from inspections.noted_runs import chain_of
from inspections.pages.air_block import AirTold
from inspections.pages.feature_rows import touch_words
from inspections.qualifications import Qualification
from inspections.qualified import same
from inspections.run_notes import RunNote
from inspections.run_notices import (
    beyond_certificate,
    beyond_range,
    film_too_thick,
    no_figure,
    other_unit,
    outside_band,
)
from inspections.runs import Run, Verification
from inspections.sensitivity import Sensitivity
from inspections.vocabulary import HIGH_VOLTAGE, PROVENANCES

DAY = timedelta(days=1)


class Block(NamedTuple):
    """One block on top of a run: `proven` blocks carry a name and a time; the others say what is missing."""

    title: str
    proven: bool
    says: str
    action: str = ""
    press: str = ""


def last_check(run: Run) -> Verification | None:
    return run.verifications.filter(struck_at=None).order_by("-sheet_seq").first()


def blocks(run: Run, notes: Sequence[RunNote], air: AirTold, units: str = "si") -> list[Block]:
    """The blocks of a run, in the order in which a crew goes through them."""
    zone = run.sheet.coating.zone
    at = _clock(run)
    opened = f"{run.recorder}, {at(run.opened_at)}"
    return [
        Block(
            say("Where"),
            True,
            f"{zone.surface.seen_from}. {capfirst(run.stage)}, {run.get_purpose_display()}. {opened}.",
        ),
        _instrument(run, at),
        _voltage(run, units),
        _return(run, at),
        *_touch(run),
        _atmosphere(air),
        _people(run, at, notes),
        _permit(run, at, notes),
    ]


def _clock(run: Run) -> Any:
    zone = run.sheet.coating.zone.asset.zone_info

    def at(moment: datetime) -> str:
        return moment_words(moment.astimezone(zone))

    return at


def _instrument(run: Run, at: Any) -> Block:
    title = say("Instrument and last check")
    if run.method == "visual":
        return Block(title, True, say("Visual: no instrument."))
    last = last_check(run)
    paper = run.certificate
    named = f"{run.instrument}, {run.electrode}"
    if paper is None:
        return Block(
            title,
            False,
            say(
                "{named}. No valid certificate on the day: the ground of this run is lost until one is shown.",
                named=named,
            ),
        )
    named = say("{named}, {paper} due {day}", named=named, paper=paper, day=day_words(paper.due))
    if last is None:
        return Block(
            title,
            False,
            say("{named}. No check yet: work before the first good check is lost.", named=named),
            "verify",
            say("Record a check"),
        )
    reading = say(
        "{measured} for {expected} ± {tolerance}, {outcome}, {by}, {at}",
        measured=show(last.measured, last.kind),
        expected=show(last.expected, last.kind),
        tolerance=show(last.tolerance, last.kind),
        outcome=last.get_outcome_display(),
        by=last.by,
        at=at(last.at),
    )
    return Block(
        title,
        last.outcome == Verification.Outcome.GOOD,
        say("{named}. Last check: {reading}.", named=named, reading=reading),
        "verify",
        say("Record a check"),
    )


def _voltage(run: Run, units: str) -> Block:
    title = say("Thickness and voltage")
    if run.sensitivity is not None:
        return _sponge(run, run.sensitivity, units)
    if run.set_volts is None:
        return Block(title, True, say("No voltage in this run."))
    film = _film(run, units)
    if run.band_low is None or run.band_high is None:
        why = no_figure(run) or say("The specification states no voltage for this method.")
        return Block(title, False, say("{film}. Set to {volts} V. {why}", film=film, volts=run.set_volts, why=why))
    band = say(
        "{band_low} to {band_high} V allowed by {ruling_document}",
        band_low=run.band_low,
        band_high=run.band_high,
        ruling_document=run.ruling_document,
    )
    if run.rule_provenance and run.rule != STATED:
        band += f" ({say(PROVENANCES[run.rule_provenance])})"
    inside = run.band_low <= run.set_volts <= run.band_high
    doubts = [words for notice in (beyond_range, beyond_certificate, other_unit) if (words := notice(run))]
    spoiled = (
        ""
        if inside
        else say("Below: the ground is lost.")
        if run.set_volts < run.band_low
        else say("Above: the ground is held for the owner.")
    )
    return Block(
        title,
        inside and not doubts,
        " ".join(
            part
            for part in (
                say("{film}. Set to {volts} V; {band}.", film=film, volts=run.set_volts, band=band),
                spoiled,
                *doubts,
            )
            if part
        ),
    )


def _film(run: Run, units: str) -> str:
    """The thickness a run rests on, in the reader's unit and as it was given, and what it means."""
    return f"{show_as_given(run.thickness, run.thickness_said, 'film', units)} ({run.get_thickness_basis_display()})"


def _sponge(run: Run, asked: Sensitivity, units: str) -> Block:
    """What a wet sponge rests on: film, what it is wetted with, and the resistance at which it has to alarm."""
    wrong = [words for words in (outside_band(run), film_too_thick(run)) if words]
    says = say(
        "{film}. Sponge wetted with {medium}. It has to alarm at {ohm} ± {tolerance}.",
        film=_film(run, units),
        medium=run.get_medium_display(),
        ohm=show(asked.ohm, "ohms"),
        tolerance=show(asked.tolerance, "ohms"),
    )
    return Block(say("Thickness and sensitivity"), not wrong, " ".join((says, *wrong)))


def _return(run: Run, at: Any) -> Block:
    proofs = [proof for proof in run.return_proofs.select_related("by") if proof.struck_at is None]
    if run.method == "visual":
        return Block(say("Return proof"), True, say("Visual: no return."))
    if not proofs:
        return Block(
            say("Return proof"),
            False,
            say("Not proven: without it no ground counts."),
            "prove_return",
            say("Return proven"),
        )
    says = "; ".join(
        f"{proof.said}{f' ({proof.island})' if proof.island else ''}, {proof.by}, {at(proof.at)}" for proof in proofs
    )
    return Block(say("Return proof"), True, f"{says}.", "prove_return", say("Another island"))


def _touch(run: Run) -> list[Block]:
    """On concrete: whether bare concrete alarmed away from the return."""
    told = touch_words(run)
    if told is None:
        return []
    return [Block(say("Touch of bare concrete"), *told, "touch_concrete", say("Bare concrete touched"))]


def _atmosphere(air: AirTold) -> Block:
    title = say("Air and steel")
    if not air.says:
        return Block(title, False, say("Not measured for this run."), "record_atmosphere", say("Record air and steel"))
    return Block(title, air.in_order, air.says, "record_atmosphere", say("Measure again"))


def _people(run: Run, at: Any, notes: Sequence[RunNote]) -> Block:
    """Who swept and recorded, their qualifications of the day, and their briefing."""
    title = say("People and briefing")
    said = [note.words for note in notes if not note.on_permit]
    day = run.opened_at.astimezone(run.sheet.coating.zone.asset.zone_info).date()
    people = {pk for pk in (run.swept_by_id, run.recorder_id) if pk}
    papers = Qualification.objects.filter(person__in=people, struck_at=None, issued__lte=day).order_by("-issued")
    held: dict[Any, list[str]] = {}
    for paper in papers:
        if paper.expires is None or paper.expires >= day:
            held.setdefault(paper.person_id, []).append(str(paper))
    parts = [say("Swept by {name}.", name=_with_papers(run.sweeper, held.get(run.swept_by_id, [])))]
    parts.append(say("Recorded by {name}.", name=_with_papers(run.recorder.name, held.get(run.recorder_id, []))))
    if run.method in HIGH_VOLTAGE and (briefed := _briefing(run, day)):
        parts.append(say("Briefed by {by}, {at}.", by=briefed[0], at=at(briefed[1])))
    return Block(title, not said, " ".join([*parts, *said]))


def _with_papers(name: str, papers: Sequence[str]) -> str:
    return f"{name} ({'; '.join(papers)})" if papers else name


def _briefing(run: Run, day: date) -> tuple[str, datetime] | None:
    """Who briefed the sweeper for high voltage on that day, and when."""
    asset = run.sheet.coating.zone.asset
    for row in Attendee.objects.filter(
        briefing__asset=asset,
        briefing__method__in=HIGH_VOLTAGE,
        briefing__struck_at=None,
        struck_at=None,
        at__range=(run.opened_at - DAY, run.opened_at + DAY),
    ).select_related("briefing__by"):
        own = (
            row.person_id == run.swept_by_id
            if row.person_id and run.swept_by_id
            else same(row.name) == same(run.sweeper)
        )
        if own and row.at.astimezone(asset.zone_info).date() == day:
            return row.briefing.by.name, row.at
    return None


def _permit(run: Run, at: Any, notes: Sequence[RunNote]) -> Block:
    title = say("Permit and cautions")
    read = (
        say("Cautions read by {cautions_by}, {at}.", cautions_by=run.cautions_by, at=at(run.cautions_at))
        if run.cautions_by and run.cautions_at
        else say("Cautions not read.")
    )
    said = [note.words for note in notes if note.on_permit]
    rows = {row.pk: row for row in Permit.objects.filter(coating=run.sheet.coating_id, struck_at=None)}
    chain = [rows[fact.id] for fact in chain_of(run, rows.values())]  # type: ignore[index]
    if not chain:
        bare = say("No permit named. {read} Barespot never authorises work; the permit does.", read=read)
        return Block(title, False, " ".join([*said, bare]), "renew_permit", say("Name a permit"))
    held = [
        say(
            "{permit}, gas {gas_reading}, valid until {at}.",
            permit=capfirst(str(permit)),
            gas_reading=f"{permit.gas_reading} ({permit.gas_limits})" if permit.gas_limits else permit.gas_reading,
            at=at(permit.expires_at),
        )
        for permit in chain
    ]
    return Block(title, not said, " ".join([*said, *held, read]), "renew_permit", say("Renew the permit"))
