"""The parts of a specification's terms as they are given: coat stages, repair coats, limits, rules to copy."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.languages import spoken
from accounts.units import DurationHoursField, FilmField, PercentField, Quantity
from accounts.wording import say
from inspections.precedence import THEN, spoken_orders
from inspections.rule_schema import RuleRefused, rule_from_json
from inspections.vocabulary import AREA_UNITS, BOUNDS, INTEGER_RULES, KINDS, RECOAT_AREAS, RECOAT_WINDOWS


@extend_schema_field(
    {
        "type": "array",
        "items": {"type": "string", "enum": list(KINDS)},
        "description": "Kinds of document, first the one that rules.",
    }
)
class PrecedenceField(serializers.ChoiceField):
    """The order in which documents rule: a list of their kinds, or on a page one of the orders there are."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=spoken_orders(), **kwargs)

    def to_internal_value(self, data: Any) -> list[str]:  # type: ignore[override]
        given = data.split(THEN) if isinstance(data, str) else data
        if (
            not isinstance(given, list | tuple)
            or not given
            or any(not isinstance(kind, str) or kind not in KINDS for kind in given)
        ):
            raise serializers.ValidationError(
                say(
                    "{given} is no order of documents. Name them once each: {kinds}.",
                    given=data,
                    kinds=", ".join(KINDS),
                )
            )
        return list(given)

    def to_representation(self, value: Any) -> Any:
        return value


@extend_schema_field(
    {
        "oneOf": [{"type": "object", "additionalProperties": True}, {"type": "string"}],
        "description": "The body of a rule, or the id of a shipped rule or of one of the organisation's own.",
    }
)
class CopiedRuleField(serializers.JSONField):
    """A voltage rule to copy: its body, or the key of one there is."""

    allowed = "The id of a rule, or its body."

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, str) and data.strip():
            return data.strip()
        try:
            rule_from_json(data)
        except RuleRefused as refused:
            raise serializers.ValidationError(list(refused.problems)) from None
        return data


class StageGiven(serializers.Serializer):
    name = serializers.CharField(label=_("Name"), max_length=60, help_text=_('"primer", "finished system".'))
    dft_nominal = FilmField(
        label=_("Nominal dry film"), min_value=0, max_value=50_000, help_text=_('"500 µm", "20 mil".')
    )
    dft_minimum = FilmField(label=_("Least dry film"), min_value=0, max_value=50_000)
    dft_maximum = FilmField(label=_("Most dry film"), min_value=0, max_value=50_000, required=False, allow_null=True)
    required_coverage_percent = PercentField(label=_("Of the area to be tested"), required=False, default=100.0)
    required_line_coverage_percent = PercentField(
        label=_("Of the metres of weld and edge"), required=False, allow_null=True, help_text=_("Empty: nothing asked.")
    )
    required_count_coverage_percent = PercentField(
        label=_("Of nozzles and brackets"), required=False, allow_null=True, help_text=_("Empty: nothing asked.")
    )


class RepairCoatGiven(serializers.Serializer):
    name = serializers.CharField(label=_("Coat"), max_length=120, help_text=_('"primer", "topcoat".'))
    product = serializers.CharField(label=_("Product"), max_length=120)
    minimum_wait_h = DurationHoursField(
        label=_("Wait at least"), help_text=_("Before the next coat."), max_value=10_000
    )
    maximum_wait_h = DurationHoursField(
        label=_("And at most"), required=False, allow_null=True, max_value=10_000, help_text=_("Empty: no latest time.")
    )
    wet_minimum = FilmField(label=_("Least wet film"), required=False, allow_null=True, min_value=0, max_value=50_000)
    wet_maximum = FilmField(label=_("Most wet film"), required=False, allow_null=True, min_value=0, max_value=50_000)


class HolidayLimitGiven(serializers.Serializer):
    count = serializers.CharField(label=_("Flaws allowed"), max_length=20, help_text=_('"3" or "0.5".'))
    per = serializers.CharField(label=_("On so much area"), max_length=20, help_text=_('"100".'))
    unit = serializers.ChoiceField(label=_("Of"), choices=spoken(AREA_UNITS), default="m2")
    integer_rule = serializers.ChoiceField(
        label=_("Parts of a flaw are"), choices=spoken(INTEGER_RULES), default="floor"
    )
    bounds = serializers.ChoiceField(
        label=_("A sample demonstrates it by bounds"),
        choices=spoken(BOUNDS),
        default="two-sided",
        help_text=_("Of the exact interval. Where all is swept the count decides alone."),
    )


class RecoatGiven(serializers.Serializer):
    area_percent = serializers.CharField(
        label=_("Share of the area needing repair, %"),
        max_length=20,
        required=False,
        allow_null=True,
        help_text=_("Reached at equality; of the testable area."),
    )
    area_basis = serializers.ChoiceField(
        label=_("Meaning the area of"), choices=spoken(RECOAT_AREAS), required=False, allow_null=True
    )
    count = serializers.IntegerField(
        label=_("More spots than"), min_value=0, max_value=1_000_000, required=False, allow_null=True
    )
    per = serializers.CharField(label=_("On so much area"), max_length=20, required=False, allow_null=True)
    unit = serializers.ChoiceField(label=_("Of"), choices=spoken(AREA_UNITS), default="m2")
    windows = serializers.ChoiceField(
        label=_("A zone holds"), choices=spoken(RECOAT_WINDOWS), required=False, allow_null=True
    )


def plain(given: Any) -> Any:
    """What was given as plain data in SI."""
    if isinstance(given, Quantity):
        return given.value
    if isinstance(given, Mapping):
        return {name: plain(value) for name, value in given.items()}
    if isinstance(given, list | tuple):
        return [plain(item) for item in given]
    return given


def as_said(given: Any) -> Any:
    """What was given as plain data, each quantity in the words it was said in: how a draft keeps it."""
    if isinstance(given, Quantity):
        return given.said
    if isinstance(given, Mapping):
        return {name: as_said(value) for name, value in given.items()}
    if isinstance(given, list | tuple):
        return [as_said(item) for item in given]
    return given
