"""Landmarks: what painters measure from, because they can see it."""

from __future__ import annotations

from django.db import models

from accounts.assets import Asset
from accounts.rows import Row, Strikeable
from mapping.zones import Zone


class Landmark(Row, Strikeable):
    """A weld, joint, nozzle or the like. x (and y, where it is a point) are plane metres of the asset's chainage."""

    record_path = "asset"
    facts = ("asset", "zone", "kind", "name", "said", "x", "y")

    class Kind(models.TextChoices):
        GIRTH_WELD = "girth weld", "girth weld"
        JOINT = "joint", "joint"
        SEAM = "seam", "seam"
        NOZZLE = "nozzle", "nozzle"
        BRACKET = "bracket", "bracket"
        VALVE = "valve", "valve"
        MARKER = "marker", "marker post"
        LINE = "line", "line"

    asset = models.ForeignKey(Asset, models.PROTECT, related_name="landmarks")
    zone = models.ForeignKey(Zone, models.PROTECT, null=True, blank=True, related_name="landmarks")
    kind = models.CharField(max_length=12, choices=Kind)
    name = models.CharField(max_length=60)
    said = models.CharField(max_length=120)
    x = models.FloatField()
    y = models.FloatField(null=True, blank=True)

    class Meta(Strikeable.Meta):
        abstract = False
        ordering = ["x", "name"]
        # The zone page asks for an asset's landmarks between two chainages.
        indexes = [models.Index(fields=["asset", "x"])]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.name}"
