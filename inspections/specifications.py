"""Specifications: immutable once issued, carrying their terms as data."""

from __future__ import annotations

from functools import cached_property

from django.conf import settings
from django.db import models

from accounts.assets import Asset
from accounts.rows import Row
from inspections.terms import Terms, terms_from_json


class Specification(Row):
    record_path = "asset"
    facts = ("asset", "name", "edition", "issued_at", "issued_by", "supersedes", "body")

    asset = models.ForeignKey(Asset, models.PROTECT, related_name="specifications")
    name = models.CharField(max_length=120)
    edition = models.CharField(max_length=40)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    supersedes = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    body = models.JSONField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["asset", "name", "edition"], name="specification_edition_once")]

    def __str__(self) -> str:
        return f"{self.name}, edition {self.edition}"

    @cached_property
    def terms(self) -> Terms:
        return terms_from_json(self.body)
