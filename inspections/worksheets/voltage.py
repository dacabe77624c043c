"""Worksheets of test voltage: every rule side by side for one film, and the settings that a film's readings ask for."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.languages import spoken
from accounts.units import FILM, FilmField, PercentField, Quantity, VoltField, plain, read, show
from accounts.wording import noted, say
from accounts.worksheets import (
    Answer,
    Cell,
    Column,
    Figure,
    Mark,
    Source,
    Table,
    WorksheetGiven,
    cut,
    worksheet,
)
from inspections.cautions import cautions
from inspections.physics import NOT_A_VERDICT, Advice, film_strength, least_spark, spark_over
from inspections.precedence import ORDERS, THEN, precedence_words, spoken_orders
from inspections.rule_schema import Branch, Form, Rule, Scope, shipped_rules
from inspections.vocabulary import CONDITIONS, FAMILIES, KINDS, MEDIA, METHODS, PRECEDENCE, SUBSTRATES
from inspections.voltage_formulas import Given, Span, Step, Steps, thickness_given
from inspections.voltage_rules import Answer as RuleAnswer
from inspections.voltage_rules import Job, Ruling, ruling, side_by_side
from inspections.voltage_settings import asked_at_percentiles, fewest_settings

VOLTAGE = _("Test voltage")
MOST_READINGS = 2000
MARK_OF: dict[str, Mark] = {
    "published": "published",
    "from memory": "from memory",
    "common practice": "common practice",
    "owner": "plain arithmetic",
}
KUFFEL = Source(noted("Kuffel, Zaengl, Kuffel, High Voltage Engineering: Fundamentals"), "", "from memory")
DATA_SHEET = Source(noted("Product data sheet, as typed; the margin is chosen"), "", "plain arithmetic")
HYNDMAN = Source(noted("Hyndman and Fan, Sample Quantiles in Statistical Packages, type 7"), "1996")
FEWEST = Source(noted("Fewest settings whose bands hold every reading"), "", "plain arithmetic")
PERCENTILE_NAMES = {
    5: noted("at the 5th percentile"),
    50: noted("at the 50th percentile"),
    95: noted("at the 95th percentile"),
}


class JobGiven(WorksheetGiven):
    """What is tested, and how: what a rule's scope is compared with."""

    family = serializers.ChoiceField(
        label=_("Film"),
        choices=spoken(FAMILIES),
        default="pipeline",
        help_text=_("The wrong family is the classic slip."),
    )
    method = serializers.ChoiceField(
        label=_("Method"),
        choices=spoken({name: words for name, words in METHODS.items() if name != "visual"}),
        default="high_voltage_dc",
    )
    tolerance = PercentField(
        label=_("Tolerance of the specification"), max_value=50, allow_null=True, default=None,
        help_text=_("Left empty: the document's own, where it states one."),
    )  # fmt: skip
    substrate = serializers.ChoiceField(
        label=_("Substrate"), choices=spoken(SUBSTRATES), default="steel", style={"later": True}
    )
    condition = serializers.ChoiceField(
        label=_("Condition"), choices=spoken(CONDITIONS), default="new", style={"later": True}
    )
    medium = serializers.ChoiceField(label=_("Medium"), choices=spoken(MEDIA), default="air", style={"later": True})
    conductive = serializers.BooleanField(
        label=_("The film conducts"),
        default=False,
        help_text=_("Zinc-rich, carbon, static-dissipative."),
        style={"later": True},
    )


def job_of(given: dict[str, Any]) -> Job:
    return Job(**{name: given[name] for name in ("family", "substrate", "condition", "method", "medium", "conductive")})


def film_given(quantity: Quantity) -> Given:
    """The thickness as it was typed, exactly, in its own unit."""
    number, unit = read(quantity.said, FILM)
    return thickness_given(Fraction(number), (unit or FILM.si).name)


class VoltageGiven(JobGiven):
    thickness = FilmField(
        label=_("Dry film thickness"),
        min_value=1,
        max_value=30_000,
        help_text=_("A rule has a form for its unit: 12 mil, 0.3 mm."),
    )
    named = serializers.ChoiceField(
        label=_("Document the specification names"),
        choices=[(rule.id, _(rule.name)) for rule in shipped_rules()],
        allow_blank=True,
        default="",
        help_text=_("Where several standards apply, the specification has to name one."),
    )
    project_volts = VoltField(
        label=_("Voltage in the project specification"), min_value=1, max_value=60_000, allow_null=True, default=None
    )
    data_sheet_volts = VoltField(
        label=_("Voltage in the product data sheet"), min_value=1, max_value=60_000, allow_null=True, default=None
    )
    precedence = serializers.ChoiceField(
        label=_("Which rules first"),
        choices=spoken_orders(),
        default=THEN.join(PRECEDENCE),
        style={"later": True},
    )
    strength = serializers.FloatField(
        label=_("Dielectric strength, kV/mm"), min_value=0.1, max_value=1000, allow_null=True, default=None,
        help_text=_("Only where the product data sheet states one."), style={"later": True},
    )  # fmt: skip

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        return {"thickness": fields.pop("thickness"), **fields}


@worksheet(
    "voltage",
    takes=VoltageGiven,
    title=_("Test voltage"),
    about=_(
        "Every rule side by side for one thickness: applies or not and why, the voltage, the allowed band, and which one "
        "rules. Physics stands beside it as advice."
    ),
    part=VOLTAGE,
    example={"thickness": "16 mil", "family": "fusion-bonded epoxy", "tolerance": 10.0, "named": "nace-sp0490"},
)
def voltage_worksheet(given: dict[str, Any], units: str) -> Answer:
    thickness = film_given(given["thickness"])
    rules = [*shipped_rules(), *_stated(given, thickness)]
    answers = side_by_side(thickness, job_of(given), rules, tolerance_percent=_percent(given["tolerance"]))
    chosen = ruling(_in_question(answers, given["named"]), ORDERS[given["precedence"]])
    figures = [*_ruling_figures(chosen), *_advice(given, thickness, units)]
    return Answer(
        _sentence(chosen, thickness),
        tuple(figures),
        (_table(answers),),
        notes=(
            say("In this order: {order}.", order=precedence_words(ORDERS[given["precedence"]])),
            *(chosen.answer.notes if chosen.answer else ()),
            *dict.fromkeys(warning for answer in answers if answer.applies for warning in answer.warnings),
            say(NOT_A_VERDICT),
        ),
        cautions=tuple(say(each) for each in cautions(given["method"]).short),
        tone="done" if chosen.answer and chosen.answer.volts is not None else "held",
    )


def _percent(tolerance: Any) -> float | None:
    return None if tolerance is None else float(plain(tolerance))


def _stated(given: dict[str, Any], thickness: Given) -> list[Rule]:
    """Voltages that a document states without a formula, as rules for any film."""
    stated = (("project specification", given["project_volts"]), ("product data sheet", given["data_sheet_volts"]))
    anything = Span(thickness.unit)
    return [
        Rule(
            id=kind, document=say("{kind}, as typed", kind=say(KINDS[kind])), edition="", kind=kind, provenance="owner", scope=Scope(),
            forms=(Form(thickness.unit, (Branch(anything, Steps((Step(anything, Fraction(plain(volts))),))),)),),
        )
        for kind, volts in stated
        if volts is not None
    ]  # fmt: skip


def _in_question(answers: list[RuleAnswer], named: str) -> list[RuleAnswer]:
    """Where the specification names a document, the other standards are none of its business."""
    return [answer for answer in answers if not named or answer.rule.kind != "standard" or answer.rule.id == named]


def _sentence(chosen: Ruling, thickness: Given) -> str:
    answer = chosen.answer
    if answer is None or answer.volts is None:
        why = answer.why if answer is not None else ""
        return " ".join(filter(None, (say("No voltage for {thickness}.", thickness=thickness), chosen.why, why)))
    if answer.band is None:
        return say("{volts} V for {thickness}. {why}", volts=answer.volts, thickness=thickness, why=chosen.why)
    gaps = {
        "volts": answer.volts,
        "low": answer.band.low,
        "high": answer.band.high,
        "thickness": thickness,
        "why": chosen.why,
    }
    return say("{volts} V for {thickness}, allowed from {low} to {high} V. {why}", **gaps)


def _source(rule: Rule) -> Source:
    return Source(rule.document, rule.edition, MARK_OF[rule.provenance])


def _ruling_figures(chosen: Ruling) -> list[Figure]:
    answer = chosen.answer
    if answer is None or answer.volts is None:
        return []
    source = _source(answer.rule)
    formula = say("{formula} at {thickness}", formula=answer.formula, thickness=answer.thickness)
    figures = [
        Figure("volts", say("voltage of the ruling document"), answer.volts, "V", f"{answer.volts} V", formula, source)
    ]
    if answer.band is not None:
        figures += [
            Figure("low", say("lowest allowed"), answer.band.low, "V", f"{answer.band.low} V",
                   say("less the tolerance, rounded up"), source),
            Figure("high", say("highest allowed"), answer.band.high, "V", f"{answer.band.high} V",
                   say("plus the tolerance, rounded down"), source),
        ]  # fmt: skip
    return figures


def _advice(given: dict[str, Any], thickness: Given, units: str) -> list[Figure]:
    um = float(thickness.um)
    told: list[tuple[str, str, Advice, Source]] = [
        ("spark_over", say("advice: an air gap as thick as the film sparks over at"), spark_over(um), KUFFEL),
        ("least_spark", say("advice: no air gap sparks over below"), least_spark(), KUFFEL),
    ]
    if given["strength"] is not None:
        strength = film_strength(given["strength"], um)
        told.append(("strength", say("advice: half of what the film itself is said to bear"), strength, DATA_SHEET))
    return [
        Figure(
            key, name, advice.volts, "V", say("no figure") if advice.volts is None else f"{advice.volts:.0f} V",
            say("{words} Holds: {holds}.", words=advice.words, holds=advice.holds), source,
        )
        for key, name, advice, source in told
    ]  # fmt: skip


def _table(answers: list[RuleAnswer]) -> Table:
    columns = (
        Column("document", say("document")), Column("applies", say("applies")), Column("volts", say("voltage"), "V"),
        Column("band", say("allowed")), Column("why", say("why")), Column("known", say("known")),
    )  # fmt: skip
    return Table("rules", say("Every rule for this film"), columns, tuple(_row(answer) for answer in answers))


def _row(answer: RuleAnswer) -> tuple[Cell, ...]:
    band = f"{answer.band.low} to {answer.band.high} V" if answer.band else "–"
    why = answer.why
    if answer.elsewhere is not None:
        why = say("{why} On the film it is for it would say {volts} V.", why=why, volts=answer.elsewhere)
    known = say(MARK_OF[answer.rule.provenance]) if answer.rule.provenance != "owner" else say("as typed")
    return (
        Cell(answer.rule.name, say(answer.rule.name)),
        Cell(answer.applies, say("yes") if answer.applies else say("no")),
        Cell(answer.volts, "–" if answer.volts is None else f"{answer.volts} V"),
        Cell(band if answer.band else None, band),
        Cell(why, why),
        Cell(answer.rule.provenance, known),
    )


class SettingsGiven(JobGiven):
    readings = serializers.ListField(
        child=FilmField(min_value=1, max_value=30_000),
        label=_("Thickness readings"),
        max_length=MOST_READINGS,
        min_length=1,
        style={"rows": 6},
        help_text=_("Pasted, divided by spaces or lines."),
    )
    rule = serializers.ChoiceField(
        label=_("Ruling document"), choices=[(rule.id, _(rule.name)) for rule in shipped_rules() if rule.forms]
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        return {"readings": fields.pop("readings"), "rule": fields.pop("rule"), **fields}


@worksheet(
    "settings",
    takes=SettingsGiven,
    title=_("Voltage from thickness readings"),
    about=_(
        "What the ruling document asks for at the 5th, 50th and 95th percentile of a film's readings, and the fewest "
        "settings that serve every reading, with the split."
    ),
    part=VOLTAGE,
    example={
        "readings": [
            "410 µm",
            "395 µm",
            "380 µm",
            "420 µm",
            "455 µm",
            "372 µm",
            "350 µm",
            "402 µm",
            "438 µm",
            "415 µm",
        ],
        "rule": "nace-sp0490",
        "family": "fusion-bonded epoxy",
        "tolerance": 5.0,
    },
)
def settings_worksheet(given: dict[str, Any], units: str) -> Answer:
    rule = next(rule for rule in shipped_rules() if rule.id == given["rule"])
    typed = [film_given(reading) for reading in given["readings"]]
    readings = [replace(reading, value=reading.to(typed[0].unit), unit=typed[0].unit) for reading in typed]
    job, tolerance = job_of(given), _percent(given["tolerance"])
    asked = asked_at_percentiles(rule, readings, job, tolerance_percent=tolerance)
    plan = fewest_settings(rule, readings, job, tolerance_percent=tolerance)
    figures = [
        Figure(
            f"p{each.percent}", say(PERCENTILE_NAMES[each.percent]), each.answer.volts, "V",
            say("no figure") if each.answer.volts is None else f"{each.answer.volts} V",
            say("{thickness}: {why}", thickness=show(float(each.thickness.um), "film", units, 1), why=each.answer.why),
            _source(rule),
        )
        for each in asked
    ]  # fmt: skip
    columns = (
        Column("volts", say("setting"), "V"), Column("low", say("from"), "V"), Column("high", say("to"), "V"),
        Column("readings", say("readings served")), Column("film", say("where the film is")),
    )  # fmt: skip
    rows = tuple(
        (
            Cell(served.volts, f"{served.volts} V"),
            Cell(served.low, f"{served.low} V"),
            Cell(served.high, f"{served.high} V"),
            Cell(len(served.readings), str(len(served.readings))),
            Cell(_films(served, units), _films(served, units)),
        )
        for served in plan.settings
    )
    tables = (cut(Table("settings", say("Fewest settings"), columns, rows, FEWEST), 60),) if rows else ()
    return Answer(
        " ".join(plan.sentences[:1]) or say("No setting serves these readings."),
        tuple(figures),
        tables,
        notes=(*plan.sentences[1:][:12], say("Percentiles are linear interpolations: {source}.", source=HYNDMAN.words)),
        cautions=tuple(say(each) for each in cautions(given["method"]).short),
        tone="done" if plan.one_serves_all else "held",
    )


def _films(served: Any, units: str) -> str:
    thin, thick = (show(float(end.um), "film", units, 1) for end in (served.thinnest, served.thickest))
    return thin if thin == thick else say("{thin} to {thick}", thin=thin, thick=thick)
