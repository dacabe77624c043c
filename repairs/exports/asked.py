"""What was asked for and what stood at a release, one sentence a line: to be read where their JSON is not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.utils import translation

from accounts.units import show
from accounts.wording import noted
from inspections.terms import RepairCoat, Stage, Terms, terms_from_json
from inspections.terms_words import parts_of, rule_words, wait_words
from repairs.exports.put_right import RELEASES
from repairs.exports.scope import Column, Line, Table
from repairs.exports.tested import AT, SPECIFICATIONS, under


def terms_in_words(body: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Part, label and text of every term of a specification, in English and SI units."""
    terms = terms_from_json(body)
    with translation.override("en"):
        lines = [(f"Coat stage {number}", stage.name, _stage(stage)) for number, stage in enumerate(terms.stages, 1)]
        lines += [(part.title, line.label, line.text) for part in parts_of(terms) for line in part.lines]
        lines += _rules(terms)
        lines += [
            (f"Repair coat {number}", coat.name, _repair_coat(coat))
            for number, coat in enumerate(terms.repair_coats, 1)
        ]
    return [*lines, ("Notes", "", terms.notes)] if terms.notes else lines


def _stage(stage: Stage) -> str:
    nominal, least, most = (_film(each) for each in (stage.dft_nominal, stage.dft_minimum, stage.dft_maximum))
    return f"nominal {nominal}, least {least}, most {most}; to be tested: {stage.coverage_asked}"


def _repair_coat(coat: RepairCoat) -> str:
    wet = f"wet film from {_film(coat.wet_minimum)} to {_film(coat.wet_maximum)}"
    return "; ".join(filter(None, (coat.product, f"wait after it {wait_words(coat)}", wet)))


def _film(um: float | None) -> str:
    return "not stated" if um is None else show(um, "film")


def _rules(terms: Terms) -> list[tuple[str, str, str]]:
    return [
        ("Copied rule", said.name, "; ".join(filter(None, (said.origin, said.scope, *said.figures, said.remarks))))
        for said in map(rule_words, terms.rules)
    ]


def _each_term(line: Line) -> Iterator[Line]:
    *before, terms, _, _, pk = line
    for term in terms:  # type: ignore[union-attr]
        told: Any = term
        yield (*before, *told, pk)


def _each_gate(line: Line) -> Iterator[Line]:
    *before, gates, _, _, pk = line
    for gate in gates:  # type: ignore[union-attr]
        told: Any = gate
        yield (*before, told["name"], told["state"], told["sentence"], pk)


def _nothing() -> None:
    """Filled in line by line."""


TERMS = Table(
    "terms",
    noted("The terms of the specifications in words, one a line; their JSON is in the table of specifications."),
    (
        Column("specification", noted("Name of the specification."), "name"),
        Column("edition", noted("Its edition."), "edition"),
        Column("part", noted("Part of the specification."), "body", terms_in_words),
        Column("term", noted("What is asked about."), (), _nothing),
        Column("asked", noted("What is asked for; voltages, lengths and films with their unit."), (), _nothing),
        Column("specification id", noted("Identity of the specification."), "pk"),
    ),
    SPECIFICATIONS.rows,
    several=_each_term,
)
GATES = Table(
    "gates",
    noted("The gates as they stood at each release, one a line."),
    (
        *under("coating"),
        AT,
        Column("gate", noted("The gate."), "gates"),
        Column("state", noted("green, red or waits."), (), _nothing),
        Column("sentence", noted("What was true then."), (), _nothing),
        Column("release id", noted("Identity of the release."), "pk"),
    ),
    RELEASES.rows,
    several=_each_gate,
)
TABLES = (TERMS, GATES)
