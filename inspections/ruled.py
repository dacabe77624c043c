"""What every decision on evidence says: by whom, when, why, and the file it rests on."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from accounts.evidence import Evidence
from accounts.rows import Row, Strikeable


class Ruling(Row, Strikeable):
    """A decision on what is known to be wrong at that moment; what comes to light later asks for one of its own."""

    why = models.TextField()
    evidence = models.ForeignKey(Evidence, models.PROTECT, null=True, blank=True, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = True
