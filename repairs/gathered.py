"""The rows that pictures are made of, read for any number of coatings at once: as many queries for one as for a thousand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple, TypedDict, TypeVar
from uuid import UUID

from django.db.models import F, Prefetch, QuerySet

from inspections.asking import Asked, asked_of
from inspections.coatings import Coating, Coverage, Disturbance, FieldSheet, Permit, Spot
from inspections.flaws import Classification, Flaw
from inspections.run_basis import BasisQuestion, basis_questions
from inspections.runs import Reinstatement, Run, Standing, Swath, Verification
from inspections.spot_doubts import GaugePast, past_of
from mapping.coverage import TimedSwath
from mapping.features import Feature
from mapping.line_coverage import LineSwath
from mapping.zones import Exclusion, ExclusionDecision, Zone
from repairs.release import Concession, Release
from repairs.state import with_state
from repairs.work import Cycle, Patch, PatchFlaw, Step

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    from repairs.state import StatedPatch

    class _OfPatch(TypedDict):
        coating_id: UUID
        patch_id: UUID

    PatchedStep = WithAnnotations[Step, _OfPatch]

AnyRow = TypeVar("AnyRow")
By = Mapping[UUID, Sequence[AnyRow]]


class Swept(NamedTuple):
    """A swath as the ground as left takes it, with what its run was."""

    stage: str
    method: str
    purpose: str
    swath: TimedSwath


class FeatureSweep(NamedTuple):
    """The sweep of a weld, edge, nozzle or bracket, with what its run was."""

    feature: UUID
    stage: str
    method: str
    purpose: str
    swath: LineSwath


class Word(NamedTuple):
    """Who said something when; `about` is what it is about where that matters."""

    at: datetime
    pk: UUID
    by: str
    about: UUID | None = None
    kind: str = ""


@dataclass(frozen=True)
class Gathered:
    """Rows by the id of their coating (exclusions and features: of their zone), each in the order in which readers want them.

    Runs and patches are all there, struck out or not; of everything else only what stands. `surveyed` is there only for
    coatings where something was worked on, disturbed or retested. `permits` only where
    a run is open. `basis` is by run: what is in question about its readings.
    """

    coatings: Mapping[UUID, Coating]
    exclusions: By[Exclusion]
    coverage: By[Coverage]
    runs: By[Run]
    sheets: By[FieldSheet]
    permits: By[Permit]
    open_swaths: By[tuple[str, datetime]]
    asked: By[Asked]
    retested: By[Swept]
    surveyed: By[Swept]
    disturbances: By[Disturbance]
    features: By[Feature]
    feature_sweeps: By[FeatureSweep]
    flaws: By[Flaw]
    looks: By[Word]
    checks: By[Word]
    rulings: By[Word]
    spots: By[Spot]
    gauges: GaugePast
    basis: Mapping[UUID, Sequence[BasisQuestion]]
    patches: By[StatedPatch]
    links: By[PatchFlaw]
    cycles: By[Cycle]
    steps: By[PatchedStep]
    concessions: By[Concession]
    releases: By[Release]


def with_what_is_shown(coatings: QuerySet[Coating]) -> QuerySet[Coating]:
    """The coatings with the rows above them that every reader walks up to."""
    return coatings.select_related("zone__asset__organisation", "specification__issued_by")


def gather(coatings: Iterable[Coating]) -> Gathered:
    """Everything recorded on these coatings. Assets and specifications that several share are read into one object."""
    by_pk = {coating.pk: coating for coating in coatings}
    _share(by_pk.values())
    pks = list(by_pk)
    sheets = list(FieldSheet.objects.filter(coating__in=pks).select_related("person").order_by("taken_at", "pk"))
    sheet_by_pk = {sheet.pk: sheet for sheet in sheets}
    runs = list(Run.objects.filter(sheet__coating__in=pks).select_related("recorder").order_by("opened_at", "pk"))
    run_by_pk = {run.pk: run for run in runs}
    for run in runs:
        run.sheet = sheet_by_pk[run.sheet_id]
        run.sheet.coating = by_pk[run.sheet.coating_id]
    spots = list(
        Spot.objects.filter(coating__in=pks, struck_at=None)
        .select_related("sheet__person", "gauge")
        .order_by("at", "pk")
    )
    retested = _swept(pks, Run.Purpose.RETEST)
    patches, steps, disturbances = _patches(pks), _steps(pks), _disturbances(pks)
    touched = {*retested, *steps, *disturbances}
    return Gathered(
        coatings=by_pk,
        exclusions=_exclusions([coating.zone_id for coating in by_pk.values()]),
        coverage=_by(Coverage.objects.filter(coating__in=pks).order_by("stretch"), "coating_id"),
        runs=_under(runs, lambda run: run.sheet.coating_id),
        sheets=_by(sheets, "coating_id"),
        permits=_permits(pks),
        open_swaths=_open_swaths(pks),
        asked=asked_of(by_pk.values()),
        retested=retested,
        surveyed=_swept([pk for pk in pks if pk in touched], Run.Purpose.SURVEY),
        disturbances=disturbances,
        features=_features([coating.zone for coating in by_pk.values()]),
        feature_sweeps=_feature_sweeps(pks),
        flaws=_flaws(pks, sheet_by_pk, run_by_pk),
        looks=_words(Classification.objects.filter(flaw__sheet__coating__in=pks), "flaw__sheet__coating", "flaw", "kind"),
        checks=_words(Verification.objects.filter(run__sheet__coating__in=pks, run__struck_at=None), "run__sheet__coating"),
        rulings=_words(Reinstatement.objects.filter(run__sheet__coating__in=pks, run__struck_at=None), "run__sheet__coating"),
        spots=_by(spots, "coating_id"),
        gauges=past_of([spot.gauge_id for spot in spots if spot.gauge_id], pks),
        basis=basis_questions(runs),
        patches=patches,
        links=_links(pks),
        cycles=_cycles(pks),
        steps=steps,
        concessions=_by(
            Concession.objects.filter(coating__in=pks, struck_at=None).select_related("owner").order_by("at", "pk"),
            "coating_id",
        ),
        releases=_by(
            Release.objects.filter(coating__in=pks, withdrawn_at=None).select_related("owner"), "coating_id"
        ),
    )  # fmt: skip


def _share(coatings: Iterable[Coating]) -> None:
    """Terms are read from JSON once a specification, not once a coating."""
    seen: dict[UUID, Any] = {}
    for coating in coatings:
        coating.specification = seen.setdefault(coating.specification_id, coating.specification)
        coating.zone.asset = seen.setdefault(coating.zone.asset_id, coating.zone.asset)


def _by(rows: Iterable[AnyRow], name: str) -> dict[UUID, list[AnyRow]]:
    return _under(rows, lambda row: getattr(row, name))


def _under(rows: Iterable[AnyRow], key: Any) -> dict[UUID, list[AnyRow]]:
    found: dict[UUID, list[AnyRow]] = defaultdict(list)
    for row in rows:
        found[key(row)].append(row)
    return found


def _exclusions(zones: Sequence[UUID]) -> By[Exclusion]:
    decisions = Prefetch("decisions", ExclusionDecision.objects.select_related("by").order_by("at", "pk"))
    rows = Exclusion.objects.filter(zone__in=zones, struck_at=None).select_related("drawn_by")
    return _by(rows.prefetch_related(decisions).order_by("drawn_at", "pk"), "zone_id")


def _permits(pks: Sequence[UUID]) -> By[Permit]:
    """Permits of those of the coatings on which a run is open."""
    swept = Run.objects.filter(sheet__coating__in=pks, closed_at=None, struck_at=None).values("sheet__coating")
    return _by(Permit.objects.filter(coating__in=swept, struck_at=None).order_by("recorded_at", "pk"), "coating_id")


def _open_swaths(pks: Sequence[UUID]) -> By[tuple[str, datetime]]:
    rows = Swath.objects.filter(
        run__sheet__coating__in=pks,
        run__struck_at=None,
        struck_at=None,
        standing__in=[Standing.HELD, Standing.PENDING],
    )
    found: dict[UUID, list[tuple[str, datetime]]] = defaultdict(list)
    for coating, standing, ended_at in rows.order_by("ended_at", "pk").values_list(
        "run__sheet__coating", "standing", "ended_at"
    ):
        found[coating].append((standing, ended_at))
    return found


def _swept(pks: Sequence[UUID], purpose: str) -> By[Swept]:
    rows = Swath.objects.filter(
        feature=None, run__sheet__coating__in=pks, run__purpose=purpose, run__struck_at=None, struck_at=None
    ).values_list("run__sheet__coating", "run__stage", "run__method", "shape", "standing", "started_at")
    found: dict[UUID, list[Swept]] = defaultdict(list)
    for coating, stage, method, shape, standing, started_at in rows if pks else ():
        found[coating].append(Swept(stage, method, purpose, TimedSwath(shape, standing, started_at)))
    return found


def _features(zones: Sequence[Zone]) -> By[Feature]:
    by_pk = {zone.pk: zone for zone in zones}
    rows = list(Feature.objects.filter(zone__in=by_pk, struck_at=None).order_by("kind", "name", "pk"))
    for feature in rows:
        feature.zone = by_pk[feature.zone_id]
    return _by(rows, "zone_id")


def _feature_sweeps(pks: Sequence[UUID]) -> By[FeatureSweep]:
    rows = Swath.objects.filter(
        feature__isnull=False, run__sheet__coating__in=pks, run__struck_at=None, struck_at=None
    ).values_list(
        "run__sheet__coating", "feature", "run__stage", "run__method", "run__purpose", "along", "standing", "started_at"
    )
    found: dict[UUID, list[FeatureSweep]] = defaultdict(list)
    for coating, feature, stage, method, purpose, along, standing, at in rows:
        swath = LineSwath(Swath(along=along).parts, standing, at)
        found[coating].append(FeatureSweep(feature, stage, method, purpose, swath))
    return found


def _disturbances(pks: Sequence[UUID]) -> By[Disturbance]:
    return _by(Disturbance.objects.filter(coating__in=pks, struck_at=None).order_by("at", "pk"), "coating_id")


def _flaws(pks: Sequence[UUID], sheets: Mapping[UUID, FieldSheet], runs: Mapping[UUID, Run]) -> By[Flaw]:
    rows = list(Flaw.objects.filter(sheet__coating__in=pks).order_by("found_at", "pk"))
    by_pk = {flaw.pk: flaw for flaw in rows}
    for flaw in rows:
        flaw.sheet, flaw.run = sheets[flaw.sheet_id], runs[flaw.run_id]
        if flaw.same_as_id in by_pk:
            flaw.same_as = by_pk[flaw.same_as_id]
    return _under(rows, lambda flaw: flaw.sheet.coating_id)


def _words(rows: QuerySet[Any], coating: str, about: str | None = None, kind: str | None = None) -> By[Word]:
    """In order of time; the last word is the last in the list."""
    names = [coating, "at", "pk", "by__name", *(name for name in (about, kind) if name)]
    found: dict[UUID, list[Word]] = defaultdict(list)
    for under, *said in rows.filter(struck_at=None).order_by("at", "pk").values_list(*names):
        found[under].append(Word(*said))
    return found


def _patches(pks: Sequence[UUID]) -> By[StatedPatch]:
    rows = with_state(Patch.objects.filter(coating__in=pks)).select_related("contractor", "issued_by")
    return _by(rows.order_by("number"), "coating_id")


def _links(pks: Sequence[UUID]) -> By[PatchFlaw]:
    rows = PatchFlaw.objects.filter(patch__coating__in=pks, struck_at=None)
    return _by(rows.annotate(coating_id=F("patch__coating")), "coating_id")


def _cycles(pks: Sequence[UUID]) -> By[Cycle]:
    rows = Cycle.objects.filter(patch__coating__in=pks).select_related("retester", "retester_org", "witness", "retest")
    return _by(rows.annotate(coating_id=F("patch__coating")).order_by("number"), "coating_id")


def _steps(pks: Sequence[UUID]) -> By[PatchedStep]:
    rows = Step.objects.filter(cycle__patch__coating__in=pks, struck_at=None).select_related("by", "organisation")
    under = rows.annotate(coating_id=F("cycle__patch__coating"), patch_id=F("cycle__patch"))
    return _by(under.order_by("at", "pk"), "coating_id")
