"""Everything of an asset or a zone to take along: tables as CSV and XLSX, shapes as plane GeoJSON, sheets as they are read."""

from __future__ import annotations
