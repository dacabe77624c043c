"""The actions of this app; importing it registers them."""

from __future__ import annotations

from mapping.actions import features, joints, places, zone_tables, zones

__all__ = ["features", "joints", "places", "zone_tables", "zones"]
