"""Reads of flaws with their status, patches with their state and work, concessions, releases; addresses of a zone's picture and gates."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Prefetch, QuerySet
from django.urls import path
from django_filters import ChoiceFilter, UUIDFilter
from rest_framework import serializers

from accounts.serving import PersonRead, RowRead, Rows, urls_of
from inspections.flaws import Flaw, FlawKind
from mapping.api import PlaneShapeField, X, Y
from repairs import exports_api, trace_api
from repairs.board_api import BoardView
from repairs.film_api import FilmView
from repairs.picture_api import GatesView, PictureView
from repairs.release import Concession, Release
from repairs.state import FlawStatus, PatchState, with_state, with_status
from repairs.work import Cycle, Patch, PatchFlaw, Step


class FlawRead(RowRead):
    """A flaw as it stands: the latest word on its kind, and how far its repair is."""

    tag = serializers.CharField(help_text="Letter of the sheet and number, as painted.")
    coating = serializers.UUIDField(source="sheet.coating_id")
    by = PersonRead()
    kind = serializers.ChoiceField(source="kind_now", choices=FlawKind.choices)
    status = serializers.ChoiceField(choices=FlawStatus.choices)
    patch = serializers.UUIDField(source="patch_id_now", allow_null=True)
    patch_number = serializers.IntegerField(allow_null=True)
    units = {
        "x": X,
        "y": Y,
        "said": "As it was given.",
        "give_or_take": "How sure the place is, m.",
        "size_x": "Length along x, m.",
        "size_y": "Length along y, m.",
        "depth": "µm",
        "sheet_seq": "Place in the sheet's order of recording.",
        "spot": "The thickness spot it was, where a thin one became this flaw.",
    }

    class Meta:
        model = Flaw
        fields = (
            "id", "version", "tag", "coating", "sheet", "run", "number", "found_by", "said", "x", "y", "give_or_take", "size_x",
            "size_y", "depth", "found_at", "sheet_seq", "by", "note", "spot", "same_as", "kind", "status", "patch", "patch_number",
        )  # fmt: skip


class StepRead(RowRead):
    by = PersonRead()
    units = {"coat": "Number of the repair coat; 1 is the first.", "wet": "Wet film, µm.", "dry": "Dry film, µm."}

    class Meta:
        model = Step
        fields = (
            "id", "version", "cycle", "kind", "coat", "at", "by", "organisation", "product", "batch", "mixed_at", "wet", "dry",
            "note",
        )  # fmt: skip


class CycleRead(RowRead):
    """One round of repair and retest with its steps; `retest_swath` is the swath that settled it."""

    retester = PersonRead(allow_null=True)
    witness = PersonRead(allow_null=True)
    retest_swath = serializers.SerializerMethodField()
    steps = StepRead(many=True)

    class Meta:
        model = Cycle
        fields = (
            "id", "version", "number", "worker_org", "opened_at", "outcome", "settled_at", "retester", "retester_org", "witness",
            "note", "retest_swath", "steps",
        )  # fmt: skip

    def get_retest_swath(self, cycle: Cycle) -> UUID | None:
        return cycle.retest.swath_id if hasattr(cycle, "retest") else None


class PatchRead(RowRead):
    """A patch with its state now, its flaws, and every cycle of work."""

    shape = PlaneShapeField()
    issued_by = PersonRead()
    state = serializers.ChoiceField(choices=PatchState.choices)
    flaws = serializers.SerializerMethodField(help_text="Ids of the flaws it repairs.")
    cycles = CycleRead(many=True)
    units = {"area": "m²"}

    class Meta:
        model = Patch
        fields = (
            "id", "version", "coating", "number", "shape", "area", "said", "contractor", "issued_by", "issued_at", "state",
            "flaws", "cycles",
        )  # fmt: skip

    def get_flaws(self, patch: Patch) -> list[UUID]:
        return [row.flaw_id for row in patch.patch_flaws.all()]


class ConcessionRead(RowRead):
    owner = PersonRead()

    class Meta:
        model = Concession
        fields = ("id", "version", "coating", "patch", "gate", "reason", "owner", "at")


class ReleaseRead(RowRead):
    """A release with the gates as they stood and the head of the record it was given on."""

    gates = serializers.JSONField(source="gates_with_names", read_only=True)
    owner = PersonRead()
    withdrawn_by = PersonRead(allow_null=True)

    class Meta:
        model = Release
        fields = (
            "id", "version", "coating", "gates", "conditions", "head_seq", "head_hash", "owner", "at", "withdrawn_at",
            "withdrawn_by", "withdrawn_why",
        )  # fmt: skip


class Flaws(Rows):
    """Flaws with their status."""

    collection = "flaws"
    serializer_class = FlawRead
    select = ("sheet", "by")
    filters = {
        "run": UUIDFilter(field_name="run", help_text="Id of the run."),
        "patch": UUIDFilter(field_name="patch_id_now", help_text="Id of the patch."),
        "kind": ChoiceFilter(field_name="kind_now", choices=FlawKind.choices, help_text="The latest word on its kind."),
        "status": ChoiceFilter(field_name="status", choices=FlawStatus.choices),
    }

    def prepared(self, rows: QuerySet[Flaw]) -> QuerySet[Flaw]:
        return with_status(rows)


class Patches(Rows):
    """Patches with their state, cycles and steps."""

    collection = "patches"
    serializer_class = PatchRead
    select = ("issued_by",)
    filters = {
        "contractor": UUIDFilter(field_name="contractor", help_text="Id of the organisation that works on it."),
        "status": ChoiceFilter(field_name="state", choices=PatchState.choices, help_text="Its state."),
    }

    def prepared(self, rows: QuerySet[Patch]) -> QuerySet[Patch]:
        steps = Step.objects.select_related("by", "struck_by").order_by("at", "pk")
        cycles = Cycle.objects.select_related("retester", "witness", "retest").order_by("number")
        return with_state(rows).prefetch_related(
            Prefetch("patch_flaws", PatchFlaw.objects.filter(struck_at=None).order_by("pk")),
            Prefetch("cycles", cycles.prefetch_related(Prefetch("steps", steps))),
        )


class Steps(Rows):
    """Recorded steps of the work."""

    collection = "steps"
    serializer_class = StepRead
    select = ("by",)
    filters = {"kind": ChoiceFilter(choices=Step.Kind.choices)}


class Concessions(Rows):
    """What the owner lives with, and why."""

    collection = "concessions"
    serializer_class = ConcessionRead
    select = ("owner",)


class Releases(Rows):
    """Releases, standing and withdrawn."""

    collection = "releases"
    serializer_class = ReleaseRead
    select = ("owner", "withdrawn_by")


COLLECTIONS: tuple[type[Rows], ...] = (Flaws, Patches, Steps, Concessions, Releases)

urlpatterns = [
    *urls_of(*COLLECTIONS),
    *exports_api.urlpatterns,
    *trace_api.urlpatterns,
    path("board/", BoardView.as_view(), name="api_board"),
    path("zones/<uuid:pk>/picture/", PictureView.as_view(), name="api_zone_picture"),
    path("zones/<uuid:pk>/thickness/", FilmView.as_view(), name="api_zone_film"),
    path("coatings/<uuid:pk>/gates/", GatesView.as_view(), name="api_gates"),
]
