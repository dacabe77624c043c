"""What the sheet of a zone shows: its ground, landmarks, features, flaws and patches as a display list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import shapely
from django.db.models import Q
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from mapping.drawing import Sheet, draw_zone
from mapping.landmarks import Landmark
from mapping.scene import FlawMark, Mark, PassMark, PatchMark
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.strake import Strake
from mapping.zones import Zone
from repairs.feature_ground import FeaturePicture
from repairs.picture import ZonePicture
from repairs.state import PATCH_TO_FLAW

DOUBT_STYLES = {"unconfirmed": "unconfirmed", "may be made by the test": "by-test"}
"""Marks that a doubtful test leaves on a flaw -> how the sheet draws them."""
UNTESTED = "untested"
SAME_PLACE_M = 0.05
"""A landmark nearer than this to a feature of its name is that feature, entered twice. Our own choice, no source."""


def drawing_of(picture: ZonePicture, **options: Any) -> Sheet:
    """The zone as a display list: the ground that release looks at, landmarks, features, flaws and patches.

    A landmark that is a feature too, or has one of its name at its place, is drawn as the feature.
    """
    zone, features = picture.zone, picture.features.features
    return draw_zone(
        zone.surface,
        picture.ground.ground,
        excluded=[(each.shape, each.reason) for each in picture.excluded],
        landmarks=[
            *(landmark_mark(zone, row) for row in landmarks_on(zone) if not _drawn_as_feature(row, features)),
            *(mark for each in features for mark in _feature(zone, each)),
        ],
        flaws=[
            FlawMark(
                flaw.tag,
                flaw.x,
                flaw.y,
                flaw.status.value,
                str(flaw.id),
                tuple(DOUBT_STYLES[mark] for mark in flaw.marks),
            )
            for flaw in picture.flaws
        ],
        patches=[
            PatchMark(str(patch.number), patch.shape, PATCH_TO_FLAW[patch.state].value) for patch in picture.patches
        ],
        passes=[PassMark(place.times, place.shape) for place in picture.repeated.places],
        **options,
    )


def landmarks_on(zone: Zone) -> list[Landmark]:
    """Landmarks of the zone itself; on a line also those of the asset that stand along it. Joints are not drawn."""
    low, _, high, _ = zone.surface.outline.bounds
    own = Q(zone=zone)
    if isinstance(zone.surface, Pipe):
        own |= Q(zone=None, x__gte=low, x__lte=high)
    return list(Landmark.objects.filter(own, asset=zone.asset, struck_at=None).exclude(kind=Landmark.Kind.JOINT))


def landmark_mark(zone: Zone, row: Landmark) -> Mark:
    """A landmark as it is drawn: a place, a line across the whole surface, or a line of its own."""
    line = row.gridline_on(zone.surface)
    if line is None:
        return Mark(row.kind, row.name, row.x, row.y)
    if line.axis == 0 and isinstance(zone.surface, Pipe | Strake):
        return Mark(row.kind, row.name, row.x)
    return Mark(row.kind, row.name, row.x, row.y, tuple(row.drawn_on(zone.surface)))


def _drawn_as_feature(row: Landmark, features: Sequence[FeaturePicture]) -> bool:
    """Whether a feature made from the landmark, or one of its name at its place, is drawn already: one name is enough."""
    for each in features:
        shape = each.feature.shape
        if each.feature.landmark_id == row.pk:
            return True
        if each.feature.name.casefold() == row.name.casefold():
            place = Point(row.x, shape.centroid.y if row.y is None else row.y)
            if shape.distance(place) < SAME_PLACE_M:
                return True
    return False


def _feature(zone: Zone, each: FeaturePicture) -> Iterator[Mark]:
    """A feature by its own line or place, and over it what of it is not tested."""
    feature, bare = each.feature, each.worst not in ("stands", "excluded")
    if isinstance(feature.shape, Point):
        yield Mark(UNTESTED if bare else feature.kind, feature.name, feature.shape.x, feature.shape.y)
        return
    yield from _legs(feature.kind, feature.name, feature.shape)
    if bare and each.now.missing:
        yield from _legs(UNTESTED, "", feature.part(zone.surface, tuple(each.now.missing)))


def _legs(kind: str, name: str, shape: BaseGeometry) -> Iterator[Mark]:
    """The legs of a line, the longest of which carries its name."""
    legs = [leg for leg in shapely.get_parts(shape) if isinstance(leg, LineString) and leg.length > 0]
    longest = max(legs, key=lambda leg: leg.length, default=None)
    for leg in legs:
        middle = leg.interpolate(0.5, normalized=True)
        yield Mark(kind, name if leg is longest else "", middle.x, middle.y, tuple(leg.coords))
