"""What a voltage rule is made of: a thickness as given, ranges of it, and formulas, all in exact arithmetic.

A voltage k*T^p is kept as an exact root until it is rounded, so that borders and halves fall where the document says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from math import isqrt
from typing import Literal, NamedTuple

from accounts.wording import say

Unit = Literal["um", "mm", "mil"]
Way = Literal["nearest", "up", "down"]

# 1 mil = 25.4 um exactly (NIST SP 811 (2008), appendix B).
UM_PER: dict[Unit, Fraction] = {"um": Fraction(1), "mm": Fraction(1000), "mil": Fraction(254, 10)}
UNIT_WORDS: dict[Unit, str] = {"um": "µm", "mm": "mm", "mil": "mil"}
_SPELLINGS: dict[str, Unit] = {"um": "um", "µm": "um", "\u03bcm": "um", "mm": "mm", "mil": "mil", "mils": "mil"}

# Films from about a mil to 7.5 mm are what high-voltage detectors are used on (common practice, no source).
USUAL_UM = (Fraction(25), Fraction(7500))


@dataclass(frozen=True)
class Given:
    """A film thickness as somebody gave it: exact value and its unit. `basis` says which thickness it is."""

    value: Fraction
    unit: Unit
    basis: str = ""

    @property
    def um(self) -> Fraction:
        return self.value * UM_PER[self.unit]

    def to(self, unit: Unit) -> Fraction:
        """The value in another unit, exactly."""
        return self.um / UM_PER[unit]

    def __str__(self) -> str:
        return measure(self.value, self.unit)


def thickness_given(value: object, unit: str, basis: str = "") -> Given:
    """Return a thickness as given, exactly: a float is taken as the decimal it prints.

    Parameters
    ----------
    value : number or text of one, above 0 and at most a million.
    unit : "um" (or "µm"), "mm", "mil".

    Raises
    ------
    ValueError naming value or unit, what was given, and what is allowed.

    Examples
    --------
    >>> str(thickness_given("30", "mil")), float(thickness_given(30, "mil").to("mm"))
    ('30 mil', 0.762)
    """
    if value is None or (isinstance(value, str) and not value.strip()):
        raise ValueError(say("thickness is absent; give the film thickness as a number with its unit, such as 12 mil"))
    known = _SPELLINGS.get(unit.strip())
    if known is None:
        raise ValueError(say('the unit of thickness is "{unit}"; it must be um, mm or mil', unit=unit))
    if isinstance(value, Fraction):
        exact = value
    else:
        try:
            number = Decimal(str(value).strip())
        except InvalidOperation:
            raise ValueError(
                say('thickness is "{value}"; it must be a number above 0, such as 12 mil', value=value)
            ) from None
        if not number.is_finite() or abs(number.adjusted()) > 12:
            raise ValueError(
                say(
                    "thickness is {value}; it must be a number above 0 and at most 1000000 {unit}",
                    value=value,
                    unit=known,
                )
            )
        exact = Fraction(number)
    if not 0 < exact <= 1_000_000:
        raise ValueError(
            say("thickness is {value} {unit}; it must be above 0 and at most 1000000 {unit}", value=value, unit=known)
        )
    return Given(exact, known, basis)


def doubt_of_unit(given: Given) -> str | None:
    """Return a question when the figure is unusual in its unit, naming the units in which it would be usual."""
    low, high = USUAL_UM
    if low <= given.um <= high:
        return None
    other: list[Unit] = [unit for unit in UM_PER if low <= given.value * UM_PER[unit] <= high]
    same = f"{_figure(given.to('mil'), 2)} mil" if given.unit != "mil" else f"{_figure(given.to('mm'), 2)} mm"
    words = say(
        "{given} is {same}, thinner than films usually are that are tested with high voltage (25 µm to 7.5 mm, common "
        "practice)."
        if given.um < low
        else "{given} is {same}, thicker than films usually are that are tested with high voltage (25 µm to 7.5 mm, common "
        "practice).",
        given=given,
        same=same,
    )
    if other:
        meant = say(" or ").join(measure(given.value, unit) for unit in other)
        words += say(" If {thickness} was meant, give it in that unit.", thickness=meant)
    return words


@dataclass(frozen=True)
class Span:
    """A range of thickness in its own unit; None has no end; an end belongs to the range unless said otherwise."""

    unit: Unit
    low: Fraction | None = None
    high: Fraction | None = None
    low_in: bool = True
    high_in: bool = True

    def place(self, thickness: Given) -> Literal["below", "in", "above"]:
        """Where a thickness lies; compared exactly in the range's own unit."""
        value = thickness.to(self.unit)
        if self.low is not None and (value < self.low or (value == self.low and not self.low_in)):
            return "below"
        if self.high is not None and (value > self.high or (value == self.high and not self.high_in)):
            return "above"
        return "in"

    def __str__(self) -> str:
        if self.low is None and self.high is None:
            return say("any thickness")
        low, high = measure(self.low, self.unit), measure(self.high, self.unit)
        if self.low is None:
            return say("to {high}" if self.high_in else "below {high}", high=high)
        if self.high is None:
            return say("from {low}" if self.low_in else "above {low}", low=low)
        if self.low_in:
            return say("from {low} to {high}" if self.high_in else "from {low} to below {high}", low=low, high=high)
        return say("above {low} to {high}" if self.high_in else "above {low} to below {high}", low=low, high=high)


class Root(NamedTuple):
    """A voltage as an exact root: V = radicand ** (1 / degree)."""

    radicand: Fraction
    degree: int = 1

    def compare(self, volts: Fraction) -> int:
        """-1, 0 or 1 as the voltage is below, at or above `volts`, exactly."""
        other = volts**self.degree
        return (self.radicand > other) - (self.radicand < other)

    def rounded(self, to: int = 1, way: Way = "nearest") -> int:
        """Whole volts, to a multiple of `to`; halves go up."""
        scaled = self.radicand / to**self.degree
        if way == "nearest":
            return (_floor_root(scaled * 2**self.degree, self.degree) + 1) // 2 * to
        floor = _floor_root(scaled, self.degree)
        if way == "up" and Fraction(floor) ** self.degree < scaled:
            floor += 1
        return floor * to


def _floor_root(radicand: Fraction, degree: int) -> int:
    """Greatest whole n with n**degree <= radicand."""
    whole = radicand.numerator // radicand.denominator
    if degree == 1:
        return whole
    if degree == 2:
        return isqrt(whole)
    low, high = 0, 1 << (whole.bit_length() // degree + 1)
    while high - low > 1:
        middle = (low + high) // 2
        if middle**degree <= whole:
            low = middle
        else:
            high = middle
    return low


class NoRow(NamedTuple):
    """A table without a row for the thickness, with the reason as a sentence."""

    why: str


@dataclass(frozen=True)
class Power:
    """V = factor * T^exponent, T in the form's unit."""

    factor: Fraction
    exponent: Fraction

    def volts(self, thickness: Given) -> Root:
        degree = self.exponent.denominator
        return Root(self.factor**degree * thickness.value**self.exponent.numerator, degree)

    def words(self, unit: Unit) -> str:
        power = "√T" if self.exponent == Fraction(1, 2) else f"T^{_figure(self.exponent, 3)}"
        return say("{formula} V, T in {unit}", formula=f"{_figure(self.factor, 4)}·{power}", unit=UNIT_WORDS[unit])


@dataclass(frozen=True)
class PerUnit:
    """So many volts for each unit of thickness, and never above the cap where there is one."""

    factor: Fraction
    cap: Fraction | None = None

    def volts(self, thickness: Given) -> Root:
        plain = self.factor * thickness.value
        return Root(plain if self.cap is None else min(plain, self.cap))

    def words(self, unit: Unit) -> str:
        words = say("{volts} V per {unit}", volts=_figure(self.factor, 4), unit=UNIT_WORDS[unit])
        return words if self.cap is None else words + say(", at most {volts} V", volts=_figure(self.cap, 0))


@dataclass(frozen=True)
class Step:
    """One row of a table."""

    span: Span
    volts: Fraction


@dataclass(frozen=True)
class Steps:
    """A table; what lies between two rows has no figure and none is made up."""

    rows: tuple[Step, ...]

    def row(self, thickness: Given) -> Step | None:
        return next((row for row in self.rows if row.span.place(thickness) == "in"), None)

    def volts(self, thickness: Given) -> Root | NoRow:
        row = self.row(thickness)
        return (
            Root(row.volts)
            if row
            else NoRow(
                say("No figure: the table has no row for {thickness}; nothing is interpolated.", thickness=thickness)
            )
        )

    def words(self, unit: Unit) -> str:
        return say("table of {count} steps, T in {unit}", count=len(self.rows), unit=UNIT_WORDS[unit])

    @property
    def span(self) -> Span:
        """From the first row to the last."""
        first, last = self.rows[0].span, self.rows[-1].span
        return Span(first.unit, first.low, last.high, first.low_in, last.high_in)


@dataclass(frozen=True)
class Below:
    """No voltage is asked for; the instrument's own stays below this one (wet sponge)."""

    limit: Fraction

    def words(self, unit: Unit) -> str:
        return say("below {volts} V DC", volts=_figure(self.limit, 0))


Formula = Power | PerUnit | Steps | Below


def round_half_up(value: Fraction, to: Fraction) -> Fraction:
    """The nearest multiple of `to`; halves go up."""
    return (2 * value / to + 1) // 2 * to


def percentile(values: Sequence[Fraction], percent: int) -> Fraction:
    """Return a percentile by linear interpolation, exactly (type 7 of Hyndman and Fan 1996, numpy's default).

    Raises ValueError when there is no value or percent is outside 0 to 100.
    """
    if not values or not 0 <= percent <= 100:
        raise ValueError(f"percent is {percent} of {len(values)} values; it must be 0 to 100 of at least one")
    ordered = sorted(values)
    position = Fraction(percent * (len(ordered) - 1), 100)
    lower = position.numerator // position.denominator
    upper = min(lower + 1, len(ordered) - 1)
    return ordered[lower] + (position - lower) * (ordered[upper] - ordered[lower])


def measure(value: Fraction | None, unit: Unit) -> str:
    """A thickness in words, to four decimals: "12 mil"."""
    return f"{_figure(value or Fraction(0), 4)} {UNIT_WORDS[unit]}"


def _figure(value: Fraction, decimals: int) -> str:
    text = f"{float(value):.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
