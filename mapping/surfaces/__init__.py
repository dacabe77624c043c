"""The kinds of surface: those that unroll, and those whose distances are local. No Django."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from accounts.wording import say
from mapping.positions import Chainage
from mapping.surfaces.cone import Cone
from mapping.surfaces.deck import Deck
from mapping.surfaces.disk import Annulus, Disk
from mapping.surfaces.local import Bend, Head, Sphere
from mapping.surfaces.panel import Panel
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface, SurfaceError
from mapping.surfaces.strake import Strake

_KINDS: dict[str, type[Surface]] = {
    surface.kind: surface for surface in (Pipe, Strake, Disk, Annulus, Cone, Deck, Panel, Bend, Head, Sphere)
}
KINDS = tuple(_KINDS)


def from_json(kind: str, json: Mapping[str, Any], face: str, chainage: Chainage) -> Surface:
    """The surface of this kind from its stored form.

    Raises
    ------
    SurfaceError
        For an unknown kind, or naming the field that is wrong.
    """
    if not isinstance(json, Mapping):
        raise SurfaceError("surface", say("surface {json!r} is not allowed: named sizes", json=json))
    if kind not in _KINDS:
        raise SurfaceError(
            "kind", say("surface kind {kind!r} is not allowed: {kinds}", kind=kind, kinds=", ".join(KINDS))
        )
    return _KINDS[kind].from_json(json, face, chainage)
