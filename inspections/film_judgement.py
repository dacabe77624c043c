"""The film of one coat stage judged by the standard its specification names: SSPC-PA 2, ISO 19840 or the 90/10 rule.

Counts the spots that count, groups them as the standard asks, and says verdict, arithmetic and what is missing as data.
Lengths in m, areas in m2, thickness in um. No Django.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from math import ceil

from accounts.wording import noted
from inspections.arithmetic import COUNT, Figure, Line, Name
from inspections.film_acceptance import (
    READINGS_OF,
    FilmVerdict,
    judge_iso19840,
    judge_ninety_ten,
)
from inspections.gauge_standing import Doubt
from inspections.term_parts import Stage
from inspections.terms import Terms
from inspections.thickness import SPOTS_PER_AREA, AreaResult, Level, Shift, Spot, Verdict, judge_shifts, spot_range
from inspections.thickness_plans import System, iso19840_plan, ninety_ten_plan, pa2_plan

PA2, ISO, NINETY_TEN = "SSPC-PA 2", "ISO 19840", "90/10"
SOURCES = {
    PA2: noted("SSPC-PA 2: counts from public summaries, restriction levels from memory"),
    ISO: noted("ISO 19840, from memory"),
    NINETY_TEN: noted("90/10 rule, IMO MSC.215(82)"),
}
SQUARE_FOOT = Fraction("0.3048") ** 2
_LEAST_ISO, _LEAST_NINETY = Fraction(8, 10), Fraction(9, 10)


@dataclass(frozen=True)
class Measured:
    """A spot as far as judging goes.

    readings_um : as the gauge showed them; correction_um is subtracted from each. bounds : taken to find how far a failed
    area reaches, so it belongs to no area measurement. doubts : that nobody has decided on. left_out : why it does not
    count for good; None while it may.
    """

    id: str
    said: str
    x: float
    y: float
    readings_um: tuple[float, ...]
    correction_um: float
    area: str
    shift: str
    at: datetime
    bounds: bool = False
    doubts: tuple[Doubt, ...] = ()
    left_out: Line | None = None

    @property
    def counts(self) -> bool:
        return not self.doubts and self.left_out is None

    @property
    def spot(self) -> Spot:
        return Spot(self.said, self.readings_um, self.area, self.correction_um, self.id)

    @property
    def mean_um(self) -> Fraction:
        return self.spot.mean_um

    @property
    def corrected_um(self) -> tuple[float, ...]:
        less = Fraction(str(float(self.correction_um)))
        return tuple(float(Fraction(str(float(um))) - less) for um in self.readings_um)


@dataclass(frozen=True)
class FilmJudgement:
    """What a standard says of the film at one coat stage.

    asked : the arithmetic of how much is asked for. areas : area measurements (SSPC-PA 2), parts of the surface (ISO
    19840 above 1000 m2) or the whole. missing : what keeps it from being judged. notes : what does not count, and why.
    low_um, high_um : between which a spot or reading speaks for itself; None: no such end. doubtful : spots in doubt.
    """

    stage: str
    standard: str
    level: int | None
    verdict: Verdict
    asked: tuple[Line, ...]
    areas: tuple[AreaResult, ...]
    missing: tuple[Line, ...]
    notes: tuple[Line, ...]
    asked_areas: int
    asked_readings: int
    taken_areas: int
    taken_readings: int
    low_um: float | None
    high_um: float | None
    doubtful: int
    source: str

    @property
    def against(self) -> tuple[tuple[str, Line], ...]:
        """Each line that speaks against acceptance, behind the name of its area ("" for the whole)."""
        return tuple((area.area, line) for area in self.areas for line in area.against)


def judge_film(
    terms: Terms, stage: Stage, measured: Sequence[Measured], testable_m2: float, ends_x: tuple[float, float]
) -> FilmJudgement | None:
    """Judge the film of a coat stage by the specification's standard.

    Parameters
    ----------
    terms, stage : the specification and one of its stages. measured : the stage's spots that are not struck out, in the
        order they were taken. testable_m2 : surface that is judged, m2. ends_x : where the zone begins and ends along x,
        m; ISO 19840 divides a surface above 1000 m2 into equal parts along it.

    Returns
    -------
    None where the specification names no standard, or nothing is testable. Without the thickness the standard needs
    (a minimum for SSPC-PA 2, else a nominal above 0) the film is not judged, which is said.

    Notes
    -----
    Spots in doubt, left out or taken to bound a failed area do not count. Spots that name no area make area measurements
    of five in the order they were taken; what is left over joins the last. Where no spot names its shift, the film is
    judged as of one, by the measurements that all shifts ask for; where more shifts are named than the specification's
    area a shift gives, the surface is divided equally between them. SSPC-PA 2 (public summaries, levels from memory),
    ISO 19840 (from memory), IMO MSC.215(82).
    """
    if not terms.thickness_rule or testable_m2 <= 0:
        return None
    needed = stage.dft_minimum if terms.thickness_rule == PA2 else stage.dft_nominal
    counted = [spot for spot in measured if spot.counts and not spot.bounds]
    judge = {PA2: _pa2, ISO: _iso, NINETY_TEN: _ninety_ten}[terms.thickness_rule]
    found = judge(terms, stage, counted, testable_m2, ends_x) if needed > 0 else _without_figure(terms, stage)
    notes = _notes(measured)
    doubtful = sum(bool(spot.doubts) and spot.left_out is None for spot in measured)
    return replace(found, notes=(*found.notes, *notes), doubtful=doubtful)


def limits(terms: Terms, stage: Stage) -> tuple[float | None, float | None]:
    """Return the lowest and highest a spot mean (SSPC-PA 2) or a single reading may be by itself, um; None: no such end.

    Without a standard: the stage's own minimum and maximum.
    """
    if terms.thickness_rule == PA2 and terms.thickness_level and stage.dft_minimum > 0:
        level: Level = terms.thickness_level  # type: ignore[assignment]
        low, high = spot_range(stage.dft_minimum, stage.dft_maximum, level)
        return float(low), None if high is None else float(high)
    nominal = Fraction(str(float(stage.dft_nominal)))
    if terms.thickness_rule == ISO and nominal > 0:
        return float(nominal * _LEAST_ISO), stage.dft_maximum
    if terms.thickness_rule == NINETY_TEN and nominal > 0:
        return float(nominal * _LEAST_NINETY), None
    return (stage.dft_minimum or None), stage.dft_maximum


def _blank(terms: Terms, stage: Stage) -> FilmJudgement:
    low, high = limits(terms, stage)
    return FilmJudgement(
        stage=stage.name, standard=terms.thickness_rule, level=terms.thickness_level, verdict="not judged", asked=(),
        areas=(), missing=(), notes=(), asked_areas=0, asked_readings=0, taken_areas=0, taken_readings=0, low_um=low,
        high_um=high, doubtful=0, source=SOURCES[terms.thickness_rule],
    )  # fmt: skip


def _without_figure(terms: Terms, stage: Stage) -> FilmJudgement:
    words = (
        noted("the specification states no minimum thickness for {stage}")
        if terms.thickness_rule == PA2
        else noted("the specification states no nominal thickness for {stage}")
    )
    return replace(_blank(terms, stage), missing=(Line(words, (), (Name("stage", stage.name),)),))


# SSPC-PA 2


def _pa2(
    terms: Terms, stage: Stage, counted: Sequence[Measured], testable_m2: float, _ends: tuple[float, float]
) -> FilmJudgement:
    by_shift: dict[str, list[Measured]] = {}
    for spot in counted:
        by_shift.setdefault(spot.shift, []).append(spot)
    names = list(by_shift)
    by_name = any(names)
    system: System = terms.thickness_system  # type: ignore[assignment]
    sizes = _shift_sizes(terms, testable_m2, len(names) if by_name else 1)
    plan = pa2_plan(sizes, system)
    places = Counter(place.within for place in plan.places)
    unit = "m2" if system == "metric" else "ft2"
    asked = [
        Line(
            noted("{area} coated in one shift asks for {count} area measurement of five spots"),
            (Figure("area", size, unit), Figure(COUNT, places[number])),
            many=noted("{area} coated in one shift asks for {count} area measurements of five spots"),
        )
        for number, size in enumerate(sizes, 1)
    ]
    if by_name:
        names += [_free(str(number), names) for number in range(len(names) + 1, len(sizes) + 1)]
        shifts = [Shift(name, places[number], _grouped(by_shift.get(name, ()))) for number, name in enumerate(names, 1)]
    else:
        shifts = [Shift("", len(plan.places), _grouped(counted))]
    level: Level = terms.thickness_level or 3  # type: ignore[assignment]
    whole, _ = judge_shifts(shifts, stage.dft_minimum, stage.dft_maximum, level)
    return replace(
        _blank(terms, stage),
        verdict=whole.verdict,
        asked=tuple(asked),
        areas=whole.areas,
        missing=whole.missing,
        asked_areas=len(plan.places),
        asked_readings=plan.readings,
        taken_areas=sum(area.verdict != "not judged" for area in whole.areas),
        taken_readings=sum(len(spot.readings_um) for spot in counted),
    )


def _shift_sizes(terms: Terms, testable_m2: float, named: int) -> list[float]:
    """The surface of each shift in the standard's own unit: by the area a shift, or equal parts where more are named."""
    whole = Fraction(str(testable_m2))
    per_shift = Fraction(str(terms.shift_area)) if terms.shift_area else whole
    count = max(ceil(whole / per_shift), named, 1)
    if count > ceil(whole / per_shift):
        sizes = [whole / count] * count
    else:
        sizes = [per_shift] * (count - 1) + [whole - per_shift * (count - 1)]
    factor = Fraction(1) if terms.thickness_system == "metric" else SQUARE_FOOT
    return [float(round(size / factor, 9)) for size in sizes]


def _free(name: str, taken: Sequence[str]) -> str:
    while name in taken:
        name += "′"
    return name


def _grouped(spots: Sequence[Measured]) -> tuple[Spot, ...]:
    """Spots with the area measurement each belongs to; those without a name five to one in the order they were taken."""
    taken = {spot.area for spot in spots if spot.area}
    unnamed = [spot for spot in spots if not spot.area]
    count = max(1, len(unnamed) // SPOTS_PER_AREA)
    free: list[str] = []
    number = 0
    while len(free) < count:
        number += 1
        if str(number) not in taken:
            free.append(str(number))
    group = {spot.id: free[min(place // SPOTS_PER_AREA, count - 1)] for place, spot in enumerate(unnamed)}
    return tuple(replace(spot.spot, area=group.get(spot.id, spot.area)) for spot in spots)


# Single readings


def _iso(
    terms: Terms, stage: Stage, counted: Sequence[Measured], testable_m2: float, ends_x: tuple[float, float]
) -> FilmJudgement:
    plan = iso19840_plan(testable_m2)
    parts = len(plan.places)
    each = plan.places[0].readings
    low, high = ends_x
    grouped: list[list[Measured]] = [[] for _ in range(parts)]
    for spot in counted:
        share = (spot.x - low) / (high - low) if high > low else 0.0
        grouped[min(max(int(share * parts), 0), parts - 1)].append(spot)

    def judge(readings: Sequence[float], corrections: Sequence[float]) -> FilmVerdict:
        return judge_iso19840(
            readings, stage.dft_nominal, maximum_um=stage.dft_maximum, corrections_um=corrections, asked=each
        )

    areas, missing = [], []
    for number, spots in enumerate(grouped, 1):
        area, lacking = _single(str(number) if parts > 1 else "", spots, each, judge, stage)
        areas.append(area)
        missing += lacking
    words = (
        Line(
            noted("{area}, in {parts} equal parts of at most 1000 m², asks for {each} readings in each"),
            (Figure("area", testable_m2, "m2"), Figure("parts", parts), Figure("each", each)),
        )
        if parts > 1
        else Line(noted("{area} asks for {each} readings"), (Figure("area", testable_m2, "m2"), Figure("each", each)))
    )
    return _of_parts(terms, stage, words, areas, missing, plan.readings, counted)


def _ninety_ten(
    terms: Terms, stage: Stage, counted: Sequence[Measured], testable_m2: float, _ends: tuple[float, float]
) -> FilmJudgement:
    asked = ninety_ten_plan(testable_m2).readings

    def judge(readings: Sequence[float], corrections: Sequence[float]) -> FilmVerdict:
        return judge_ninety_ten(readings, stage.dft_nominal, corrections_um=corrections, asked=asked)

    area, missing = _single("", counted, asked, judge, stage)
    words = Line(
        noted("{area} of flat surface asks for {each} readings, one for every 5 m²"),
        (Figure("area", testable_m2, "m2"), Figure("each", asked)),
    )
    return _of_parts(terms, stage, words, [area], missing, asked, counted)


def _single(
    name: str,
    spots: Sequence[Measured],
    asked: int,
    judge: Callable[[Sequence[float], Sequence[float]], FilmVerdict],
    stage: Stage,
) -> tuple[AreaResult, list[Line]]:
    """A part judged by its single readings, and what it lacks."""
    readings = [um for spot in spots for um in spot.readings_um]
    lacking = (
        [Line(READINGS_OF, (Figure("taken", len(readings)), Figure("asked", asked)))] if len(readings) < asked else []
    )
    if name:
        words = noted("part {area}: {taken} of {asked} readings taken")
        lacking = [replace(line, words=words, names=(Name("area", name),)) for line in lacking]
    if not readings:
        return AreaResult(name, "not judged", None, tuple(lacking)), lacking
    found = judge(readings, [spot.correction_um for spot in spots for _ in spot.readings_um])
    of_spot = [spot.id for spot in spots for _ in spot.readings_um]
    outside = tuple(dict.fromkeys(of_spot[at] for at in sorted({*found.low, *found.high})))
    against = found.against if found.verdict == "not accepted" else ()
    total = sum((um for spot in spots for um in map(Fraction, map(str, spot.corrected_um))), Fraction())
    mean = float(total / len(readings))
    spots_used = tuple(spot.id for spot in spots)
    return AreaResult(name, found.verdict, mean, found.arithmetic, against, outside, spots_used), lacking


def _of_parts(
    terms: Terms,
    stage: Stage,
    asked: Line,
    areas: Sequence[AreaResult],
    missing: Sequence[Line],
    readings: int,
    counted: Sequence[Measured],
) -> FilmJudgement:
    verdicts = {area.verdict for area in areas}
    verdict: Verdict = (
        "not accepted" if "not accepted" in verdicts else "not judged" if "not judged" in verdicts else "accepted"
    )
    return replace(
        _blank(terms, stage),
        verdict=verdict,
        asked=(asked,),
        areas=tuple(areas),
        missing=tuple(missing),
        asked_areas=len(areas),
        asked_readings=readings,
        taken_areas=sum(area.verdict != "not judged" for area in areas),
        taken_readings=sum(len(spot.readings_um) for spot in counted),
    )


def _notes(measured: Sequence[Measured]) -> tuple[Line, ...]:
    """What of the spots does not count."""
    out = sum(spot.left_out is not None for spot in measured)
    doubtful = sum(bool(spot.doubts) and spot.left_out is None for spot in measured)
    bounding = sum(spot.bounds and spot.counts for spot in measured)
    told = (
        (
            doubtful,
            noted("{count} spot is in doubt and does not count until somebody decides"),
            noted("{count} spots are in doubt and do not count until somebody decides"),
        ),
        (out, noted("{count} spot does not count"), noted("{count} spots do not count")),
        (
            bounding,
            noted("{count} spot was taken to bound a failed area and belongs to no measurement"),
            noted("{count} spots were taken to bound a failed area and belong to no measurement"),
        ),
    )
    return tuple(Line(one, (Figure(COUNT, count),), many=many) for count, one, many in told if count)
