"""Dry film thickness judged by single readings: ISO 19840 with its correction for the profile, and the 90/10 rule.

Thickness is in micrometres; arithmetic is exact and borders pass. Every verdict carries its arithmetic as lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, isfinite

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
    specified maximum.
    """

    verdict: Verdict
    arithmetic: tuple[str, ...]
    missing: tuple[str, ...]
    low: tuple[int, ...]
    high: tuple[int, ...]
    source: str


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
    asked: int = 1,
) -> FilmVerdict:
    """Judge a surface by ISO 19840.

    Parameters
    ----------
    readings_um : single gauge readings, um.
    nominal_um : nominal thickness, um, above 0. maximum_um : the specified maximum, where there is one.
    profile : "fine", "medium", "coarse" or "unknown": its correction is subtracted from each reading; None where the
        gauge was zeroed on the profile, so that nothing is subtracted.
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
    readings = _exact(readings_um) if profile is None else _corrected(readings_um, profile)
    lines = []
    if profile is not None:
        lines.append(f"{PROFILE_UM[profile]} µm subtracted from each reading for a profile that is {profile}.")
    low = tuple(at for at, reading in enumerate(readings) if reading < nominal * _LEAST_SHARE)
    high = tuple(at for at, reading in enumerate(readings) if maximum is not None and reading > maximum)
    below = sum(reading < nominal for reading in readings)
    mean = sum(readings, Fraction()) / len(readings)
    lines += [
        f"mean of {_count(len(readings))} {_um(mean)}, nominal {_um(nominal)}: {_kept(mean >= nominal)}",
        f"{len(low)} below 80 % of nominal ({_um(nominal * _LEAST_SHARE)}), none allowed: {_kept(not low)}",
        f"{below} of {len(readings)} below nominal, {len(readings) // 5} allowed (20 %): "
        f"{_kept(below <= _MOST_BELOW * len(readings))}",
    ]
    if maximum is not None:
        lines.append(f"{len(high)} above the maximum ({_um(maximum)}), none allowed: {_kept(not high)}")
    kept = mean >= nominal and below <= _MOST_BELOW * len(readings)
    return _verdict(kept, bool(low or high), len(readings), asked, lines, low, high, ISO_SOURCE)


def judge_ninety_ten(readings_um: Sequence[float], nominal_um: float = 320, *, asked: int = 1) -> FilmVerdict:
    """Judge film by the 90/10 rule: at least 90 % of readings at nominal or more, none below 90 % of nominal.

    nominal_um : um, above 0; IMO MSC.215(82) asks 320 um of epoxy. asked : how many readings the surface asks for.
    A reading below 90 % of nominal is decisive at once. Raises ValueError naming the argument, value and what is allowed.
    """
    nominal = _above_zero("nominal_um", nominal_um)
    readings = _exact(readings_um)
    low = tuple(at for at, reading in enumerate(readings) if reading < nominal * _NINETY)
    reached = sum(reading >= nominal for reading in readings)
    needed = ceil(len(readings) * _NINETY)
    lines = [
        f"{reached} of {len(readings)} at {_um(nominal)} or more, {needed} needed (90 %): {_kept(reached >= needed)}",
        f"{len(low)} below 90 % of nominal ({_um(nominal * _NINETY)}), none allowed: {_kept(not low)}",
    ]
    return _verdict(reached >= needed, bool(low), len(readings), asked, lines, low, (), NINETY_TEN_SOURCE)


def _verdict(
    kept: bool,
    decisive: bool,
    count: int,
    asked: int,
    lines: list[str],
    low: tuple[int, ...],
    high: tuple[int, ...],
    source: str,
) -> FilmVerdict:
    missing = () if count >= asked else (f"{count} of {asked} readings taken",)
    verdict: Verdict = "accepted" if kept else "not accepted"
    if decisive:
        verdict = "not accepted"
    elif missing:
        verdict = "not judged"
    return FilmVerdict(verdict, tuple(lines), missing, low, high, source)


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


def _kept(kept: bool) -> str:
    return "kept" if kept else "not kept"


def _um(value: Fraction) -> str:
    return f"{float(value):.1f} µm"


def _count(number: int) -> str:
    return "1 reading" if number == 1 else f"{number} readings"
