"""Spanish: dates in Spanish words, but numbers with the decimal point, because positions are spoken and read with it."""

from __future__ import annotations

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = "\u202f"
NUMBER_GROUPING = 3
