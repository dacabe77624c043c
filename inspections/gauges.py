"""Checks of thickness gauges, and decisions on spots that such a check or a certificate left in doubt."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.rows import Row, Strikeable
from accounts.wording import say
from inspections.coatings import Coating, FieldSheet
from inspections.instruments import Instrument
from inspections.ruled import Ruling

PERSON = settings.AUTH_USER_MODEL


class GaugeCheck(Row, Strikeable):
    """What a gauge showed on a shim or zero plate; thickness in um. It speaks of the gauge wherever that measured."""

    record_path = "sheet__coating__zone__asset"
    facts = ("sheet", "gauge", "plate", "shim", "shim_said", "measured", "measured_said", "tolerance", "tolerance_said",
             "outcome", "at", "by", "note")  # fmt: skip

    class Outcome(models.TextChoices):
        LOW = "low", _("low")
        GOOD = "good", _("good")
        HIGH = "high", _("high")

    sheet = models.ForeignKey(FieldSheet, models.PROTECT, related_name="gauge_checks")
    gauge = models.ForeignKey(Instrument, models.PROTECT, related_name="gauge_checks")
    plate = models.CharField(max_length=80, blank=True)
    shim = models.FloatField(help_text="µm")
    shim_said = models.CharField(max_length=40)
    measured = models.FloatField(help_text="µm")
    measured_said = models.CharField(max_length=40)
    tolerance = models.FloatField(help_text="µm")
    tolerance_said = models.CharField(max_length=40)
    outcome = models.CharField(max_length=4, choices=Outcome)
    at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    class Meta(Strikeable.Meta):
        abstract = False
        # Every spot of a gauge is weighed by the checks around it.
        indexes = [models.Index(fields=["gauge", "at"])]

    def __str__(self) -> str:
        return say("check of {gauge}", gauge=self.gauge)


class SpotRuling(Ruling):
    """A decision on spots in doubt: by whom, why, on what evidence. It rules on the doubts known then, by their keys."""

    record_path = "coating__zone__asset"
    facts = ("coating", "spots", "doubts", "decision", "why", "grounds", "evidence", "by", "at")

    class Decision(models.TextChoices):
        COUNTS = "counts", _("counts after all")
        OUT = "does not count", _("does not count")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="spot_rulings")
    spots = models.JSONField()
    doubts = models.JSONField()
    decision = models.CharField(max_length=14, choices=Decision)
    grounds = models.TextField()

    class Meta(Ruling.Meta):
        abstract = False
