"""The dossier: a zone as it stands, on paper, with everything that proves it and the head of the record on every page."""

from __future__ import annotations

import io
from datetime import datetime

from reportlab.platypus import Flowable

from accounts.record import Head
from accounts.wording import say
from inspections.coatings import Coating
from repairs.dossier import closing, features, film, findings, people, places, questions, runs, specification, summary
from repairs.dossier.book import Standing, write
from repairs.dossier.layout import Paper, paper_of
from repairs.dossier.papers import Papers, head_of, papers_of
from repairs.dossier.reader import Reader
from repairs.dossier.sheetmap import film_map_of, map_of
from repairs.picture import ZonePicture, zone_picture

__all__ = ["Reader", "StillMoving", "dossier_of", "zone_dossier"]


TRIES = 20


class StillMoving(Exception):
    """Entries kept arriving while the record was read."""


def dossier_of(coating: Coating, reader: Reader, printed_at: datetime) -> bytes:
    """The dossier of a coating as it stands.

    What is read while somebody records is read again, so that all of it rests on the head that is printed. Raises
    StillMoving when that never comes to rest.
    """
    for _ in range(TRIES):
        head = head_of(coating)
        picture = zone_picture(coating, at=printed_at, spoken=reader.spoken)
        papers = papers_of(coating)
        if papers.head == head == head_of(coating):
            return zone_dossier(picture, papers, reader, printed_at)
    raise StillMoving(
        say("The record of {asset} grew while it was read, {times} times over.", asset=coating.zone.asset, times=TRIES)
    )


def zone_dossier(picture: ZonePicture, papers: Papers, reader: Reader, printed_at: datetime) -> bytes:
    """The PDF of a zone. The same picture, papers, reader and moment give the same bytes."""
    paper = paper_of(reader.units)
    story = [
        *summary.front(picture, papers, reader, paper, printed_at),
        *findings_of(picture, papers, reader, paper),
        *specification.specification_of(picture, reader, paper),
        *proofs_of(picture, papers, reader, paper),
        *closing.cautions_of({picture.terms.method, *(run.method for run in papers.runs)}),
        *closing.computed(picture, reader, paper),
        *closing.about(papers.head),
    ]
    file = io.BytesIO()
    write(story, paper, standing_of(picture, papers.head), file)
    return file.getvalue()


def standing_of(picture: ZonePicture, head: Head) -> Standing:
    """What stands on every page about a zone."""
    zone, asset = picture.zone, picture.zone.asset
    return Standing(
        title=say("Dossier of {zone}, {asset}", zone=zone.name, asset=asset.name),
        above=(f"{asset.name} · {zone.name}", f"{picture.coating} · {picture.specification}"),
        below=say("record at entry {seq}, sha256 {digest}", seq=head.seq, digest=head.digest),
    )


def findings_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """What was found on a zone and put right: map, gates, ground, flaws, patches, thickness."""
    return [
        *map_of(picture, paper),
        *summary.gates_of(picture, reader, paper),
        *summary.release_of(picture, papers, reader),
        *places.untested(picture, reader, paper),
        *places.swept_again(picture, reader, paper),
        *features.features_of(picture, reader, paper),
        *places.left_out(picture, papers, reader, paper),
        *places.later_work(papers, reader, paper),
        *findings.flaws_of(picture, reader, paper),
        *findings.patches_of(picture, papers, reader, paper),
        *film.thickness_of(picture, papers, reader, paper),
        *film_map_of(papers, reader, paper),
    ]


def proofs_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """What proves it: runs, sheets, decisions, and what was struck out."""
    return [
        *runs.runs_of(picture, papers, reader, paper),
        *questions.questions_of(papers, reader, paper),
        *people.people_of(papers, reader, paper),
        *runs.sheets_of(papers, reader, paper),
        *closing.decisions_of(picture, papers, reader, paper),
        *closing.struck_of(papers, reader),
    ]
