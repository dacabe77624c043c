"""Worksheets about testing. Importing the modules registers them."""

from __future__ import annotations

from inspections.worksheets import air, sweeping, voltage

__all__ = ["air", "sweeping", "voltage"]
