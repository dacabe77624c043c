"""Worksheets about places, surfaces and counts. Importing the modules registers them."""

from __future__ import annotations

from mapping.worksheets import counting, places

__all__ = ["counting", "places"]
