"""Terms as a page's form starts from them: a draft as it was left, or the edition that is to be superseded."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from rest_framework import serializers

from accounts.units import FilmField, QuantityField
from inspections.actions.term_parts_given import PrecedenceField
from inspections.actions.terms_given import TermsGiven
from inspections.precedence import THEN
from inspections.rule_library import OF
from inspections.terms import Terms
from inspections.vocabulary import UNITS
from inspections.voltage_formulas import UM_PER


def terms_as_typed(terms: Terms, earlier: Any = None) -> dict[str, Any]:
    """Terms as a page's form starts from them: quantities with their unit, thickness in the specification's own.

    With `earlier`, the specification they are from, rules are named as copied from it.
    """
    typed = _typed(TermsGiven(), terms.to_json(), terms.thickness_unit)
    if earlier is not None:
        typed["voltage_rules"] = [f"{OF}{earlier.pk}/{rule.id}" for rule in terms.rules]
    return typed


def body_as_typed(body: Mapping[str, Any]) -> dict[str, Any]:
    """The body of a draft as its form starts from it."""
    order = body.get("precedence")
    return {**body, "precedence": THEN.join(order)} if isinstance(order, list) else dict(body)


def _typed(serializer: serializers.Serializer, body: Mapping[str, Any], film_unit: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, each in serializer.fields.items():
        value = body.get(name)
        if isinstance(each, serializers.ListSerializer):
            value = [_typed(each.child, item, film_unit) for item in value or ()]  # type: ignore[arg-type]
        elif isinstance(each, serializers.Serializer):
            value = None if value is None else _typed(each, value, film_unit)
        elif isinstance(each, FilmField) and value is not None:
            exact = Fraction(str(value)) / UM_PER[film_unit]  # type: ignore[index]
            value = f"{float(exact):.10g} {UNITS[film_unit]}"
        elif isinstance(each, QuantityField) and value is not None:
            value = f"{value:.10g} {each.kind.si.name}"
        elif isinstance(each, PrecedenceField) and value is not None:
            value = THEN.join(value)
        found[name] = value
    return found
