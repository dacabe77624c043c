"""The actions of this app; importing it registers them."""

from __future__ import annotations

from inspections.actions import (
    checks,
    equipment,
    features,
    findings,
    ground,
    importing,
    rules,
    rulings,
    sheets,
    specifying,
    spots,
    testing,
)

__all__ = [
    "checks",
    "equipment",
    "features",
    "findings",
    "ground",
    "importing",
    "rules",
    "rulings",
    "sheets",
    "specifying",
    "spots",
    "testing",
]
