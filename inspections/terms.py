"""What a specification asks for, as frozen data: the body of a Specification, read and written only here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from math import isfinite
from typing import Any

from accounts.wording import say
from mapping.density import ContractLimit

METHODS = {
    "high_voltage_dc": "high voltage, continuous DC",
    "high_voltage_pulsed": "high voltage, pulsed DC",
    "wet_sponge": "wet sponge",
    "visual": "visual",
}
THICKNESS_BASES = {
    "nominal": "nominal thickness",
    "specified minimum": "specified minimum thickness",
    "measured mean": "mean of the readings",
    "measured minimum": "lowest reading",
    "measured maximum": "highest reading",
}
FINISHED = "finished system"

PATCH_SHAPES = ("square", "round")
_RANGES: Mapping[str, tuple[float, float]] = {
    "stated_volts": (0, 100_000),
    "voltage_tolerance_percent": (0, 99),
    "check_interval_min": (0, 10_080),
    "check_tolerance_percent": (0, 99),
    "speed_limit": (0.001, 10),
    "electrode_overlap": (0, 10),
    "thickness_level": (1, 5),
    "patch_overlap": (0, 10),
    "as_left_margin": (0, 10),
    "primer_within_h": (0, 10_000),
    "cure_before_retest_h": (0, 10_000),
    "cycle_limit": (1, 1000),
}
_MAY_LACK = frozenset({"thickness_level", "primer_within_h", "cycle_limit"})


def _check_number(name: str, value: Any, low: float, high: float, may_lack: bool = False) -> None:
    if value is None and may_lack:
        return
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{name}: {value!r} is not a number.")
    if not low <= value <= high:
        raise ValueError(f"{name}: {value:g} is not allowed: {low:g} to {high:g}.")


def _check_text(name: str, value: Any, longest: int) -> None:
    if not isinstance(value, str) or "\0" in value:
        raise ValueError(f"{name}: {value!r} is not text.")
    if len(value) > longest:
        raise ValueError(f"{name}: {len(value)} characters are too many: {longest} are allowed.")


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
        _check_text("stage", self.name, 60)
        for name in ("dft_nominal", "dft_minimum", "dft_maximum"):
            _check_number(f"stage {self.name}, {name}", getattr(self, name), 0, 50_000, may_lack=name == "dft_maximum")
        _check_number(f"stage {self.name}, required_coverage_percent", self.required_coverage_percent, 0, 100)
        for name in ("required_line_coverage_percent", "required_count_coverage_percent"):
            _check_number(f"stage {self.name}, {name}", getattr(self, name), 0, 100, may_lack=True)
        if self.dft_maximum is not None and self.dft_maximum < self.dft_minimum:
            raise ValueError(f"stage {self.name}: dft_maximum {self.dft_maximum:g} is below dft_minimum.")

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
        _check_text("repair coat", self.name, 120)
        _check_text(f"repair coat {self.name}, product", self.product, 120)
        _check_number(f"repair coat {self.name}, minimum_wait_h", self.minimum_wait_h, 0, 10_000)
        for name in ("maximum_wait_h", "wet_minimum", "wet_maximum"):
            _check_number(f"repair coat {self.name}, {name}", getattr(self, name), 0, 50_000, may_lack=True)
        if self.maximum_wait_h is not None and self.maximum_wait_h < self.minimum_wait_h:
            raise ValueError(
                f"maximum_wait_h of {self.name} is {self.maximum_wait_h:g}; "
                f"it must not be below its minimum, {self.minimum_wait_h:g}."
            )


@dataclass(frozen=True)
class HolidayLimit:
    """Flaws allowed: `count` per `per` of `unit` ("m2", "ft2"), with the integer rule ("floor", "nearest", "ceiling")."""

    count: str
    per: str
    unit: str = "m2"
    integer_rule: str = "floor"

    def __post_init__(self) -> None:
        try:
            ContractLimit(self.count, self.per, self.unit, self.integer_rule)  # type: ignore[arg-type]
        except (TypeError, ValueError, ArithmeticError) as problem:
            raise ValueError(f"holiday_limit: {problem}") from problem


@dataclass(frozen=True)
class Terms:
    """Lengths in m, film thickness in um, voltage in whole volts, times as named.

    voltage_document names the ruling document as the specification prints it; precedence is the order in which
    documents rule. thickness_level is an SSPC-PA 2 level (1 to 5), or None where the film is not judged here.
    """

    substrate: str
    film_family: str
    stages: tuple[Stage, ...]
    method: str
    stated_volts: int
    voltage_tolerance_percent: float
    voltage_document: str
    check_interval_min: float
    check_tolerance_percent: float
    holiday_limit: HolidayLimit | None
    repair_coats: tuple[RepairCoat, ...]
    thickness_basis: str = "nominal"
    medium: str = "air"
    precedence: tuple[str, ...] = (
        "project specification",
        "product data sheet",
        "standard",
    )
    speed_limit: float = 0.3
    electrode_overlap: float = 0.0
    counting_kinds: tuple[str, ...] | None = None
    thickness_level: int | None = None
    patch_overlap: float = 0.1
    patch_shape: str = "square"
    as_left_margin: float = 0.1
    primer_within_h: float | None = None
    cure_before_retest_h: float = 0.0
    cycle_limit: int | None = None
    own_quality_control_may_retest: bool = False
    notes: str = ""
    returns: tuple[str, ...] = field(default=("",))

    def __post_init__(self) -> None:
        if not self.stages:
            raise ValueError("stages: at least one coat stage is needed.")
        if self.method not in METHODS:
            raise ValueError(f'method: "{self.method}" is not one of {", ".join(METHODS)}.')
        names = [stage.name for stage in self.stages]
        if len(set(names)) < len(names):
            raise ValueError(f"stages: {', '.join(names)}: every coat stage needs a name of its own.")
        if self.patch_shape not in PATCH_SHAPES:
            raise ValueError(f'patch_shape: "{self.patch_shape}" is not one of {", ".join(PATCH_SHAPES)}.')
        for name, (low, high) in _RANGES.items():
            _check_number(name, getattr(self, name), low, high, may_lack=name in _MAY_LACK)
        for name in ("stated_volts", "cycle_limit", "thickness_level"):
            if (value := getattr(self, name)) is not None and not isinstance(value, int):
                raise ValueError(f"{name}: {value!r} is not a whole number.")
        if not isinstance(self.own_quality_control_may_retest, bool):
            raise ValueError(
                f"own_quality_control_may_retest: {self.own_quality_control_may_retest!r} is not yes or no."
            )
        for name in ("substrate", "film_family", "voltage_document", "medium"):
            _check_text(name, getattr(self, name), 200)
        _check_text("notes", self.notes, 10_000)
        for name in ("precedence", "counting_kinds", "returns"):
            for text in getattr(self, name) or ():
                _check_text(name, text, 200)
        if self.thickness_basis not in THICKNESS_BASES:
            raise ValueError(f'thickness_basis: "{self.thickness_basis}" is not one of {", ".join(THICKNESS_BASES)}.')

    @property
    def final_stage(self) -> Stage:
        """The last stage: the finished system, the only one judged as left."""
        return self.stages[-1]

    def stage(self, name: str) -> Stage:
        """The stage of that name. Raises KeyError naming those there are."""
        for stage in self.stages:
            if stage.name == name:
                return stage
        raise KeyError(f'stage "{name}" is not one of: {", ".join(stage.name for stage in self.stages)}.')

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


def terms_from_json(body: Mapping[str, Any]) -> Terms:
    """Terms from a stored or given body. Raises ValueError or TypeError naming what is wrong."""
    given = dict(body)
    limit = given.get("holiday_limit")
    given["stages"] = tuple(Stage(**stage) for stage in given["stages"])
    given["repair_coats"] = tuple(RepairCoat(**coat) for coat in given.get("repair_coats", ()))
    given["holiday_limit"] = HolidayLimit(**limit) if limit else None
    for name in ("precedence", "counting_kinds", "returns"):
        if given.get(name) is not None:
            given[name] = tuple(given[name])
    return Terms(**given)
