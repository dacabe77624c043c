"""Ground that was not tested or is left out: gaps, lost, held and pending places, exclusions, and later work."""

from __future__ import annotations

from reportlab.platypus import Flowable

from repairs.dossier.layout import LEAD, Paper, says, section, table
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, count
from repairs.ground import GroundPicture
from repairs.picture import ZonePicture


def untested(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """The untested places as left, and as found where that differs."""
    story: list[Flowable] = [section("Ground not tested")]
    story += _places(picture.ground, reader, paper)
    if picture.left is None:
        return story
    if _listed(picture.left) == _listed(picture.found):
        return [*story, says("As found: the same.")]
    return story + _places(picture.found, reader, paper)


def _listed(ground: GroundPicture) -> list[tuple[str, str, int]]:
    """The places as a reader tells them apart, sizes to the cm²."""
    return [(row.kind, row.said, round(row.area_m2 * 1e4)) for row in ground.parts]


def _places(ground: GroundPicture, reader: Reader, paper: Paper) -> list[Flowable]:
    if ground.full is None:
        return [says(f"{ground.seen.capitalize()}: nothing to test.")]
    if not ground.parts and not ground.small:
        return [says(f"{ground.seen.capitalize()}: no place is left untested.")]
    small = "; ".join(
        f"{count(row.count, 'place', 'places')} {row.kind} below 1 cm², together {row.area_m2 * 1e4:.2f} cm²"
        for row in ground.small
    )
    sentence = (
        f"{ground.seen.capitalize()}: {reader.area(ground.untested_m2)} in {count(len(ground.parts), 'place', 'places')} of "
        f"1 cm² or more, largest first in each kind.{f' And {small}.' if small else ''}"
    )
    rows = [[row.kind, row.said, reader.area(row.area_m2)] for row in ground.parts]
    return [says(sentence, LEAD), *table(["kind", "place", "size"], rows, [60, 360, 91], paper.measure)]


def left_out(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Exclusions with the owner's word on each."""
    story: list[Flowable] = [section("Exclusions")]
    if not papers.exclusions:
        return [*story, says("No exclusion was proposed.")]
    taken = {each.id: each.area_m2 for each in picture.excluded}
    rows = []
    for row in papers.exclusions:
        word = row.decision()
        said = (
            f"{'accepted' if word.accepted else 'refused'} by {word.by.name}, {reader.moment(word.at)}"
            + (f": {word.why}" if word.why else "")
            if word
            else "waits for the owner"
        )
        rows.append(
            [
                row.said,
                row.reason,
                reader.area(taken.get(row.pk, row.shape.area)),
                f"{row.drawn_by.name}, {row.organisation.name}, {reader.moment(row.drawn_at)}",
                said,
            ]
        )
    return [
        *story,
        says(
            "Only what the owner accepted is left out of the testable area; overlaps count once, under the first accepted."
        ),
        *table(["place", "reason", "size", "proposed by", "decision"], rows, [120, 100, 50, 110, 131], paper.measure),
    ]


def later_work(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Welding, grinding and the like after the sweep."""
    story: list[Flowable] = [section("Later work on the ground")]
    if not papers.disturbances:
        return [*story, says("No welding, grinding, strike or other later work was reported.")]
    rows = [
        [row.get_kind_display(), row.said, reader.moment(row.at), row.by.name or NOTHING] for row in papers.disturbances
    ]
    return [
        *story,
        says("What was tested there before counts no more as left, with the specification's margin around it.", LEAD),
        *table(["kind", "place", "when", "reported by"], rows, [90, 221, 90, 110], paper.measure),
    ]
