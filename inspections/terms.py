"""What a specification asks for, as frozen data: the body of a Specification, read and written only here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

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


@dataclass(frozen=True)
class Stage:
    """One coat stage that is tested; thickness in um."""

    name: str
    dft_nominal: float
    dft_minimum: float
    dft_maximum: float | None = None
    required_coverage_percent: float = 100.0


@dataclass(frozen=True)
class RepairCoat:
    """One coat of a patch: wait at least and at most so many hours before the next; wet film in um."""

    name: str
    product: str
    minimum_wait_h: float
    maximum_wait_h: float | None = None
    wet_minimum: float | None = None
    wet_maximum: float | None = None


@dataclass(frozen=True)
class HolidayLimit:
    """Flaws allowed: `count` per `per` of `unit` ("m2", "ft2"), with the integer rule ("floor", "nearest", "ceiling")."""

    count: str
    per: str
    unit: str = "m2"
    integer_rule: str = "floor"


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
