"""Re-exports the models of this app for Django."""

from __future__ import annotations

from inspections.answers import Answer
from inspections.briefings import Attendee, Briefing
from inspections.coatings import (
    Atmosphere,
    Coating,
    Coverage,
    Disturbance,
    FieldSheet,
    Permit,
    Spot,
)
from inspections.flaws import Classification, Flaw, FlawKind
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.qualifications import Qualification
from inspections.rule_library import VoltageRule
from inspections.runs import (
    BasisAnswer,
    CheckEvent,
    Reinstatement,
    ReturnProof,
    Run,
    Standing,
    Swath,
    TouchTest,
    Verification,
)
from inspections.specifications import Specification, SpecificationDraft

__all__ = [
    "Answer", "Atmosphere", "Attendee", "BasisAnswer", "Briefing", "Certificate", "CheckEvent", "Classification", "Coating", "Coverage", "Disturbance", "Electrode",
    "FieldSheet", "Flaw", "FlawKind", "GaugeCheck", "Instrument", "Permit", "Qualification", "Reinstatement", "ReturnProof", "Run", "Specification",
    "SpecificationDraft", "Spot", "SpotRuling", "Standing", "Swath", "TouchTest", "Verification", "VoltageRule",
]  # fmt: skip
