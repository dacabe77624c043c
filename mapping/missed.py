"""How many flaws two independent sweeps both missed: the Chapman estimate.

Counts only; it says nothing about where the missed ones are. No Django.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

LEAST_IN_COMMON = 7
SOURCE = "Chapman, University of California Publications in Statistics 1 (1951); variance: Seber, Biometrika 57 (1970)"


class Missed(NamedTuple):
    """Flaws there are by estimate, those no sweep found, and the standard error of both."""

    total: float
    missed: float
    standard_error: float


def missed_flaws(first: int, second: int, common: int) -> Missed | None:
    """Return the Chapman estimate from two sweeps of the same ground; None below seven flaws in common.

    Parameters
    ----------
    first, second : flaws each sweep found.
    common : how many of them are the same flaws.

    Notes
    -----
    N = (n1 + 1)(n2 + 1)/(m + 1) - 1; variance (n1 + 1)(n2 + 1)(n1 - m)(n2 - m)/((m + 1)^2 (m + 2)). The sweeps must be
    independent and every flaw as likely to be found as another. Raises ValueError naming the argument, its value and what
    is allowed.

    Examples
    --------
    >>> round(missed_flaws(20, 18, 15).total, 2)
    23.94
    """
    for name, value in (("first", first), ("second", second), ("common", common)):
        if value != int(value) or value < 0:
            raise ValueError(f"{name} is {value}; it must be a whole number from 0 up")
    if common > min(first, second):
        raise ValueError(f"common is {common}; it must not be above {min(first, second)}, the smaller count")
    if common < LEAST_IN_COMMON:
        return None
    product = (first + 1) * (second + 1)
    total = product / (common + 1) - 1
    variance = product * (first - common) * (second - common) / ((common + 1) ** 2 * (common + 2))
    return Missed(total, total - (first + second - common), sqrt(variance))
