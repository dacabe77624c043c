"""The last pages: decisions and evidence, what was struck out, cautions, how figures were computed, about this print."""

from __future__ import annotations

from collections.abc import Collection

from reportlab.platypus import Flowable

from accounts.record import Head
from accounts.wording import say, say_many
from inspections.cautions import cautions
from inspections.terms import METHODS
from repairs.dossier.layout import LEAD, NOTE, Paper, item, marked, part, says, section, table
from repairs.dossier.lettering import markup
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, capital
from repairs.dossier.runs import ruling
from repairs.pages.figures import figures_of
from repairs.picture import ZonePicture


def decisions_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Concessions, rulings on ground, and the files they rest on."""
    story: list[Flowable] = [section(say("Decisions and evidence"))]
    names = {gate.code: gate.name for gate in picture.gates}
    lines = [
        say(
            "{owner}, {moment}: conceded {what}. {reason}",
            owner=row.owner.name,
            moment=reader.moment(row.at),
            what=row.patch or say("the gate {gate}", gate=names.get(row.gate, row.gate)),
            reason=row.reason,
        )
        for row in papers.concessions
    ]
    labels = {run.pk: run.label for run in papers.runs}
    lines += [f"{say('Run {run}', run=labels[row.run_id])}. {ruling(row, papers, reader)}" for row in papers.rulings]
    if lines:
        story += [item(line) for line in lines]
    else:
        story.append(says(say("Nothing was conceded, and no ground was restored or ruled on.")))
    if papers.files:
        rows = [
            [
                file.name or NOTHING,
                file.media_type,
                say("{size} bytes", size=file.size),
                reader.moment(file.received_at),
                file.sha256 + (say("; taken away: {why}", why=file.redacted_why) if file.redacted_at else ""),
            ]
            for file in papers.files
        ]
        heads = [say("file"), say("type"), say("size"), say("arrived"), "sha256"]
        story += table(heads, rows, [110, 70, 60, 75, 196], paper.measure)
    else:
        story.append(says(say("No file was handed in as evidence of a decision or as the source of a sheet.")))
    return story


def struck_of(papers: Papers, reader: Reader) -> list[Flowable]:
    """One line through, who, when and why."""
    story: list[Flowable] = [section(say("Struck out"))]
    if not papers.struck:
        return [*story, says(say("Nothing was struck out."))]
    story.append(
        says(
            say_many(
                "{count} entry; nothing is ever deleted.",
                "{count} entries; nothing is ever deleted.",
                len(papers.struck),
            )
        )
    )
    return story + [
        marked(
            say(
                "<strike>{what}</strike>. Struck out {moment} by {person}: {why}",
                what=markup(row.what),
                moment=markup(reader.moment(row.at)),
                person=markup(row.by),
                why=markup(row.why),
            )
        )
        for row in papers.struck
    ]


def cautions_of(used: Collection[str]) -> list[Flowable]:
    """The cautions of these methods: what was specified or used."""
    story: list[Flowable] = [section(say("Cautions"))]
    for method, words in METHODS.items():
        if method in used:
            told = cautions(method)  # type: ignore[arg-type]
            story += [part(capital(say(words)), f"cautions {method}"), *[item(say(line)) for line in told.full]]
            story.append(says(say("Source: {source}.", source=say(told.source)), NOTE))
    return story


def computed(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Inputs, formula and source of every figure."""
    rows = [
        [figure.name, figure.inputs or NOTHING, figure.formula or NOTHING, figure.source or NOTHING]
        for figure in figures_of(picture, reader.units)
    ]
    return [
        section(say("How the figures were computed")),
        says(
            say(
                "“From memory” marks a value written down without the standard at hand; whoever holds it can confirm it."
            ),
            LEAD,
        ),
        *table([say("figure"), say("from"), say("by"), say("source")], rows, [70, 135, 176, 130], paper.measure),
    ]


def about(head: Head) -> list[Flowable]:
    """What this print is, and how it can be checked."""
    return [
        section(say("About this print")),
        says(
            say(
                "This print shows the record at entry {seq}, sha256 {digest}. Each entry carries the sha256 of the one "
                "before, so a print kept elsewhere shows later whether the record was changed before this entry: its "
                "entry of this number must still carry this sha256.",
                seq=head.seq,
                digest=head.digest or NOTHING,
            )
        ),
        says(
            say(
                "Places are printed as they were said. Letters that this print's font cannot set, such as ideographs or script "
                "that runs from right to left, are given by their Unicode numbers in square brackets; the record keeps them as "
                "typed."
            )
        ),
    ]
