"""Every test run with its parameters, proofs, checks, events and rulings; also those that do not stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from reportlab.platypus import Flowable

from accounts.wording import say
from inspections.atmosphere import SOURCE as AIR_SOURCE
from inspections.atmosphere import humidity_from_wet_bulb, work_may_go_on
from inspections.coatings import Atmosphere
from inspections.runs import CheckEvent, Reinstatement, ReturnProof, Run, TouchTest, Verification
from repairs.dossier.layout import LEAD, NOTE, Paper, item, marked, pairs, part, says, section, table
from repairs.dossier.lettering import markup
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, capital, count
from repairs.picture import ZonePicture

_OUTCOMES = {
    Verification.Outcome.GOOD: "✓ good",
    Verification.Outcome.LOW: "▼ low",
    Verification.Outcome.HIGH: "▼ high",
}


class _Line(NamedTuple):
    """One line of a run's course, by order of recording."""

    seq: int
    cells: tuple[str, ...]
    struck: bool


def runs_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    story: list[Flowable] = [section("Test runs")]
    if not papers.runs:
        return [*story, says("No test run has been opened.")]
    struck = sum(run.is_struck for run in papers.runs)
    more = f", {struck} of them struck out" if struck else ""
    story.append(
        says(
            f"{count(len(papers.runs), 'run', 'runs')}{more}. Work counts only between two good checks of the output; the "
            "allowed band is the ruling document's voltage with its tolerance and nothing else.",
            LEAD,
        )
    )
    for run in papers.runs:
        story += _run(picture, run, papers, reader, paper)
    return story


def _run(picture: ZonePicture, run: Run, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    closed = f"closed {reader.moment(run.closed_at)}" if run.closed_at else "not closed"
    story: list[Flowable] = [
        part(f"{run}: {run.get_purpose_display()}, {run.stage}", f"run {run.pk}", struck=run.is_struck)
    ]
    if run.is_struck and run.struck_by:
        story.append(
            marked(
                f"<b>Struck out {markup(reader.moment(run.struck_at))} by {markup(run.struck_by.name)}:</b> "
                f"{markup(run.struck_why)}. Its ground counts nowhere; its flaws stay listed.",
                LEAD,
            )
        )
    story += [
        says(f"Opened {reader.moment(run.opened_at)}, {closed}. {_swept(run, papers, reader)}", LEAD),
        pairs(_parameters(picture, run, papers, reader), paper.measure),
    ]
    lines = sorted(_course(run, reader))
    if lines:
        story += table(
            ["no.", "when", "what", "result", "by"],
            [line.cells for line in lines],
            [26, 78, 208, 112, 87],
            paper.measure,
            {place for place, line in enumerate(lines) if line.struck},
        )
    return story + [item(line) for line in _rulings(run, papers, reader)]


def _swept(run: Run, papers: Papers, reader: Reader) -> str:
    tallies = papers.tallies.get(run.pk, ())
    if not tallies:
        return "No ground was marked as swept."
    if run.is_struck:
        area, swaths = sum(tally.area_m2 for tally in tallies), sum(tally.swaths for tally in tallies)
        return f"It had marked {reader.area(area)} in {count(swaths, 'swath', 'swaths')} as swept."
    said = [
        f"{reader.area(tally.area_m2)} in {count(tally.swaths, 'swath', 'swaths')}: {tally.standing}"
        + (f", {tally.cause}" if tally.cause else "")
        for tally in tallies
    ]
    return f"Marked as swept, overlaps counted twice: {'; '.join(said)}."


def _parameters(picture: ZonePicture, run: Run, papers: Papers, reader: Reader) -> list[tuple[str, object]]:
    certificate = run.certificate
    band = (
        f"{reader.volts(run.band_low)} to {reader.volts(run.band_high)} by {run.ruling_document}"
        if run.band_low is not None
        else run.ruling_document or NOTHING
    )
    permit = (
        f"{run.permit}, gas {run.permit.gas_reading}, tested by {run.permit.tester}, valid until "
        f"{reader.moment(run.permit.expires_at)}"
        if run.permit
        else "none recorded"
    )
    air = "; ".join(_air(row, reader) for row in papers.air_of(run, picture.at))
    return [
        ("method", run.get_method_display()),
        ("instrument", run.instrument or "none"),
        (
            "certificate",
            f"{certificate.number}, issued {reader.day(certificate.issued)}, due {reader.day(certificate.due)}"
            if certificate
            else "▼ none in force when the run was opened"
            if run.instrument
            else NOTHING,
        ),
        (
            "electrode",
            f"{run.electrode}, {run.electrode.kind}, {reader.length(run.electrode.width)} wide"
            if run.electrode
            else "none",
        ),
        ("thickness basis", f"{run.get_thickness_basis_display() or NOTHING}: {run.thickness_said or NOTHING}"),
        ("voltage asked", reader.volts(run.asked_volts)),
        ("voltage set", _setting(run, reader)),
        ("allowed band", band),
        ("surface", run.get_surface_state_display()),
        ("air and steel", air or "none recorded"),
        ("permit", permit),
        (
            "cautions read by",
            f"{run.cautions_by.name}, {reader.moment(run.cautions_at)}" if run.cautions_by else "▼ nobody",
        ),
        ("swept by", run.sweeper),
        ("recorded by", f"{run.recorder.name}, {run.recorder.organisation.name}"),
        ("witness", run.witness.name if run.witness else "none"),
        (
            "check of the output",
            f"every {run.check_interval_min:g} min, ± {reader.volts(run.check_tolerance_volts)}"
            if run.check_interval_min is not None and run.check_tolerance_volts is not None
            else NOTHING,
        ),
    ]


def _setting(run: Run, reader: Reader) -> str:
    if run.set_volts is None or run.band_low is None or run.band_high is None:
        return reader.volts(run.set_volts)
    inside = run.band_low <= run.set_volts <= run.band_high
    return f"{reader.volts(run.set_volts)}, {'✓ inside' if inside else '▼ outside'} the band"


def _air(row: Atmosphere, reader: Reader) -> str:
    humidity = row.humidity
    if humidity is None and row.wet_bulb is not None:
        humidity = humidity_from_wet_bulb(row.air, row.wet_bulb)
    said = f"{reader.moment(row.at)}: air {reader.celsius(row.air)}"
    if humidity is None:
        return said
    verdict = work_may_go_on(row.air, humidity, row.steel)
    point = "frost point" if verdict.dew_point.over == "ice" else "dew point"
    steel = f", coldest steel {reader.celsius(verdict.coldest_steel_c)}" if verdict.coldest_steel_c is not None else ""
    rule = "✓ within the limits" if verdict.may_go_on else f"▼ {' '.join(verdict.reasons)}"
    return f"{said}, humidity {humidity:.0f} %, {point} {reader.celsius(verdict.dew_point.celsius)}{steel}, {rule}"


def _course(run: Run, reader: Reader) -> Iterator[_Line]:
    for proof in run.return_proofs.all():
        island = f" ({proof.island})" if proof.island else ""
        yield _line(proof, f"return proven{island}: {proof.said}", "✓ proven", reader)
    for touch in run.touch_tests.all():
        where = say(
            "bare concrete touched{island}: {place}, {distance} from the return, {volts}",
            island=f" ({touch.island})" if touch.island else "",
            place=touch.said,
            distance=reader.length(touch.distance),
            volts=reader.volts(touch.volts),
        )
        yield _line(touch, where, say("✓ alarm") if touch.alarm else say("▼ no alarm: too dry"), reader)
    for check in run.verifications.all():
        alarm = "alarm on a bare spot" if check.alarm_seen else "no alarm on a bare spot"
        what = (
            f"check, {check.get_phase_display()}: {reader.volts(check.measured)} measured, "
            f"{reader.volts(check.expected)} ± {reader.volts(check.tolerance)} asked"
        )
        note = f"; {check.note}" if check.note else ""
        yield _line(check, what, f"{_OUTCOMES[Verification.Outcome(check.outcome)]}, {alarm}{note}", reader)
    for event in run.events.all():
        yield _line(event, f"event: {event.get_kind_display()}", "a check is due", reader)


def _line(row: ReturnProof | TouchTest | Verification | CheckEvent, what: str, result: str, reader: Reader) -> _Line:
    why = f"; struck out by {row.struck_by.name}: {row.struck_why}" if row.struck_by else ""
    return _Line(
        row.sheet_seq, (str(row.sheet_seq), reader.moment(row.at), what, result, row.by.name + why), row.is_struck
    )


def _rulings(run: Run, papers: Papers, reader: Reader) -> Iterator[str]:
    for row in papers.rulings:
        if row.run_id == run.pk:
            yield ruling(row, papers, reader)
    for answer in papers.answers:
        if answer.swath.run_id == run.pk:
            said = "swept too fast" if answer.too_fast else "not swept too fast"
            yield f"{answer.by.name}, {reader.moment(answer.at)}: {answer.swath.said} was {said}. {answer.why}"


def ruling(row: Reinstatement, papers: Papers, reader: Reader) -> str:
    """A decision on ground as a sentence."""
    ground = f"{len(row.swaths)} of {count(papers.swath_counts.get(row.run_id, 0), 'swath', 'swaths')}"
    file = f" File: {row.evidence.name}, sha256 {row.evidence.sha256}." if row.evidence else ""
    return (
        f"{row.by.name}, {reader.moment(row.at)}: {row.get_decision_display()}, {ground}, by {row.get_grounds_display()}. "
        f"{capital(row.why)}{'' if row.why.endswith('.') else '.'}{file}"
    )


def sheets_of(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Field sheets, permits, air and steel: what runs share."""
    rows = [
        [
            str(sheet),
            f"{sheet.person.name}, {sheet.organisation.name}",
            reader.moment(sheet.taken_at),
            f"given up: {sheet.given_up_why}"
            if sheet.given_up_why
            else f"handed in {reader.moment(sheet.handed_in_at)}"
            if sheet.handed_in_at
            else "▼ still out",
            sheet.source.name if sheet.source else NOTHING,
        ]
        for sheet in papers.sheets
    ]
    story: list[Flowable] = [section("Field sheets, permits, air")]
    story += table(["sheet", "taken by", "taken", "now", "read from file"], rows, [50, 160, 90, 120, 91], paper.measure)
    if papers.permits:
        story += table(
            ["permit", "gas reading", "tested by", "valid until", "recorded by"],
            [
                [
                    str(permit), permit.gas_reading, permit.tester, reader.moment(permit.expires_at),
                    f"{permit.by.name}, {reader.moment(permit.recorded_at)}",
                ]
                for permit in papers.permits
            ],
            [110, 110, 91, 80, 120], paper.measure,
        )  # fmt: skip
    else:
        story.append(says("No permit is recorded."))
    if papers.atmospheres:
        story += table(
            ["air and steel", "by"],
            [[_air(row, reader), row.by.name] for row in papers.atmospheres],
            [400, 111],
            paper.measure,
        )
        story.append(says(f"Limits and dew point: {AIR_SOURCE}.", NOTE))
    else:
        story.append(says("Neither air nor steel temperature is recorded."))
    return story
