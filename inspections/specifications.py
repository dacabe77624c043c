"""Specifications: immutable once issued, carrying their terms as data; and the drafts they are worked out in."""

from __future__ import annotations

from functools import cached_property

from django.conf import settings
from django.db import models

from accounts.assets import Asset
from accounts.rows import Row, Strikeable
from accounts.wording import say
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
        return say("{name}, edition {edition}", name=self.name, edition=self.edition)

    @cached_property
    def terms(self) -> Terms:
        return terms_from_json(self.body)


class SpecificationDraft(Row, Strikeable):
    """A specification being worked out: its body is what was given, quantities as said, and may lack anything."""

    record_path = "asset"
    facts = ("asset", "supersedes", "begun_at", "begun_by")

    asset = models.ForeignKey(Asset, models.PROTECT, related_name="drafts")
    supersedes = models.ForeignKey(Specification, models.PROTECT, null=True, blank=True, related_name="drafts")
    name = models.CharField(max_length=120)
    edition = models.CharField(max_length=40, blank=True)
    body = models.JSONField()
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    issued = models.OneToOneField(Specification, models.PROTECT, null=True, blank=True, related_name="draft")

    class Meta(Strikeable.Meta):
        abstract = False
        verbose_name = "draft"

    def __str__(self) -> str:
        return f"{self.name}, edition {self.edition}" if self.edition else self.name

    @property
    def is_open(self) -> bool:
        """Whether it can still be worked on: neither issued nor struck out."""
        return self.issued_id is None and self.struck_at is None
