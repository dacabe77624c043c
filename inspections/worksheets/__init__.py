"""Worksheets about testing. Importing the modules registers them."""

from __future__ import annotations

from inspections.worksheets import air

__all__ = ["air"]
