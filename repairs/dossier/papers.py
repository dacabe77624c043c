"""What the dossier prints beyond the picture of the zone, read from the rows. The number of queries is always the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import NamedTuple
from uuid import UUID

from django.db.models import Count, Q, Sum
from django.utils import timezone

from accounts.evidence import Evidence
from accounts.record import Head, Record
from inspections.answers import Answer
from inspections.asking import Asked, asked_of, not_asked_any_more
from inspections.briefings import Briefing
from inspections.coatings import Atmosphere, Coating, Disturbance, FieldSheet, Permit, Spot
from inspections.gauge_standing import Checked, around
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.noted_runs import Notes, notes_of
from inspections.qualifications import Qualification
from inspections.run_basis import BasisQuestion, basis_questions
from inspections.runs import BasisAnswer, Reinstatement, Run, Swath
from inspections.spot_doubts import checked_of
from mapping.zones import Exclusion
from repairs.dossier.struck import StruckOut, struck_out
from repairs.film import FilmPicture, films_of
from repairs.release import Concession, Release
from repairs.work import Retest


class Tally(NamedTuple):
    """The swaths of a run that stand alike for the same cause; area_m2 as marked, overlaps counted twice."""

    standing: str
    cause: str
    swaths: int
    area_m2: float


class Retested(NamedTuple):
    """The swath that settled a cycle."""

    run: str
    said: str
    standing: str


@dataclass(frozen=True)
class Papers:
    """All of one coating and its zone; runs also where they are struck out, in order of opening."""

    head: Head
    runs: tuple[Run, ...]
    tallies: dict[UUID, tuple[Tally, ...]]
    swath_counts: dict[UUID, int]
    asked: tuple[Asked, ...]
    answers_left: tuple[Answer, ...]
    retests: dict[UUID, Retested]
    sheets: tuple[FieldSheet, ...]
    permits: tuple[Permit, ...]
    briefings: tuple[Briefing, ...]
    qualifications: tuple[Qualification, ...]
    notes: Notes
    atmospheres: tuple[Atmosphere, ...]
    disturbances: tuple[Disturbance, ...]
    films: tuple[FilmPicture, ...]
    gauge_checks: tuple[GaugeCheck, ...]
    spot_rulings: tuple[SpotRuling, ...]
    basis: Mapping[UUID, tuple[BasisQuestion, ...]]
    basis_answers: tuple[BasisAnswer, ...]
    exclusions: tuple[Exclusion, ...]
    concessions: tuple[Concession, ...]
    releases: tuple[Release, ...]
    struck: tuple[StruckOut, ...]

    @property
    def rulings(self) -> list[Reinstatement]:
        rows = [row for run in self.runs for row in run.reinstatements.all() if row.struck_at is None]
        return sorted(rows, key=lambda row: (row.at, row.pk))

    @property
    def files(self) -> list[Evidence]:
        """The files that decisions and sheets rest on, each once, in order of arrival."""
        found = {row.evidence.pk: row.evidence for row in self.rulings if row.evidence}
        found |= {row.evidence.pk: row.evidence for row in self.spot_rulings if row.evidence}
        found |= {sheet.source.pk: sheet.source for sheet in self.sheets if sheet.source}
        return sorted(found.values(), key=lambda file: (file.received_at, file.pk))

    def air_of(self, run: Run, latest: datetime) -> list[Atmosphere]:
        """Air and steel that belong to a run: the last measured on its day before it opened, and those until it closed."""
        clock = run.sheet.coating.zone.asset.zone_info
        end = run.closed_at or latest
        before = [row for row in self.atmospheres if row.at <= run.opened_at]
        same_day = [
            row for row in before[-1:] if row.at.astimezone(clock).date() == run.opened_at.astimezone(clock).date()
        ]
        return same_day + [row for row in self.atmospheres if run.opened_at < row.at <= end]


def head_of(coating: Coating) -> Head:
    """Where the asset's record stands now."""
    record = Record.objects.filter(pk=coating.zone.asset_id).first()
    return record.head if record else Head(0, "")


def _gauge_checks(coating: Coating) -> tuple[GaugeCheck, ...]:
    """The checks of this coating's own sheets, and those of other sheets that bear on its spots."""
    clock = coating.zone.asset.zone_info
    measured: dict[UUID, list[datetime]] = {}
    for gauge, at in Spot.objects.filter(coating=coating, struck_at=None, gauge__isnull=False).values_list(
        "gauge", "at"
    ):
        measured.setdefault(gauge, []).append(at)
    rows = list(
        GaugeCheck.objects.filter(Q(sheet__coating=coating) | Q(gauge__in=measured), struck_at=None)
        .select_related("gauge", "by", "sheet")
        .order_by("at", "pk")
    )
    by_gauge: dict[UUID, list[Checked]] = {}
    for row in rows:
        by_gauge.setdefault(row.gauge_id, []).append(checked_of(row, clock))
    bearing = {key for gauge, times in measured.items() for key in around(by_gauge.get(gauge, ()), times)}
    return tuple(row for row in rows if row.sheet.coating_id == coating.pk or str(row.pk) in bearing)


def papers_of(coating: Coating) -> Papers:
    runs = (
        Run.objects.filter(sheet__coating=coating)
        .select_related(
            "sheet__coating__zone__asset", "sheet__coating__specification", "sheet__person", "sheet__organisation", "instrument",
            "electrode", "recorder__organisation", "swept_by", "witness", "permit", "cautions_by", "struck_by",
        )
        .prefetch_related(
            "instrument__certificates", "return_proofs__by", "return_proofs__struck_by", "verifications__by",
            "verifications__struck_by", "events__by", "events__struck_by", "touch_tests__by", "touch_tests__struck_by", "reinstatements__by", "reinstatements__evidence",
        )
        .order_by("opened_at", "pk")
    )  # fmt: skip
    retests = (
        Retest.objects.filter(cycle__patch__coating=coating).select_related("swath__run__sheet").defer("swath__shape")
    )
    asked = asked_of([coating])[coating.pk]
    films = films_of(coating)
    found = tuple(runs)
    return Papers(
        head=head_of(coating),
        runs=found,
        tallies=_tallies(coating),
        swath_counts=dict(
            Swath.objects.filter(run__sheet__coating=coating).values_list("run").annotate(Count("pk")).order_by("run")
        ),
        asked=tuple(asked),
        answers_left=tuple(not_asked_any_more(coating, asked)),
        retests={row.cycle_id: Retested(row.swath.run.label, row.swath.said, row.swath.standing) for row in retests},
        sheets=tuple(
            FieldSheet.objects.filter(coating=coating)
            .select_related("person", "organisation", "source")
            .order_by("taken_at", "pk")
        ),
        briefings=_briefings(coating, found),
        qualifications=_qualifications(found),
        notes=notes_of(found, timezone.now()),
        permits=tuple(
            Permit.objects.filter(coating=coating, struck_at=None).select_related("by").order_by("recorded_at", "pk")
        ),
        atmospheres=tuple(
            Atmosphere.objects.filter(coating=coating, struck_at=None).select_related("by").order_by("at", "pk")
        ),
        disturbances=tuple(
            Disturbance.objects.filter(coating=coating, struck_at=None)
            .select_related("by")
            .defer("shape")
            .order_by("at", "pk")
        ),
        films=films,
        gauge_checks=_gauge_checks(coating),
        spot_rulings=tuple(
            SpotRuling.objects.filter(coating=coating, struck_at=None)
            .select_related("by", "evidence")
            .order_by("at", "pk")
        ),
        basis=basis_questions(runs),
        basis_answers=tuple(
            BasisAnswer.objects.filter(run__sheet__coating=coating, struck_at=None)
            .select_related("by")
            .order_by("at", "pk")
        ),
        exclusions=tuple(
            Exclusion.objects.filter(zone=coating.zone_id, struck_at=None)
            .select_related("drawn_by", "organisation")
            .prefetch_related("decisions__by")
            .order_by("drawn_at", "pk")
        ),
        concessions=tuple(
            Concession.objects.filter(coating=coating, struck_at=None)
            .select_related("owner", "patch")
            .defer("patch__shape")
            .order_by("at", "pk")
        ),
        releases=tuple(
            Release.objects.filter(coating=coating).select_related("owner", "withdrawn_by").order_by("at", "pk")
        ),
        struck=struck_out(coating),
    )


def _briefings(coating: Coating, runs: tuple[Run, ...]) -> tuple[Briefing, ...]:
    """The briefings at the asset on the days on which runs of the coating were opened, by its calendar."""
    clock = coating.zone.asset.zone_info
    days = {run.opened_at.astimezone(clock).date() for run in runs}
    if not days:
        return ()
    rows = Briefing.objects.filter(
        asset=coating.zone.asset_id,
        struck_at=None,
        at__gte=datetime.combine(min(days), time.min, clock),
        at__lt=datetime.combine(max(days), time.min, clock) + timedelta(days=1),
    )
    found = rows.select_related("by").prefetch_related("attendees").order_by("at", "pk")
    return tuple(row for row in found if row.at.astimezone(clock).date() in days)


def _qualifications(runs: tuple[Run, ...]) -> tuple[Qualification, ...]:
    people = {pk for run in runs for pk in (run.swept_by_id, run.recorder_id) if pk}
    rows = Qualification.objects.filter(person__in=people, struck_at=None).select_related("person")
    return tuple(rows.order_by("person__name", "issued", "pk"))


def _tallies(coating: Coating) -> dict[UUID, tuple[Tally, ...]]:
    rows = (
        Swath.objects.filter(run__sheet__coating=coating, struck_at=None, feature=None)
        .values_list("run", "standing", "cause")
        .annotate(swaths=Count("pk"), area_m2=Sum("area"))
        .order_by("run", "standing", "cause")
    )
    by_run: dict[UUID, list[Tally]] = defaultdict(list)
    for run, *tally in rows:
        by_run[run].append(Tally(*tally))
    order = ("stands", "held", "pending", "lost")
    return {run: tuple(sorted(found, key=lambda tally: order.index(tally.standing))) for run, found in by_run.items()}
