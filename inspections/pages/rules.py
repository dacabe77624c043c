"""An organisation's own voltage rules: the list, one rule with what it gives at its borders, a new one, a next version."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.acting import Done, find, may
from accounts.forms import act_on_page
from accounts.people import Organisation, Person
from accounts.wording import say
from inspections.actions.rules import given_of
from inspections.rule_library import VoltageRule, current_rules
from inspections.rule_schema import Rule, shipped_rules
from inspections.terms_words import rule_words
from inspections.voltage_formulas import Given, Steps, Unit
from inspections.voltage_rules import Job, apply

BETWEEN = (Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4), Fraction(1))
WITHOUT_RANGE: dict[Unit, tuple[int, int]] = {"um": (250, 1250), "mm": (1, 5), "mil": (10, 50)}


class Preview(NamedTuple):
    """What a rule says at one thickness, its scope met."""

    thickness: str
    volts: str
    why: str


def _me(request: HttpRequest) -> Person:
    return cast(Person, request.user)


def _crumbs(organisation: Organisation) -> list[tuple[str, str]]:
    return [
        (organisation.name, reverse("organisation", args=[organisation.pk])),
        (say("Voltage rules"), reverse("rules", args=[organisation.pk])),
    ]


@login_required
@require_safe
def rules(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The organisation's own rules, and those that come with Barespot."""
    me, organisation = _me(request), find(_me(request), Organisation, pk)
    return render(
        request,
        "inspections/rules.html",
        {
            "organisation": organisation,
            "own": [(row, rule_words(row.rule)) for row in current_rules(pk)],
            "past": VoltageRule.objects.filter(organisation=pk)
            .exclude(retired_at=None, replaced_by=None)
            .order_by("-added_at"),
            "shipped": [rule_words(rule) for rule in shipped_rules()],
            "may_add": may(me, "add_rule", organisation),
        },
    )


@login_required
@require_safe
def rule(request: HttpRequest, pk: UUID) -> HttpResponse:
    row = find(_me(request), VoltageRule, pk)
    versions = VoltageRule.objects.filter(organisation=row.organisation, body__document=row.rule.document)
    return render(
        request,
        "inspections/rule.html",
        {
            "row": row,
            "words": rule_words(row.rule),
            "previews": list(previews(row.rule)),
            "versions": versions.select_related("added_by").order_by("-number"),
            "may_change": row.is_current and may(_me(request), "new_rule_version", row),
            "crumbs": _crumbs(row.organisation),
            "list": reverse("rules", args=[row.organisation_id]),
        },
    )


def previews(rule: Rule) -> Iterator[Preview]:
    """What the rule gives at the ends of its ranges and between them."""
    scope = rule.scope
    job = Job(
        scope.families[0] if scope.families else "other",
        scope.substrates[0] if scope.substrates else "steel",
        scope.conditions[0] if scope.conditions else "new",
        scope.methods[0] if scope.methods else "high_voltage_dc",
        scope.media[0] if scope.media else "air",
    )
    for form in rule.forms:
        found: set[Fraction] = set()
        for branch in form.branches:
            if isinstance(branch.formula, Steps):
                found |= {end for row in branch.formula.rows for end in (row.span.low, row.span.high) if end}
                continue
            low, high = WITHOUT_RANGE[form.unit]
            start = branch.span.low or (branch.span.high or Fraction(4 * low)) / 4
            end = branch.span.high or max(Fraction(high), start * 2)
            found |= {start + share * (end - start) for share in BETWEEN}
        for value in sorted(found):
            answer = apply(rule, Given(value, form.unit), job)
            yield Preview(
                str(Given(value, form.unit)), "–" if answer.volts is None else f"{answer.volts} V", answer.why
            )


@login_required
def add_rule(request: HttpRequest, pk: UUID) -> HttpResponse:
    organisation = find(_me(request), Organisation, pk)

    def to(done: Done) -> str:
        return reverse("rule", args=[done.entry.operation])

    return act_on_page(
        request,
        "add_rule",
        organisation,
        context={
            "title": say("Add a voltage rule"),
            "lead": say("From the document you hold: its table, or its formula. Specifications take a copy of it."),
            "crumbs": _crumbs(organisation),
        },
        template="inspections/draft_form.html",
        success=say("The rule is added. Compare the figures below with the document."),
        to=to,
        cancel=reverse("rules", args=[pk]),
    )


@login_required
def new_rule_version(request: HttpRequest, pk: UUID) -> HttpResponse:
    row = find(_me(request), VoltageRule, pk)
    back = reverse("rule", args=[pk])

    def to(done: Done) -> str:
        return reverse("rule", args=[done.entry.operation])

    return act_on_page(
        request,
        "new_rule_version",
        row,
        initial=given_of(row.body),
        context={
            "title": say("Next version of {rule}", rule=row.rule.name),
            "lead": say("Specifications that copied an earlier version keep their copy."),
            "crumbs": [*_crumbs(row.organisation), (str(row), back)],
        },
        template="inspections/draft_form.html",
        success=say("The next version is added."),
        to=to,
        cancel=back,
    )
