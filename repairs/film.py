"""The film of a coating for every reader: its spots, what the standard says of them, where to measure next. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

import shapely

from accounts.wording import noted
from inspections.actions.spots import unit_asked
from inspections.arithmetic import Line
from inspections.coatings import Coating, Spot
from inspections.film_judgement import FilmJudgement, Measured, judge_film, limits
from inspections.film_places import AskedPlaces, FailedPlace, failed_places, next_places
from inspections.terms import Stage, Terms
from inspections.thickness import Summary, deviation, summary
from mapping.zones import Zone
from repairs.gathered import Gathered, gather, with_what_is_shown
from repairs.ground import ExcludedGround, later_work, testable_of

Kind = Literal["thin", "within", "thick", "incomplete"]
_COATED_OVER = noted("coated over or worked on since it was measured")


@dataclass(frozen=True)
class FilmSpot:
    """A spot for people. readings as given; corrected_um, mean_um less the correction; kind by what a spot may be by itself.

    why_not : why it does not count, a line for each reason; question : whether another unit was meant, where that is asked.
    """

    id: UUID
    said: str
    x: float
    y: float
    readings: tuple[str, ...]
    corrected_um: tuple[float, ...]
    mean_um: float
    correction_um: float
    correction_said: str
    gauge: str
    area: str
    shift: str
    purpose: str
    by: str
    at: datetime
    kind: Kind
    counts: bool
    why_not: tuple[Line, ...]
    question: Line | None


@dataclass(frozen=True)
class FilmPicture:
    """The film at one coat stage. judgement : None where the specification names no standard, or nothing is testable.

    summary, deviation_um : of the corrected readings of every spot that counts, bounding ones too; None without any. low_um, high_um :
    what a spot may be by itself. next : where to take what is missing. failed : how far failed areas reach.
    """

    coating: Coating
    zone: Zone
    terms: Terms
    stage: Stage
    testable_m2: float
    excluded: tuple[ExcludedGround, ...]
    judgement: FilmJudgement | None
    spots: tuple[FilmSpot, ...]
    summary: Summary | None
    deviation_um: float | None
    low_um: float | None
    high_um: float | None
    next: AskedPlaces
    failed: tuple[FailedPlace, ...]


def film_picture(coating: Coating, stage: str | None = None) -> FilmPicture:
    """The film of a coating at a stage (the finished system unless another is named), in few queries.

    Raises KeyError for a stage the specification does not have.
    """
    found = with_what_is_shown(Coating.objects.filter(pk=coating.pk)).get()
    return film_of(found, gather([found]), stage)


def films_of(coating: Coating) -> tuple[FilmPicture, ...]:
    """The film at every stage, the finished system last."""
    found = with_what_is_shown(Coating.objects.filter(pk=coating.pk)).get()
    rows = gather([found])
    return tuple(film_of(found, rows, stage.name) for stage in found.terms.stages)


def film_of(coating: Coating, rows: Gathered, stage_name: str | None = None) -> FilmPicture:
    """The same from rows that are gathered already."""
    terms, zone = coating.terms, coating.zone
    stage = terms.stage(stage_name) if stage_name else terms.final_stage
    ground = testable_of(zone, rows.exclusions.get(zone.pk, ()))
    testable = ground.shape
    measured = measured_of(coating, rows, stage)
    judgement = _judged(coating, stage, measured, testable.area)
    low, high = limits(terms, stage)
    by_id = {spot.id: spot for spot in measured}
    spots = tuple(_shown(row, by_id[str(row.pk)], terms, low, high) for row in _of_stage(coating, rows, stage))
    counted = [um for spot in spots if spot.counts for um in spot.corrected_um]
    return FilmPicture(
        coating=coating,
        zone=zone,
        terms=terms,
        stage=stage,
        testable_m2=testable.area,
        excluded=ground.excluded,
        judgement=judgement,
        spots=spots,
        summary=summary(max(um, 0.0) for um in counted) if counted else None,
        deviation_um=deviation(counted),
        low_um=low,
        high_um=high,
        next=next_places(zone.surface, testable, judgement, measured) if judgement else AskedPlaces(0, ()),
        failed=failed_places(terms, zone.surface, judgement, measured) if judgement else (),
    )


def judgement_of(coating: Coating, rows: Gathered, stage: Stage, testable_m2: float) -> FilmJudgement | None:
    """What the specification's standard says of the film at a stage; None where it names none or nothing is testable."""
    return _judged(coating, stage, measured_of(coating, rows, stage), testable_m2)


def _judged(coating: Coating, stage: Stage, measured: Sequence[Measured], testable_m2: float) -> FilmJudgement | None:
    low_x, _, high_x, _ = coating.zone.surface.outline.bounds
    return judge_film(coating.terms, stage, measured, testable_m2, (low_x, high_x))


def measured_of(coating: Coating, rows: Gathered, stage: Stage) -> list[Measured]:
    """The stage's spots that are not struck out, in the order they were taken, with what speaks against each.

    A spot of the finished system that was coated over or worked on later says nothing of the film that is there now.
    """
    spots = _of_stage(coating, rows, stage)
    zone = coating.zone.asset.zone_info
    worked = later_work(coating, rows) if spots and stage.name == coating.terms.final_stage.name else []
    found = []
    for row in spots:
        against = rows.gauges.weigh(row, zone)
        gone = any(event.at > row.at and shapely.intersects_xy(event.shape, row.x, row.y) for event in worked)
        found.append(
            Measured(
                id=str(row.pk),
                said=row.said,
                x=row.x,
                y=row.y,
                readings_um=row.readings_um,
                correction_um=row.correction,
                area=row.area,
                shift=row.shift,
                at=row.at,
                bounds=row.purpose == Spot.Purpose.BOUNDING,
                doubts=against.doubts,
                left_out=Line(_COATED_OVER) if gone else against.left_out,
            )
        )
    return found


def _of_stage(coating: Coating, rows: Gathered, stage: Stage) -> list[Spot]:
    return [row for row in rows.spots.get(coating.pk, ()) if row.stage == stage.name]


def _shown(row: Spot, spot: Measured, terms: Terms, low: float | None, high: float | None) -> FilmSpot:
    mean = float(spot.mean_um)
    kind: Kind = "within"
    if not spot.spot.is_complete:
        kind = "incomplete"
    elif low is not None and mean < low:
        kind = "thin"
    elif high is not None and mean > high:
        kind = "thick"
    why_not = [doubt.line for doubt in spot.doubts]
    if spot.left_out is not None:
        why_not.insert(0, spot.left_out)
    return FilmSpot(
        id=row.pk,
        said=row.said,
        x=row.x,
        y=row.y,
        readings=tuple(map(str, row.readings)),
        corrected_um=spot.corrected_um,
        mean_um=mean,
        correction_um=row.correction,
        correction_said=row.correction_said,
        gauge=str(row.gauge) if row.gauge else "",
        area=row.area,
        shift=row.shift,
        purpose=row.purpose,
        by=row.sheet.person.name,
        at=row.at,
        kind=kind,
        counts=spot.counts,
        why_not=tuple(why_not),
        question=unit_asked(row, terms),
    )
