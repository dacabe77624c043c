"""An organisation's own voltage rules: versioned, never edited in place. A specification takes a copy of a rule."""

from __future__ import annotations

from functools import cached_property
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import models

from accounts.assets import Asset
from accounts.people import Organisation
from accounts.rows import Row
from inspections.rule_schema import Rule, rule_from_json, shipped_bodies
from inspections.specifications import Specification

OWN, OF = "own:", "of:"


class VoltageRule(Row):
    """One version of a rule. A later version replaces it; specifications that copied it keep their copy."""

    record_path = "organisation"
    facts = ("organisation", "number", "replaces", "body", "added_at", "added_by")

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="voltage_rules")
    number = models.PositiveIntegerField(help_text="Which version it is, from 1.")
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    body = models.JSONField()
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_why = models.TextField(null=True, blank=True)

    class Meta:
        verbose_name = "voltage rule"

    def __str__(self) -> str:
        return f"{self.rule.name} (version {self.number})"

    @cached_property
    def rule(self) -> Rule:
        return rule_from_json(self.body)

    @property
    def is_current(self) -> bool:
        return self.retired_at is None and not hasattr(self, "replaced_by")


def current_rules(organisation: UUID) -> models.QuerySet[VoltageRule]:
    """The organisation's rules that can be chosen: not retired, not replaced."""
    rows = VoltageRule.objects.filter(organisation=organisation, retired_at=None, replaced_by=None)
    return rows.select_related("added_by").order_by("added_at")


def find_rule(key: str, on: Any) -> dict[str, Any] | None:
    """The body of the rule a key names on an asset (or a draft of its): shipped, the owner's, or an earlier edition's."""
    asset = on if isinstance(on, Asset) else on.asset
    shipped = shipped_bodies()
    if key in shipped:
        return shipped[key]
    try:
        if key.startswith(OWN):
            row = current_rules(asset.organisation_id).filter(pk=UUID(key.removeprefix(OWN))).first()
            return row.body if row else None
        if key.startswith(OF):
            pk, slash, rule = key.removeprefix(OF).partition("/")
            earlier = Specification.objects.filter(asset=asset, pk=UUID(pk)).first()
            bodies = earlier.body.get("voltage_rules", []) if earlier else []
            return next((body for body in bodies if body["id"] == rule), None)
    except ValueError:
        return None
    return None
