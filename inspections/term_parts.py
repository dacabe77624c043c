"""The parts a specification's terms are made of: coat stages, repair coats, limits; and how a bad one is refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite
from typing import Any

from accounts.wording import say
from inspections.vocabulary import AREA_UNITS, BOUNDS, RECOAT_AREAS, RECOAT_WINDOWS
from mapping.density import ContractLimit


def check_number(name: str, value: Any, low: float, high: float, may_lack: bool = False) -> None:
    """Raises ValueError naming the term, its value and what is allowed."""
    if value is None and may_lack:
        return
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(say("{name}: {value!r} is not a number.", name=name, value=value))
    if not low <= value <= high:
        raise ValueError(
            say("{name}: {value:g} is not allowed: {low:g} to {high:g}.", name=name, value=value, low=low, high=high)
        )


def check_text(name: str, value: Any, longest: int) -> None:
    """Raises ValueError naming the term for what is no text, or too long."""
    if not isinstance(value, str) or "\0" in value:
        raise ValueError(say("{name}: {value!r} is not text.", name=name, value=value))
    if len(value) > longest:
        raise ValueError(
            say(
                "{name}: {count} characters are too many: {longest} are allowed.",
                name=name,
                count=len(value),
                longest=longest,
            )
        )


def check_choice(name: str, value: Any, allowed: Iterable[str]) -> None:
    """Raises ValueError naming the term, its value and what it may be."""
    words = list(allowed)
    if value not in words:
        raise ValueError(
            say(
                '{name}: "{value}" is not one of {allowed}.',
                name=name,
                value=value,
                allowed=", ".join(word for word in words if word),
            )
        )


@dataclass(frozen=True)
class Stage:
    """One coat stage that is tested; thickness in um.

    Coverage is asked of the area; of the metres of weld and edge (line) and of nozzles and brackets (count) only where
    a percentage is stated.
    """

    name: str
    dft_nominal: float
    dft_minimum: float
    dft_maximum: float | None = None
    required_coverage_percent: float = 100.0
    required_line_coverage_percent: float | None = None
    required_count_coverage_percent: float | None = None

    def __post_init__(self) -> None:
        check_text("stage", self.name, 60)
        for name in ("dft_nominal", "dft_minimum", "dft_maximum"):
            check_number(f"stage {self.name}, {name}", getattr(self, name), 0, 50_000, may_lack=name == "dft_maximum")
        check_number(f"stage {self.name}, required_coverage_percent", self.required_coverage_percent, 0, 100)
        for name in ("required_line_coverage_percent", "required_count_coverage_percent"):
            check_number(f"stage {self.name}, {name}", getattr(self, name), 0, 100, may_lack=True)
        if self.dft_maximum is not None and self.dft_maximum < self.dft_minimum:
            raise ValueError(
                say(
                    "stage {name}: dft_maximum {dft_maximum:g} is below dft_minimum.",
                    name=self.name,
                    dft_maximum=self.dft_maximum,
                )
            )

    @property
    def coverage_asked(self) -> str:
        """What has to be tested at this stage, in words, also where nothing is asked."""
        lines, counts = self.required_line_coverage_percent, self.required_count_coverage_percent
        return "; ".join(
            (
                say("{share:g} % of the area", share=self.required_coverage_percent),
                say("{share:g} % of the metres of weld and edge", share=lines)
                if lines
                else say("nothing asked of welds and edges"),
                say("{share:g} % of nozzles and brackets", share=counts)
                if counts
                else say("nothing asked of nozzles and brackets"),
            )
        )


@dataclass(frozen=True)
class RepairCoat:
    """One coat of a patch: wait at least and at most so many hours before the next; wet film in um."""

    name: str
    product: str
    minimum_wait_h: float
    maximum_wait_h: float | None = None
    wet_minimum: float | None = None
    wet_maximum: float | None = None

    def __post_init__(self) -> None:
        check_text("repair coat", self.name, 120)
        check_text(f"repair coat {self.name}, product", self.product, 120)
        check_number(f"repair coat {self.name}, minimum_wait_h", self.minimum_wait_h, 0, 10_000)
        for name in ("maximum_wait_h", "wet_minimum", "wet_maximum"):
            check_number(f"repair coat {self.name}, {name}", getattr(self, name), 0, 50_000, may_lack=True)
        if self.maximum_wait_h is not None and self.maximum_wait_h < self.minimum_wait_h:
            raise ValueError(
                say(
                    "maximum_wait_h of {name} is {maximum_wait_h:g}; it must not be below its minimum, {minimum_wait_h:g}.",
                    name=self.name,
                    maximum_wait_h=self.maximum_wait_h,
                    minimum_wait_h=self.minimum_wait_h,
                )
            )
        if self.wet_minimum is not None and self.wet_maximum is not None and self.wet_maximum < self.wet_minimum:
            raise ValueError(
                say(
                    "wet_maximum of {name} is {wet_maximum:g}; it must not be below its minimum, {wet_minimum:g}.",
                    name=self.name,
                    wet_maximum=self.wet_maximum,
                    wet_minimum=self.wet_minimum,
                )
            )


@dataclass(frozen=True)
class HolidayLimit:
    """Flaws allowed: `count` per `per` of `unit` ("m2", "ft2"), with the integer rule ("floor", "nearest", "ceiling").

    bounds ("two-sided", "one-sided") are those by which a sample demonstrates it; they never decide.
    """

    count: str
    per: str
    unit: str = "m2"
    integer_rule: str = "floor"
    bounds: str = "two-sided"

    def __post_init__(self) -> None:
        try:
            ContractLimit(self.count, self.per, self.unit, self.integer_rule)  # type: ignore[arg-type]
        except (TypeError, ValueError, ArithmeticError) as problem:
            raise ValueError(f"holiday_limit: {problem}") from problem
        check_choice("holiday_limit, bounds", self.bounds, BOUNDS)


@dataclass(frozen=True)
class RecoatLimit:
    """When all is stripped and recoated instead of spot repair: a share of area reached, or too many spots.

    area_percent is of the testable area; area_basis says which area is meant ("flaw", "prepared", "patch"), windows how
    many times `per` a zone holds ("exact", "down", "up"); either None where the specification is silent, and then the
    answer is shown under each reading.
    """

    area_percent: str | None = None
    area_basis: str | None = None
    count: int | None = None
    per: str | None = None
    unit: str = "m2"
    windows: str | None = None

    def __post_init__(self) -> None:
        if self.area_percent is None and self.count is None:
            raise ValueError(say("recoat: give area_percent or count; a rule without a limit decides nothing."))
        if self.area_percent is not None:
            self._above_zero("area_percent", self.area_percent, 100)
        if self.count is not None:
            check_number("recoat, count", self.count, 0, 1_000_000)
            if self.per is None:
                raise ValueError(
                    say("recoat, per: absent; say on how much area {count} spots are allowed.", count=self.count)
                )
            self._above_zero("per", self.per, 1_000_000_000)
        check_choice("recoat, unit", self.unit, AREA_UNITS)
        if self.area_basis is not None:
            check_choice("recoat, area_basis", self.area_basis, RECOAT_AREAS)
        if self.windows is not None:
            check_choice("recoat, windows", self.windows, RECOAT_WINDOWS)

    def _above_zero(self, name: str, value: str, most: int) -> None:
        try:
            exact = Fraction(value)
        except (TypeError, ValueError, ArithmeticError):
            raise ValueError(say('recoat, {name}: "{value}" is not a number.', name=name, value=value)) from None
        if not 0 < exact <= most:
            raise ValueError(
                say(
                    "recoat, {name}: {value} is not allowed: above 0, at most {most}.",
                    name=name,
                    value=value,
                    most=most,
                )
            )
