"""The terms of a specification as they are given, on a page or through the API: the one input type of drafts and issues.

Names and SI figures are those of `Terms`, so that a stored body can be sent again; quantities may be said with a unit.
"""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.languages import spoken
from accounts.units import (
    AreaField,
    DurationHoursField,
    LengthField,
    OhmField,
    PercentField,
    SpeedField,
    VoltField,
)
from accounts.wording import say
from inspections.actions.checks import MOST_VOLTS
from inspections.actions.term_parts_given import (
    CopiedRuleField,
    HolidayLimitGiven,
    PrecedenceField,
    RecoatGiven,
    RepairCoatGiven,
    StageGiven,
    plain,
)
from inspections.flaws import FlawKind
from inspections.rule_library import find_rule
from inspections.terms import Terms, terms_from_json
from inspections.vocabulary import (
    CONDITIONS,
    FAMILIES,
    MEDIA,
    METHODS,
    PATCH_SHAPES,
    PRECEDENCE,
    PROFILES,
    SUBSTRATES,
    THICKNESS_BASES,
    THICKNESS_RULES,
    THICKNESS_SYSTEMS,
    UNITS,
)


class TermsGiven(serializers.Serializer):
    """Everything a specification asks for. A draft may lack any of it; what is issued is complete."""

    sections = (
        (_("Film and substrate"), "", ("substrate", "film_family", "condition", "conductive", "film_strength")),
        ("", "", ("stages",)),
        (
            _("Test and voltage"),
            _(
                "State a voltage, or tick the documents whose rules are copied into this specification; the order below "
                "says which of them rules."
            ),
            (
                "method",
                "medium",
                "stated_volts",
                "voltage_document",
                "voltage_tolerance_percent",
                "voltage_rules",
                "precedence",
                "thickness_basis",
                "thickness_unit",
            ),
        ),
        (
            _("Checks and sweep"),
            "",
            (
                "check_interval_min",
                "check_tolerance_percent",
                "sensitivity_ohm",
                "sensitivity_tolerance_percent",
                "speed_limit",
                "electrode_overlap",
                "returns",
            ),
        ),
        (
            _("People and permit"),
            _("What is missing is flagged on the run and in the documents; no test result is taken away for it."),
            ("permit_asked", "sweeper_qualification", "qualifications"),
        ),
        ("", "", ("holiday_limit", "counting_kinds")),
        (
            _("Film thickness accepted by"),
            "",
            ("thickness_rule", "thickness_level", "thickness_system", "shift_area", "profile"),
        ),
        (
            _("Repairs"),
            "",
            (
                "patch_overlap",
                "patch_shape",
                "as_left_margin",
                "primer_within_h",
                "cure_before_retest_h",
                "cycle_limit",
                "own_quality_control_may_retest",
            ),
        ),
        ("", "", ("repair_coats", "recoat")),
        (_("Notes"), "", ("notes",)),
    )

    substrate = serializers.ChoiceField(label=_("Substrate"), choices=spoken(SUBSTRATES), default="steel")
    film_family = serializers.ChoiceField(label=_("Film"), choices=spoken(FAMILIES))
    condition = serializers.ChoiceField(label=_("Condition"), choices=spoken(CONDITIONS), default="new")
    conductive = serializers.BooleanField(
        label=_("The film conducts (zinc-rich, carbon, static-dissipative)"),
        required=False,
        default=False,
        help_text=_("Such a film cannot be tested through to the substrate: only a visual inspection is possible."),
    )
    film_strength = serializers.FloatField(
        label=_("Strength by the data sheet, kV/mm"),
        required=False,
        allow_null=True,
        default=None,
        min_value=0.001,
        max_value=1000,
        help_text=_("Only where the product data sheet states one. Advice beside the voltage, never a verdict."),
    )
    stages = StageGiven(  # type: ignore[call-arg]  # many=True takes what a list takes
        many=True,
        allow_empty=False,
        max_length=20,
        label=_("Coat stages that are tested"),
        help_text=_("In the order they are applied; the last one is the finished system."),
        style={"one": _("Coat stage"), "more": _("Add a coat stage")},
    )
    method = serializers.ChoiceField(label=_("Method"), choices=spoken(METHODS))
    medium = serializers.ChoiceField(label=_("Medium"), choices=spoken(MEDIA), default="air")
    stated_volts = VoltField(
        label=_("Voltage stated here"),
        required=False,
        allow_null=True,
        default=None,
        min_value=1,
        max_value=MOST_VOLTS,
        help_text=_('"2500 V". Empty where a rule gives it.'),
    )
    voltage_document = serializers.CharField(
        label=_("Where it is stated"),
        max_length=200,
        required=False,
        allow_blank=True,
        default="",
        help_text=_('"Contract C-07, clause 8.2".'),
    )
    voltage_tolerance_percent = PercentField(
        label=_("Tolerance either way"),
        required=False,
        allow_null=True,
        default=None,
        max_value=99,
        help_text=_("Of the voltage asked for. Takes the place of a document's own."),
    )
    voltage_rules = serializers.ListField(
        child=CopiedRuleField(),
        required=False,
        default=list,
        max_length=20,
        label=_("Rules copied into this specification"),
        help_text=_("A copied rule never changes here, whatever becomes of the original."),
    )
    precedence = PrecedenceField(
        label=_("Which document rules"),
        required=False,
        default=list(PRECEDENCE),
        help_text=_("The first that applies rules, also where it has no figure. Printed with the specification."),
        style={"tiles": False},
    )
    thickness_basis = serializers.ChoiceField(
        label=_("Thickness meant"), choices=spoken(THICKNESS_BASES), default="nominal"
    )
    thickness_unit = serializers.ChoiceField(
        label=_("Thickness is stated in"),
        choices=spoken(UNITS),
        default="um",
        help_text=_("A rule's formula for this unit is used: the metric and the mil form differ a little."),
    )
    check_interval_min = serializers.FloatField(
        label=_("Check at least every, minutes"), min_value=0, max_value=10_080, help_text=_('"240" for four hours.')
    )
    check_tolerance_percent = PercentField(
        label=_("Tolerance of a check"), max_value=99, help_text=_("Of the voltage set.")
    )
    sensitivity_ohm = OhmField(
        label=_("Wet sponge alarms at"),
        required=False,
        allow_null=True,
        default=None,
        min_value=1,
        max_value=100_000_000,
        help_text=_("The known resistor of its check. Empty: 80 kΩ (ASTM D5162, method A, from memory)."),
    )
    sensitivity_tolerance_percent = PercentField(
        label=_("Tolerance of that resistor"),
        required=False,
        allow_null=True,
        default=None,
        max_value=99,
        help_text=_("Empty: 10 % (from memory)."),
    )
    speed_limit = SpeedField(
        label=_("Sweep no faster than"),
        required=False,
        default=0.3,
        min_value=0.001,
        max_value=10,
        help_text=_("0.3 m/s (1 ft/s) by NACE SP0188, from memory."),
    )
    electrode_overlap = LengthField(
        label=_("Overlap of lanes"),
        required=False,
        default=0.0,
        min_value=0,
        max_value=10,
        page_unit="mm",
        page_unit_us="in",
    )
    returns = serializers.ListField(
        child=serializers.CharField(max_length=200, allow_blank=True),
        required=False,
        default=lambda: [""],
        max_length=200,
        label=_("Electrical islands"),
        help_text=_("One a line, where the return is proven for each by name. Empty: the zone is one island."),
    )
    permit_asked = serializers.BooleanField(
        label=_("A high-voltage run names a permit"),
        required=False,
        default=False,
        help_text=_("The permit and local rules say who may work; Barespot never authorises entry or work."),
    )
    sweeper_qualification = serializers.CharField(
        label=_("Who sweeps is"),
        max_length=200,
        required=False,
        allow_blank=True,
        default="",
        help_text=_("In the specification's own words. Leave empty where it asks for nothing."),
    )
    qualifications = serializers.ListField(
        child=serializers.CharField(max_length=200),
        required=False,
        default=list,
        max_length=50,
        label=_("Qualifications taken for it"),
        help_text=_('One a line, as scheme, or scheme and level: "Coating inspector, level 2". Empty: any is taken.'),
    )
    holiday_limit = HolidayLimitGiven(
        required=False,
        allow_null=True,
        default=None,
        label=_("Flaws allowed"),
        help_text=_("Leave empty where the contract states no limit."),
    )
    counting_kinds = serializers.ListField(
        child=serializers.ChoiceField(choices=FlawKind.choices),
        required=False,
        allow_null=True,
        default=None,
        label=_("Kinds of flaw that count"),
        help_text=_("None ticked: all found electrically but false indications, test spots and burns by the test."),
    )
    thickness_rule = serializers.ChoiceField(
        label=_("Judged by"), choices=spoken(THICKNESS_RULES), required=False, allow_blank=True, default=""
    )
    thickness_level = serializers.IntegerField(
        label=_("Level of SSPC-PA 2"),
        min_value=1,
        max_value=5,
        required=False,
        allow_null=True,
        default=None,
        help_text=_("1 to 5; 3 where the contract says nothing (from memory)."),
    )
    thickness_system = serializers.ChoiceField(
        label=_("SSPC-PA 2 counts in"), choices=spoken(THICKNESS_SYSTEMS), default="metric"
    )
    shift_area = AreaField(
        label=_("Area coated in a shift"),
        required=False,
        allow_null=True,
        default=None,
        min_value=0.01,
        max_value=1_000_000,
        help_text=_("SSPC-PA 2 counts its measurements for each shift. Empty: the zone is one."),
    )
    profile = serializers.ChoiceField(
        label=_("Profile of the steel"), choices=spoken(PROFILES), required=False, allow_blank=True, default=""
    )
    patch_overlap = LengthField(
        label=_("A patch goes beyond the flaw by"),
        required=False,
        default=0.1,
        min_value=0,
        max_value=10,
        page_unit="mm",
        page_unit_us="in",
    )
    patch_shape = serializers.ChoiceField(label=_("Patches are"), choices=spoken(PATCH_SHAPES), default="square")
    as_left_margin = LengthField(
        label=_("Repair and disturbance take away the test within"),
        required=False,
        default=0.1,
        min_value=0,
        max_value=10,
        page_unit="mm",
        page_unit_us="in",
    )
    primer_within_h = DurationHoursField(
        label=_("Primer after preparation within"), required=False, allow_null=True, default=None, max_value=10_000
    )
    cure_before_retest_h = DurationHoursField(
        label=_("Cure before the retest"), required=False, default=0.0, max_value=10_000
    )
    cycle_limit = serializers.IntegerField(
        label=_("Repairs of one patch at most"),
        min_value=1,
        max_value=1000,
        required=False,
        allow_null=True,
        default=None,
        help_text=_("Empty: no limit."),
    )
    own_quality_control_may_retest = serializers.BooleanField(
        label=_("The contractor's own quality control may retest, with a witness"),
        required=False,
        default=False,
        help_text=_("Left away: whoever tests belongs to another firm. Nobody ever passes a patch they worked on."),
    )
    repair_coats = RepairCoatGiven(  # type: ignore[call-arg]
        many=True,
        required=False,
        max_length=20,
        label=_("Repair coats"),
        help_text=_("In the order they go on. The wait after the last one is the cure before the retest."),
        style={"one": _("Repair coat"), "more": _("Add a repair coat")},
    )
    recoat = RecoatGiven(
        required=False,
        allow_null=True,
        default=None,
        label=_("Strip and recoat instead of spot repair"),
        help_text=_(
            "Leave empty where the specification has no such rule. Where it does not say how its area or count is read, "
            "leave that open: the answer is shown under each reading."
        ),
    )
    notes = serializers.CharField(
        label=_("Notes"), max_length=10_000, required=False, allow_blank=True, default="", style={"rows": 4}
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if not self.root.partial:  # type: ignore[union-attr]
            given["terms"] = self._terms(given)
        return given

    def _terms(self, given: dict[str, Any]) -> Terms:
        body = plain(given)
        body.setdefault("repair_coats", [])
        body["voltage_rules"] = [self._body(rule) for rule in body["voltage_rules"]]
        body["counting_kinds"] = body["counting_kinds"] or None
        try:
            return terms_from_json(body)
        except (TypeError, ValueError) as problem:
            name, colon, words = str(problem).partition(": ")
            raise serializers.ValidationError(
                {name: [words]} if name in self.fields and words else [str(problem)]
            ) from None

    def _body(self, rule: Any) -> Any:
        if not isinstance(rule, str):
            return rule
        found = find_rule(rule, self.context["target"])
        if found is None:
            words = say("{rule} is no rule there is: name a shipped one, or one of the owner's.", rule=rule)
            raise serializers.ValidationError({"voltage_rules": [words]})
        return found
