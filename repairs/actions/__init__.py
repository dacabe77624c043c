"""Loads the app's actions into the registry."""

from __future__ import annotations

from repairs.actions import correction, decisions, patches, retests, stationing, steps

__all__ = ["correction", "decisions", "patches", "retests", "stationing", "steps"]
