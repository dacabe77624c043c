"""Where the margin of the coldest steel above the dew point is going: a straight line through the last hours.

A warning before the margin closes, never a verdict: work is judged by what was measured (inspections.atmosphere).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from math import fsum, isfinite
from typing import NamedTuple

from accounts.wording import noted
from inspections.atmosphere import DEW_POINT_MARGIN_C

WINDOW = timedelta(hours=4)
FEWEST = 3
SOURCE = noted(
    "least squares through the margins of the last 4 h, at least three of them, followed no further than 4 h ahead; our "
    "own choice, no source"
)


class Measured(NamedTuple):
    """One record of the air: when, and how far the coldest steel was above the dew point (degC)."""

    at: datetime
    margin_c: float


class Trend(NamedTuple):
    """A straight line through the margins of the last hours.

    per_hour : change of the margin, degC per hour, below 0 while it closes. fitted_c : the line at the latest record.
    records : how many it goes through, the first at `since`, the latest at `latest`. closes_at : when the line reaches the
    least margin, None where it does not within the window ahead; where it lies at or below it already, `latest`.
    """

    per_hour: float
    fitted_c: float
    records: int
    since: datetime
    latest: datetime
    closes_at: datetime | None

    @property
    def closing(self) -> bool:
        return self.per_hour < 0


def margin_trend(
    records: Iterable[Measured], *, least_margin_c: float = DEW_POINT_MARGIN_C, window: timedelta = WINDOW
) -> Trend | None:
    """Return the trend of the margin over the window that ends with the latest record.

    Parameters
    ----------
    records : in any order; margins in degC.
    least_margin_c : what has to be kept, degC.
    window : how far is looked back from the latest record, and ahead of it at most.

    Returns
    -------
    None with fewer than three records in the window, or where all of them are of one moment.

    Raises
    ------
    ValueError for a margin that is no number.

    Notes
    -----
    b = sum((t - tm)(m - mm)) / sum((t - tm)^2), a = mm + b (t_last - tm); the margin reaches the least one at
    t_last + (least - a) / b. Ordinary least squares (Legendre 1805; any statistics text).

    Examples
    --------
    >>> from datetime import UTC
    >>> six = datetime(2031, 5, 14, 6, tzinfo=UTC)
    >>> falling = [Measured(six + timedelta(hours=hour), 6.0 - hour) for hour in range(3)]
    >>> margin_trend(falling).closes_at.hour
    9
    """
    ordered = sorted(records)
    for record in ordered:
        if not isfinite(record.margin_c):
            raise ValueError(f"margin_c is {record.margin_c}; it must be a number of degrees")
    if not ordered:
        return None
    latest = ordered[-1].at
    used = [record for record in ordered if record.at >= latest - window]
    hours = [(record.at - latest) / timedelta(hours=1) for record in used]
    if len(used) < FEWEST or hours[0] == 0:
        return None
    mean_hour = fsum(hours) / len(hours)
    mean_margin = fsum(record.margin_c for record in used) / len(used)
    spread = fsum((hour - mean_hour) ** 2 for hour in hours)
    shared = zip(hours, used, strict=True)
    slope = fsum((hour - mean_hour) * (record.margin_c - mean_margin) for hour, record in shared) / spread
    fitted = mean_margin - slope * mean_hour
    return Trend(slope, fitted, len(used), used[0].at, latest, _closes(slope, fitted, least_margin_c, latest, window))


def _closes(slope: float, fitted: float, least: float, latest: datetime, window: timedelta) -> datetime | None:
    if slope >= 0:
        return None
    if fitted <= least:
        return latest
    ahead = (least - fitted) / slope
    return latest + timedelta(hours=ahead) if ahead <= window / timedelta(hours=1) else None
