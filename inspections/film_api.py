"""Reads of thickness spots, checks of gauges, decisions on spots in doubt, and answers for the readings under a run."""

from __future__ import annotations

from django_filters import ChoiceFilter, UUIDFilter
from rest_framework import serializers

from accounts.serving import PersonRead, RowRead, Rows
from inspections.coatings import Spot
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.runs import BasisAnswer
from mapping.api import X, Y


class SpotRead(RowRead):
    readings = serializers.ListField(child=serializers.JSONField(), help_text="As given, with their unit.")
    units = {
        "mean": "µm, less the correction",
        "correction": "µm, subtracted from each reading",
        "x": X,
        "y": Y,
        "said": "As it was given.",
    }

    class Meta:
        model = Spot
        fields = (
            "id", "version", "coating", "sheet", "gauge", "stage", "said", "x", "y", "readings", "unit", "unit_confirmed",
            "mean", "correction", "correction_said", "area", "shift", "purpose", "at",
        )  # fmt: skip


class GaugeCheckRead(RowRead):
    by = PersonRead()
    units = {"shim": "µm", "measured": "µm", "tolerance": "µm"}

    class Meta:
        model = GaugeCheck
        fields = (
            "id", "version", "sheet", "gauge", "plate", "shim", "shim_said", "measured", "measured_said", "tolerance",
            "tolerance_said", "outcome", "at", "by", "note",
        )  # fmt: skip


class SpotRulingRead(RowRead):
    by = PersonRead()
    spots = serializers.ListField(child=serializers.UUIDField(), help_text="Ids of the spots.")
    doubts = serializers.ListField(child=serializers.CharField(), help_text="Keys of the doubts it rules on.")

    class Meta:
        model = SpotRuling
        fields = ("id", "version", "coating", "spots", "doubts", "decision", "why", "grounds", "evidence", "by", "at")


class BasisAnswerRead(RowRead):
    by = PersonRead()
    questions = serializers.ListField(child=serializers.CharField(), help_text="Keys of what was asked.")

    class Meta:
        model = BasisAnswer
        fields = ("id", "version", "run", "questions", "why", "by", "at")


class Spots(Rows):
    """Thickness spots."""

    collection = "spots"
    serializer_class = SpotRead
    filters = {"sheet": UUIDFilter(field_name="sheet", help_text="Id of the sheet.")}


class GaugeChecks(Rows):
    """Checks of thickness gauges on shims and zero plates."""

    collection = "gauge_checks"
    serializer_class = GaugeCheckRead
    select = ("by",)
    filters = {
        "gauge": UUIDFilter(field_name="gauge", help_text="Id of the gauge."),
        "status": ChoiceFilter(field_name="outcome", choices=GaugeCheck.Outcome.choices, help_text="Its outcome."),
    }


class SpotRulings(Rows):
    """Decisions on thickness spots in doubt."""

    collection = "spot_rulings"
    serializer_class = SpotRulingRead
    select = ("by",)


class BasisAnswers(Rows):
    """What was decided of runs whose thickness readings are in question since."""

    collection = "basis_answers"
    serializer_class = BasisAnswerRead
    select = ("by",)
