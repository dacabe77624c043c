"""A specification in words, part by part: what its page and its printed copies show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from accounts.units import show
from accounts.wording import noted, say
from inspections.asked_voltage import asked_voltage, stage_thickness
from inspections.flaws import FlawKind
from inspections.precedence import precedence_words
from inspections.rule_schema import Rule
from inspections.sensitivity import USUAL_SOURCE, asked_sensitivity
from inspections.terms import RecoatLimit, RepairCoat, Terms
from inspections.vocabulary import (
    AREA_UNITS,
    BOUNDS,
    CONDITIONS,
    CONDUCTIVE,
    FAMILIES,
    INTEGER_RULES,
    KINDS,
    MEDIA,
    METHODS,
    PATCH_SHAPES,
    PROFILES,
    PROVENANCES,
    RECOAT_AREAS,
    RECOAT_WINDOWS,
    SUBSTRATES,
    THICKNESS_BASES,
    THICKNESS_RULES,
    THICKNESS_SYSTEMS,
    UNITS,
)
from inspections.voltage_formulas import Steps

SILENT = noted("not stated: the answer is shown under each reading")


class Line(NamedTuple):
    label: str
    text: str


class Part(NamedTuple):
    """One part of a specification: its title, and lines of label and text."""

    title: str
    lines: tuple[Line, ...]


def parts_of(terms: Terms, units: str = "si") -> tuple[Part, ...]:
    """The terms in words for a reader of these units; coat stages, repair coats and copied rules are tables of their own."""
    return (
        Part(say("Film and substrate"), _film(terms)),
        Part(say("Test and voltage"), _voltage(terms, units)),
        Part(say("Checks and sweep"), _sweep(terms, units)),
        Part(say("People and permit"), _people(terms)),
        Part(say("Flaws allowed"), _flaws(terms)),
        Part(say("Film thickness"), _thickness(terms, units)),
        Part(say("Repairs"), _repairs(terms, units)),
    )


def _film(terms: Terms) -> tuple[Line, ...]:
    lines = [
        Line(say("Substrate"), say(SUBSTRATES[terms.substrate])),
        Line(say("Film"), f"{say(FAMILIES[terms.film_family])}, {say(CONDITIONS[terms.condition])}"),
    ]
    if terms.conductive:
        lines.append(Line(say("Conducts"), say(CONDUCTIVE)))
    if terms.film_strength is not None:
        text = say(
            "{strength:g} kV/mm by the product data sheet; advice, never a verdict", strength=terms.film_strength
        )
        lines.append(Line(say("Strength"), text))
    return tuple(lines)


def _voltage(terms: Terms, units: str) -> tuple[Line, ...]:
    lines = [
        Line(
            say("Method"),
            say("{method}, in {medium}", method=say(METHODS[terms.method]), medium=say(MEDIA[terms.medium])),
        )
    ]
    if terms.method == "visual":
        return tuple(lines)
    if terms.stated_volts is not None:
        text = say(
            "{volts} V ± {share:g} %, {document}",
            volts=terms.stated_volts,
            share=terms.voltage_tolerance_percent,
            document=terms.voltage_document or say("by this specification"),
        )
        lines.append(Line(say("Voltage stated"), text))
    elif terms.voltage_tolerance_percent is not None:
        lines.append(
            Line(say("Tolerance"), say("± {share:g} % of the voltage asked for", share=terms.voltage_tolerance_percent))
        )
    lines.append(Line(say("Which document rules"), precedence_words(terms.precedence)))
    unit, basis = say(UNITS[terms.thickness_unit]), say(THICKNESS_BASES[terms.thickness_basis])
    lines.append(Line(say("Thickness meant"), say("{basis}, stated in {unit}", basis=basis, unit=unit)))
    for stage in terms.stages:
        lines.append(Line(say("Asked at the {stage}", stage=stage.name), asked_words(terms, stage.name)))
    return tuple(lines)


def sensitivity_lines(terms: Terms, units: str) -> tuple[Line, ...]:
    """Where a wet sponge has to alarm; nothing for another method."""
    if terms.method != "wet_sponge":
        return ()
    asked = asked_sensitivity(terms.sensitivity_ohm, terms.sensitivity_tolerance_percent)
    text = say(
        "alarm at {ohm} ± {tolerance}",
        ohm=show(asked.ohm, "ohms", units),
        tolerance=show(asked.tolerance, "ohms", units),
    )
    silent = terms.sensitivity_ohm is None or terms.sensitivity_tolerance_percent is None
    return (Line(say("Sensitivity"), f"{text} ({say(USUAL_SOURCE)})" if silent else text),)


def asked_words(terms: Terms, stage: str) -> str:
    """What is asked for at a stage's own thickness, by which document and from where; or why there is no figure."""
    thickness = stage_thickness(terms, terms.stage(stage))
    asked = asked_voltage(terms, thickness)
    if asked.band is None:
        return say("at {thickness} no figure. {why}", thickness=thickness, why=asked.why)
    return say(
        "at {thickness} {low} to {high} V, by {document} ({provenance})",
        thickness=thickness,
        low=asked.band.low,
        high=asked.band.high,
        document=asked.document,
        provenance=say(PROVENANCES[asked.provenance]),
    )


def _sweep(terms: Terms, units: str) -> tuple[Line, ...]:
    islands = [name for name in terms.returns if name]
    return (
        Line(
            say("Check of the output"),
            say(
                "every {minutes:g} min at most, ± {share:g} % of the voltage set",
                minutes=terms.check_interval_min,
                share=terms.check_tolerance_percent,
            ),
        ),
        *sensitivity_lines(terms, units),
        Line(say("Speed"), say("at most {speed}", speed=show(terms.speed_limit, "speed", units))),
        Line(say("Overlap of lanes"), show(terms.electrode_overlap, "metres", units)),
        Line(say("Electrical islands"), ", ".join(islands) if islands else say("one: the zone as a whole")),
    )


def _people(terms: Terms) -> tuple[Line, ...]:
    asked = terms.sweeper_asked
    lines = [
        Line(say("Permit"), say("named by each high-voltage run") if terms.permit_asked else say("not asked for here")),
        Line(say("Who sweeps"), asked.sentence if asked.anything else say("no qualification asked for here")),
    ]
    if asked.accepted:
        lines.append(Line(say("Taken for it"), "; ".join(asked.accepted)))
    return tuple(lines)


def _flaws(terms: Terms) -> tuple[Line, ...]:
    limit = terms.holiday_limit
    words = say("no limit stated")
    if limit is not None:
        words = say(
            "{count} per {per} {unit}, parts of a flaw {rule}",
            count=limit.count,
            per=limit.per,
            unit=say(AREA_UNITS[limit.unit]),
            rule=say(INTEGER_RULES[limit.integer_rule]),
        )
    kinds = (
        ", ".join(str(FlawKind(kind).label) for kind in terms.counting_kinds)
        if terms.counting_kinds is not None
        else say("all found electrically but false indication, destructive test spot, burned by test")
    )
    lines = [Line(say("Limit"), words)]
    if limit is not None:
        lines.append(Line(say("A sample demonstrates it by bounds"), say(BOUNDS[limit.bounds])))
    return (*lines, Line(say("Kinds that count"), kinds))


def _thickness(terms: Terms, units: str) -> tuple[Line, ...]:
    if not terms.thickness_rule:
        return (Line(say("Judged"), say("not by this specification")),)
    lines = [Line(say("Judged"), say(THICKNESS_RULES[terms.thickness_rule]))]
    if terms.thickness_level is not None:
        lines.append(Line(say("Level"), say("{level} (from memory)", level=terms.thickness_level)))
        lines.append(Line(say("Counted in"), say(THICKNESS_SYSTEMS[terms.thickness_system])))
        shift = say("the zone is one") if terms.shift_area is None else show(terms.shift_area, "area", units)
        lines.append(Line(say("Area of a shift"), shift))
    return (*lines, Line(say("Profile"), say(PROFILES[terms.profile])))


def _repairs(terms: Terms, units: str) -> tuple[Line, ...]:
    shape = say(
        "{shape}, {overlap} beyond the flaw on each side",
        shape=say(PATCH_SHAPES[terms.patch_shape]),
        overlap=show(terms.patch_overlap, "metres", units),
    )
    lines = [
        Line(say("Patches"), shape),
        Line(
            say("Test taken away"),
            say("{margin} around repair and disturbance", margin=show(terms.as_left_margin, "metres", units)),
        ),
    ]
    if terms.primer_within_h is not None:
        lines.append(Line(say("Primer"), say("within {hours:g} h of preparation", hours=terms.primer_within_h)))
    lines.append(
        Line(say("Cure before the retest"), say("{hours:g} h after the last coat", hours=terms.cure_before_retest_h))
    )
    cycles = say("no limit stated") if terms.cycle_limit is None else say("at most {count}", count=terms.cycle_limit)
    lines.append(Line(say("Repairs of one patch"), cycles))
    own = (
        say("the contractor's own quality control with a witness, or another firm")
        if terms.own_quality_control_may_retest
        else say("another firm than the one that repaired")
    )
    lines.append(Line(say("Who retests"), own))
    if terms.recoat is not None:
        lines += _recoat(terms.recoat)
    return tuple(lines)


def _recoat(rule: RecoatLimit) -> list[Line]:
    lines = []
    if rule.area_percent is not None:
        reading = say(RECOAT_AREAS[rule.area_basis]) if rule.area_basis else say(SILENT)
        words = say("{share} % of the testable area or more; area: {reading}", share=rule.area_percent, reading=reading)
        lines.append(Line(say("Strip and recoat from"), words))
    if rule.count is not None:
        reading = say(RECOAT_WINDOWS[rule.windows]) if rule.windows else say(SILENT)
        words = say(
            "{count} spots per {per} {unit}; counted over {reading}",
            count=rule.count,
            per=rule.per,
            unit=say(AREA_UNITS[rule.unit]),
            reading=reading,
        )
        lines.append(Line(say("Strip and recoat above"), words))
    return lines


def wait_words(coat: RepairCoat) -> str:
    """When the next coat may follow."""
    if coat.maximum_wait_h is None:
        return say("at least {least:g} h", least=coat.minimum_wait_h)
    return say("at least {least:g} h, at most {most:g} h", least=coat.minimum_wait_h, most=coat.maximum_wait_h)


class RuleWords(NamedTuple):
    """A voltage rule as it is printed: name, kind and origin, what it is for, its figures, and remarks."""

    name: str
    origin: str
    scope: str
    figures: tuple[str, ...]
    remarks: str


def rule_words(rule: Rule) -> RuleWords:
    """A rule in words, its whole table or formulas in the unit of the document."""
    tolerance = ""
    if rule.tolerance is not None and rule.tolerance.percent is not None:
        tolerance = say("Tolerance ± {share:g} %.", share=float(rule.tolerance.percent))
    elif rule.tolerance is not None:
        tolerance = say("Tolerance ± {volts} V.", volts=rule.tolerance.volts)
    stated = ""
    if rule.volts_from is not None and rule.volts_to is not None:
        stated = say("States {low:g} to {high:g} V.", low=float(rule.volts_from), high=float(rule.volts_to))
    remarks = " ".join(text for text in (tolerance, stated, say(rule.note), say(rule.doubt)) if text)
    return RuleWords(say(rule.name), origin_words(rule), scope_words(rule), _figures(rule), remarks)


def origin_words(rule: Rule) -> str:
    return f"{say(KINDS[rule.kind])}; {say(PROVENANCES[rule.provenance])}"


def scope_words(rule: Rule) -> str:
    """What the rule is for, in words."""
    scope = rule.scope
    vocabularies: Sequence[tuple[tuple[str, ...], Mapping[str, str]]] = (
        (scope.families, FAMILIES),
        (scope.conditions, CONDITIONS),
        (scope.substrates, SUBSTRATES),
        (scope.methods, METHODS),
        (scope.media, MEDIA),
    )
    parts = [say(" or ").join(say(words[key]) for key in keys) for keys, words in vocabularies if keys]
    if rule.thickness_basis:
        parts.append(say(THICKNESS_BASES[rule.thickness_basis]))
    return "; ".join(parts) or say("any film, substrate and method")


def _figures(rule: Rule) -> tuple[str, ...]:
    lines = []
    for form in rule.forms:
        for branch in form.branches:
            if isinstance(branch.formula, Steps):
                lines += [f"{row.span}: {float(row.volts):g} V" for row in branch.formula.rows]
            else:
                lines.append(f"{branch.formula.words(form.unit)}; {branch.span}")
    return tuple(lines) or (say("The table of this document is not here: enter it from your own copy."),)
