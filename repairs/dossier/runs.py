"""Every test run with its parameters, proofs, checks, events and rulings; also those that do not stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from reportlab.platypus import Flowable

from accounts.units import show
from accounts.wording import noted, say, say_many
from inspections.air import Air, air_of, air_words, apart, notes_of, reasons_of, steel_words, trend_of, trend_words
from inspections.air_trend import SOURCE as TREND_SOURCE
from inspections.atmosphere import SOURCE as AIR_SOURCE
from inspections.causes import causes_in_words
from inspections.coatings import Atmosphere
from inspections.runs import CheckEvent, Reinstatement, ReturnProof, Run, Standing, TouchTest, Verification
from repairs.dossier.film import basis_lines
from repairs.dossier.layout import LEAD, NOTE, Paper, item, marked, pairs, part, says, section, table
from repairs.dossier.lettering import markup
from repairs.dossier.overview import Charts
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, capital
from repairs.margins import margin_chart_of
from repairs.picture import ZonePicture

_OUTCOMES = {
    Verification.Outcome.GOOD: noted("✓ good"),
    Verification.Outcome.LOW: noted("▼ low"),
    Verification.Outcome.HIGH: noted("▼ high"),
}


class _Line(NamedTuple):
    """One line of a run's course, by order of recording."""

    seq: int
    cells: tuple[str, ...]
    struck: bool


def runs_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    story: list[Flowable] = [section(say("Test runs"))]
    if not papers.runs:
        return [*story, says(say("No test run has been opened."))]
    struck = sum(run.is_struck for run in papers.runs)
    more = say(", {count} of them struck out", count=struck) if struck else ""
    story.append(
        says(
            say_many("{count} run{more}.", "{count} runs{more}.", len(papers.runs), more=more)
            + " "
            + say(
                "Work counts only between two good checks of the output; the allowed band is the ruling document's voltage "
                "with its tolerance and nothing else."
            ),
            LEAD,
        )
    )
    for run in papers.runs:
        story += _run(picture, run, papers, reader, paper)
    return story


def _run(picture: ZonePicture, run: Run, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    closed = say("closed {moment}", moment=reader.moment(run.closed_at)) if run.closed_at else say("not closed")
    story: list[Flowable] = [
        part(f"{run}: {run.get_purpose_display()}, {run.stage}", f"run {run.pk}", struck=run.is_struck)
    ]
    if run.is_struck and run.struck_by:
        story.append(
            marked(
                say(
                    "<b>Struck out {moment} by {person}:</b> {why}. Its ground counts nowhere; its flaws stay listed.",
                    moment=markup(reader.moment(run.struck_at)),
                    person=markup(run.struck_by.name),
                    why=markup(run.struck_why),
                ),
                LEAD,
            )
        )
    story += [
        says(
            say(
                "Opened {moment}, {closed}. {swept}",
                moment=reader.moment(run.opened_at),
                closed=closed,
                swept=_swept(run, papers, reader),
            ),
            LEAD,
        ),
        *(item(f"⚑ {note.words}") for note in papers.notes.get(run.pk, ())),
        pairs(_parameters(picture, run, papers, reader), paper.measure),
    ]
    lines = sorted(_course(run, reader))
    if lines:
        story += table(
            [say("no."), say("when"), say("what"), say("result"), say("by")],
            [line.cells for line in lines],
            [26, 78, 208, 112, 87],
            paper.measure,
            {place for place, line in enumerate(lines) if line.struck},
        )
    return story + [item(line) for line in _rulings(run, papers, reader)]


def _swept(run: Run, papers: Papers, reader: Reader) -> str:
    tallies = papers.tallies.get(run.pk, ())
    if not tallies:
        return say("No ground was marked as swept.")
    if run.is_struck:
        area, swaths = sum(tally.area_m2 for tally in tallies), sum(tally.swaths for tally in tallies)
        return say_many(
            "It had marked {area} in {count} swath as swept.",
            "It had marked {area} in {count} swaths as swept.",
            swaths,
            area=reader.area(area),
        )
    said = [
        say_many(
            "{area} in {count} swath: {standing}",
            "{area} in {count} swaths: {standing}",
            tally.swaths,
            area=reader.area(tally.area_m2),
            standing=Standing(tally.standing).label,
        )
        + (f", {causes_in_words(tally.cause)}" if tally.cause else "")
        for tally in tallies
    ]
    return say("Marked as swept, overlaps counted twice: {ground}.", ground="; ".join(said))


def _parameters(picture: ZonePicture, run: Run, papers: Papers, reader: Reader) -> list[tuple[str, object]]:
    certificate = run.certificate
    band = (
        say(
            "{low} to {high} by {document}",
            low=reader.volts(run.band_low),
            high=reader.volts(run.band_high),
            document=run.ruling_document,
        )
        if run.band_low is not None
        else run.ruling_document or NOTHING
    )
    permit = (
        say(
            "{permit}, gas {gas}, tested by {tester}, valid until {moment}",
            permit=run.permit,
            gas=run.permit.gas_reading,
            tester=run.permit.tester,
            moment=reader.moment(run.permit.expires_at),
        )
        if run.permit
        else say("none recorded")
    )
    air = "; ".join(_air(row, reader) for row in papers.air_of(run, picture.at))
    return [
        (say("method"), run.get_method_display()),
        (say("instrument"), run.instrument or say("none")),
        (
            say("certificate"),
            say(
                "{number}, issued {issued}, due {due}",
                number=certificate.number,
                issued=reader.day(certificate.issued),
                due=reader.day(certificate.due),
            )
            if certificate
            else say("▼ none in force when the run was opened")
            if run.instrument
            else NOTHING,
        ),
        (
            say("electrode"),
            say(
                "{electrode}, {kind}, {width} wide",
                electrode=run.electrode,
                kind=run.electrode.kind,
                width=reader.length(run.electrode.width),
            )
            if run.electrode
            else say("none"),
        ),
        (
            say("thickness basis"),
            f"{run.get_thickness_basis_display() or NOTHING}: {reader.film_as_given(run.thickness, run.thickness_said) or NOTHING}",
        ),
        (say("readings it rests on"), _readings(run, papers, reader)),
        (say("voltage asked"), reader.volts(run.asked_volts)),
        (say("voltage set"), _setting(run, reader)),
        (say("allowed band"), band),
        (say("sponge wetted with"), run.get_medium_display()),
        (say("sponge alarms at"), _sensitivity(run, reader)),
        (say("surface"), run.get_surface_state_display()),
        (say("air and steel"), air or say("none recorded")),
        (say("permit"), permit),
        (
            say("cautions read by"),
            f"{run.cautions_by.name}, {reader.moment(run.cautions_at)}" if run.cautions_by else say("▼ nobody"),
        ),
        (say("swept by"), run.sweeper),
        (say("recorded by"), f"{run.recorder.name}, {run.recorder.organisation.name}"),
        (say("witness"), run.witness.name if run.witness else say("none")),
        (
            say("check of the output"),
            say(
                "every {minutes:g} min, ± {tolerance}",
                minutes=run.check_interval_min,
                tolerance=reader.volts(run.check_tolerance_volts),
            )
            if run.check_interval_min is not None and run.check_tolerance_volts is not None
            else NOTHING,
        ),
    ]


def _sensitivity(run: Run, reader: Reader) -> str:
    asked = run.sensitivity
    if asked is None:
        return ""
    return f"{show(asked.ohm, 'ohms', reader.units)} ± {show(asked.tolerance, 'ohms', reader.units)}"


def _readings(run: Run, papers: Papers, reader: Reader) -> str:
    """The thickness spots the voltage rests on with their gauges, what is in question about them, and what was decided."""
    if not run.basis_spots:
        return NOTHING
    spots = say_many("{count} thickness spot", "{count} thickness spots", len(run.basis_spots))
    said = [say("{spots}, gauges: {gauges}", spots=spots, gauges=", ".join(run.basis_gauges) or NOTHING)]
    return " ".join([*said, *basis_lines(run, papers, reader)])


def _setting(run: Run, reader: Reader) -> str:
    if run.set_volts is None or run.band_low is None or run.band_high is None:
        return reader.volts(run.set_volts)
    inside = run.band_low <= run.set_volts <= run.band_high
    return say(
        "{volts}, ✓ inside the band" if inside else "{volts}, ▼ outside the band", volts=reader.volts(run.set_volts)
    )


def _air(row: Atmosphere, reader: Reader) -> str:
    return f"{reader.moment(row.at)}: {air_words(air_of(row), reader.units)} {_judged(air_of(row), reader)}"


def _judged(air: Air, reader: Reader) -> str:
    against = reasons_of(air, reader.units)
    return f"▼ {against}" if against else f"{say('✓ within the limits')}."


def _course(run: Run, reader: Reader) -> Iterator[_Line]:
    for proof in run.return_proofs.all():
        island = f" ({proof.island})" if proof.island else ""
        yield _line(
            proof, say("return proven{island}: {place}", island=island, place=proof.said), say("✓ proven"), reader
        )
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
        measured, expected, tolerance = (
            show(figure, check.kind, reader.units) for figure in (check.measured, check.expected, check.tolerance)
        )
        what = say(
            "sensitivity, {phase}: known resistor {measured}, {expected} ± {tolerance} asked"
            if check.unit == Verification.Unit.OHM
            else "check, {phase}: {measured} measured, {expected} ± {tolerance} asked",
            phase=check.get_phase_display(),
            measured=measured,
            expected=expected,
            tolerance=tolerance,
        )
        note = f"; {check.note}" if check.note else ""
        yield _line(
            check, what, f"{say(_OUTCOMES[Verification.Outcome(check.outcome)])}, {_alarm(check)}{note}", reader
        )
    for event in run.events.all():
        yield _line(event, say("event: {event}", event=event.get_kind_display()), say("a check is due"), reader)


def _alarm(check: Verification) -> str:
    if check.unit == Verification.Unit.OHM:
        return say("alarm") if check.alarm_seen else say("no alarm")
    return say("alarm on a bare spot") if check.alarm_seen else say("no alarm on a bare spot")


def _line(row: ReturnProof | TouchTest | Verification | CheckEvent, what: str, result: str, reader: Reader) -> _Line:
    why = say("; struck out by {person}: {why}", person=row.struck_by.name, why=row.struck_why) if row.struck_by else ""
    return _Line(
        row.sheet_seq, (str(row.sheet_seq), reader.moment(row.at), what, result, row.by.name + why), row.is_struck
    )


def _rulings(run: Run, papers: Papers, reader: Reader) -> Iterator[str]:
    for row in papers.rulings:
        if row.run_id == run.pk:
            yield ruling(row, papers, reader)


def ruling(row: Reinstatement, papers: Papers, reader: Reader) -> str:
    """A decision on ground as a sentence."""
    ground = say_many(
        "{some} of {count} swath",
        "{some} of {count} swaths",
        papers.swath_counts.get(row.run_id, 0),
        some=len(row.swaths),
    )
    file = (
        say(" File: {name}, sha256 {digest}.", name=row.evidence.name, digest=row.evidence.sha256)
        if row.evidence
        else ""
    )
    return say(
        "{person}, {moment}: {decision}, {ground}, by {grounds}. {why}{file}",
        person=row.by.name,
        moment=reader.moment(row.at),
        decision=row.get_decision_display(),
        ground=ground,
        grounds=row.get_grounds_display(),
        why=f"{capital(row.why)}{'' if row.why.endswith('.') else '.'}",
        file=file,
    )


def sheets_of(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Field sheets, air and steel: what runs share."""
    rows = [
        [
            str(sheet),
            f"{sheet.person.name}, {sheet.organisation.name}",
            reader.moment(sheet.taken_at),
            say("given up: {why}", why=sheet.given_up_why)
            if sheet.given_up_why
            else say("handed in {moment}", moment=reader.moment(sheet.handed_in_at))
            if sheet.handed_in_at
            else say("▼ still out"),
            sheet.source.name if sheet.source else NOTHING,
        ]
        for sheet in papers.sheets
    ]
    story: list[Flowable] = [section(say("Field sheets, air"))]
    heads = [say("sheet"), say("taken by"), say("taken"), say("now"), say("read from file")]
    story += table(heads, rows, [50, 160, 90, 120, 91], paper.measure)
    return [*story, *_airs(papers, reader, paper)]


def _airs(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Every record of air and steel with its margin, the margin over time as a chart, and where it was going."""
    if not papers.atmospheres:
        return [says(say("Neither air nor steel temperature is recorded."))]
    airs = [air_of(row) for row in papers.atmospheres]
    rows = [
        [
            reader.moment(air.row.at),
            reader.celsius(air.row.air),
            f"{air.humidity:.0f} %" if air.humidity is not None else NOTHING,
            steel_words(air.row, reader.units),
            reader.celsius(air.verdict.dew_point.celsius) if air.verdict else NOTHING,
            apart(air.margin, reader.units) if air.margin is not None else NOTHING,
            " ".join([_judged(air, reader), *notes_of(air, reader.units)]),
            air.row.by.name,
        ]
        for air in airs
    ]
    heads = [
        say("air and steel"), say("air"), say("humidity"), say("steel"), say("dew point"), say("margin"), say("work"), say("by"),
    ]  # fmt: skip
    return [
        *table(heads, rows, [62, 36, 50, 80, 42, 42, 137, 62], paper.measure),
        *([Charts([margin_chart_of(airs, reader.units, reader.clock)], paper.measure / 2)] if len(airs) > 1 else []),
        *([says(trend_words(trend, reader.units))] if (trend := trend_of(airs)) else []),
        says(
            say("Limits and dew point: {source}. Trend: {trend}.", source=say(AIR_SOURCE), trend=say(TREND_SOURCE)),
            NOTE,
        ),
    ]
