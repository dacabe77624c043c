"""Which column of a field sheet's file fills which field of the action that a crew would press, by kind of row."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from accounts.languages import kept_in_english
from inspections.actions.air import RecordAtmosphere
from inspections.actions.briefings import HoldBriefing
from inspections.actions.checks import CheckSensitivity, ProveReturn, ReportEvent, TouchConcrete, Verify
from inspections.actions.features import SweepFeature
from inspections.actions.findings import ReportFlaw
from inspections.actions.gauges import CheckGauge
from inspections.actions.ground import MarkSwept
from inspections.actions.permits import PermitGiven
from inspections.actions.spots import RecordSpot
from inspections.actions.testing import OpenRun

FIELDS: dict[str, Mapping[str, str]] = {
    "permit": {"number": "no", "kind": "kind", "gas_reading": "gas", "gas_limits": "limits", "tester": "tester"},
    "briefing": {"method": "method", "people": "people", "gone_through": "gone through"},
    "atmosphere": {"air": "air", "humidity": "humidity", "wet_bulb": "wet bulb", "steel": "steel",
                   "steel_at": "steel at", "hygrometer": "hygrometer", "thermometer": "thermometer"},
    "run": {"purpose": "purpose", "stage": "stage", "method": "method", "set_volts": "set", "thickness_basis": "basis",
            "thickness": "thickness", "surface_state": "surface", "medium": "medium", "sweeper": "sweeper", "cautions": "cautions",
            "instrument": "instrument", "electrode": "electrode", "witness": "witness", "permit": "permit"},
    "return": {"said": "place", "island": "island"},
    "touch": {"said": "place", "distance": "distance", "volts": "set", "alarm": "alarm", "island": "island"},
    "event": {"kind": "kind"},
    "check": {"phase": "phase", "measured": "measured", "alarm_seen": "alarm", "voltmeter": "voltmeter", "note": "note"},
    "sensitivity": {"phase": "phase", "resistor": "resistor", "alarm_seen": "alarm", "note": "note"},
    "swept": {"place": "place", "lane": "lane", "island": "island"},
    "feature": {"feature": "name", "part": "place", "island": "island"},
    "flaw": {"place": "place", "kind": "kind", "found_by": "found by", "size_x": "along", "size_y": "around",
             "depth": "depth", "give_or_take": "give or take", "note": "note"},
    "gauge check": {"gauge": "gauge", "plate": "plate", "shim": "shim", "measured": "measured film", "tolerance": "tolerance",
                    "note": "note"},
    "spot": {"place": "place", "stage": "stage", "readings": "reading", "gauge": "gauge", "area": "area", "shift": "shift",
             "correction": "correction", "purpose": "purpose", "unit_confirmed": "unit is right"},
}  # fmt: skip
TAKES: dict[str, type[serializers.Serializer]] = {
    "permit": PermitGiven, "briefing": HoldBriefing, "atmosphere": RecordAtmosphere, "run": OpenRun, "return": ProveReturn, "touch": TouchConcrete,
    "event": ReportEvent, "check": Verify, "sensitivity": CheckSensitivity, "swept": MarkSwept, "feature": SweepFeature, "flaw": ReportFlaw, "spot": RecordSpot,
    "gauge check": CheckGauge,
}  # fmt: skip


def choice_of(asked: serializers.Field, text: str) -> str:
    """The value of a choice from its value or its words, in English or the reader's language.

    Anything else goes on as written, to be refused by name.
    """
    if not isinstance(asked, serializers.ChoiceField):
        return text
    for value, label in asked.choices.items():
        with kept_in_english():
            english = str(label)
        if text.casefold() in (str(value).casefold(), english.casefold(), str(label).casefold()):
            return value
    return text


def leaves_of(detail: Any) -> list[str]:
    if isinstance(detail, dict):
        return [text for inner in detail.values() for text in leaves_of(inner)]
    if isinstance(detail, list | tuple):
        return [text for inner in detail for text in leaves_of(inner)]
    return [str(detail)]
