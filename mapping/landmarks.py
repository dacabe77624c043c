"""Landmarks: what painters measure from, because they can see it. A place or a line of a zone, or a chainage of the asset."""

from __future__ import annotations

import shapely
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from accounts.assets import Asset
from accounts.rows import Row, Strikeable
from mapping import axes
from mapping.positions import PositionError
from mapping.surfaces.plane import Place, Surface
from mapping.zones import Zone

BEYOND = 15.0  # m: the next joint's weld is a landmark of a zone that ends inside the joint


class Landmark(Row, Strikeable):
    """A weld, joint, nozzle or the like; x, y are plane metres of its zone.

    Of no zone: a line around the pipe at the continuous chainage x, without y. On a zone: a point, or a line across it
    on which one axis stays the same (`line`); then x, y is a place in its middle.
    """

    record_path = "asset"
    facts = ("asset", "zone", "kind", "name", "said", "line")
    placed = ("x", "y")

    class Kind(models.TextChoices):
        GIRTH_WELD = "girth weld", _("girth weld")
        JOINT = "joint", _("joint")
        SEAM = "seam", _("seam")
        NOZZLE = "nozzle", _("nozzle")
        BRACKET = "bracket", _("bracket")
        VALVE = "valve", _("valve")
        MARKER = "marker", _("marker post")
        LINE = "line", _("line")

    class Across(models.TextChoices):
        FIRST = "first", _("the same along its first axis")
        SECOND = "second", _("the same along its second axis")

    asset = models.ForeignKey(Asset, models.PROTECT, related_name="landmarks")
    zone = models.ForeignKey(Zone, models.PROTECT, null=True, blank=True, related_name="landmarks")
    kind = models.CharField(max_length=12, choices=Kind)
    name = models.CharField(max_length=60)
    said = models.CharField(max_length=120)
    x = models.FloatField()
    y = models.FloatField(null=True, blank=True)
    line = models.CharField(max_length=6, choices=Across, blank=True)

    class Meta(Strikeable.Meta):
        abstract = False
        ordering = ["x", "name"]
        # The zone page asks for an asset's landmarks between two chainages.
        indexes = [models.Index(fields=["asset", "x"])]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.name}"

    def gridline_on(self, surface: Surface) -> axes.Gridline | None:
        """The line it is on this surface; None for a point."""
        if self.y is None:
            return axes.Gridline(0, self.x)
        if not self.line:
            return None
        axis: axes.Which = 0 if self.line == self.Across.FIRST else 1
        return axes.Gridline(axis, axes.spoken(surface, self.x, self.y)[axis])

    def mark_on(self, surface: Surface) -> axes.Mark:
        """What to measure from on this surface."""
        line = self.gridline_on(surface)
        return axes.Mark(str(self), self.x, self.y or 0.0, None if line is None else line.axis)

    def drawn_on(self, surface: Surface) -> list[tuple[float, float]]:
        """The points of its line on the plane; none for a point, or where the line misses the zone."""
        line = self.gridline_on(surface)
        shape = axes.gridline_shape(surface, line) if line else None
        return [(float(x), float(y)) for x, y in shapely.get_coordinates(shape)] if shape is not None else []


def read_landmark(surface: Surface, said: str) -> tuple[Place, str]:
    """The place of a landmark on a surface, and which kind of line it is ("" for a point).

    Raises
    ------
    PositionError
        When it is neither a place nor a line of this surface.
    """
    try:
        return surface.read_place(said, anywhere=True), ""
    except PositionError as problem:
        try:
            line = axes.read_gridline(surface, said)
        except PositionError as other:
            raise PositionError(f"{problem}; {other}") from other
    return axes.on_gridline(surface, line), (Landmark.Across.FIRST, Landmark.Across.SECOND)[line.axis].value


def landmarks_near(zone: Zone) -> list[Landmark]:
    """The zone's own landmarks, and on a pipe those of the asset on it and up to `BEYOND` past its ends, in order."""
    rows = Landmark.objects.filter(asset=zone.asset, struck_at=None)
    wanted = Q(zone=zone)
    if zone.surface.wrap_axis == "y":
        low, _low, high, _high = zone.surface.outline.bounds
        wanted |= Q(zone=None, x__gte=low - BEYOND, x__lte=high + BEYOND)
    return list(rows.filter(wanted).order_by("x", "name"))
