"""How many flaws per area: the contract's plain count, and what may be inferred from it.

The contract line compares a count with what the specification allows on the tested area, in exact
arithmetic. Intervals and predictions speak about ground not swept; they never decide a release.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor, inf, isfinite
from typing import Literal, NamedTuple

from scipy.special import chdtri

from accounts.wording import noted, say

SOURCE = noted("exact Poisson limits: Garwood, Biometrika 28 (1936)")

AreaUnit = Literal["m2", "ft2"]
IntegerRule = Literal["floor", "nearest", "ceiling"]
Exact = int | str | Decimal | Fraction
Sides = Literal["two-sided", "one-sided"]
SIDES = (noted("two-sided"), noted("one-sided"))
VERDICTS = (noted("demonstrated"), noted("exceeded"), noted("not demonstrated yet"))

# International foot of 0.3048 m, exact.
_M2_PER_UNIT: dict[str, Fraction] = {"m2": Fraction(1), "ft2": Fraction("0.3048") ** 2}
_UNIT_WORDS: dict[str, str] = {"m2": "m²", "ft2": "ft²"}
_AREA_STEPS = 10_000


class Interval(NamedTuple):
    """Limits of a Poisson mean, in flaws or in flaws per area."""

    low: float
    high: float


@dataclass(frozen=True)
class Density:
    """Flaws over an area (m2) with the two-sided exact 95 % interval of each figure."""

    count: int
    area_m2: float
    per_m2: float
    interval_per_m2: Interval
    source: str = SOURCE

    @property
    def per_100_m2(self) -> float:
        """Flaws per 100 m2."""
        return 100 * self.per_m2

    @property
    def per_1000_ft2(self) -> float:
        """Flaws per 1000 ft2."""
        return float(1000 * _M2_PER_UNIT["ft2"]) * self.per_m2


@dataclass(frozen=True)
class ContractLimit:
    """`count` flaws per `per` units of area, as the specification says it.

    Decimals are given as text, Decimal or Fraction, so that they stay exact:
    ContractLimit("0.5", 1000, "ft2").
    """

    count: Exact
    per: Exact
    unit: AreaUnit
    integer_rule: IntegerRule = "floor"

    def __post_init__(self) -> None:
        if self.unit not in _M2_PER_UNIT:
            raise ValueError(say("unit is {unit!r}; it must be m2 or ft2", unit=self.unit))
        if Fraction(self.count) < 0:
            raise ValueError(say("count is {count}; it must not be below 0", count=self.count))
        if Fraction(self.per) <= 0:
            raise ValueError(say("per is {per}; it must be above 0", per=self.per))
        if self.integer_rule not in ("floor", "nearest", "ceiling"):
            raise ValueError(
                say("integer_rule is {integer_rule!r}; floor, nearest or ceiling", integer_rule=self.integer_rule)
            )

    @property
    def per_m2(self) -> Fraction:
        """The limit as flaws per m2, exact."""
        return Fraction(self.count) / (Fraction(self.per) * _M2_PER_UNIT[self.unit])

    def words(self) -> str:
        """The limit as a specification would say it."""
        return say(
            "{plain} per {plain_2} {unit_words}",
            plain=_plain(self.count),
            plain_2=_plain(self.per),
            unit_words=_UNIT_WORDS[self.unit],
        )


@dataclass(frozen=True)
class ContractVerdict:
    """The contract line. verdict and allowed are None while nothing is tested."""

    verdict: Literal["kept", "exceeded"] | None
    count: int
    allowed: int | None
    area: Fraction
    unit: AreaUnit
    arithmetic: str


@dataclass(frozen=True)
class DensityDecision:
    """What the sample says about the process.

    further_m2: clean area still needed to call the limit demonstrated (inf where no area can);
    None once decided. sides says which bound was used.
    """

    verdict: Literal["demonstrated", "exceeded", "not demonstrated yet"]
    bounds_per_m2: Interval
    limit_per_m2: float
    sides: Sides
    further_m2: float | None
    settled_by_what_is_left: bool | None
    sentence: str
    source: str = SOURCE


def poisson_interval(count: int, confidence: float = 0.95) -> Interval:
    """Return the exact two-sided confidence limits of a Poisson mean from one count.

    Notes
    -----
    With a = 1 - confidence: low = chi2(a/2, 2n)/2, 0 for n = 0; high = chi2(1 - a/2, 2n + 2)/2.
    Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442.
    Raises ValueError for a negative count or a confidence outside 0 to 1.

    >>> low, high = poisson_interval(10)
    >>> round(low, 2), round(high, 2)
    (4.8, 18.39)
    """
    tail = (1 - _confidence(confidence)) / 2
    return Interval(_lower(count, tail), _upper(count, tail))


def poisson_one_sided(count: int, confidence: float = 0.95) -> Interval:
    """Return the one-sided lower and the one-sided upper limit, each at the confidence given."""
    tail = 1 - _confidence(confidence)
    return Interval(_lower(count, tail), _upper(count, tail))


def density(count: int, area_m2: float) -> Density | None:
    """Return flaws per area with its exact 95 % interval; None where there is no area.

    Raises ValueError for a negative count or area, or for flaws counted on no area.
    """
    _check_count_on_area(count, area_m2)
    if area_m2 == 0:
        return None
    low, high = poisson_interval(count)
    return Density(count, area_m2, count / area_m2, Interval(low / area_m2, high / area_m2))


def judge_contract(limit: ContractLimit, count: int, tested_m2: float) -> ContractVerdict:
    """Compare a count with what the limit allows on the tested area, exactly.

    allowed = limit.count * area / limit.per, the area rounded to 0.0001 of the limit's unit, taken
    down to a whole number unless the limit has another integer rule; count <= allowed is kept.
    No verdict while nothing is tested. Raises ValueError for a negative count or area.
    """
    _check_count_on_area(count, tested_m2)
    area = exact_area(tested_m2, limit.unit)
    unit = _UNIT_WORDS[limit.unit]
    if area == 0:
        return ContractVerdict(None, count, None, area, limit.unit, say("nothing is tested"))
    plain = Fraction(limit.count) * area / Fraction(limit.per)
    allowed = {
        "floor": floor(plain),
        "nearest": floor(plain + Fraction(1, 2)),
        "ceiling": ceil(plain),
    }[limit.integer_rule]
    kept = count <= allowed
    rule = {
        "floor": say("rounded down"),
        "nearest": say("rounded to the nearest"),
        "ceiling": say("rounded up"),
    }
    arithmetic = say(
        "{plain} × {area:.4f} {unit} / {plain_2} {unit} = {plain_3:.4f}, {rule}: {allowed} allowed, {count} found",
        plain=_plain(limit.count),
        area=float(area),
        unit=unit,
        plain_2=_plain(limit.per),
        plain_3=float(plain),
        rule=rule[limit.integer_rule],
        allowed=allowed,
        count=count,
    )
    return ContractVerdict("kept" if kept else "exceeded", count, allowed, area, limit.unit, arithmetic)


def judge_density(
    count: int,
    tested_m2: float,
    limit: ContractLimit,
    left_m2: float,
    sides: Sides = "two-sided",
) -> DensityDecision | None:
    """Decide whether a sample demonstrates the limit, at 95 %.

    Parameters
    ----------
    count, tested_m2 : flaws and the area (m2) they were found on.
    limit : the density not to be exceeded.
    left_m2 : testable area (m2) not tested yet.
    sides : bounds to use; two-sided unless the specification says one-sided.

    Returns
    -------
    "demonstrated" when the upper bound is at or below the limit, "exceeded" when the lower bound is
    above it, else "not demonstrated yet" with the further area that would settle it if no further
    flaw were found. None while nothing is tested.
    """
    _check_count_on_area(count, tested_m2)
    if not (isfinite(left_m2) and left_m2 >= 0):
        raise ValueError(say("left_m2 is {left_m2}; it must not be below 0", left_m2=left_m2))
    if tested_m2 == 0:
        return None
    bounds = poisson_interval(count) if sides == "two-sided" else poisson_one_sided(count)
    rates = Interval(bounds.low / tested_m2, bounds.high / tested_m2)
    rate = float(limit.per_m2)
    if rates.high <= rate:
        sentence = say("{words} is demonstrated.", words=limit.words())
        return DensityDecision("demonstrated", rates, rate, sides, None, None, sentence)
    if rates.low > rate:
        sentence = say("{words} is exceeded.", words=limit.words())
        return DensityDecision("exceeded", rates, rate, sides, None, None, sentence)
    further = bounds.high / rate - tested_m2 if rate else inf
    within = further <= left_m2
    sentence = say("{words} is not demonstrated yet: ", words=limit.words()) + (
        say("{further:.1f} m² more without a flaw would settle it.", further=further)
        if within
        else say("it cannot be settled by what is left.")
    )
    return DensityDecision("not demonstrated yet", rates, rate, sides, further, within, sentence)


def chance_of_no_flaw(count: int, swept_m2: float, unswept_m2: float) -> float | None:
    """Return the chance that ground not swept holds no flaw; None while nothing is swept.

    (A/(A + B))^(n + 1/2) for n flaws on A swept m2 and B m2 not swept: the Poisson model with
    Jeffreys' prior (gamma with shape 1/2), same crew and detail assumed on both.

    >>> round(chance_of_no_flaw(0, 300, 100), 4)
    0.866
    """
    _check_count_on_area(count, swept_m2)
    if not (isfinite(unswept_m2) and unswept_m2 >= 0):
        raise ValueError(say("unswept_m2 is {unswept_m2}; it must not be below 0", unswept_m2=unswept_m2))
    if swept_m2 == 0:
        return None
    return float((swept_m2 / (swept_m2 + unswept_m2)) ** (count + 0.5))


def exact_area(area_m2: float, unit: AreaUnit) -> Fraction:
    """Return an area (m2) in a unit, rounded to 0.0001 of it, halves up.

    Rounding takes out what floating-point geometry adds, so a whole 100 m2 allows what it should.
    """
    return Fraction(
        floor(Fraction(area_m2) / _M2_PER_UNIT[unit] * _AREA_STEPS + Fraction(1, 2)),
        _AREA_STEPS,
    )


def _lower(count: int, tail: float) -> float:
    _check_count(count)
    return float(chdtri(2 * count, 1 - tail)) / 2 if count else 0.0


def _upper(count: int, tail: float) -> float:
    _check_count(count)
    return float(chdtri(2 * count + 2, tail)) / 2


def _confidence(confidence: float) -> float:
    if not 0 < confidence < 1:
        raise ValueError(say("confidence is {confidence}; it must lie between 0 and 1", confidence=confidence))
    return confidence


def _check_count(count: int) -> None:
    if count != int(count) or count < 0:
        raise ValueError(say("count is {count}; it must be a whole number from 0 up", count=count))


def _check_count_on_area(count: int, area_m2: float) -> None:
    _check_count(count)
    if not (isfinite(area_m2) and area_m2 >= 0):
        raise ValueError(say("area is {area_m2} m2; it must be a number from 0 up", area_m2=area_m2))
    if count and area_m2 == 0:
        raise ValueError(say("count is {count} on an area of 0 m2; flaws need tested ground", count=count))


def _plain(value: Exact) -> str:
    return f"{float(Fraction(value)):g}"
