"""What arrived but could not be recorded: set aside whole, for a person to settle. Nothing typed is lost."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import models
from django.utils import timezone

from accounts.ids import new_id


class SetAside(models.Model):
    """An operation that was malformed, unauthorised, or contradicts one already recorded under the same id."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    operation = models.UUIDField()
    action = models.CharField(max_length=60)
    target = models.UUIDField()
    record = models.UUIDField(null=True, db_index=True, help_text="Asset or organisation it was meant for.")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    payload = models.JSONField()
    problem = models.TextField()
    received_at = models.DateTimeField(default=timezone.now)
    settled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True)
    settled_how = models.TextField(blank=True)


def set_aside(
    operation: UUID, action: str, target: UUID, person: Any, payload: Any, problem: str, record: UUID | None = None
) -> SetAside:
    """Keep what could not be recorded, whole."""
    return SetAside.objects.create(
        operation=operation,
        action=action,
        target=target,
        record=record,
        person=person,
        payload=payload,
        problem=problem,
    )
