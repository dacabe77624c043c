"""Re-exports the models of this app for Django."""

from __future__ import annotations

from mapping.features import Feature
from mapping.landmarks import Landmark
from mapping.zones import Exclusion, ExclusionDecision, Zone

__all__ = ["Exclusion", "ExclusionDecision", "Feature", "Landmark", "Zone"]
