"""How fast ground was swept: the least possible time, the speed a swath implies, and when the next check is due."""

from __future__ import annotations

from datetime import datetime
from math import inf, isfinite
from typing import NamedTuple

from accounts.wording import noted, say
from mapping.lanes import least_seconds

SPEED_LIMIT_M_S = 0.3
SPEED_SOURCE = noted("0.3 m/s (1 ft/s): NACE SP0188, from memory")

# A swath swept at exactly the limit is no question, whatever floating point makes of it.
_SLACK = 1e-9


class SpeedQuestion(NamedTuple):
    """What a crew is asked when the times say that ground was swept too fast; seconds, m/s and m2."""

    area_m2: float
    taken_s: float
    least_s: float
    implied_m_s: float
    limit_m_s: float
    sentence: str


def implied_speed(area_m2: float, electrode_width_m: float, taken_s: float) -> float:
    """Return the slowest speed (m/s) that sweeps an area in the time taken (s); inf when it took no time."""
    _check(area_m2=area_m2, electrode_width_m=electrode_width_m)
    if area_m2 == 0:
        return 0.0
    return area_m2 / (electrode_width_m * taken_s) if taken_s > 0 else inf


def is_too_fast(
    area_m2: float, taken_s: float, electrode_width_m: float, speed_limit_m_s: float = SPEED_LIMIT_M_S
) -> bool:
    """Say whether a swath took less than the least possible time at the speed limit, so that the crew is asked.

    Least possible time = area / (electrode width * speed), without overlap. Common practice, no source.
    Raises ValueError for an area below 0, or a width or speed not above 0.
    """
    _check(area_m2=area_m2, electrode_width_m=electrode_width_m, speed_limit_m_s=speed_limit_m_s)
    return taken_s < least_seconds(area_m2, electrode_width_m, speed_limit_m_s) * (1 - _SLACK)


def speed_question(
    area_m2: float, taken_s: float, electrode_width_m: float, speed_limit_m_s: float = SPEED_LIMIT_M_S
) -> SpeedQuestion | None:
    """Return the question to ask about a swath, or None where its times are possible."""
    if not is_too_fast(area_m2, taken_s, electrode_width_m, speed_limit_m_s):
        return None
    least = least_seconds(area_m2, electrode_width_m, speed_limit_m_s)
    speed = implied_speed(area_m2, electrode_width_m, taken_s)
    pace = say(", that is {speed:.2f} m/s or more", speed=speed) if isfinite(speed) else ""
    sentence = say(
        "{area:.1f} m² in {taken} with an electrode of {width:g} m{pace}. The limit is {limit:g} m/s, so it takes at least "
        "{least}. Was it swept too fast?",
        area=area_m2,
        taken=_clock(max(taken_s, 0)),
        width=electrode_width_m,
        pace=pace,
        limit=speed_limit_m_s,
        least=_clock(least),
    )
    return SpeedQuestion(area_m2, taken_s, least, speed, speed_limit_m_s, sentence)


def minutes_till_check(last_check_at: datetime, interval_min: float, now: datetime) -> float:
    """Return the minutes left until the next check is due, counted from the previous one; below 0 when overdue."""
    if not (isfinite(interval_min) and interval_min > 0):
        raise ValueError(f"interval_min is {interval_min}; it must be above 0")
    return interval_min - (now - last_check_at).total_seconds() / 60


def _check(**given: float) -> None:
    for name, value in given.items():
        least = "from 0 up" if name == "area_m2" else "above 0"
        if not isfinite(value) or value < 0 or (value == 0 and name != "area_m2"):
            raise ValueError(f"{name} is {value}; it must be {least}")


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
