"""Film thickness: spot means, a summary of readings, and acceptance by area measurements.

Thickness is in micrometres. Arithmetic is exact, so a mean on the border of a limit passes.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, isfinite
from typing import Literal, NamedTuple

import numpy as np

from accounts.wording import noted
from inspections.arithmetic import Figure, Line, Name

READINGS_PER_SPOT = 3
SPOTS_PER_AREA = 5
SOURCE = "SSPC-PA 2, numbers and restriction levels from memory"

Level = Literal[1, 2, 3, 4, 5]
Verdict = Literal["accepted", "not accepted", "not judged"]

# Shares of the specified minimum and maximum that a spot mean may reach, by restriction level;
# None: no maximum, neither for a spot nor for the area mean.
_SHARES: dict[int, tuple[Fraction, Fraction | None]] = {
    1: (Fraction(1), Fraction(1)),
    2: (Fraction(1), Fraction(12, 10)),
    3: (Fraction(8, 10), Fraction(12, 10)),
    4: (Fraction(8, 10), Fraction(15, 10)),
    5: (Fraction(8, 10), None),
}


@dataclass(frozen=True)
class Spot:
    """Gauge readings in one 40 mm circle; `area` names the area measurement it belongs to.

    correction_um : what the surface profile adds to each reading, subtracted from it. id is how it is named in sentences;
    key, where it differs, how it is found again.
    """

    id: Hashable
    readings_um: tuple[float, ...]
    area: str = ""
    correction_um: float = 0.0
    key: str = ""

    @property
    def is_complete(self) -> bool:
        return len(self.readings_um) >= READINGS_PER_SPOT

    @property
    def mean_um(self) -> Fraction:
        """Exact mean of the readings less the correction. Raises ValueError for a reading that cannot be."""
        return _exact_mean(self.readings_um) - _exact(float(self.correction_um))


class SpotMean(NamedTuple):
    """Mean of a spot's readings; incomplete below three readings."""

    mean_um: float
    readings: int
    complete: bool


class Summary(NamedTuple):
    """What a set of readings looks like, in um."""

    readings: int
    mean_um: float
    least_um: float
    p5_um: float
    p50_um: float
    p95_um: float
    most_um: float


@dataclass(frozen=True)
class Shift:
    """What was coated in one shift: its area measurements stand for its film alone. `areas`: how many are asked for."""

    name: str
    areas: int
    spots: tuple[Spot, ...]


@dataclass(frozen=True)
class AreaResult:
    """One area measurement: verdict, the lines of its arithmetic, and those of them that speak against it.

    outside : keys of the spots whose mean lies outside what the level allows, in order. spots : of all that it rests on.
    """

    area: str
    verdict: Verdict
    mean_um: float | None
    arithmetic: tuple[Line, ...]
    against: tuple[Line, ...] = ()
    outside: tuple[str, ...] = ()
    spots: tuple[str, ...] = ()


@dataclass(frozen=True)
class ThicknessVerdict:
    """Verdict on a zone; `missing` says what keeps it from being judged."""

    verdict: Verdict
    areas: tuple[AreaResult, ...]
    missing: tuple[Line, ...]
    source: str = SOURCE


def spot_mean(readings_um: Sequence[float]) -> SpotMean:
    """Return the mean of one spot's readings (um), complete from three readings on.

    Raises ValueError when there is no reading, or one is negative or not a number.

    >>> spot_mean((250, 260, 255))
    SpotMean(mean_um=255.0, readings=3, complete=True)
    """
    mean = _exact_mean(readings_um)
    return SpotMean(float(mean), len(readings_um), len(readings_um) >= READINGS_PER_SPOT)


def summary(readings_um: Iterable[float]) -> Summary:
    """Return the number of readings, mean, extremes and the 5th, 50th and 95th percentile (um).

    Percentiles are linear interpolations, type 7 of Hyndman and Fan, Sample Quantiles in
    Statistical Packages (The American Statistician 50, 1996). Raises ValueError on no readings,
    a negative one or one that is not a number.
    """
    readings = tuple(readings_um)
    mean = _exact_mean(readings)
    p5, p50, p95 = (float(q) for q in np.percentile(readings, (5, 50, 95), method="linear"))
    return Summary(
        len(readings),
        float(mean),
        float(min(readings)),
        p5,
        p50,
        p95,
        float(max(readings)),
    )


def deviation(readings_um: Iterable[float]) -> float | None:
    """Return the standard deviation of a sample of readings (um, n - 1); None below two.

    >>> deviation((290.0, 300.0, 310.0))
    10.0
    """
    readings = tuple(readings_um)
    return float(np.std(readings, ddof=1)) if len(readings) > 1 else None


def areas_asked(surface_m2: float) -> int:
    """Return how many area measurements a surface (m2) coated in one shift asks for.

    To 30 m2 one for every 10 m2; to 100 m2 three; above, three and one more for each further
    100 m2 or part of it. SSPC-PA 2, public summaries; metric system.
    """
    if not (isfinite(surface_m2) and surface_m2 > 0):
        raise ValueError(f"surface_m2 is {surface_m2}; it must be above 0")
    surface = _exact(surface_m2)
    if surface <= 30:
        return ceil(surface / 10)
    if surface <= 100:
        return 3
    return 3 + ceil((surface - 100) / 100)


def judge_dft(
    spots: Iterable[Spot],
    minimum: float,
    maximum: float | None,
    level: Level = 3,
    areas: int = 1,
) -> ThicknessVerdict:
    """Judge a zone's dry film thickness by area measurements.

    Parameters
    ----------
    spots : complete and incomplete spots; incomplete ones do not count. Spots with one `area`
        name make one area measurement.
    minimum, maximum : specified range in um; maximum None where none is specified.
    level : restriction level 1 to 5 for spot means.
    areas : how many area measurements are asked for.

    Returns
    -------
    "accepted" when every area mean lies in the specified range and every spot mean within its
    level's shares of it; "not accepted" when one does not; else "not judged", with what is missing:
    an area needs five complete spots. Borders pass.

    Raises
    ------
    ValueError for a range upside down, a level outside 1 to 5, or a bad reading.

    Notes
    -----
    Shares by level, of minimum and maximum: 1: 100 and 100 %; 2: 100 and 120; 3: 80 and 120;
    4: 80 and 150; 5: 80 and no maximum, for the area mean either. SSPC-PA 2, from memory.
    """
    limits = _Limits.of(minimum, maximum, level)
    grouped: dict[str, list[Spot]] = {}
    for spot in spots:
        grouped.setdefault(spot.area, []).append(spot)
    results = tuple(_judge_area(name, grouped[name], limits) for name in sorted(grouped))
    missing = [_of_area(result.area, result.arithmetic[0]) for result in results if result.verdict == "not judged"]
    if len(results) < areas:
        taken = (Figure("taken", len(results)), Figure("asked", areas))
        missing.append(Line(_TAKEN_OF, taken))
    if any(result.verdict == "not accepted" for result in results):
        return ThicknessVerdict("not accepted", results, tuple(missing))
    return ThicknessVerdict("not judged" if missing else "accepted", results, tuple(missing))


def judge_shifts(
    shifts: Sequence[Shift], minimum: float, maximum: float | None, level: Level = 3
) -> tuple[ThicknessVerdict, dict[str, ThicknessVerdict]]:
    """Judge film coated in several shifts: each by its own area measurements, and all together.

    Returns the verdict on the whole and that on each shift by name. One shift not accepted is enough for the whole not
    to be; what one lacks keeps the whole from being judged. Raises ValueError without a shift, for two of one name, and
    as `judge_dft`.
    """
    names = [shift.name for shift in shifts]
    if not names or len(set(names)) < len(names):
        raise ValueError(f"shifts are {', '.join(names) or 'absent'}; they must be one or more, each with its own name")
    by_shift = {shift.name: judge_dft(shift.spots, minimum, maximum, level, shift.areas) for shift in shifts}
    verdicts = {found.verdict for found in by_shift.values()}
    whole: Verdict = (
        "not accepted" if "not accepted" in verdicts else "not judged" if "not judged" in verdicts else "accepted"
    )
    areas = tuple(
        replace(area, area=f"{name}, {area.area}" if name and area.area else name or area.area)
        for name, found in by_shift.items()
        for area in found.areas
    )
    missing = tuple(_of_shift(name, line) for name, found in by_shift.items() for line in found.missing)
    return ThicknessVerdict(whole, areas, missing), by_shift


def _of_area(name: str, line: Line) -> Line:
    return replace(line, words=_IN_AREA[line.words], names=(Name("area", name or "1"),))


def _of_shift(name: str, line: Line) -> Line:
    if not name:
        return line
    return replace(line, words=_IN_SHIFT[line.words], names=(*line.names, Name("shift", name)))


def spot_range(minimum: float, maximum: float | None, level: Level = 3) -> tuple[Fraction, Fraction | None]:
    """Return the lowest and highest spot mean (um) a restriction level allows; None: no maximum.

    Raises ValueError for a range upside down or a level outside 1 to 5.

    >>> [float(end) for end in spot_range(300, 500, 3)]
    [240.0, 600.0]
    """
    limits = _Limits.of(minimum, maximum, level)
    return limits.spot_low, limits.spot_high


class _Limits(NamedTuple):
    area_low: Fraction
    area_high: Fraction | None
    spot_low: Fraction
    spot_high: Fraction | None

    @classmethod
    def of(cls, minimum: float, maximum: float | None, level: int) -> _Limits:
        if level not in _SHARES:
            raise ValueError(f"level is {level}; it must be 1, 2, 3, 4 or 5")
        if not minimum > 0:
            raise ValueError(f"minimum is {minimum} um; it must be above 0")
        if maximum is not None and not maximum >= minimum:
            raise ValueError(f"maximum is {maximum} um; it must not be below the minimum, {minimum} um")
        low = _exact(minimum)
        share_low, share_high = _SHARES[level]
        if maximum is None or share_high is None:
            return cls(low, None, low * share_low, None)
        high = _exact(maximum)
        return cls(low, high, low * share_low, high * share_high)


def _judge_area(name: str, spots: Sequence[Spot], limits: _Limits) -> AreaResult:
    means = [(spot, spot.mean_um) for spot in spots if spot.is_complete]
    if len(means) < SPOTS_PER_AREA:
        figures = [Figure("complete", len(means)), Figure("asked", SPOTS_PER_AREA)]
        words = _SPOTS_OF
        if begun := len(spots) - len(means):
            figures.append(Figure("begun", begun))
            words = _SPOTS_OF_AND_BEGUN
        return AreaResult(name, "not judged", None, (Line(words, tuple(figures)),))
    mean = sum((value for _, value in means), Fraction()) / len(means)
    figures = [Figure("count", len(means)), Figure("mean", float(mean), "um")]
    fits = _within(mean, limits.area_low, limits.area_high)
    lines = [_against(_MEAN_WITHIN if fits else _MEAN_OUTSIDE, figures, limits.area_low, limits.area_high)]
    against = [] if fits else list(lines)
    outside = [(spot, value) for spot, value in means if not _within(value, limits.spot_low, limits.spot_high)]
    for spot, value in outside:
        figures = [Figure("mean", float(value), "um")]
        against.append(_against(_SPOT_OUTSIDE, figures, limits.spot_low, limits.spot_high, str(spot.id)))
    lines += against if fits else against[1:]
    if not outside:
        lines.append(_against(_SPOTS_WITHIN, [Figure("count", len(means))], limits.spot_low, limits.spot_high))
    verdict: Verdict = "not accepted" if against else "accepted"
    found = tuple(_key(spot) for spot, _ in outside)
    return AreaResult(
        name, verdict, float(mean), tuple(lines), tuple(against), found, tuple(_key(spot) for spot, _ in means)
    )


def _key(spot: Spot) -> str:
    return spot.key or str(spot.id)


_TAKEN_OF = noted("{taken} of {asked} area measurements taken")
_SPOTS_OF = noted("{complete} of {asked} complete spots")
_SPOTS_OF_AND_BEGUN = noted("{complete} of {asked} complete spots ({begun} with under three readings)")
_IN_AREA = {
    _SPOTS_OF: noted("area {area}: {complete} of {asked} complete spots"),
    _SPOTS_OF_AND_BEGUN: noted("area {area}: {complete} of {asked} complete spots ({begun} with under three readings)"),
}
_IN_SHIFT = {
    _TAKEN_OF: noted("shift {shift}: {taken} of {asked} area measurements taken"),
    _IN_AREA[_SPOTS_OF]: noted("shift {shift}, area {area}: {complete} of {asked} complete spots"),
    _IN_AREA[_SPOTS_OF_AND_BEGUN]: noted(
        "shift {shift}, area {area}: {complete} of {asked} complete spots ({begun} with under three readings)"
    ),
}
# Each for a range with both ends, and for one without a maximum.
_MEAN_WITHIN = (
    noted("mean of {count} spots {mean}, within {low} to {high}"),
    noted("mean of {count} spots {mean}, within {low} and up"),
)
_MEAN_OUTSIDE = (
    noted("mean of {count} spots {mean}, outside {low} to {high}"),
    noted("mean of {count} spots {mean}, outside {low} and up"),
)
_SPOT_OUTSIDE = (
    noted("spot {spot} {mean}, outside {low} to {high}"),
    noted("spot {spot} {mean}, outside {low} and up"),
)
_SPOTS_WITHIN = (
    noted("all {count} spots within {low} to {high}"),
    noted("all {count} spots within {low} and up"),
)


def _against(
    words: tuple[str, str], figures: Sequence[Figure], low: Fraction, high: Fraction | None, spot: str = ""
) -> Line:
    """The figures told beside the range they are held against."""
    ends = [Figure("low", float(low), "um")]
    if high is not None:
        ends.append(Figure("high", float(high), "um"))
    return Line(words[high is None], (*figures, *ends), (Name("spot", spot),) if spot else ())


def _exact(value: float) -> Fraction:
    """Return the decimal as typed, so that 0.1 is a tenth."""
    return Fraction(str(value))


def _exact_mean(readings_um: Sequence[float]) -> Fraction:
    if not readings_um:
        raise ValueError("readings_um is empty; at least one reading is needed")
    for reading in readings_um:
        if not (isfinite(reading) and reading >= 0):
            raise ValueError(f"readings_um holds {reading}; a reading is a number from 0 um up")
    return sum((_exact(float(reading)) for reading in readings_um), Fraction()) / len(readings_um)


def _within(value: Fraction, low: Fraction, high: Fraction | None) -> bool:
    return value >= low and (high is None or value <= high)
