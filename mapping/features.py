"""Features of a zone: welds and edges measured in metres of line, nozzles and brackets that are counted.

Flaws sit there; their coverage is kept beside that of the area.
"""

from __future__ import annotations

from functools import cached_property

from django.db import models
from django.utils.translation import gettext_lazy as _
from shapely import MultiLineString, Point
from shapely.geometry.base import BaseGeometry

from accounts.rows import Row, Strikeable
from mapping import lines
from mapping.coverage import NOTHING
from mapping.intervals import Intervals
from mapping.landmarks import Landmark
from mapping.line_coverage import ONE
from mapping.shapes import ShapeField
from mapping.surfaces import Surface
from mapping.zones import Zone


class Feature(Row, Strikeable):
    """A weld or edge (a line, in legs on the folded plane) or a nozzle or bracket (its middle). Said as it was said."""

    record_path = "zone__asset"
    facts = ("zone", "kind", "name", "said", "size", "landmark")
    placed = ("shape", "length")

    class Kind(models.TextChoices):
        WELD = "weld", _("weld")
        EDGE = "edge", _("edge")
        NOZZLE = "nozzle", _("nozzle")
        BRACKET = "bracket", _("bracket")

    zone = models.ForeignKey(Zone, models.PROTECT, related_name="features")
    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=60)
    said = models.CharField(max_length=200)
    shape = ShapeField()
    length = models.FloatField(null=True, blank=True, help_text=_("m; null where it is counted"))
    size = models.FloatField(default=0.0, help_text=_("m across; 0 where it is a line or has no stated size"))
    landmark = models.ForeignKey(Landmark, models.PROTECT, null=True, blank=True, related_name="features")

    class Meta(Strikeable.Meta):
        abstract = False
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.name}"

    @property
    def is_line(self) -> bool:
        return self.kind in LINES

    @cached_property
    def whole(self) -> Intervals:
        """All of it, in metres along; a counted feature is measured as 1."""
        return ONE if self.length is None else ((0.0, self.length),)

    def spoiled_by(self, surface: Surface, shape: BaseGeometry) -> Intervals:
        """What of it lies inside a shape; a counted feature is reached as soon as the shape touches it."""
        if isinstance(self.shape, Point):
            x, y = self.shape.x, self.shape.y
            reach = surface.footprint(x, y, self.size, self.size, 0.0, round_=True) if self.size else self.shape
            return ONE if reach.intersects(shape) else ()
        return lines.inside(surface, self.shape, shape)

    def excluded_by(self, surface: Surface, shape: BaseGeometry) -> Intervals:
        """What of it need not be tested where this shape is left out: of a counted feature its middle decides."""
        if isinstance(self.shape, Point):
            return ONE if shape.distance(self.shape) <= NOTHING else ()
        return lines.inside(surface, self.shape, shape)

    def part(self, surface: Surface, intervals: Intervals) -> BaseGeometry:
        """The shape of a part of it, in metres along."""
        return lines.piece(surface, self.shape, intervals) if isinstance(self.shape, MultiLineString) else self.shape


LINES = (Feature.Kind.WELD, Feature.Kind.EDGE)
"""Kinds that are measured in metres; the others are counted."""
