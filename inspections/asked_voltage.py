"""The voltage a specification asks for at one film thickness: which of its documents rules, its figure, its band.

The band is the ruling document's and nothing else. Where that document gives no figure, none is made up.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from accounts.wording import noted, say
from inspections.physics import Advice, film_strength, spark_over
from inspections.rule_schema import Rule, Scope
from inspections.term_parts import Stage
from inspections.terms import Terms
from inspections.voltage import Band, stated_band
from inspections.voltage_formulas import UM_PER, Given, Unit
from inspections.voltage_rules import Answer, Job, apply, form_for, ruling

STATED = "stated"
STATED_DOCUMENT = noted("the specification itself")


class Asked(NamedTuple):
    """What is asked for at one thickness.

    volts : V asked for; None where no figure is given, or where the instrument only has to stay below one.
    band : lowest and highest setting allowed, V; None without a figure. document, rule, edition, provenance : of what
        rules ("" where nothing does); unit : of the form used; form : its formula. why : the reason in a sentence.
    """

    volts: int | None
    band: Band | None
    document: str
    rule: str
    edition: str
    provenance: str
    unit: str
    form: str
    why: str
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


NOTHING_ASKED = Asked(None, None, "", "", "", "", "", "", "")
"""For what is not swept by the specified method, or without a voltage."""


def job_of(terms: Terms) -> Job:
    """The film, substrate and method a rule's scope is compared with."""
    return Job(terms.film_family, terms.substrate, terms.condition, terms.method, terms.medium, terms.conductive)


def stage_thickness(terms: Terms, stage: Stage) -> Given:
    """The stage's thickness in the unit the specification gives it in: the specified minimum by that basis, else nominal."""
    um = stage.dft_minimum if terms.thickness_basis == "specified minimum" else stage.dft_nominal
    unit: Unit = terms.thickness_unit  # type: ignore[assignment]
    basis = terms.thickness_basis if terms.thickness_basis == "specified minimum" else "nominal"
    return Given(Fraction(str(um)) / UM_PER[unit], unit, basis)


def answers_of(terms: Terms, thickness: Given) -> list[Answer]:
    """What each document of the specification says at a thickness: the stated voltage first, then the copied rules."""
    answers = []
    if terms.stated_volts is not None:
        answers.append(_stated(terms, terms.stated_volts))
    job = job_of(terms)
    for rule in terms.rules:
        answers.append(apply(rule, thickness, job, tolerance_percent=terms.voltage_tolerance_percent))
    return answers


def asked_voltage(terms: Terms, thickness: Given) -> Asked:
    """Return the voltage the specification asks for at a film thickness.

    Parameters
    ----------
    terms : with a stated voltage, copied rules, or both; precedence decides between them.
    thickness : as given; the form of its unit is used.

    Returns
    -------
    The ruling document's figure (V, whole) and band; without a figure where it has none for this thickness, where two
    documents of one kind apply, or where none does. Nothing is interpolated, and no lower document steps in.

    Examples
    --------
    >>> from inspections.voltage_formulas import thickness_given
    >>> terms = Terms("steel", "pipeline", (Stage("finished system", 500, 400),), "high_voltage_dc", 2500, 5.0,
    ...               "clause 8.2", 240, 5, None, ())
    >>> asked_voltage(terms, thickness_given(500, "um")).band
    Band(low=2375, high=2625, asked=2500)
    """
    found = ruling(answers_of(terms, thickness), terms.precedence)
    answer = found.answer
    if answer is None:
        return Asked(None, None, "", "", "", "", "", "", found.why)
    band = answer.band
    if answer.below_volts is not None:
        band = Band(1, answer.below_volts - 1, answer.below_volts - 1)
    rule, form = answer.rule, form_for(answer.rule, thickness)
    return Asked(
        answer.volts,
        band,
        rule.name,
        rule.id,
        rule.edition,
        rule.provenance,
        form.unit if form else "",
        answer.formula,
        answer.why,
        answer.warnings,
        answer.notes,
    )


def _stated(terms: Terms, volts: int) -> Answer:
    rule = Rule(STATED, terms.voltage_document or STATED_DOCUMENT, "", "project specification", "owner", Scope(), ())
    band = stated_band(volts, tolerance_percent=terms.voltage_tolerance_percent)
    why = say("States {volts} V whatever the thickness.", volts=volts)
    return Answer(rule, True, volts, why, band=band)


def advice_of(terms: Terms, thickness: Given) -> tuple[Advice, ...]:
    """The physics beside the figure: spark-over of a gap as thick as the film, and what the film is said to bear."""
    um = float(thickness.um)
    strength = () if terms.film_strength is None else (film_strength(terms.film_strength, um),)
    return (spark_over(um), *strength)
