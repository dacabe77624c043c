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
    gauges,
    ground,
    importing,
    permits,
    qualifications,
    rules,
    rulings,
    run_basis,
    sheets,
    specifying,
    spots,
    testing,
    thin,
)

__all__ = [
    "air",
    "answering",
    "briefings",
    "checks",
    "equipment",
    "features",
    "findings",
    "gauges",
    "ground",
    "importing",
    "permits",
    "qualifications",
    "rules",
    "run_basis",
    "rulings",
    "sheets",
    "specifying",
    "spots",
    "testing",
    "thin",
]
