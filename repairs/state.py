"""State of patches and flaws, asked from the facts and never stored. Pages, gates, documents and API ask here."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict
from uuid import UUID

from django.db import models
from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce
from django.db.models.lookups import Exact
from django.utils.translation import gettext_lazy as _

from inspections.coatings import Coating
from inspections.flaws import Classification, Flaw, FlawKind
from inspections.runs import Standing
from repairs import gates
from repairs.release import Concession
from repairs.work import Cycle, Patch, PatchFlaw, Step

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class _State(TypedDict):
        state: str

    class _Status(TypedDict):
        kind_now: str
        patch_id_now: UUID | None
        patch_number: int | None
        patch_state: str | None
        status: str

    StatedPatch = WithAnnotations[Patch, _State]
    StatedFlaw = WithAnnotations[Flaw, _Status]


class PatchState(models.TextChoices):
    TO_DO = "to do", _("to do")
    BEGUN = "begun", _("repair begun")
    READY = "ready for retest", _("ready for retest")
    FAILED = "failed", _("failed the retest")
    RETEST_WAITS = "retest waits", _("retested, the retest is pending or held")
    REOPENED = "reopened", _("reopened: its retest was lost")
    ACCEPTED = "accepted", _("accepted")
    CONCEDED = "conceded", _("conceded")
    STRUCK = "struck out", _("struck out")


class FlawStatus(models.TextChoices):
    """Codes are those the drawing knows; labels are what people read."""

    OPEN = "open", _("open")
    BEGUN = "begun", _("repair begun")
    READY = "ready", _("ready for retest")
    ACCEPTED = "accepted", _("accepted")
    CONCEDED = "conceded", _("conceded")
    FALSE = "false", _("false indication")
    STRUCK = "struck", _("struck out")


OPEN_STATUSES = frozenset({FlawStatus.OPEN, FlawStatus.BEGUN, FlawStatus.READY})

PATCH_TO_FLAW: dict[PatchState, FlawStatus] = {
    PatchState.TO_DO: FlawStatus.OPEN,
    PatchState.BEGUN: FlawStatus.BEGUN,
    PatchState.READY: FlawStatus.READY,
    PatchState.FAILED: FlawStatus.OPEN,
    PatchState.RETEST_WAITS: FlawStatus.READY,
    PatchState.REOPENED: FlawStatus.READY,
    PatchState.ACCEPTED: FlawStatus.ACCEPTED,
    PatchState.CONCEDED: FlawStatus.CONCEDED,
    PatchState.STRUCK: FlawStatus.OPEN,
}


def gate_state(state: PatchState) -> gates.PatchState | None:
    """The state as the gates take it; None for a patch that is struck out."""
    if state == PatchState.STRUCK:
        return None
    if state in (PatchState.RETEST_WAITS, PatchState.REOPENED):
        return "ready for retest"
    return state.value  # type: ignore[return-value]


def flaw_status(struck: bool, kind: str, patch: PatchState | None) -> FlawStatus:
    """A flaw's status from whether it is struck out, its kind and the state of its patch (None: in no patch)."""
    if struck:
        return FlawStatus.STRUCK
    if kind == FlawKind.FALSE:
        return FlawStatus.FALSE
    return FlawStatus.OPEN if patch is None else PATCH_TO_FLAW[patch]


def work_state_of(patch: str = "pk") -> Coalesce:
    """SQL for how work and retests stand on the patch whose key is in the column `patch` of the outer query.

    The last cycle rules, leaving out those given up without work. It is accepted when it passed and its retest's swath
    stands: nobody calls back here when that swath is lost later.
    """
    work = Step.objects.filter(cycle=OuterRef("pk"), struck_at=None)
    latest = Subquery(work.order_by("-at", "-pk").values("kind")[:1])
    swath = Q(retest__swath__struck_at=None, retest__swath__run__struck_at=None)
    stands = Q(retest__swath__standing=Standing.STANDS)
    undecided = Q(retest__swath__standing__in=[Standing.PENDING, Standing.HELD])
    last = (
        Cycle.objects.filter(patch=OuterRef(patch))
        .filter(~Q(outcome=Cycle.Outcome.ABANDONED) | Q(outcome=None) | Exists(work))
        .order_by("-number")
        .annotate(
            says=Case(
                When(Q(outcome=Cycle.Outcome.PASSED) & swath & stands, then=Value(PatchState.ACCEPTED)),
                When(Q(outcome=Cycle.Outcome.PASSED) & swath & undecided, then=Value(PatchState.RETEST_WAITS)),
                When(outcome=Cycle.Outcome.PASSED, then=Value(PatchState.REOPENED)),
                When(outcome=Cycle.Outcome.FAILED, then=Value(PatchState.FAILED)),
                When(outcome=Cycle.Outcome.ABANDONED, then=Value(PatchState.TO_DO)),
                # Work recorded after handing over takes the handing over back.
                When(Exact(latest, Step.Kind.HANDED_OVER), then=Value(PatchState.READY)),
                When(Exists(work), then=Value(PatchState.BEGUN)),
                # An open cycle without work was opened by the failure before it.
                default=Value(PatchState.FAILED),
                output_field=models.CharField(),
            )
        )
        .values("says")[:1]
    )
    return Coalesce(Subquery(last), Value(PatchState.TO_DO))


def state_of(patch: str = "pk") -> Case:
    """SQL for the state of the patch whose key is in the column `patch` of the outer query."""
    struck = Patch.objects.filter(pk=OuterRef(patch), struck_at__isnull=False)
    conceded = Concession.objects.filter(patch=OuterRef(patch), struck_at=None)
    return Case(
        When(Exists(struck), then=Value(PatchState.STRUCK)),
        When(Exists(conceded), then=Value(PatchState.CONCEDED)),
        default=work_state_of(patch),
        output_field=models.CharField(),
    )


def with_state(patches: QuerySet[Patch]) -> QuerySet[StatedPatch]:
    """The patches, each with `state` (a value of PatchState), which can be filtered by."""
    return patches.annotate(state=state_of("pk"))


def state(patch: Patch) -> PatchState:
    """The state of one patch now."""
    return PatchState(Patch.objects.filter(pk=patch.pk).values_list(state_of(), flat=True).get())


def work_state(patch: Patch) -> PatchState:
    """How work and retests stand on one patch now, whatever the owner conceded."""
    return PatchState(Patch.objects.filter(pk=patch.pk).values_list(work_state_of(), flat=True).get())


def with_status(flaws: QuerySet[Flaw]) -> QuerySet[StatedFlaw]:
    """The flaws, each with `kind_now`, `patch_id_now`, `patch_number`, `patch_state` and `status` (of FlawStatus)."""
    latest = (
        Classification.objects.filter(flaw=OuterRef("pk"), struck_at=None).order_by("-at", "-pk").values("kind")[:1]
    )
    mine = PatchFlaw.objects.filter(flaw=OuterRef("pk"), struck_at=None)
    return flaws.annotate(
        kind_now=Coalesce(Subquery(latest), Value(FlawKind.INDICATION)),
        patch_id_now=Subquery(mine.values("patch")[:1], output_field=models.UUIDField()),
        patch_number=Subquery(mine.values("patch__number")[:1]),
        patch_state=Subquery(mine.annotate(says=state_of("patch")).values("says")[:1]),
    ).annotate(
        status=Case(
            When(struck_at__isnull=False, then=Value(FlawStatus.STRUCK)),
            When(kind_now=FlawKind.FALSE, then=Value(FlawStatus.FALSE)),
            *[When(patch_state=of, then=Value(status)) for of, status in PATCH_TO_FLAW.items()],
            default=Value(FlawStatus.OPEN),
            output_field=models.CharField(),
        )
    )


def loose_flaws(coating: Coating) -> QuerySet[StatedFlaw]:
    """Flaws that ask for a patch: unstruck, no false indication, not a repeat of another, in no standing patch."""
    return (
        with_status(Flaw.objects.filter(sheet__coating=coating, struck_at=None, same_as=None))
        .exclude(kind_now=FlawKind.FALSE)
        .filter(patch_id_now=None)
        .select_related("sheet")
        .order_by("x", "y", "pk")
    )


def open_cycle(patch: Patch) -> Cycle | None:
    return Cycle.objects.filter(patch=patch, outcome=None).first()
