"""Worksheets of counting: flaws per area, the contract line, what a sample allows to infer, and what two sweeps missed."""

from __future__ import annotations

from decimal import Decimal
from math import isfinite
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.units import AreaField, plain, show
from accounts.wording import noted, say, say_many
from accounts.worksheets import Answer, Figure, Source, Tone, WorksheetGiven, worksheet
from mapping.density import (
    ContractLimit,
    ContractVerdict,
    Density,
    DensityDecision,
    chance_of_no_flaw,
    density,
    judge_contract,
    judge_density,
)
from mapping.missed import LEAST_IN_COMMON, missed_flaws

COUNTING = _("Counting flaws")
GARWOOD = Source(noted("Garwood, Fiducial limits for the Poisson distribution, Biometrika 28"), "1936")
JEFFREYS = Source(noted("Poisson model with Jeffreys' prior, Jeffreys, Theory of Probability"), "1961", "from memory")
CHAPMAN = Source(noted("Chapman, University of California Publications in Statistics 1"), "1951")
SEBER = Source(noted("Seber, Biometrika 57"), "1970", "from memory")
CONTRACT = Source(noted("Your specification's limit, as typed"), "", "plain arithmetic")
ARITHMETIC = Source(noted("Definition"), "", "plain arithmetic")
LARGEST_M2 = 1e8


class DensityGiven(WorksheetGiven):
    count = serializers.IntegerField(
        label=_("Flaws counted"), min_value=0, max_value=1_000_000, help_text=_("Found on the tested area.")
    )
    area = AreaField(label=_("Tested area"), min_value=0, max_value=LARGEST_M2)
    left = AreaField(
        label=_("Area not swept yet"),
        min_value=0,
        max_value=LARGEST_M2,
        default=0.0,
        help_text=_("0 when all is swept."),
    )
    limit_count = serializers.DecimalField(
        label=_("Flaws allowed"),
        max_digits=12,
        decimal_places=4,
        min_value=0,
        allow_null=True,
        default=None,
        help_text=_("As the specification says it; left empty, nothing is judged."),
    )
    limit_per = serializers.DecimalField(
        label=_("on each"), max_digits=12, decimal_places=4, min_value=Decimal("0.0001"), default=Decimal(100)
    )
    limit_unit = serializers.ChoiceField(label=_("in"), choices=[("m2", "m²"), ("ft2", "ft²")], default="m2")
    integer_rule = serializers.ChoiceField(
        label=_("A part of a flaw is"),
        choices=[("floor", _("rounded down")), ("nearest", _("rounded to the nearest")), ("ceiling", _("rounded up"))],
        default="floor",
    )
    sides = serializers.ChoiceField(
        label=_("Bounds"),
        choices=[("two-sided", _("two-sided 95 %")), ("one-sided", _("one-sided 95 %"))],
        default="two-sided",
        help_text=_("One-sided only where the specification says so."),
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if given["count"] and given["area"].value == 0:
            raise serializers.ValidationError(
                {"area": say("{count} flaws on 0 m²: write the area they were found on.", count=given["count"])}
            )
        return given


@worksheet(
    "density",
    takes=DensityGiven,
    title=_("Flaw density"),
    about=_(
        "Flaws per area with its exact interval, the plain count against the contract line, the three-way decision about "
        "the process, and what to expect on ground not swept."
    ),
    part=COUNTING,
    example={"count": 3, "area": 420.0, "left": 80.0, "limit_count": "1", "limit_per": "100", "limit_unit": "m2"},
)
def flaw_density(given: dict[str, Any], units: str) -> Answer:
    count, area = given["count"], given["area"].value
    left = plain(given["left"])
    found = density(count, area)
    if found is None:
        return Answer(say("Nothing is tested yet: there is no density, and no verdict."))
    figures = list(_density_figures(found, units))
    tone: Tone = ""
    sentences = [
        say(
            "{rate}, between {low} and {high} at 95 %.",
            rate=figures[0].shown,
            low=figures[1].shown,
            high=figures[2].shown,
        )
    ]
    if given["limit_count"] is not None:
        limit = ContractLimit(
            given["limit_count"], given["limit_per"], given["limit_unit"], integer_rule=given["integer_rule"]
        )
        verdict = judge_contract(limit, count, area)
        figures.append(_contract_figure(verdict, limit))
        tone = "done" if verdict.verdict == "kept" else "open"
        sentences.insert(0, _contract_words(verdict, limit))
        if decision := judge_density(count, area, limit, left, given["sides"]):
            figures += _decision_figures(decision, units)
    chance = chance_of_no_flaw(count, area, left)
    if left and chance is not None:
        figures.append(
            Figure(
                "chance_of_no_flaw", say("chance of no flaw on what is not swept"), chance, "", f"{100 * chance:.1f} %",
                say("(A/(A + B))^(n + 1/2), A swept, B not swept, n found; same crew and detail assumed"), JEFFREYS,
            )
        )  # fmt: skip
    notes = (
        say(
            "The plain count decides on swept ground. The interval, the decision and the chance speak about the process and "
            "about ground not swept; they are never the reason for a release."
        ),
    )
    return Answer(" ".join(sentences), tuple(figures), notes=notes, tone=tone)


def _density_figures(found: Density, units: str) -> tuple[Figure, Figure, Figure]:
    def shown(per_m2: float) -> str:
        if units == "us":
            return say("{rate:.2f} per 1000 ft²", rate=per_m2 * 92.90304)
        return say("{rate:.2f} per 100 m²", rate=per_m2 * 100)

    low, high = found.interval_per_m2
    area = show(found.area_m2, "area", units)
    return (
        Figure(
            "density", say("flaws per area"), found.per_m2, "1/m²", shown(found.per_m2),
            say_many("{count} flaw on {area}", "{count} flaws on {area}", found.count, area=area), ARITHMETIC,
        ),
        Figure("lower", say("lower end, 95 %"), low, "1/m²", shown(low), say("chi²(0.025, 2n)/2 over the area"), GARWOOD),
        Figure(
            "upper", say("upper end, 95 %"), high, "1/m²", shown(high), say("chi²(0.975, 2n + 2)/2 over the area"), GARWOOD
        ),
    )  # fmt: skip


def _contract_words(verdict: ContractVerdict, limit: ContractLimit) -> str:
    gaps = {"count": verdict.count, "allowed": verdict.allowed, "limit": limit.words()}
    if verdict.verdict == "kept":
        return say("{count} found, {allowed} allowed: the limit of {limit} is kept.", **gaps)
    return say("{count} found, {allowed} allowed: the limit of {limit} is exceeded.", **gaps)


def _contract_figure(verdict: ContractVerdict, limit: ContractLimit) -> Figure:
    return Figure(
        "allowed", say("allowed on the tested area"), verdict.allowed, "", str(verdict.allowed), verdict.arithmetic, CONTRACT
    )  # fmt: skip


def _decision_figures(decision: DensityDecision, units: str) -> list[Figure]:
    source = GARWOOD
    figures = [
        Figure(
            "decision", say("what the sample shows"), decision.verdict, "", say(decision.verdict),
            say("demonstrated when the upper bound is at or below the limit, exceeded when the lower is above ({sides})",
                sides=say(decision.sides)),
            source,
        )
    ]  # fmt: skip
    if decision.further_m2 is not None:
        reachable = isfinite(decision.further_m2)
        enough = decision.settled_by_what_is_left
        words = show(decision.further_m2, "area", units) if reachable else say("no area can")
        if not enough:
            words = say("{area}: more than is left", area=words)
        figures.append(
            Figure(
                "further_area", say("further area without a flaw that would settle it"),
                decision.further_m2 if reachable else None, "m²", words,
                say("upper bound over the limit, less the tested area"), source,
            )
        )  # fmt: skip
    return figures


class MissedGiven(WorksheetGiven):
    first = serializers.IntegerField(label=_("Flaws the first sweep found"), min_value=0, max_value=1_000_000)
    second = serializers.IntegerField(label=_("Flaws the second sweep found"), min_value=0, max_value=1_000_000)
    common = serializers.IntegerField(
        label=_("Found by both"), min_value=0, max_value=1_000_000, help_text=_("The same flaws, by place.")
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        least = min(given["first"], given["second"])
        if given["common"] > least:
            raise serializers.ValidationError(
                {
                    "common": say(
                        "{common} is more than {least}, what one sweep found.", common=given["common"], least=least
                    )
                }
            )
        return given


@worksheet(
    "missed",
    takes=MissedGiven,
    title=_("Flaws that two sweeps missed"),
    about=_(
        "From two independent sweeps of the same ground: how many flaws there are by estimate, and how many neither found."
    ),
    part=COUNTING,
    example={"first": 20, "second": 18, "common": 15},
)
def missed(given: dict[str, Any], units: str) -> Answer:
    first, second, common = given["first"], given["second"], given["common"]
    seen = first + second - common
    found = Figure("seen", say("different flaws found"), seen, "", str(seen), say("first + second − both"), ARITHMETIC)
    notes = (
        say(
            "It holds for sweeps made independently, and where every flaw is as likely to be found as another; hard ones are not."
        ),
        say("It never replaces a sweep, and says nothing about where a missed flaw is."),
    )
    estimate = missed_flaws(first, second, common)
    if estimate is None:
        words = say(
            "{seen} found. Fewer than {least} are in common: nothing is estimated.", seen=seen, least=LEAST_IN_COMMON
        )
        return Answer(words, (found,), notes=notes)
    share = 100 * seen / estimate.total
    return Answer(
        say(
            "About {total:.1f} flaws by estimate, {missed:.1f} of them found by neither, give or take {error:.1f}.",
            total=estimate.total, missed=estimate.missed, error=estimate.standard_error,
        ),
        (
            found,
            Figure("total", say("flaws by estimate"), estimate.total, "", f"{estimate.total:.1f}",
                   say("(n1 + 1)(n2 + 1)/(m + 1) − 1"), CHAPMAN),
            Figure("missed", say("found by neither"), estimate.missed, "", f"{estimate.missed:.1f}",
                   say("estimate less what was found"), CHAPMAN),
            Figure("error", say("standard error"), estimate.standard_error, "", f"{estimate.standard_error:.1f}",
                   say("root of (n1 + 1)(n2 + 1)(n1 − m)(n2 − m)/((m + 1)²(m + 2))"), SEBER),
            Figure("share", say("share found"), share, "%", f"{share:.0f} %", say("found over estimate"), CHAPMAN),
        ),
        notes=notes,
    )  # fmt: skip
