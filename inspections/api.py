"""Reads of specifications, coatings, sheets, runs and what was recorded in them, thickness."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django_filters import ChoiceFilter
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.serving import PersonRead, RowRead, Rows, urls_of
from inspections.air_api import urlpatterns as air_urls
from inspections.coatings import Atmosphere, Coating, Disturbance, FieldSheet
from inspections.equipment_api import Certificates, Electrodes, Instruments, SpecificationDrafts, VoltageRules
from inspections.film_api import BasisAnswers, GaugeChecks, SpotRulings, Spots
from inspections.flaws import Classification
from inspections.instruments import Electrode, Instrument
from inspections.noted_runs import notes_of
from inspections.people_api import Attendees, Briefings, Permits, Qualifications
from inspections.questions_api import Answers
from inspections.questions_api import urlpatterns as question_urls
from inspections.run_basis import basis_questions
from inspections.runs import (
    CheckEvent,
    Reinstatement,
    ReturnProof,
    Run,
    Standing,
    Swath,
    TouchTest,
    Verification,
)
from inspections.specifications import Specification
from mapping.api import PlaneShapeField

SEQ = "Place in the sheet's order of recording."


class SpecificationRead(RowRead):
    issued_by = PersonRead()
    units = {"body": "The terms: lengths in m, films in µm, voltages in V, times as named."}

    class Meta:
        model = Specification
        fields = ("id", "version", "asset", "name", "edition", "issued_at", "issued_by", "supersedes", "body")


class CoatingRead(RowRead):
    asset = serializers.UUIDField(source="zone.asset_id")

    class Meta:
        model = Coating
        fields = ("id", "version", "asset", "zone", "number", "specification", "begun_at", "ended_at", "ended_why")


class SheetRead(RowRead):
    person = PersonRead()
    is_out = serializers.BooleanField(help_text="Neither handed in nor given up.")
    units = {
        "base_seq": "Head of the asset's record when the sheet was taken.",
        "last_seq": "Highest order of recording.",
    }

    class Meta:
        model = FieldSheet
        fields = (
            "id", "version", "coating", "person", "organisation", "letter", "taken_at", "base_seq", "last_seq", "is_out",
            "handed_in_at", "given_up_why", "source",
        )  # fmt: skip


class UsedInstrument(serializers.ModelSerializer):
    """The instrument of a run, told to everybody who may read the run."""

    class Meta:
        model = Instrument
        fields = ("id", "name", "serial")
        read_only_fields = fields


class UsedElectrode(serializers.ModelSerializer):
    """The electrode of a run; `width` is what one pass sweeps, m."""

    class Meta:
        model = Electrode
        fields = ("id", "name", "width")
        read_only_fields = fields


class VerificationRead(RowRead):
    by = PersonRead()
    units = {
        "expected": "In the unit named: V, or Ω for a wet sponge.",
        "measured": "Crest on load, V; of a wet sponge the known resistor, Ω.",
        "tolerance": "In the same unit, either way.",
        "sheet_seq": SEQ,
    }

    class Meta:
        model = Verification
        fields = (
            "id", "version", "run", "at", "sheet_seq", "phase", "hand_timed", "expected", "measured", "tolerance", "outcome", "alarm_seen",
            "by", "note", "voltmeter", "unit",
        )  # fmt: skip


class ReturnProofRead(RowRead):
    by = PersonRead()
    units = {"sheet_seq": SEQ}

    class Meta:
        model = ReturnProof
        fields = ("id", "version", "run", "island", "said", "at", "sheet_seq", "by")


class TouchTestRead(RowRead):
    by = PersonRead()
    units = {"distance": "From the return, m.", "volts": "V", "sheet_seq": SEQ}

    class Meta:
        model = TouchTest
        fields = ("id", "version", "run", "island", "said", "distance", "volts", "alarm", "at", "sheet_seq", "by")


class CheckEventRead(RowRead):
    by = PersonRead()
    units = {"sheet_seq": SEQ}

    class Meta:
        model = CheckEvent
        fields = ("id", "version", "run", "kind", "at", "sheet_seq", "by")


class ReinstatementRead(RowRead):
    by = PersonRead()
    units = {
        "swaths": "Ids of the swaths it is about.",
        "causes": "What was known to be wrong then, which it rules on.",
    }

    class Meta:
        model = Reinstatement
        fields = ("id", "version", "run", "swaths", "causes", "decision", "grounds", "why", "evidence", "by", "at")


class SwathRead(RowRead):
    shape = PlaneShapeField()
    along = serializers.ListField(child=serializers.ListField(child=serializers.FloatField()))
    units = {
        "area": "m²; 0 where a feature was swept.",
        "feature": "The weld, edge, nozzle or bracket; null for ground.",
        "along": "What of a weld or edge was swept: from and to, m along it.",
        "standing": "Judged from the run's facts.",
        "start_seq": SEQ,
        "sheet_seq": SEQ,
    }

    class Meta:
        model = Swath
        fields = (
            "id", "version", "run", "lane", "said", "shape", "area", "feature", "along", "island", "started_at", "ended_at", "start_seq",
            "sheet_seq", "hand_timed", "standing", "cause",
        )  # fmt: skip


class RunNoteRead(serializers.Serializer):
    """What is said of a run beside its ground: it flags, and takes nothing away."""

    code = serializers.CharField()
    words = serializers.CharField()


class RunRead(RowRead):
    """A test run with everything that proves or spoils it; its swaths are a list of their own."""

    label = serializers.CharField(help_text="Letter of the sheet and number of the run.")  # type: ignore[assignment]
    coating = serializers.UUIDField(source="sheet.coating_id")
    instrument = UsedInstrument(allow_null=True)
    electrode = UsedElectrode(allow_null=True)
    recorder = PersonRead()
    witness = PersonRead(allow_null=True)
    cautions_by = PersonRead(allow_null=True)
    verifications = VerificationRead(many=True)
    return_proofs = ReturnProofRead(many=True)
    touch_tests = TouchTestRead(many=True)
    events = CheckEventRead(many=True)
    reinstatements = ReinstatementRead(many=True)
    notes = serializers.SerializerMethodField(help_text="On its permit, briefing and people, as things stand.")
    basis_in_question = serializers.SerializerMethodField(
        help_text="What has come to light about the readings its voltage rests on, and is not answered."
    )
    units = {
        "thickness": "µm",
        "asked_volts": "V",
        "set_volts": "V",
        "band_low": "Lowest allowed, V.",
        "band_high": "Highest allowed, V.",
        "check_interval_min": "Minutes.",
        "check_tolerance_volts": "V, either way.",
    }

    class Meta:
        model = Run
        fields = (
            "id", "version", "label", "coating", "sheet", "number", "stage", "purpose", "method", "instrument", "electrode",
            "ruling_document", "thickness_basis", "thickness", "thickness_said", "basis_spots", "basis_gauges", "asked_volts", "set_volts", "band_low",
            "band_high", "check_interval_min", "check_tolerance_volts", "check_ohm", "check_tolerance_ohm", "medium", "surface_state", "sweeper", "swept_by", "recorder", "witness",
            "permit", "cautions_by", "cautions_at", "opened_at", "closed_at", "verifications", "return_proofs", "touch_tests", "events",
            "reinstatements", "notes", "basis_in_question",
        )  # fmt: skip

    @extend_schema_field(RunNoteRead(many=True))
    def get_notes(self, run: Run) -> list[dict[str, str]]:
        said = self.context.get("notes", {}).get(run.pk, ())
        return [{"code": note.code, "words": note.words} for note in said]

    def get_basis_in_question(self, run: Run) -> list[str]:
        return [str(question.line) for question in self.context.get("basis", {}).get(run.pk, ())]


class AtmosphereRead(RowRead):
    by = PersonRead()
    steel = serializers.ListField(child=serializers.FloatField(), help_text="°C; the coldest counts.")
    steel_at = serializers.ListField(
        child=serializers.CharField(), help_text="Where each was read, in the same order; empty where nothing was said."
    )
    units = {"air": "°C", "humidity": "%", "wet_bulb": "°C"}

    class Meta:
        model = Atmosphere
        fields = (
            "id",
            "version",
            "coating",
            "at",
            "air",
            "humidity",
            "wet_bulb",
            "steel",
            "steel_at",
            "hygrometer",
            "thermometer",
            "by",
        )


class DisturbanceRead(RowRead):
    by = PersonRead()
    shape = PlaneShapeField()

    class Meta:
        model = Disturbance
        fields = ("id", "version", "coating", "said", "shape", "at", "kind", "by")


class ClassificationRead(RowRead):
    by = PersonRead()

    class Meta:
        model = Classification
        fields = ("id", "version", "flaw", "kind", "by", "at")


class Specifications(Rows):
    """Specifications as they were issued."""

    collection = "specifications"
    serializer_class = SpecificationRead
    select = ("issued_by",)


class Coatings(Rows):
    """Coatings: the life of one film on one zone."""

    collection = "coatings"
    serializer_class = CoatingRead
    select = ("zone",)


class Sheets(Rows):
    """Field sheets."""

    collection = "sheets"
    serializer_class = SheetRead
    select = ("person",)


class Runs(Rows):
    """Test runs with their checks, proofs of return, events and reinstatements."""

    collection = "runs"
    serializer_class = RunRead
    select = (
        "sheet__coating__specification", "sheet__coating__zone__asset", "sheet__organisation", "instrument", "electrode",
        "recorder", "swept_by", "witness", "cautions_by",
    )  # fmt: skip
    prefetch = tuple(
        f"{many}__{who}"
        for many in ("verifications", "return_proofs", "touch_tests", "events", "reinstatements")
        for who in ("by", "struck_by")
    )
    filters = {"purpose": ChoiceFilter(choices=Run.Purpose.choices)}

    def get_serializer(self, *args: Any, **kwargs: Any) -> Any:
        """With what is to be said of these runs, read for all of them at once."""
        runs = list(args[0]) if args and kwargs.get("many") else list(args)
        told = {"notes": notes_of(runs, timezone.now()), "basis": basis_questions(runs)}
        kwargs["context"] = {**self.get_serializer_context(), **told}
        return super().get_serializer(*args, **kwargs)


class Verifications(Rows):
    """Checks of the output."""

    collection = "verifications"
    serializer_class = VerificationRead
    select = ("by",)
    filters = {"outcome": ChoiceFilter(choices=Verification.Outcome.choices)}


class ReturnProofs(Rows):
    """Proofs of return."""

    collection = "return_proofs"
    serializer_class = ReturnProofRead
    select = ("by",)


class TouchTests(Rows):
    """Touches of bare concrete away from the return."""

    collection = "touch_tests"
    serializer_class = TouchTestRead
    select = ("by",)


class CheckEvents(Rows):
    """Events after which the output is checked."""

    collection = "events"
    serializer_class = CheckEventRead
    select = ("by",)


class Reinstatements(Rows):
    """Decisions on lost or held ground."""

    collection = "reinstatements"
    serializer_class = ReinstatementRead
    select = ("by",)


class Swaths(Rows):
    """Ground marked as swept, with its standing."""

    collection = "swaths"
    serializer_class = SwathRead
    filters = {"status": ChoiceFilter(field_name="standing", choices=Standing.choices, help_text="Its standing.")}


class Atmospheres(Rows):
    """Air and steel as measured."""

    collection = "atmospheres"
    serializer_class = AtmosphereRead
    select = ("by",)


class Disturbances(Rows):
    """Later work that spoils what was tested there."""

    collection = "disturbances"
    serializer_class = DisturbanceRead
    select = ("by",)


class Classifications(Rows):
    """What people said a flaw is; the latest counts."""

    collection = "classifications"
    serializer_class = ClassificationRead
    select = ("by",)


COLLECTIONS: tuple[type[Rows], ...] = (
    Specifications, Coatings, Sheets, Runs, Verifications, ReturnProofs, TouchTests, CheckEvents, Reinstatements, Swaths, Answers,
    Permits, Atmospheres, Disturbances, Spots, GaugeChecks, SpotRulings, BasisAnswers, Classifications, Instruments, Certificates, Electrodes,
    SpecificationDrafts, VoltageRules, Briefings, Attendees, Qualifications,
)  # fmt: skip
urlpatterns = [*urls_of(*COLLECTIONS), *question_urls, *air_urls]
