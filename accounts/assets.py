"""The asset: what is coated, who owns it, and how places on it are spoken."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.people import Organisation
from accounts.rows import Row


class Asset(Row):
    record_path = "self"
    facts = ("organisation",)

    class UnitSystem(models.TextChoices):
        METRIC = "metric", _("metric: 1+250.40 is kilometres + metres")
        IMPERIAL = "imperial", _("imperial: 12+34.5 is 100-ft stations + feet")

    class Foot(models.TextChoices):
        INTERNATIONAL = "international", _("international foot (0.3048 m)")
        SURVEY = "survey", _("US survey foot (1200/3937 m)")

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="assets")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=60, help_text=_('In words, for example "buried water transmission main".'))
    place = models.CharField(max_length=120, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC")
    unit_system = models.CharField(max_length=8, choices=UnitSystem, default=UnitSystem.METRIC)
    foot = models.CharField(max_length=13, choices=Foot, default=Foot.INTERNATIONAL)
    station_equations = models.JSONField(
        default=list, help_text=_("Pairs of back and ahead chainage, in the asset's unit.")
    )
    chainage_start = models.FloatField(
        default=0.0, help_text=_("Lowest chainage, as written on the asset; may be negative.")
    )
    datum = models.CharField(
        max_length=200, blank=True, help_text=_("Where chainage or azimuth is counted from, in words.")
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["organisation", "name"], name="asset_name_once")]

    def __str__(self) -> str:
        return self.name

    @property
    def zone_info(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)
