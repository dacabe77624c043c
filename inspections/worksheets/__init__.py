"""Worksheets about testing. Importing the modules registers them."""

from __future__ import annotations

from inspections.worksheets import air, coverage, sweeping, thickness, thickness_plan, voltage

__all__ = ["air", "coverage", "sweeping", "thickness", "thickness_plan", "voltage"]
