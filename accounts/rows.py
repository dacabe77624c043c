"""Bases of every stored row. A model's `facts`, `placed`, `derived`, `private` and `record_path` lines are all that
guards, scoping, the record and its proof need to know about it.

    facts        columns that never change after insert (the database refuses)
    placed       columns read from what was said: they change only together with the version, when a zone's surface is
                 corrected
    derived      columns written by one recomputing function, left out of the record and proved by recomputation
    private      columns with personal data, left out of the record
    record_path  lookup path to the Asset or Organisation whose record the row belongs to ("self" for those two)
"""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.ids import new_id

LARGEST = 2**31 - 1  # what a whole-number column holds


class Row(models.Model):
    """A recorded row: UUID id (the client may choose it) and a version that grows with each amendment."""

    facts: ClassVar[tuple[str, ...]] = ()
    placed: ClassVar[tuple[str, ...]] = ()
    derived: ClassVar[tuple[str, ...]] = ()
    private: ClassVar[tuple[str, ...]] = ()
    record_path: ClassVar[str] = ""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True


class Strikeable(models.Model):
    """A row that can be struck out: when, by whom and why are all null or all set."""

    struck_at = models.DateTimeField(null=True, editable=False)
    struck_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="+")
    struck_why = models.TextField(null=True, editable=False)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                name="%(app_label)s_%(class)s_struck_whole",
                condition=Q(struck_at=None, struck_by=None, struck_why=None)
                | (Q(struck_at__isnull=False, struck_by__isnull=False, struck_why__isnull=False) & ~Q(struck_why="")),
            )
        ]

    @property
    def is_struck(self) -> bool:
        return self.struck_at is not None
