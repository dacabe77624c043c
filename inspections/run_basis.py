"""The thickness readings a run's voltage rests on, and whether they still hold. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from uuid import UUID

from django.db.models import Q

from accounts.wording import noted, say
from inspections.arithmetic import COUNT, Figure, Line
from inspections.coatings import Coating, Spot
from inspections.gauge_standing import Code, Doubt
from inspections.runs import BasisAnswer, Run
from inspections.spot_doubts import past_of, weighed
from inspections.terms import Terms
from inspections.voltage_formulas import UM_PER, Given, Unit

MEASURED = ("measured mean", "measured minimum", "measured maximum")
_STEPS: Mapping[str, int] = {"um": 1, "mm": 4, "mil": 2}  # decimals that a figure from readings is told with
WHAT_TO_DO = noted("Say what is to be done: set the voltage anew and sweep again, or why it holds.")


@dataclass(frozen=True)
class BasisQuestion:
    """What has come to light about the readings under a run. keys : an answer names them."""

    keys: tuple[str, ...]
    line: Line


def usable_spots(coating: Coating, stage: str) -> list[Spot]:
    """The spots of a stage that stand, in order of time, without those in doubt or decided to be out."""
    spots = list(coating.spots.filter(stage=stage, struck_at=None).select_related("gauge").order_by("at", "pk"))
    speaks_against = weighed(coating, spots)
    return [spot for spot in spots if not speaks_against[spot.pk].doubts and speaks_against[spot.pk].left_out is None]


def spots_under(coating: Coating, stage: str, wanted: Sequence[UUID]) -> list[Spot]:
    """The spots a measured thickness rests on: those wanted, else every usable one of the stage.

    Raises LookupError where one that is wanted cannot be used.
    """
    usable = usable_spots(coating, stage)
    if not wanted:
        return usable
    chosen = [spot for spot in usable if spot.pk in set(wanted)]
    if len(chosen) < len(set(wanted)):
        raise LookupError(say("Only spots of {stage} that count can be chosen.", stage=stage))
    return chosen


def measured_film(terms: Terms, spots: Sequence[Spot], basis: str) -> Given | None:
    """The film as these spots have it, by a basis: mean, lowest or highest of the corrected readings, in the
    specification's unit; None for another basis, without a spot, or where nothing above 0 is left."""
    readings = [um - spot.correction for spot in spots for um in spot.readings_um]
    if basis not in MEASURED or not readings:
        return None
    um = {"measured mean": sum(readings) / len(readings), "measured minimum": min(readings)}.get(basis, max(readings))
    unit: Unit = terms.thickness_unit  # type: ignore[assignment]
    value = round(Fraction(str(um)) / UM_PER[unit], _STEPS[unit])
    return Given(value, unit, basis) if value > 0 else None


def gauges_of(spots: Iterable[Spot]) -> list[str]:
    """Serial numbers of the gauges the spots were measured with, each once, in order."""
    return sorted({spot.gauge.serial for spot in spots if spot.gauge is not None})


def basis_questions(
    runs: Iterable[Run], at: datetime | None = None, without: Collection[UUID] = ()
) -> dict[UUID, tuple[BasisQuestion, ...]]:
    """What is in question and not answered, by run, now or as it was at a moment; runs without a question are left out.

    Spots `without` which it should be taken count as struck out.

    Their sheets, coatings, zones and assets are walked up to. No query where no run rests on readings.
    """
    resting = [run for run in runs if run.basis_spots and run.struck_at is None]
    if not resting:
        return {}
    named = {pk for run in resting for pk in run.basis_spots}
    spots = {str(spot.pk): spot for spot in Spot.objects.filter(pk__in=named).select_related("gauge")}
    coatings = {run.sheet.coating_id for run in resting}
    past = past_of([spot.gauge_id for spot in spots.values() if spot.gauge_id], coatings, at)
    answered = _answered(resting, at)
    found = {}
    for run in resting:
        zone = run.sheet.coating.zone.asset.zone_info
        by_doubt: dict[str, tuple[Doubt, int]] = {}
        struck, out = [], []
        for pk in run.basis_spots:
            spot = spots[pk]
            if spot.pk in without or (spot.struck_at is not None and (at is None or spot.struck_at <= at)):
                struck.append(f"struck {pk}")
                continue
            against = past.weigh(spot, zone)
            if against.left_out is not None:
                out.append(f"out {pk}")
            for doubt in against.doubts:
                by_doubt[doubt.key] = (doubt, by_doubt.get(doubt.key, (doubt, 0))[1] + 1)
        asked = [BasisQuestion((key,), _of_gauge(doubt, count)) for key, (doubt, count) in by_doubt.items()]
        asked += [_of_spots(keys, words) for keys, words in ((struck, _STRUCK), (out, _OUT)) if keys]
        if still := tuple(question for question in asked if not set(question.keys) <= answered[run.pk]):
            found[run.pk] = still
    return found


def _answered(runs: Sequence[Run], at: datetime | None) -> dict[UUID, set[str]]:
    stands = Q(struck_at=None) if at is None else (Q(struck_at=None) | Q(struck_at__gt=at)) & Q(at__lte=at)
    found: dict[UUID, set[str]] = defaultdict(set)
    for answer in BasisAnswer.objects.filter(stands, run__in=runs):
        found[answer.run_id].update(answer.questions)
    return found


_STRUCK = (
    noted("rests on {count} thickness spot that was struck out since"),
    noted("rests on {count} thickness spots that were struck out since"),
)
_OUT = (
    noted("rests on {count} thickness spot that was decided not to count"),
    noted("rests on {count} thickness spots that were decided not to count"),
)
_OF_GAUGE: Mapping[Code, tuple[str, str]] = {
    "no certificate": (
        noted("rests on {count} spot of {gauge}, which had no certificate in force on {day}"),
        noted("rests on {count} spots of {gauge}, which had no certificate in force on {day}"),
    ),
    "check failed later": (
        noted("rests on {count} spot of {gauge}, which failed its check on {day}: {measured} on {shim}, ± {tolerance}"),
        noted(
            "rests on {count} spots of {gauge}, which failed its check on {day}: {measured} on {shim}, ± {tolerance}"
        ),
    ),
    "check failed before": (
        noted(
            "rests on {count} spot of {gauge}, which had failed its check of {day}: {measured} on {shim}, ± {tolerance}"
        ),
        noted(
            "rests on {count} spots of {gauge}, which had failed its check of {day}: {measured} on {shim}, ± {tolerance}"
        ),
    ),
}


def _of_gauge(doubt: Doubt, count: int) -> Line:
    one, many = _OF_GAUGE[doubt.code]
    return Line(one, (Figure(COUNT, count), *doubt.line.figures), doubt.line.names, many=many)


def _of_spots(keys: Sequence[str], words: tuple[str, str]) -> BasisQuestion:
    return BasisQuestion(tuple(keys), Line(words[0], (Figure(COUNT, len(keys)),), many=words[1]))
