"""The briefing of the day: which cautions were gone through, by whom, and who took part by name."""

from __future__ import annotations

from datetime import date

from django.conf import settings
from django.db import models

from accounts.assets import Asset
from accounts.languages import moment_words, spoken
from accounts.rows import Row, Strikeable
from accounts.wording import say
from inspections.vocabulary import METHODS


class Briefing(Row, Strikeable):
    """The cautions of a method gone through in full on one day of the asset; `points` as they stood, in English."""

    record_path = "asset"
    facts = ("asset", "method", "points", "at", "by")

    asset = models.ForeignKey(Asset, models.PROTECT, related_name="briefings")
    method = models.CharField(max_length=20, choices=spoken(METHODS))
    points = models.JSONField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False

    def __str__(self) -> str:
        return say("Briefing of {moment}", moment=moment_words(self.at.astimezone(self.asset.zone_info)))

    @property
    def day(self) -> date:
        """The day it holds for, by the asset's calendar."""
        return self.at.astimezone(self.asset.zone_info).date()


class Attendee(Row, Strikeable):
    """Somebody who took part, by name. `by` is that person where they acknowledged it themselves, else who named them."""

    record_path = "briefing__asset"
    facts = ("briefing", "name", "person", "at", "by")

    briefing = models.ForeignKey(Briefing, models.PROTECT, related_name="attendees")
    name = models.CharField(max_length=120)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False

    def __str__(self) -> str:
        return self.name

    @property
    def acknowledged_themselves(self) -> bool:
        return self.person_id is not None and self.person_id == self.by_id
