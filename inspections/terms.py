"""What a specification asks for, as frozen data: the body of a Specification, read and written only here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cached_property
from typing import Any

from accounts.wording import say
from inspections.qualified import Asked
from inspections.rule_schema import Rule, rule_from_json
from inspections.term_parts import (
    HolidayLimit,
    RecoatLimit,
    RepairCoat,
    Stage,
    check_choice,
    check_number,
    check_text,
)
from inspections.vocabulary import (
    CONDITIONS,
    CONDUCTIVE,
    FAMILIES,
    KINDS,
    MEDIA,
    METHODS,
    PATCH_SHAPES,
    PRECEDENCE,
    PROFILES,
    SUBSTRATES,
    THICKNESS_BASES,
    THICKNESS_RULES,
    THICKNESS_SYSTEMS,
    UNITS,
)

__all__ = [
    "FINISHED",
    "METHODS",
    "THICKNESS_BASES",
    "HolidayLimit",
    "RecoatLimit",
    "RepairCoat",
    "Stage",
    "Terms",
    "terms_from_json",
]

FINISHED = "finished system"

_RANGES: Mapping[str, tuple[float, float]] = {
    "stated_volts": (1, 100_000),
    "voltage_tolerance_percent": (0, 99),
    "film_strength": (0.001, 1000),
    "check_interval_min": (0, 10_080),
    "check_tolerance_percent": (0, 99),
    "speed_limit": (0.001, 10),
    "electrode_overlap": (0, 10),
    "sensitivity_ohm": (1, 100_000_000),
    "sensitivity_tolerance_percent": (0, 99),
    "thickness_level": (1, 5),
    "shift_area": (0.01, 1_000_000),
    "patch_overlap": (0, 10),
    "as_left_margin": (0, 10),
    "primer_within_h": (0, 10_000),
    "cure_before_retest_h": (0, 10_000),
    "cycle_limit": (1, 1000),
}
_MAY_LACK = frozenset(
    {
        "sensitivity_ohm",
        "sensitivity_tolerance_percent",
        "stated_volts",
        "voltage_tolerance_percent",
        "film_strength",
        "thickness_level",
        "shift_area",
        "primer_within_h",
        "cycle_limit",
    }
)
_CHOICES: Mapping[str, Mapping[str, str]] = {
    "substrate": SUBSTRATES,
    "film_family": FAMILIES,
    "condition": CONDITIONS,
    "method": METHODS,
    "medium": MEDIA,
    "thickness_basis": THICKNESS_BASES,
    "thickness_unit": UNITS,
    "thickness_rule": {"": "", **THICKNESS_RULES},
    "thickness_system": THICKNESS_SYSTEMS,
    "profile": PROFILES,
    "patch_shape": PATCH_SHAPES,
}
_WHOLE = ("stated_volts", "sensitivity_ohm", "cycle_limit", "thickness_level")
_YES_OR_NO = ("conductive", "own_quality_control_may_retest", "permit_asked")
_TUPLES = ("precedence", "counting_kinds", "returns", "voltage_rules", "qualifications")


@dataclass(frozen=True)
class Terms:
    """Lengths in m, areas in m2, film thickness in um, strength in kV/mm, voltage in whole volts, times as named.

    stated_volts : the voltage the specification states itself (voltage_document names where), or None; voltage_rules are
        the bodies of the documents it copied. Which of them rules follows from precedence, an order of kinds of document.
    voltage_tolerance_percent : takes the place of a document's own; None leaves that one.
    sensitivity_ohm : where a wet sponge has to alarm; None where nothing is said of it.
    thickness_unit : the unit the specification gives thickness in; a rule's form for that unit is used.
    thickness_rule : "" where the film is not judged here; thickness_level (1 to 5) belongs to SSPC-PA 2.
    shift_area : coated in one shift, where area measurements are counted by shift. recoat : None for no such rule.
    permit_asked : whether a high-voltage run names a permit. sweeper_qualification, qualifications : what is asked of who
        sweeps, in words, and the papers that are taken for it ("scheme" or "scheme, level"); empty where nothing is asked.
    """

    substrate: str
    film_family: str
    stages: tuple[Stage, ...]
    method: str
    stated_volts: int | None
    voltage_tolerance_percent: float | None
    voltage_document: str
    check_interval_min: float
    check_tolerance_percent: float
    holiday_limit: HolidayLimit | None
    repair_coats: tuple[RepairCoat, ...]
    condition: str = "new"
    conductive: bool = False
    film_strength: float | None = None
    voltage_rules: tuple[Mapping[str, Any], ...] = ()
    thickness_basis: str = "nominal"
    thickness_unit: str = "um"
    medium: str = "air"
    precedence: tuple[str, ...] = PRECEDENCE
    speed_limit: float = 0.3
    electrode_overlap: float = 0.0
    sensitivity_ohm: int | None = None
    sensitivity_tolerance_percent: float | None = None
    counting_kinds: tuple[str, ...] | None = None
    thickness_rule: str = ""
    thickness_level: int | None = None
    thickness_system: str = "metric"
    profile: str = ""
    shift_area: float | None = None
    patch_overlap: float = 0.1
    patch_shape: str = "square"
    as_left_margin: float = 0.1
    primer_within_h: float | None = None
    cure_before_retest_h: float = 0.0
    recoat: RecoatLimit | None = None
    cycle_limit: int | None = None
    own_quality_control_may_retest: bool = False
    notes: str = ""
    returns: tuple[str, ...] = field(default=("",))
    permit_asked: bool = False
    sweeper_qualification: str = ""
    qualifications: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.stages:
            raise ValueError(say("stages: at least one coat stage is needed."))
        for name, allowed in _CHOICES.items():
            check_choice(name, getattr(self, name), allowed)
        names = [stage.name for stage in self.stages]
        if len(set(names)) < len(names):
            raise ValueError(say("stages: {names}: every coat stage needs a name of its own.", names=", ".join(names)))
        for name, (low, high) in _RANGES.items():
            check_number(name, getattr(self, name), low, high, may_lack=name in _MAY_LACK)
        for name in _WHOLE:
            if (value := getattr(self, name)) is not None and not isinstance(value, int):
                raise ValueError(say("{name}: {value!r} is not a whole number.", name=name, value=value))
        for name in _YES_OR_NO:
            if not isinstance(getattr(self, name), bool):
                raise ValueError(say("{name}: {value!r} is not yes or no.", name=name, value=getattr(self, name)))
        check_text("voltage_document", self.voltage_document, 200)
        check_text("notes", self.notes, 10_000)
        check_text("sweeper_qualification", self.sweeper_qualification, 200)
        for name in ("precedence", "counting_kinds", "returns", "qualifications"):
            for text in getattr(self, name) or ():
                check_text(name, text, 200)
        self._check_voltage()
        self._check_thickness()

    def _check_voltage(self) -> None:
        if not self.precedence or len(set(self.precedence)) < len(self.precedence):
            raise ValueError(say("precedence: name the kinds of document, each once, first the one that rules."))
        for kind in self.precedence:
            check_choice("precedence", kind, KINDS)
        ids = [rule.id for rule in self.rules]
        if twice := sorted({name for name in ids if ids.count(name) > 1}):
            raise ValueError(say("voltage_rules: {rules} is there twice.", rules=", ".join(twice)))
        if self.method == "visual":
            return
        if self.conductive:
            raise ValueError(
                say(
                    'method: "{method}" is not possible: {conductive}. Choose visual.',
                    method=self.method,
                    conductive=say(CONDUCTIVE),
                )
            )
        if self.stated_volts is None and not self.voltage_rules and self.method != "wet_sponge":
            raise ValueError(say("stated_volts: absent; state a voltage, or choose a rule that gives one."))
        if self.stated_volts is not None and self.voltage_tolerance_percent is None:
            raise ValueError(say("voltage_tolerance_percent: absent; a stated voltage needs its tolerance."))
        bare = [rule.name for rule in self.rules if rule.tolerance is None]
        if bare and self.voltage_tolerance_percent is None and self.method != "wet_sponge":
            raise ValueError(
                say(
                    "voltage_tolerance_percent: absent, and {rules} has no tolerance of its own.", rules=", ".join(bare)
                )
            )

    def _check_thickness(self) -> None:
        by_level = self.thickness_rule == "SSPC-PA 2"
        if by_level and self.thickness_level is None:
            raise ValueError(say("thickness_level: absent; SSPC-PA 2 has levels 1 to 5, and 3 where nothing is said."))
        if not by_level and self.thickness_level is not None:
            raise ValueError(
                say(
                    'thickness_level: {thickness_level} is a level of SSPC-PA 2; thickness_rule is "{thickness_rule}".',
                    thickness_level=self.thickness_level,
                    thickness_rule=self.thickness_rule,
                )
            )

    @cached_property
    def rules(self) -> tuple[Rule, ...]:
        """The copied voltage rules, read. Raises RuleRefused (a ValueError) naming what is wrong."""
        return tuple(rule_from_json(body) for body in self.voltage_rules)

    @property
    def sweeper_asked(self) -> Asked:
        """What is asked of who sweeps."""
        return Asked(self.sweeper_qualification, self.qualifications)

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
        return {name: _listed(value) for name, value in asdict(self).items()}


def _listed(value: Any) -> Any:
    """Tuples as the lists that JSON has."""
    return [_listed(item) for item in value] if isinstance(value, tuple) else value


def terms_from_json(body: Mapping[str, Any]) -> Terms:
    """Terms from a stored or given body. Raises ValueError or TypeError naming what is wrong."""
    given = dict(body)
    limit, recoat = given.get("holiday_limit"), given.get("recoat")
    given["stages"] = tuple(Stage(**stage) for stage in given["stages"])
    given["repair_coats"] = tuple(RepairCoat(**coat) for coat in given.get("repair_coats", ()))
    given["holiday_limit"] = HolidayLimit(**limit) if limit else None
    given["recoat"] = RecoatLimit(**recoat) if recoat else None
    for name in _TUPLES:
        if given.get(name) is not None:
            given[name] = tuple(given[name])
    return Terms(**given)
