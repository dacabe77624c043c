"""An organisation's own voltage rules: a table of steps or formulas k*T^p, entered from the document somebody holds."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.languages import spoken
from accounts.people import Organisation, Role
from accounts.wording import say
from inspections.rule_library import VoltageRule
from inspections.rule_schema import RuleRefused, rule_from_json
from inspections.vocabulary import (
    CONDITIONS,
    FAMILIES,
    KINDS,
    MEDIA,
    METHODS,
    PROVENANCES,
    SUBSTRATES,
    THICKNESS_BASES,
    UNITS,
)
from mapping.actions.zones import Why

KEEPS_RULES = {Role.OWNER, Role.LEAD}


def _number(label: Any, **details: Any) -> serializers.DecimalField:
    return serializers.DecimalField(label=label, max_digits=15, decimal_places=6, min_value=Decimal(0), **details)


class StepGiven(serializers.Serializer):
    thickness_from = _number(_("From thickness"))
    thickness_to = _number(_("To thickness"))
    volts = _number(_("Volts"))


class FormulaGiven(serializers.Serializer):
    factor = _number(_("Factor k"), help_text=_("V = k·T^p."))
    exponent = _number(_("Exponent p"), required=False, default=Decimal(1), help_text=_('"0.5" for the square root.'))
    thickness_from = _number(_("From thickness"), required=False, allow_null=True)
    thickness_to = _number(_("To thickness"), required=False, allow_null=True)


class RuleGiven(serializers.Serializer):
    """A rule as its document states it, in its own unit."""

    sections = (
        (_("Which document"), "", ("document", "edition", "kind", "provenance")),
        (
            _("What it is for"),
            _("Nothing ticked: for any."),
            ("families", "conditions", "substrates", "methods", "media", "thickness_basis"),
        ),
        (
            _("Its figures"),
            _("Steps of a table, or formulas; in the unit the document is written in. Nothing is ever interpolated."),
            ("unit",),
        ),
        ("", "", ("steps", "formulas")),
        (_("Tolerance and limits"), "", ("tolerance_percent", "volts_from", "volts_to", "thickness_to", "note")),
    )

    document = serializers.CharField(label=_("Document"), max_length=200, help_text=_('"Works standard W-12".'))
    edition = serializers.CharField(
        label=_("Edition"), max_length=200, required=False, allow_blank=True, default="", help_text=_('"2024".')
    )
    kind = serializers.ChoiceField(label=_("Kind of document"), choices=spoken(KINDS), default="project specification")
    provenance = serializers.ChoiceField(
        label=_("Where the figures come from"), choices=spoken(PROVENANCES), default="owner"
    )
    families = serializers.ListField(
        child=serializers.ChoiceField(choices=spoken(FAMILIES)), required=False, default=list, label=_("Films")
    )
    conditions = serializers.ListField(
        child=serializers.ChoiceField(choices=spoken(CONDITIONS)), required=False, default=list, label=_("Condition")
    )
    substrates = serializers.ListField(
        child=serializers.ChoiceField(choices=spoken(SUBSTRATES)), required=False, default=list, label=_("Substrate")
    )
    methods = serializers.ListField(
        child=serializers.ChoiceField(choices=spoken(METHODS)), required=False, default=list, label=_("Methods")
    )
    media = serializers.ListField(
        child=serializers.ChoiceField(choices=spoken(MEDIA)), required=False, default=list, label=_("Medium")
    )
    thickness_basis = serializers.ChoiceField(
        label=_("Thickness it goes by"),
        choices=spoken(THICKNESS_BASES),
        required=False,
        allow_blank=True,
        default="",
        style={"tiles": False},
    )
    unit = serializers.ChoiceField(label=_("Thickness T in"), choices=spoken(UNITS))
    steps = StepGiven(  # type: ignore[call-arg]  # many=True takes what a list takes
        many=True,
        required=False,
        max_length=100,
        label=_("Table"),
        help_text=_("Both ends belong to a step."),
        style={"one": _("Step"), "more": _("Add a step")},
    )
    formulas = FormulaGiven(  # type: ignore[call-arg]
        many=True,
        required=False,
        max_length=10,
        label=_("Formulas"),
        style={"one": _("Formula"), "more": _("Add a formula")},
    )
    tolerance_percent = _number(
        _("Tolerance of the voltage, %"), required=False, allow_null=True, default=None, max_value=Decimal(99)
    )
    volts_from = _number(_("Lowest voltage it states"), required=False, allow_null=True, default=None)
    volts_to = _number(_("Highest voltage it states"), required=False, allow_null=True, default=None)
    thickness_to = _number(
        _("Thickness is first rounded to"),
        required=False,
        allow_null=True,
        default=None,
        help_text=_('Halves go up. "1" for a table in whole mils; empty: not rounded.'),
    )
    note = serializers.CharField(
        label=_("Note"), max_length=400, required=False, allow_blank=True, default="", style={"rows": 2}
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if bool(given.get("steps")) == bool(given.get("formulas")):
            raise serializers.ValidationError(
                {"steps": [say("Give the steps of a table, or formulas: one of the two.")]}
            )
        return given


def body_of(given: dict[str, Any], pk: Any) -> dict[str, Any]:
    """The rule's body from what was given."""
    if given.get("steps"):
        rows = [
            {"from": _plain(row["thickness_from"]), "to": _plain(row["thickness_to"]), "volts": _plain(row["volts"])}
            for row in given["steps"]
        ]
        branches: list[dict[str, Any]] = [{"formula": {"kind": "steps", "rows": rows}}]
    else:
        branches = [_branch(row) for row in given["formulas"]]
    form: dict[str, Any] = {"unit": given["unit"], "branches": branches}
    if given["thickness_to"]:
        form["thickness_to"] = _plain(given["thickness_to"])
    body: dict[str, Any] = {
        "id": str(pk),
        "document": given["document"],
        "edition": given["edition"],
        "kind": given["kind"],
        "provenance": given["provenance"],
        "scope": {
            name: list(given[name])
            for name in ("families", "conditions", "substrates", "methods", "media")
            if given[name]
        },
        "forms": [form],
        "thickness_basis": given["thickness_basis"],
        "note": given["note"],
    }
    for name in ("volts_from", "volts_to"):
        if given[name] is not None:
            body[name] = _plain(given[name])
    if given["tolerance_percent"] is not None:
        body["tolerance"] = {"percent": _plain(given["tolerance_percent"])}
    return body


def _branch(row: dict[str, Any]) -> dict[str, Any]:
    exponent = row["exponent"]
    formula: dict[str, Any] = {"kind": "per unit", "factor": _plain(row["factor"])}
    if exponent != 1:
        formula = {"kind": "power", "factor": _plain(row["factor"]), "exponent": _plain(exponent)}
    branch: dict[str, Any] = {"formula": formula}
    for name, side in (("from", "thickness_from"), ("to", "thickness_to")):
        if row.get(side) is not None:
            branch[name] = _plain(row[side])
    return branch


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) or "0"


def given_of(body: dict[str, Any]) -> dict[str, Any]:
    """What was given for a rule of this library, so that its next version starts from it."""
    (form,) = body["forms"]
    formulas = [
        {
            "factor": branch["formula"]["factor"],
            "exponent": branch["formula"].get("exponent", "1"),
            "thickness_from": branch.get("from"),
            "thickness_to": branch.get("to"),
        }
        for branch in form["branches"]
        if branch["formula"]["kind"] != "steps"
    ]
    steps = [
        {"thickness_from": row["from"], "thickness_to": row["to"], "volts": row["volts"]}
        for branch in form["branches"]
        for row in branch["formula"].get("rows", ())
    ]
    return {
        **{name: body.get(name) for name in ("document", "edition", "kind", "provenance", "thickness_basis", "note")},
        **body["scope"],
        "unit": form["unit"],
        "steps": steps,
        "formulas": formulas,
        "thickness_to": form.get("thickness_to"),
        "volts_from": body.get("volts_from"),
        "volts_to": body.get("volts_to"),
        "tolerance_percent": (body.get("tolerance") or {}).get("percent"),
    }


def _added(
    act: Acting, organisation: Organisation, given: dict[str, Any], replaces: VoltageRule | None = None
) -> VoltageRule:
    body = body_of(given, act.id)
    try:
        rule_from_json(body)
    except RuleRefused as refused:
        raise serializers.ValidationError({_place(problem): [problem] for problem in refused.problems}) from None
    return act.insert(
        VoltageRule(
            id=act.id,
            organisation=organisation,
            number=replaces.number + 1 if replaces else 1,
            replaces=replaces,
            body=body,
            added_at=act.now,
            added_by=act.person,
        )
    )


def _place(problem: str) -> str:
    """The field of the form a problem of the body belongs to."""
    if ".rows" in problem:
        return "steps"
    return "formulas" if problem.startswith("forms") else problem.split(" ", 1)[0].split(".")[0]


@action("add_rule", takes=RuleGiven, roles=KEEPS_RULES, on=Organisation, title=_("Add the rule"))
def add_rule(act: Acting, organisation: Organisation, given: dict[str, Any]) -> VoltageRule:
    """Add a voltage rule of the organisation's own, for its specifications to copy."""
    return _added(act, organisation, given)


@action("new_rule_version", takes=RuleGiven, roles=KEEPS_RULES, on=VoltageRule, title=_("Save as the next version"))
def new_rule_version(act: Acting, rule: VoltageRule, given: dict[str, Any]) -> VoltageRule:
    """Add the next version of a rule; what copied an earlier one keeps its copy."""
    _check_current(act, rule)
    return _added(act, rule.organisation, given, rule)


@action("retire_rule", takes=Why, roles=KEEPS_RULES, on=VoltageRule, title=_("Retire the rule"))
def retire_rule(act: Acting, rule: VoltageRule, given: dict[str, Any]) -> VoltageRule:
    """Retire a rule: it is offered no more, and specifications that copied it keep their copy."""
    _check_current(act, rule)
    return act.amend(rule, retired_at=act.now, retired_why=given["why"])


def _check_current(act: Acting, rule: VoltageRule) -> None:
    if rule.retired_at is not None:
        act.refuse("rule", say("{rule} has been retired.", rule=rule))
    if VoltageRule.objects.filter(replaces=rule).exists():
        act.refuse("rule", say("{rule} has a later version; work on that one.", rule=rule))
