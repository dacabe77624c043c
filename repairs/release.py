"""The owner's decisions: concessions, release and its withdrawal."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.rows import Row, Strikeable
from inspections.coatings import Coating
from repairs.work import Patch

PERSON = settings.AUTH_USER_MODEL


class Concession(Row, Strikeable):
    """The owner lives with a patch as it is, or with a gate that is red, and says why."""

    record_path = "coating__zone__asset"
    facts = ("coating", "patch", "gate", "reason", "owner", "at")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="concessions")
    patch = models.ForeignKey(Patch, models.PROTECT, null=True, blank=True, related_name="concessions")
    gate = models.CharField(max_length=40, blank=True)
    reason = models.TextField()
    owner = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = False
        constraints = [
            *Strikeable.Meta.constraints,
            models.CheckConstraint(
                name="concession_of_one_thing",
                condition=Q(patch__isnull=False, gate="") | (Q(patch=None) & ~Q(gate="")),
            ),
        ]


class Release(Row):
    """The zone goes into service: the gates as they stood, the head of the record, and any conditions.

    `who` holds, by gate, the names behind its evidence in the same order: apart, so that the record keeps none.
    """

    record_path = "coating__zone__asset"
    facts = ("coating", "gates", "who", "conditions", "head_seq", "head_hash", "owner", "at")
    private = ("who",)

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="releases")
    gates = models.JSONField()
    who = models.JSONField(default=dict)
    conditions = models.TextField(blank=True)
    head_seq = models.PositiveBigIntegerField()
    head_hash = models.CharField(max_length=64)
    owner = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(PERSON, models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["coating"], condition=Q(withdrawn_at=None), name="release_standing_once"),
            models.CheckConstraint(
                name="release_withdrawn_whole",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_why=None)
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False, withdrawn_why__isnull=False))
                & ~Q(withdrawn_why=""),
            ),
        ]

    def gates_with_names(self) -> list[dict[str, Any]]:
        """The gates as they stood, each evidence with the name behind it."""
        return [
            {
                **gate,
                "evidence": [
                    {"who": name, **row} for name, row in zip(self.who[gate["code"]], gate["evidence"], strict=True)
                ],
            }
            for gate in self.gates
        ]
