"""Dry film thickness judged by single readings: ISO 19840 with its correction for the profile, and the 90/10 rule.

Thickness is in micrometres; arithmetic is exact and borders pass. Every verdict carries its arithmetic as lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, isfinite

from accounts.wording import noted
from inspections.arithmetic import Figure, Line
from inspections.thickness import Verdict
from inspections.thickness_plans import ISO_SOURCE, NINETY_TEN_SOURCE

# What the surface profile adds to a gauge's reading, um; 25 where the profile is not known (ISO 19840, from memory).
PROFILE_UM = {"fine": 10, "medium": 25, "coarse": 40, "unknown": 25}
_LEAST_SHARE = Fraction(8, 10)
_MOST_BELOW = Fraction(2, 10)
_NINETY = Fraction(9, 10)


@dataclass(frozen=True)
class FilmVerdict:
    """Verdict by single readings, its arithmetic as lines, what is missing, and the source.

    low : places of readings that alone keep the film from being accepted: below the least share. high : those above the
    specified maximum. against : the lines that are not kept.
    """

    verdict: Verdict
    arithmetic: tuple[Line, ...]
    missing: tuple[Line, ...]
    low: tuple[int, ...]
    high: tuple[int, ...]
    source: str
    against: tuple[Line, ...] = ()


def correct_for_profile(readings_um: Sequence[float], profile: str = "unknown") -> tuple[float, ...]:
    """Return gauge readings (um) less what the profile adds to each: fine 10, medium 25, coarse 40, unknown 25 um.

    ISO 19840, from memory. A reading thinner than the correction
    goes below 0: no film was there. Raises ValueError for another profile or a reading that cannot be.
    """
    return tuple(float(reading) for reading in _corrected(readings_um, profile))


def judge_iso19840(
    readings_um: Sequence[float],
    nominal_um: float,
    *,
    maximum_um: float | None = None,
    profile: str | None = None,
    corrections_um: Sequence[float] | None = None,
    asked: int = 1,
) -> FilmVerdict:
    """Judge a surface by ISO 19840.

    Parameters
    ----------
    readings_um : single gauge readings, um.
    nominal_um : nominal thickness, um, above 0. maximum_um : the specified maximum, where there is one.
    profile : "fine", "medium", "coarse" or "unknown": its correction is subtracted from each reading; None where the
        gauge was zeroed on the profile, so that nothing is subtracted. corrections_um : what is subtracted from each
        reading, um, in place of one profile for all.
    asked : how many readings the surface asks for.

    Returns
    -------
    Accepted: mean at least nominal, no reading below 80 % of it, at most 20 % of the readings below nominal, none above
    the maximum. A reading below 80 % or above the maximum is decisive at once; the rest is judged when all readings
    asked for are there. From memory.

    Raises ValueError naming the argument, its value and what is allowed.
    """
    nominal = _above_zero("nominal_um", nominal_um)
    maximum = None if maximum_um is None else _above_zero("maximum_um", maximum_um)
    if maximum is not None and maximum < nominal:
        raise ValueError(f"maximum_um is {maximum_um}; it must not be below the nominal, {nominal_um}")
    readings = _less(readings_um, corrections_um) if profile is None else _corrected(readings_um, profile)
    lines: list[tuple[Line, bool]] = []
    if profile is not None:
        lines.append((Line(_PROFILE_LINES[profile], (Figure("correction", PROFILE_UM[profile], "um"),)), True))
    low = tuple(at for at, reading in enumerate(readings) if reading < nominal * _LEAST_SHARE)
    high = tuple(at for at, reading in enumerate(readings) if maximum is not None and reading > maximum)
    below = sum(reading < nominal for reading in readings)
    mean = sum(readings, Fraction()) / len(readings)
    told: tuple[Figure, ...] = (Figure("count", len(readings)), _film("mean", mean), _film("nominal", nominal))
    lines.append(_line(_MEAN, told, mean >= nominal))
    told = (Figure("low", len(low)), _film("least", nominal * _LEAST_SHARE))
    lines.append(_line(_BELOW_80, told, not low))
    few = below <= _MOST_BELOW * len(readings)
    told = (Figure("below", below), Figure("taken", len(readings)), Figure("allowed", len(readings) // 5))
    lines.append(_line(_BELOW_NOMINAL, told, few))
    if maximum is not None:
        lines.append(_line(_ABOVE, (Figure("above", len(high)), _film("most", maximum)), not high))
    kept = mean >= nominal and few
    return _verdict(kept, bool(low or high), len(readings), asked, lines, low, high, ISO_SOURCE)


def judge_ninety_ten(
    readings_um: Sequence[float],
    nominal_um: float = 320,
    *,
    corrections_um: Sequence[float] | None = None,
    asked: int = 1,
) -> FilmVerdict:
    """Judge film by the 90/10 rule: at least 90 % of readings at nominal or more, none below 90 % of nominal.

    nominal_um : um, above 0; IMO MSC.215(82) asks 320 um of epoxy. corrections_um : subtracted from each reading. asked : how many readings the surface asks for.
    A reading below 90 % of nominal is decisive at once. Raises ValueError naming the argument, value and what is allowed.
    """
    nominal = _above_zero("nominal_um", nominal_um)
    readings = _less(readings_um, corrections_um)
    low = tuple(at for at, reading in enumerate(readings) if reading < nominal * _NINETY)
    reached = sum(reading >= nominal for reading in readings)
    needed = ceil(len(readings) * _NINETY)
    told = (
        Figure("reached", reached),
        Figure("taken", len(readings)),
        _film("nominal", nominal),
        Figure("needed", needed),
    )
    lines = [
        _line(_NINE_OF_TEN, told, reached >= needed),
        _line(_BELOW_90, (Figure("low", len(low)), _film("least", nominal * _NINETY)), not low),
    ]
    return _verdict(reached >= needed, bool(low), len(readings), asked, lines, low, (), NINETY_TEN_SOURCE)


# Each as kept and as not kept.
_MEAN = (
    noted("mean of {count} readings {mean}, nominal {nominal}: kept"),
    noted("mean of {count} readings {mean}, nominal {nominal}: not kept"),
)
_BELOW_80 = (
    noted("{low} below 80 % of nominal ({least}), none allowed: kept"),
    noted("{low} below 80 % of nominal ({least}), none allowed: not kept"),
)
_BELOW_NOMINAL = (
    noted("{below} of {taken} below nominal, {allowed} allowed (20 %): kept"),
    noted("{below} of {taken} below nominal, {allowed} allowed (20 %): not kept"),
)
_ABOVE = (
    noted("{above} above the maximum ({most}), none allowed: kept"),
    noted("{above} above the maximum ({most}), none allowed: not kept"),
)
_NINE_OF_TEN = (
    noted("{reached} of {taken} at {nominal} or more, {needed} needed (90 %): kept"),
    noted("{reached} of {taken} at {nominal} or more, {needed} needed (90 %): not kept"),
)
_BELOW_90 = (
    noted("{low} below 90 % of nominal ({least}), none allowed: kept"),
    noted("{low} below 90 % of nominal ({least}), none allowed: not kept"),
)
_PROFILE_LINES = {
    "fine": noted("{correction} subtracted from each reading for a profile that is fine."),
    "medium": noted("{correction} subtracted from each reading for a profile that is medium."),
    "coarse": noted("{correction} subtracted from each reading for a profile that is coarse."),
    "unknown": noted("{correction} subtracted from each reading for a profile that is unknown."),
}
READINGS_OF = noted("{taken} of {asked} readings taken")


def _line(words: tuple[str, str], figures: tuple[Figure, ...], kept: bool) -> tuple[Line, bool]:
    return Line(words[not kept], figures), kept


def _film(name: str, value: Fraction) -> Figure:
    return Figure(name, float(value), "um")


def _verdict(
    kept: bool,
    decisive: bool,
    count: int,
    asked: int,
    lines: list[tuple[Line, bool]],
    low: tuple[int, ...],
    high: tuple[int, ...],
    source: str,
) -> FilmVerdict:
    missing = () if count >= asked else (Line(READINGS_OF, (Figure("taken", count), Figure("asked", asked))),)
    verdict: Verdict = "accepted" if kept else "not accepted"
    if decisive:
        verdict = "not accepted"
    elif missing:
        verdict = "not judged"
    against = tuple(line for line, is_kept in lines if not is_kept)
    return FilmVerdict(verdict, tuple(line for line, _ in lines), missing, low, high, source, against)


def _less(readings_um: Sequence[float], corrections_um: Sequence[float] | None) -> list[Fraction]:
    readings = _exact(readings_um)
    if corrections_um is None:
        return readings
    if len(corrections_um) != len(readings):
        raise ValueError(
            f"corrections_um holds {len(corrections_um)}; one for each of {len(readings)} readings is needed"
        )
    return [reading - Fraction(str(less)) for reading, less in zip(readings, corrections_um, strict=True)]


def _corrected(readings_um: Sequence[float], profile: str) -> list[Fraction]:
    if profile not in PROFILE_UM:
        raise ValueError(f'profile is "{profile}"; it must be one of: {", ".join(PROFILE_UM)}')
    return [reading - PROFILE_UM[profile] for reading in _exact(readings_um)]


def _exact(readings_um: Sequence[float]) -> list[Fraction]:
    if not readings_um:
        raise ValueError("readings_um is empty; at least one reading is needed")
    for reading in readings_um:
        if not (isfinite(reading) and reading >= 0):
            raise ValueError(f"readings_um holds {reading}; a reading is a number from 0 um up")
    return [Fraction(str(reading)) for reading in readings_um]


def _above_zero(name: str, value: float) -> Fraction:
    if not (isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value}; it must be above 0")
    return Fraction(str(value))
