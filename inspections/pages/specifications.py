"""Specifications of an asset: the list, a draft worked out step by step, what is issued, and the voltage it asks for."""

from __future__ import annotations

import json
from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.acting import Done, find, may
from accounts.assets import Asset
from accounts.forms import Told, act_on_page, build_form, reader_of
from accounts.people import Person
from accounts.wording import say
from inspections.actions.specifying import IssueSpecification, bare_zones, draft_as_given
from inspections.actions.terms_typed import body_as_typed, terms_as_typed
from inspections.asked_voltage import advice_of, answers_of, asked_voltage, job_of, stage_thickness
from inspections.given_thickness import thickness_said
from inspections.precedence import precedence_words
from inspections.rule_library import OF, OWN, current_rules
from inspections.rule_schema import RuleRefused, rule_from_json, shipped_rules
from inspections.specifications import Specification, SpecificationDraft
from inspections.terms import Terms
from inspections.terms_words import origin_words, parts_of, rule_words, scope_words, wait_words
from inspections.voltage_rules import side_by_side


def _me(request: HttpRequest) -> Person:
    return cast(Person, request.user)


def _crumbs(asset: Asset) -> list[tuple[str, str]]:
    return [
        (asset.name, reverse("asset", args=[asset.pk])),
        (say("Specifications"), reverse("specifications", args=[asset.pk])),
    ]


@login_required
@require_safe
def specifications(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What is issued, what is being worked out, and the rules it can copy."""
    me, asset = _me(request), find(_me(request), Asset, pk)
    return render(
        request,
        "inspections/specifications.html",
        {
            "asset": asset,
            "issued": asset.specifications.select_related("supersedes", "issued_by").order_by("-issued_at"),
            "drafts": asset.drafts.filter(issued=None, struck_at=None)
            .select_related("changed_by")
            .order_by("-changed_at"),
            "may_draft": may(me, "draft_specification", asset),
            "may_issue": may(me, "issue_specification", asset),
            "rules_of": asset.organisation if may(me, "add_rule", asset.organisation) else None,
            "here": request.get_full_path(),
        },
    )


@login_required
@require_safe
def specification(request: HttpRequest, pk: UUID) -> HttpResponse:
    """A specification as it is printed: all that it asks for, with its rules and where they come from."""
    row = find(_me(request), Specification, pk)
    return render(
        request,
        "inspections/specification.html",
        {
            "row": row,
            "asset": row.asset,
            "later": Specification.objects.filter(supersedes=row).order_by("issued_at").last(),
            "may_draft": may(_me(request), "draft_specification", row.asset),
            "bare": bare_zones(row.asset).count() if may(_me(request), "begin_coatings", row) else 0,
            **_shown(row.terms, _me(request).units),
        },
    )


def _shown(terms: Terms, units: str) -> dict[str, Any]:
    return {
        "terms": terms,
        "parts": parts_of(terms, units),
        "coats": [(coat, wait_words(coat)) for coat in terms.repair_coats],
        "rules": [rule_words(rule) for rule in terms.rules],
    }


@login_required
def draft_specification(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Begin a draft: from nothing, or from the edition it is to supersede."""
    asset = find(_me(request), Asset, pk)
    earlier = _earlier(request, asset)
    initial: dict[str, Any] = {}
    if earlier is not None:
        initial = {
            "name": earlier.name,
            "supersedes": earlier.pk,
            "body": terms_as_typed(earlier.terms, earlier),
        }

    def to(done: Done) -> str:
        return reverse("draft", args=[done.entry.operation])

    return act_on_page(
        request,
        "draft_specification",
        asset,
        initial=initial,
        hidden=("supersedes",),
        choices={"body.voltage_rules": _rules_offered(asset, earlier, [])},
        context={
            "title": say("New edition of {name}", name=earlier.name) if earlier else say("Write a specification"),
            "lead": say(
                "Save it as far as you know it and go on later. It binds nobody until the owner issues it; "
                "from then on it does not change."
            ),
            "crumbs": _crumbs(asset),
        },
        template="inspections/draft_form.html",
        success=say("The draft is saved."),
        to=to,
        cancel=reverse("specifications", args=[pk]),
    )


def _earlier(request: HttpRequest, asset: Asset) -> Specification | None:
    wanted = request.GET.get("from", "")
    try:
        return Specification.objects.filter(asset=asset, pk=UUID(wanted)).first()
    except ValueError:
        return None


@login_required
def amend_draft(request: HttpRequest, pk: UUID) -> HttpResponse:
    draft = find(_me(request), SpecificationDraft, pk)
    back = reverse("draft", args=[pk])
    return act_on_page(
        request,
        "amend_draft",
        draft,
        initial={"name": draft.name, "edition": draft.edition, "body": body_as_typed(draft.body)},
        choices={
            "body.voltage_rules": _rules_offered(draft.asset, draft.supersedes, draft.body.get("voltage_rules", []))
        },
        context={"title": str(draft), "crumbs": [*_crumbs(draft.asset), (str(draft), back)]},
        template="inspections/draft_form.html",
        success=say("The draft is saved."),
        to=back,
        cancel=back,
    )


def _rules_offered(asset: Asset, earlier: Specification | None, given: list[Any]) -> list[tuple[str, str]]:
    """What can be copied, by key: of the edition superseded, the owner's own, the shipped ones, bodies given before."""
    found = []
    if earlier is not None:
        found += [
            (f"{OF}{earlier.pk}/{rule.id}", say("{rule}: as in {edition}", rule=rule.name, edition=earlier))
            for rule in earlier.terms.rules
        ]
    found += [(f"{OWN}{row.pk}", f"{row}: {origin_words(row.rule)}") for row in current_rules(asset.organisation_id)]
    for body in given:
        if not isinstance(body, str):
            try:
                found.append((json.dumps(body), rule_from_json(body).name))
            except RuleRefused:
                continue
    found += [
        (rule.id, f"{rule.name}: {origin_words(rule)}; {scope_words(rule)}") for rule in shipped_rules() if rule.forms
    ]
    return found


@login_required
@require_safe
def draft(request: HttpRequest, pk: UUID) -> HttpResponse:
    """A draft as it would be printed, or what it still lacks; from here it is issued."""
    me, row = _me(request), find(_me(request), SpecificationDraft, pk)
    complete = draft_as_given(row)
    missing: tuple[Told, ...] = ()
    shown: dict[str, Any] = {}
    if complete.is_valid():
        shown = _shown(complete.validated_data["body"]["terms"], me.units)
    else:
        missing = build_form(
            IssueSpecification,
            button="",
            reader=reader_of(me, row),
            initial={"name": row.name, "edition": row.edition, "body": body_as_typed(row.body)},
            errors=complete.errors,
        ).told
    return render(
        request,
        "inspections/draft.html",
        {
            "row": row,
            "asset": row.asset,
            "missing": missing,
            "may_amend": may(me, "amend_draft", row) and row.is_open,
            "may_issue": may(me, "issue_draft", row) and row.is_open,
            "here": request.get_full_path(),
            **shown,
        },
    )


@login_required
def issue_draft(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Issue a draft; it has been read on its page, and what it lacks is said there."""
    row = find(_me(request), SpecificationDraft, pk)
    back = reverse("draft", args=[pk])

    def to(done: Done) -> str:
        return reverse("specification", args=[done.entry.operation])

    return act_on_page(
        request,
        "issue_draft",
        row,
        context={
            "lead": say("{draft} is issued as it stands and does not change from then on.", draft=row),
            "crumbs": [*_crumbs(row.asset), (str(row), back)],
        },
        success=say("Issued. Begin the coatings by it next."),
        to=to,
        cancel=back,
    )


@login_required
@require_safe
def asked_by_thickness(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What the specification asks for at one thickness, beside what every document says for the same film."""
    me, row = _me(request), find(_me(request), Specification, pk)
    terms = row.terms
    stage = terms.final_stage
    said = request.GET.get("thickness", "").strip()
    thickness, problem = stage_thickness(terms, stage), ""
    if said:
        try:
            thickness = thickness_said(said, me.units)
        except ValueError as refused:
            problem = str(refused)
    own = answers_of(terms, thickness)
    copied = {answer.rule.id for answer in own}
    others = side_by_side(
        thickness,
        job_of(terms),
        [rule for rule in shipped_rules() if rule.id not in copied],
        tolerance_percent=terms.voltage_tolerance_percent,
    )
    return render(
        request,
        "inspections/asked_by_thickness.html",
        {
            "row": row,
            "asset": row.asset,
            "said": said or str(thickness),
            "problem": problem,
            "thickness": thickness,
            "asked": asked_voltage(terms, thickness),
            "order": precedence_words(terms.precedence),
            "own": [(answer, origin_words(answer.rule)) for answer in own],
            "others": [(answer, origin_words(answer.rule)) for answer in others],
            "advice": advice_of(terms, thickness),
        },
    )
