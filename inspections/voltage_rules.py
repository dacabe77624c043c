"""What each voltage rule says for one film, side by side, and which of them rules.

A rule is data; nothing here knows a document by name. Never interpolates, never extrapolates, never picks a branch.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from accounts.wording import noted, say
from inspections import vocabulary
from inspections.rule_schema import Branch, Form, Rule, shipped_rules
from inspections.voltage import Band, stated_band
from inspections.voltage_formulas import (
    UNIT_WORDS,
    Below,
    Given,
    NoRow,
    Root,
    Span,
    Steps,
    doubt_of_unit,
    round_half_up,
)

THUMB_WARNING = noted("This rule of thumb stands in no standard: name a document before work begins.")
MEMORY_WARNING = noted("The figures are from memory: confirm them with the document.")
DETECTOR_VOLTS = (500, 30_000)
DETECTOR_WARNING = noted(
    "High-voltage detectors give roughly 0.5 to 30 kV (common practice, no source): see that yours does."
)


@dataclass(frozen=True)
class Job:
    """What is tested, and how: the words a rule's scope is compared with."""

    family: str
    substrate: str = "steel"
    condition: str = "new"
    method: str = "high_voltage_dc"
    medium: str = "air"
    conductive: bool = False

    def __post_init__(self) -> None:
        for name, value, allowed in (
            ("family", self.family, tuple(vocabulary.FAMILIES)),
            ("substrate", self.substrate, tuple(vocabulary.SUBSTRATES)),
            ("condition", self.condition, tuple(vocabulary.CONDITIONS)),
            ("method", self.method, tuple(vocabulary.METHODS)),
            ("medium", self.medium, tuple(vocabulary.MEDIA)),
        ):
            if value not in allowed:
                raise ValueError(f'{name} is "{value}"; it must be one of: {", ".join(allowed)}')


class BranchShown(NamedTuple):
    """What one branch would give, shown where the document gives no figure between two of them."""

    words: str
    volts: int


@dataclass(frozen=True)
class Answer:
    """What a rule says for one film.

    applies : the document is for this film, thickness and method.
    volts : V asked for; None when it does not apply or gives no figure, and `why` says which and why.
    below_volts : V the instrument stays below, where the document asks for no voltage of its own (wet sponge).
    notes : how the thickness was taken: the form used, conversion, rounding. branches : see BranchShown.
    elsewhere : V the same document would give this thickness on the film it is for, when it is not for this one.
    unrounded : V before rounding, for showing the arithmetic.
    thickness : as used, after the document's rounding. formula : the form used.
    band : what the document's voltage and tolerance allow; None without either.
    """

    rule: Rule
    applies: bool
    volts: int | None
    why: str
    warnings: tuple[str, ...] = ()
    band: Band | None = None
    below_volts: int | None = None
    elsewhere: int | None = None
    unrounded: float | None = None
    thickness: str = ""
    formula: str = ""
    branches: tuple[BranchShown, ...] = ()
    notes: tuple[str, ...] = ()


class Ruling(NamedTuple):
    """The answer that rules, or None and why no document can be said to rule."""

    answer: Answer | None
    why: str


def apply(rule: Rule, thickness: Given, job: Job, *, tolerance_percent: float | str | Fraction | None = None) -> Answer:
    """Return what a rule says for a thickness.

    Parameters
    ----------
    rule : shipped, or an owner's.
    thickness : as given. The form in its unit is used; else the form in its system (um and mm); else the document's
        only form, converted exactly.
    job : film, substrate and method.
    tolerance_percent : the specification's; it takes the place of the document's own.

    Notes
    -----
    Thickness is rounded as the document rounds it before any range is tested. The ends of a range belong to it unless
    the rule says otherwise. Raises ValueError for a tolerance outside 0 to below 100 %.
    """
    if job.conductive:
        return Answer(rule, False, None, say("Does not apply: {why}.", why=say(vocabulary.CONDUCTIVE)))
    found = _figure(rule, thickness, tolerance_percent)
    if not (misfit := _misfit(rule, job)):
        return found
    return Answer(
        rule,
        False,
        None,
        say("Does not apply: {why}.", why=misfit),
        found.warnings,
        notes=found.notes,
        elsewhere=found.volts,
        thickness=found.thickness,
        formula=found.formula,
    )


def side_by_side(
    thickness: Given,
    job: Job,
    rules: Iterable[Rule] | None = None,
    *,
    tolerance_percent: float | str | Fraction | None = None,
) -> list[Answer]:
    """Every rule's answer for one film: those that apply first, then by document. Without rules, the shipped ones."""
    answers = [
        apply(rule, thickness, job, tolerance_percent=tolerance_percent)
        for rule in (shipped_rules() if rules is None else rules)
    ]
    return sorted(
        answers,
        key=lambda answer: (not answer.applies, list(vocabulary.KINDS).index(answer.rule.kind), answer.rule.name),
    )


def ruling(answers: Iterable[Answer], precedence: Sequence[str] = vocabulary.PRECEDENCE) -> Ruling:
    """Return the answer of the document that rules: of those that apply, the one whose kind comes first.

    precedence names kinds of documents, first the one that rules. A document that applies and gives no figure still
    rules: nothing below it is used instead. Two of one kind: none rules until one is named.
    Raises ValueError for a kind that is none.
    """
    for kind in precedence:
        if kind not in vocabulary.KINDS:
            raise ValueError(f'precedence holds "{kind}"; it must hold: {", ".join(vocabulary.KINDS)}')
    applying = [answer for answer in answers if answer.applies]
    for kind in precedence:
        first = [answer for answer in applying if answer.rule.kind == kind]
        if len(first) == 1:
            why = say(
                "{document} rules: {kind}, in the order {kinds}.",
                document=say(first[0].rule.name),
                kind=say(vocabulary.KINDS[kind]),
                kinds=_in_order(precedence),
            )
            return Ruling(first[0], why)
        if first:
            why = say(
                "{count} documents of one kind apply ({names}): the specification has to name one.",
                count=len(first),
                names="; ".join(f"{say(answer.rule.name)}: {_said(answer)}" for answer in first),
            )
            return Ruling(None, why)
    return Ruling(None, say("No document that rules applies (in the order {kinds}).", kinds=_in_order(precedence)))


def _in_order(precedence: Sequence[str]) -> str:
    return ", ".join(say(vocabulary.KINDS[kind]) for kind in precedence)


def form_for(rule: Rule, thickness: Given) -> Form | None:
    """The form of the unit the thickness was given in; else of its system; else the first. None without any."""
    metric = thickness.unit in ("um", "mm")

    def distance(form: Form) -> int:
        return 0 if form.unit == thickness.unit else 1 if metric == (form.unit in ("um", "mm")) else 2

    return min(rule.forms, key=distance, default=None)


def _figure(rule: Rule, given: Given, tolerance_percent: float | str | Fraction | None) -> Answer:
    """The rule's answer, its scope left aside."""
    form = form_for(rule, given)
    notes = () if form is None else _notes(rule, given, form)
    used = _rounded(given, form)
    found = _judged(rule, form, used, tolerance_percent)
    warnings = _warnings(rule, given)
    if found.volts is not None and not DETECTOR_VOLTS[0] <= found.volts <= DETECTOR_VOLTS[1]:
        warnings += (say(DETECTOR_WARNING),)
    return replace(found, warnings=warnings, notes=notes)


def _judged(rule: Rule, form: Form | None, used: Given, tolerance_percent: float | str | Fraction | None) -> Answer:
    if rule.thickness_range and (place := rule.thickness_range.place(used)) != "in":
        return _outside(rule, used, rule.thickness_range, place, form)
    if form is None:
        why = say("No figure: the table of this document is not shipped; enter it from your own copy.")
        if rule.volts_from is not None:
            why += say(" It states {low} to {high}.", low=_kv(rule.volts_from), high=_kv(rule.volts_to))
        return Answer(rule, True, None, why, thickness=str(used))
    for branch in form.branches:
        if branch.span.place(used) == "in":
            return _from_branch(rule, form, branch, used, tolerance_percent)
    lower = [branch for branch in form.branches if branch.span.place(used) == "above"]
    upper = [branch for branch in form.branches if branch.span.place(used) == "below"]
    if lower and upper:
        return _between(rule, form, used, (lower[-1], upper[0]))
    branch = (lower or upper)[-1 if lower else 0]
    return _outside(rule, used, branch.span, "above" if lower else "below", form)


def _from_branch(
    rule: Rule,
    form: Form,
    branch: Branch,
    used: Given,
    tolerance_percent: float | str | Fraction | None,
) -> Answer:
    words = branch.formula.words(form.unit)
    if isinstance(branch.formula, Below):
        limit = int(branch.formula.limit)
        why = say("Applies: films {span}; the instrument stays below {volts} V DC.", span=branch.span, volts=limit)
        return Answer(rule, True, None, why, below_volts=limit, thickness=str(used), formula=words)
    exact = branch.formula.volts(used)
    if isinstance(exact, NoRow):
        return Answer(rule, True, None, exact.why, thickness=str(used), formula=words)
    volts = exact.rounded(rule.volts_rounding_to, rule.volts_rounding_way)
    if volts == 0:
        why = say("Does not apply: {formula} rounds to 0 V at {thickness}.", formula=words, thickness=used)
        return Answer(rule, False, None, why, thickness=str(used), formula=words)
    if (rule.volts_from is not None and exact.compare(rule.volts_from) < 0) or (
        rule.volts_to is not None and exact.compare(rule.volts_to) > 0
    ):
        why = say(
            "Does not apply: {formula} gives {volts} V at {thickness}, outside the range of applied voltage it states, {low} "
            "to {high}.",
            formula=words,
            volts=volts,
            thickness=used,
            low=_kv(rule.volts_from),
            high=_kv(rule.volts_to),
        )
        return Answer(rule, False, None, why, thickness=str(used), formula=words)
    return Answer(
        rule,
        True,
        volts,
        say(
            "Applies: {formula}; at {thickness} that is {volts} V.",
            formula=_row(branch, used) or words,
            thickness=used,
            volts=volts,
        ),
        band=_band(rule, volts, tolerance_percent),
        unrounded=_float(exact),
        thickness=str(used),
        formula=words,
    )


def _row(branch: Branch, used: Given) -> str:
    row = branch.formula.row(used) if isinstance(branch.formula, Steps) else None
    return say("row {span} of its table", span=row.span) if row else ""


def _between(rule: Rule, form: Form, used: Given, pair: tuple[Branch, Branch]) -> Answer:
    shown = []
    for branch in pair:
        if not isinstance(branch.formula, Below) and isinstance(exact := branch.formula.volts(used), Root):
            volts = exact.rounded(rule.volts_rounding_to, rule.volts_rounding_way)
            shown.append(BranchShown(f"{branch.formula.words(form.unit)}, {branch.span}", volts))
    said = say(" or ").join(f"{branch.volts} V ({branch.words})" for branch in shown)
    why = say(
        "No figure: {thickness} lies between two branches of the document: {branches}. Ask the specifier.",
        thickness=used,
        branches=said or say("neither has one"),
    )
    return Answer(rule, True, None, why, thickness=str(used), branches=tuple(shown))


def _outside(rule: Rule, used: Given, span: Span, place: str, form: Form | None) -> Answer:
    why = say(
        "Does not apply: {thickness} is thinner than the document is for ({span}); nothing is extrapolated."
        if place == "below"
        else "Does not apply: {thickness} is thicker than the document is for ({span}); nothing is extrapolated.",
        thickness=used,
        span=span,
    )
    words = form.branches[0].formula.words(form.unit) if form and len(form.branches) == 1 else ""
    return Answer(rule, False, None, why, thickness=str(used), formula=words)


def _rounded(given: Given, form: Form | None) -> Given:
    if form is None:
        return given
    value = given.to(form.unit)
    if form.thickness_to is not None:
        value = round_half_up(value, form.thickness_to)
    return Given(value, form.unit, given.basis)


def _misfit(rule: Rule, job: Job) -> str | None:
    """What of the job the rule is not for; None when it is for all of it."""
    scope = rule.scope
    for allowed, value, names in (
        (scope.methods, job.method, vocabulary.METHODS),
        (scope.media, job.medium, vocabulary.MEDIA),
        (scope.families, job.family, vocabulary.FAMILIES),
        (scope.substrates, job.substrate, vocabulary.SUBSTRATES),
        (scope.conditions, job.condition, vocabulary.CONDITIONS),
    ):
        if allowed and value not in allowed:
            wanted = say(" or ").join(say(names.get(word, word)) for word in allowed)
            return say("it is for {wanted}, and this is {given}", wanted=wanted, given=say(names.get(value, value)))
    return None


def _warnings(rule: Rule, given: Given) -> tuple[str, ...]:
    found = []
    if rule.kind == "rule of thumb":
        found.append(say(THUMB_WARNING))
    if rule.provenance == "from memory":
        found.append(say(MEMORY_WARNING))
    if rule.doubt:
        found.append(say(rule.doubt))
    if rule.thickness_basis and given.basis and rule.thickness_basis != given.basis:
        found.append(
            say(
                "The document goes by {meant}; the thickness given is {given}.",
                meant=say(vocabulary.THICKNESS_BASES.get(rule.thickness_basis, rule.thickness_basis)),
                given=say(vocabulary.THICKNESS_BASES.get(given.basis, given.basis)),
            )
        )
    if question := doubt_of_unit(given):
        found.append(question)
    return tuple(found)


def _notes(rule: Rule, given: Given, form: Form) -> tuple[str, ...]:
    found = []
    converted = Given(given.to(form.unit), form.unit)
    if len(rule.forms) > 1:
        found.append(
            say(
                "The document's {unit} form was used, for thickness given in {given}; its forms differ by a little.",
                unit=UNIT_WORDS[form.unit],
                given=UNIT_WORDS[given.unit],
            )
        )
    if form.unit != given.unit:
        found.append(say("{given} was converted exactly to {converted}.", given=given, converted=converted))
    used = _rounded(given, form)
    if used.value != converted.value:
        found.append(
            say("{given} was rounded to {used}, halves up, before the table was read.", given=converted, used=used)
        )
    return tuple(found)


def _band(rule: Rule, volts: int, tolerance_percent: float | str | Fraction | None) -> Band | None:
    if tolerance_percent is not None:
        return stated_band(volts, tolerance_percent=tolerance_percent)
    if rule.tolerance is None:
        return None
    if rule.tolerance.volts is not None:
        return stated_band(volts, tolerance_volts=min(rule.tolerance.volts, volts - 1))
    return stated_band(volts, tolerance_percent=rule.tolerance.percent)


def _float(exact: Root) -> float:
    # Three more digits than are shown, taken from the exact root.
    return Root(exact.radicand * 1000**exact.degree, exact.degree).rounded() / 1000


def _said(answer: Answer) -> str:
    return say("no figure") if answer.volts is None else f"{answer.volts} V"


def _kv(volts: Fraction | None) -> str:
    return say("no limit") if volts is None else f"{float(volts) / 1000:g} kV"
