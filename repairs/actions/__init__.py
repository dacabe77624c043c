"""Loads the app's actions into the registry."""

from __future__ import annotations

from repairs.actions import decisions, patches, retests, steps

__all__ = ["decisions", "patches", "retests", "steps"]
