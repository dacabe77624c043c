"""Film thickness: the verdict with its arithmetic, how far failed areas reach, the spots, and the checks of their gauges."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from accounts.wording import say, say_many
from inspections.runs import Run
from repairs.dossier.layout import NOTE, Paper, item, says, section, table
from repairs.dossier.papers import Papers
from repairs.dossier.reader import Reader, capital
from repairs.dossier.specification import standard_words
from repairs.film import FilmSpot
from repairs.picture import ZonePicture


def thickness_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """The verdict with its arithmetic, and the spots it rests on; then what proves their gauges."""
    story: list[Flowable] = [section(say("Film thickness"))]
    verdict = picture.thickness
    if verdict is None:
        story.append(says(say("The specification asks for no judgement of thickness here.")))
    else:
        sign = {"accepted": "✓", "not accepted": "▼", "not judged": "◇"}[verdict.verdict]
        said = say(
            "{verdict} by {standard}.",
            verdict=f"{sign} {capital(say(verdict.verdict))}",
            standard=standard_words(picture.terms),
        )
        story.append(says(said))
        story += [item(line.said(reader.film_line)) for line in (*verdict.asked, *verdict.notes)]
        story += [item(say("Missing: {what}", what=line.said(reader.film_line))) for line in verdict.missing]
        story += [
            item(
                (say("Area {area}: ", area=area.area) if area.area else "")
                + "; ".join([say(area.verdict), *(line.said(reader.film_line) for line in area.arithmetic)])
            )
            for area in verdict.areas
        ]
        story += _reach(papers, reader)
        story.append(says(say("Source: {source}.", source=say(verdict.source)), NOTE))
    spots = [(film.stage.name, spot) for film in papers.films for spot in film.spots]
    if not spots:
        return [*story, says(say("No thickness spot is recorded."))]
    heads = [
        say("place"),
        say("stage; area, shift"),
        say("readings as given"),
        say("mean"),
        say("gauge"),
        say("counts"),
        say("by, when"),
    ]
    rows = [_spot(stage, spot, reader) for stage, spot in spots]
    return [*story, *table(heads, rows, [72, 72, 84, 38, 72, 84, 89], paper.measure), *_proof(papers, reader, paper)]


def _spot(stage: str, spot: FilmSpot, reader: Reader) -> list[str]:
    less = say("; less {correction}", correction=reader.film(spot.correction_um)) if spot.correction_um else ""
    asked = [spot.question] if spot.question is not None else []
    against = [line.said(reader.film_line) for line in (*spot.why_not, *asked)]
    return [
        spot.said,
        "; ".join(filter(None, [stage, ", ".join(filter(None, [spot.area, spot.shift]))])),
        _together(spot.readings) + less,
        reader.film(spot.mean_um),
        spot.gauge or say("none named"),
        "; ".join(["✓" if spot.counts else "▼", *against]),
        f"{spot.by}, {reader.moment(spot.at)}",
    ]


def _together(readings: Sequence[str]) -> str:
    """Readings as given, their unit once at the end where all name the same: no figure is parted from it."""
    units = {reading.rpartition(" ")[2] for reading in readings}
    if len(readings) < 2 or len(units) > 1 or not all(" " in reading for reading in readings):
        return "  ".join(readings)
    (unit,) = units
    return (
        "  ".join(reading.rpartition(" ")[0] for reading in readings[:-1])
        + f"  {readings[-1].rpartition(' ')[0]}\u00a0{unit}"
    )


def _reach(papers: Papers, reader: Reader) -> list[Flowable]:
    """How far each failed area reaches, or where it is still to be measured."""
    lines: list[Flowable] = []
    for failed in papers.films[-1].failed if papers.films else ():
        said = say(
            "Around the spot at {place}, {mean}, the film does not conform:",
            place=failed.said,
            mean=reader.film_line(failed.mean_um),
        )
        lines.append(item(f"{said} {' '.join(reach.sentence for reach in failed.reaches)}"))
    return lines


def _proof(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Checks of the gauges, and decisions on what they left in doubt."""
    story: list[Flowable] = []
    if papers.gauge_checks:
        heads = [say("gauge"), say("shim"), say("measured"), say("tolerance"), say("outcome"), say("by, when")]
        rows = [
            [
                str(check.gauge),
                " ".join(filter(None, [check.shim_said, check.plate])),
                check.measured_said,
                f"± {check.tolerance_said}",
                ("✓ " if check.outcome == "good" else "▼ ") + str(check.get_outcome_display()),
                f"{check.by.name}, {reader.moment(check.at)}",
            ]
            for check in papers.gauge_checks
        ]
        story += table(heads, rows, [130, 90, 70, 60, 60, 101], paper.measure)
    else:
        story.append(says(say("No check of a thickness gauge on a shim is recorded."), NOTE))
    for ruling in papers.spot_rulings:
        spots = say_many("{count} thickness spot", "{count} thickness spots", len(ruling.spots))
        said = say(
            "{person}, {moment}: {spots}: {decision}. {why}. On this evidence: {grounds}.",
            person=ruling.by.name,
            moment=reader.moment(ruling.at),
            spots=spots,
            decision=ruling.get_decision_display(),
            why=ruling.why.rstrip("."),
            grounds=ruling.grounds.rstrip("."),
        )
        file = f" {ruling.evidence.name}, sha256 {ruling.evidence.sha256}." if ruling.evidence else ""
        story.append(item(said + file))
    return story


def basis_lines(run: Run, papers: Papers, reader: Reader) -> list[str]:
    """What is in question about the readings under a run, and what was decided."""
    lines = [f"▼ {capital(question.line.said(reader.film_line))}." for question in papers.basis.get(run.pk, ())]
    lines += [
        say(
            "On its thickness readings, {person}, {moment}: {why}",
            person=answer.by.name,
            moment=reader.moment(answer.at),
            why=answer.why,
        )
        for answer in papers.basis_answers
        if answer.run_id == run.pk
    ]
    return lines
