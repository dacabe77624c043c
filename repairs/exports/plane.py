"""Shapes and places as GeoJSON in structure, in plane metres and saying so: no longitude or latitude anywhere.

RFC 7946 (section 4) lets parties agree on other coordinates; the member `plane` tells how each zone's are measured.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

import shapely
from django.utils import timezone
from django.utils.translation import get_language, override
from shapely.geometry.base import BaseGeometry

from accounts.wording import noted, say
from mapping.zones import Zone
from repairs.exports import film, put_right, tested, where
from repairs.exports.scope import CHUNK, Column, Scope, Table

GEOMETRY = "geometry"
_BETWEEN = ",\n"
_AXES: Mapping[str, tuple[str, str]] = {
    "pipe": (
        noted("metres along the line: chainage, continuous after the first station equation"),
        noted("metres of arc, clockwise from 12 o'clock, looking with increasing chainage"),
    ),
    "strake": (
        noted("metres of arc from the azimuth datum, clockwise seen from above"),
        noted("metres above the lower edge"),
    ),
    "disk": (noted("metres from the centre towards azimuth 90°"), noted("metres from the centre towards azimuth 0")),
    "cone": (
        noted("metres in the unrolled sector, from the apex, square to azimuth 0"),
        noted("metres in the unrolled sector, from the apex along azimuth 0"),
    ),
    "deck": (noted("metres across the lettered lines"), noted("metres across the numbered lines")),
    "panel": (noted("metres to the right of the lower left corner"), noted("metres above the lower left corner")),
    "sphere": (noted("metres around, clockwise seen from above"), noted("metres of the unrolled height")),
}
_LIKE = {"annulus": "disk", "head": "disk", "bend": "pipe"}
ALONG_THE_LINE = frozenset({"pipe", "bend"})
"""Kinds of surface that landmarks of no zone lie on."""


def _shape(shape: BaseGeometry | None) -> str:
    """The shape as GeoJSON; nothing where there is none."""
    return "" if shape is None or shape.is_empty else shapely.to_geojson(shape)


def _point(x: float, y: float) -> str:
    return json.dumps({"type": "Point", "coordinates": [round(x, 6), round(y, 6)]})


@dataclass(frozen=True)
class Layer:
    """The rows of a table with their geometry: `name` is told with each feature."""

    name: str
    table: Table
    source: tuple[str, ...]
    geometry: Callable[..., str]

    def features(self, scope: Scope) -> Iterator[str]:
        """Each row that has a shape as the text of a feature, read in one query as they are asked for."""
        drawn = replace(
            self.table, columns=(*self.table.columns, Column(GEOMETRY, "", self.source, self.geometry)), several=None
        )
        for *line, geometry in drawn.lines(scope):
            if geometry:
                yield feature(self.name, dict(zip(self.table.heads, line, strict=True)), geometry)  # type: ignore[arg-type]


def feature(layer: str, properties: dict[str, Any], geometry: str) -> str:
    """A feature as text; its id is the row's."""
    pk = properties.pop("id", None)
    told = {"type": "Feature", **({"id": pk} if pk else {}), "properties": {"layer": layer, **properties}}
    return f'{json.dumps(told, ensure_ascii=False)[:-1]}, "{GEOMETRY}": {geometry}}}'


LAYERS = (
    Layer("tested as found", tested.COVERAGE, ("found",), _shape),
    Layer("held", tested.COVERAGE, ("held",), _shape),
    Layer("pending", tested.COVERAGE, ("pending",), _shape),
    Layer("lost", tested.COVERAGE, ("lost",), _shape),
    Layer("exclusion", where.EXCLUSIONS, ("shape",), _shape),
    Layer("feature", where.FEATURES, ("shape",), _shape),
    Layer("swath", tested.SWATHS, ("shape",), _shape),
    Layer("later work", tested.DISTURBANCES, ("shape",), _shape),
    Layer("thickness spot", film.SPOTS, ("x", "y"), _point),
    Layer("patch", put_right.PATCHES, ("shape",), _shape),
    Layer("flaw", put_right.FLAWS, ("x", "y"), _point),
)


def collection(scope: Scope) -> Iterator[bytes]:
    """One FeatureCollection, chunk by chunk; what it says in words is in the language of now."""
    return _collection(scope, get_language())


def _collection(scope: Scope, language: str | None) -> Iterator[bytes]:
    with override(language):
        told = {"type": "FeatureCollection", "name": scope.title, **_about(scope)}
    yield f'{json.dumps(told, ensure_ascii=False)[:-1]}, "features": [\n'.encode()
    features = _features(scope)
    before = ""
    while chunk := list(islice(features, CHUNK)):
        yield (before + _BETWEEN.join(chunk)).encode()
        before = _BETWEEN
    yield b"\n]}\n"


def _about(scope: Scope) -> dict[str, Any]:
    head = scope.head()
    return {
        "plane": {
            "coordinates": say(
                "Metres in the plane of each zone's unrolled surface; not longitude and latitude, and in no coordinate "
                "reference system."
            ),
            "unit": "m",
            "zones": [_plane(zone) for zone in scope.zones()],
        },
        "written": scope.moment(timezone.now()),
        "record": {"entry": head.seq, "sha256": head.digest},
    }


def _plane(zone: Zone) -> dict[str, Any]:
    surface = zone.surface
    x, y = _AXES[_LIKE.get(zone.surface_kind, zone.surface_kind)]
    return {
        "zone": zone.name,
        "surface": zone.surface_kind,
        "face": zone.face,
        "sizes": zone.surface_json,
        "x": say(x),
        "y": say(y),
        "comes back after": {surface.wrap_axis: surface.period} if surface.wrap_axis and surface.period else None,
        "limits": surface.limits_text(),
        "note": surface.distance_note,
    }


def _features(scope: Scope) -> Iterator[str]:
    for zone in scope.zones():
        properties = {"id": str(zone.pk), "zone": zone.name, "true area (m2)": round(zone.true_area, 6)}
        yield feature("zone", properties, _shape(zone.surface.outline))
    yield from _landmarks(scope)
    for layer in LAYERS:
        yield from layer.features(scope)


def _landmarks(scope: Scope) -> Iterator[str]:
    """Landmarks on the plane of each zone they lie on; those of no zone are lines around the pipe."""
    zones = scope.zones()
    bounds = {zone.pk: zone.surface.outline.bounds for zone in zones}
    for line, row in zip(where.LANDMARKS.lines(scope), where.landmarks_of(scope), strict=True):
        properties = dict(zip(where.LANDMARKS.heads, line, strict=True))
        for zone in zones:
            low, _, high, _ = bounds[zone.pk]
            along = row.zone_id is None and zone.surface_kind in ALONG_THE_LINE and low <= row.x <= high
            if not along and row.zone_id != zone.pk:
                continue
            points = row.drawn_on(zone.surface)
            if points:
                drawn = json.dumps({"type": "LineString", "coordinates": points})
            else:
                drawn = _point(row.x, row.y) if row.y is not None else ""
            if drawn:
                yield feature("landmark", {**properties, "zone": zone.name}, drawn)
