"""Ground that was not tested or is left out: gaps, lost, held and pending places, exclusions, and later work."""

from __future__ import annotations

from reportlab.platypus import Flowable

from accounts.wording import say, say_many
from inspections.passes import repeated_words, runs_words, times_words
from repairs.dossier.layout import LEAD, Paper, says, section, table
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, capital
from repairs.ground import GroundPicture
from repairs.picture import ZonePicture


def untested(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """The untested places as left, and as found where that differs."""
    story: list[Flowable] = [section(say("Ground not tested"))]
    story += _places(picture.ground, reader, paper)
    if picture.left is None:
        return story
    if _listed(picture.left) == _listed(picture.found):
        return [*story, says(say("As found: the same."))]
    return story + _places(picture.found, reader, paper)


def _listed(ground: GroundPicture) -> list[tuple[str, str, int]]:
    """The places as a reader tells them apart, sizes to the cm²."""
    return [(row.kind, row.said, round(row.area_m2 * 1e4)) for row in ground.parts]


def _places(ground: GroundPicture, reader: Reader, paper: Paper) -> list[Flowable]:
    if ground.full is None:
        return [says(say("{seen}: nothing to test.", seen=capital(say(ground.seen))))]
    if not ground.parts and not ground.small:
        return [says(say("{seen}: no place is left untested.", seen=capital(say(ground.seen))))]
    small = "; ".join(
        say_many(
            "{count} place {kind} below 1 cm², together {area:.2f} cm²",
            "{count} places {kind} below 1 cm², together {area:.2f} cm²",
            row.count,
            kind=say(row.kind),
            area=row.area_m2 * 1e4,
        )
        for row in ground.small
    )
    sentence = say_many(
        "{seen}: {area} in {count} place of 1 cm² or more, largest first in each kind.{small}",
        "{seen}: {area} in {count} places of 1 cm² or more, largest first in each kind.{small}",
        len(ground.parts),
        seen=capital(say(ground.seen)),
        area=reader.area(ground.untested_m2),
        small=say(" And {places}.", places=small) if small else "",
    )
    rows = [[say(row.kind), row.said, reader.area(row.area_m2)] for row in ground.parts]
    heads = [say("kind"), say("place"), say("size")]
    return [says(sentence, LEAD), *table(heads, rows, [60, 360, 91], paper.measure)]


def swept_again(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Ground swept more than once at high voltage at the stage, with the runs; nothing where there is none."""
    found = picture.repeated
    if not found.places:
        return []
    rows = [
        [times_words(place.times), place.said, reader.area(place.area_m2), runs_words(place.runs)]
        for place in found.places
    ]
    heads = [say("how often"), say("place"), say("size"), say("runs")]
    return [
        section(say("Swept more than once")),
        says(repeated_words(found, reader.units), LEAD),
        *table(heads, rows, [60, 211, 60, 180], paper.measure),
    ]


def left_out(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Exclusions with the owner's word on each."""
    story: list[Flowable] = [section(say("Exclusions"))]
    if not papers.exclusions:
        return [*story, says(say("No exclusion was proposed."))]
    taken = {each.id: each.area_m2 for each in picture.excluded}
    rows = []
    for row in papers.exclusions:
        word = row.decision()
        said = say("waits for the owner")
        if word:
            said = say(
                "accepted by {person}, {moment}" if word.accepted else "refused by {person}, {moment}",
                person=word.by.name,
                moment=reader.moment(word.at),
            )
            said += f": {word.why}" if word.why else ""
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
            say(
                "Only what the owner accepted is left out of the testable area; overlaps count once, under the first accepted."
            )
        ),
        *table(
            [say("place"), say("reason"), say("size"), say("proposed by"), say("decision")],
            rows,
            [120, 100, 50, 110, 131],
            paper.measure,
        ),
    ]


def later_work(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Welding, grinding and the like after the sweep."""
    story: list[Flowable] = [section(say("Later work on the ground"))]
    if not papers.disturbances:
        return [*story, says(say("No welding, grinding, strike or other later work was reported."))]
    rows = [
        [row.get_kind_display(), row.said, reader.moment(row.at), row.by.name or NOTHING] for row in papers.disturbances
    ]
    return [
        *story,
        says(
            say("What was tested there before counts no more as left, with the specification's margin around it."), LEAD
        ),
        *table([say("kind"), say("place"), say("when"), say("reported by")], rows, [90, 221, 90, 110], paper.measure),
    ]
