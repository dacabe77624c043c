"""The actions of this app; importing it registers them."""

from __future__ import annotations

from inspections.actions import (
    air,
    answering,
    briefings,
    checks,
    equipment,
    features,
    findings,
    ground,
    importing,
    permits,
    qualifications,
    rules,
    rulings,
    sheets,
    specifying,
    spots,
    testing,
)

__all__ = [
    "air",
    "answering",
    "briefings",
    "checks",
    "equipment",
    "features",
    "findings",
    "ground",
    "importing",
    "permits",
    "qualifications",
    "rules",
    "rulings",
    "sheets",
    "specifying",
    "spots",
    "testing",
]
