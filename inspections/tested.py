"""What was tested: settles the swaths of runs and keeps the coverage of each stretch.

The only writer of the derived columns `Swath.standing`, `Swath.cause` and of the table Coverage. A touched stretch is
recomputed whole from facts, never added to or subtracted from.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple, cast
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np
import shapely
from django.db.models import Max, QuerySet
from shapely.geometry.base import BaseGeometry

from accounts.acting import Acting
from accounts.verify import Problem
from inspections.answers import Answer
from inspections.asking import course_of
from inspections.coatings import Coating, Coverage, FieldSheet
from inspections.odd_speed import too_fast
from inspections.questions import SPEED_CODES, Verdict
from inspections.runs import CheckEvent, ReturnProof, Run, Standing, Swath, TouchTest, Verification
from inspections.sensitivity import too_thick
from inspections.standing import (
    Check,
    CheckDue,
    Event,
    Method,
    Outcome,
    Phase,
    Restored,
    Ruling,
    RunFacts,
    Sweep,
    standings,
)
from inspections.standing import Standing as Judged
from inspections.vocabulary import HIGH_VOLTAGE
from mapping.coverage import Ground, divide
from mapping.surfaces import Surface
from mapping.zones import Zone

SAME_SHAPE = 1e-6
EMPTY = shapely.Polygon()


class Stretch(NamedTuple):
    """One stretch of a coating's zone at one coat stage."""

    coating: Coating
    stage: str
    number: int


def stretch_range(surface: Surface, shape: BaseGeometry) -> tuple[int, int]:
    """First and last stretch that a shape on the surface reaches."""
    low, _, high, _ = shape.bounds
    left = surface.stretch_edges[:-1]
    first = max(int(np.searchsorted(left, low + 1e-9, side="right")) - 1, 0)
    last = int(np.searchsorted(left, high - 1e-9, side="left")) - 1
    return first, max(first, last)


def swaths_of(coating: Coating, stage: str, purpose: str = Run.Purpose.SURVEY) -> QuerySet[Swath]:
    """The unstruck swaths of ground of a coating's runs of that purpose at a stage, made by the specified method."""
    return Swath.objects.filter(
        feature=None,
        run__sheet__coating=coating,
        run__method=coating.terms.method,
        run__stage=stage,
        run__purpose=purpose,
        run__struck_at=None,
        struck_at=None,
    )


def ground_of(coating: Coating, stage: str) -> Ground:
    """The zone's ground as found, divided without overlap, from the stored stretches."""
    return ground_from(coating.zone.surface, Coverage.objects.filter(coating=coating, stage=stage))


def ground_from(surface: Surface, rows: Iterable[Coverage]) -> Ground:
    """The whole surface divided as these rows of one coat stage keep it."""
    stretches = np.array(surface.stretches, dtype=object)
    kept = np.full((len(stretches), 4), EMPTY, dtype=object)
    for row in rows:
        kept[row.stretch] = [shape or EMPTY for shape in (row.found, row.held, row.pending, row.lost)]
    # Stretch by stretch: the outline less the union of ten kilometres takes two hundred times as long.
    gaps = shapely.difference(stretches, shapely.union_all(kept, axis=1))
    found, held, pending, lost = shapely.union_all(kept, axis=0)
    return Ground(found, held, pending, lost, shapely.union_all(gaps))


def facts_of(run: Run) -> RunFacts:
    """What holds for the whole run, as the rule for standing takes it."""
    return RunFacts(
        method=cast(Method, run.method),
        closed=run.closed_at is not None,
        instrument_in_calibration=run.certificate is not None,
        proven_islands=frozenset(proof.island for proof in run.return_proofs.all() if proof.struck_at is None),
        touch_needed=touch_needed(run),
        touches={
            touch.island: touch.alarm
            for touch in sorted(run.touch_tests.all(), key=lambda touch: (touch.sheet_seq, touch.at))
            if touch.struck_at is None
        },
        voltage_below_band=_beyond(run, low=True),
        voltage_above_band=_beyond(run, low=False),
        voltage_not_given=run.lacks_voltage,
        surface_damp_or_salty=run.surface_state == Run.SurfaceState.DAMP,
        film_uncured=run.surface_state == Run.SurfaceState.UNCURED,
        sponge_not_wetted=run.surface_state == Run.SurfaceState.NOT_WETTED,
        sponge_runs_or_puddles=run.surface_state == Run.SurfaceState.PUDDLES,
        sponge_film_too_thick=run.method == "wet_sponge" and too_thick(run.thickness, run.medium),
        check_interval_s=run.check_interval_min * 60 if run.check_interval_min else None,
    )


def touch_needed(run: Run) -> bool:
    """Whether bare concrete has to alarm some metres from the return before any ground of the run counts."""
    return run.sheet.coating.terms.substrate == "concrete" and run.method in HIGH_VOLTAGE


def _beyond(run: Run, *, low: bool) -> bool:
    if run.set_volts is None or run.band_low is None or run.band_high is None:
        return False
    return run.set_volts < run.band_low if low else run.set_volts > run.band_high


def checks_of(run: Run) -> list[Check]:
    return [
        Check(check.pk, check.sheet_seq, check.at, cast(Outcome, check.outcome), cast(Phase, check.phase))
        for check in run.verifications.all()
        if check.struck_at is None
    ]


def judge(run: Run, swaths: Iterable[Swath], until: datetime | None = None) -> dict[Hashable, Judged]:
    """The standing of the run's swaths, from its facts alone. `swaths` are all that count: questions of speed look at them
    together. Answers given after `until` are left out.
    """
    said: dict[str, str] = {}
    for answer in Answer.objects.filter(run=run, code__in=SPEED_CODES).order_by("at", "pk"):
        if until is None or answer.at <= until:
            said[answer.key] = answer.verdict
    return judge_by(run, swaths, facts_of(run), said)


def judge_by(run: Run, swaths: Iterable[Swath], facts: RunFacts, said: Mapping[str, str]) -> dict[Hashable, Judged]:
    """The same by other facts than the run's own, and by these last answers to questions of speed, by key."""
    rows = list(swaths)
    fast = too_fast(course_of(run, rows), cast(Mapping[str, Verdict], said))
    sweeps = [
        Sweep(
            swath.pk,
            swath.start_seq,
            swath.sheet_seq,
            swath.started_at,
            swath.ended_at,
            swath.hand_timed,
            fast.get(swath.pk),
            swath.island,
        )
        for swath in rows
    ]
    dues = [
        CheckDue(event.sheet_seq, event.at, cast(Event, event.kind))
        for event in run.events.all()
        if event.struck_at is None
    ]
    restored = [
        Restored(row.at, cast(Ruling, row.decision), frozenset(UUID(pk) for pk in row.swaths), cause)
        for row in run.reinstatements.all()
        if row.struck_at is None
        for cause in row.causes
    ]
    return standings(facts, checks_of(run), dues, sweeps, restored)


def settle(run: Run) -> tuple[list[Swath], dict[str, int]]:
    """Write the standing of the run's swaths where it changed; the changed swaths and how many went where."""
    swaths = list(run.swaths.filter(struck_at=None).defer("shape"))
    judged = judge(run, swaths)
    changed = []
    moved: dict[str, int] = {}
    alike: dict[tuple[str, str], list[UUID]] = {}
    for swath in swaths:
        now = judged[swath.pk]
        cause = words_of(now)
        if (swath.standing, swath.cause) == (now.standing, cause):
            continue
        if swath.standing != now.standing:
            moved[now.standing] = moved.get(now.standing, 0) + 1
        swath.standing, swath.cause = now.standing, cause
        changed.append(swath)
        alike.setdefault((now.standing, cause), []).append(swath.pk)
    for (standing, cause), pks in alike.items():  # few: one plain statement each, where bulk_update has a case a row
        for start in range(0, len(pks), 500):
            Swath.objects.filter(pk__in=pks[start : start + 500]).update(standing=standing, cause=cause)
    return changed, moved


def words_of(judged: Judged) -> str:
    """Why a swath does not stand, in words; empty when it does."""
    return "; ".join(cause.words for cause in judged.causes)[:400]


def highest_seq(sheet: FieldSheet) -> int:
    """The highest place in the sheet's order of recording that any of its rows has."""
    tops = [
        rows.aggregate(top=Max("sheet_seq"))["top"] or 0
        for rows in (
            ReturnProof.objects.filter(run__sheet=sheet),
            TouchTest.objects.filter(run__sheet=sheet),
            Verification.objects.filter(run__sheet=sheet),
            CheckEvent.objects.filter(run__sheet=sheet),
            Swath.objects.filter(run__sheet=sheet),
            sheet.flaws.all(),
        )
    ]
    return max(tops)


def refresh(act: Acting, run: Run, touched: Iterable[Swath] = ()) -> None:
    """Settle one run after a change and recompute the stretches that changed. `touched`: swaths made or struck out."""
    refresh_many(act, [run], touched)


def refresh_many(act: Acting, runs: Iterable[Run], touched: Iterable[Swath] = ()) -> None:
    """Settle runs and recompute each stretch that a changed or touched swath reaches, once."""
    by_run: dict[UUID, Run] = {run.pk: run for run in runs}
    act.reach(by_run.values())
    reached: set[tuple[UUID, int]] = set()
    for swath in touched:
        reached.update(_stretches(swath))
    for run in by_run.values():
        changed, moved = settle(run)
        for swath in changed:
            reached.update(_stretches(swath))
        if moved and set(moved) != {Standing.PENDING.value}:
            act.tell({"run": run.label, "swaths": moved}, on=run.sheet.coating.zone.asset_id)
    stretches = {
        (run.sheet.coating_id, run.stage, number): Stretch(run.sheet.coating, run.stage, number)
        for pk, number in reached
        if (run := by_run[pk]).purpose == Run.Purpose.SURVEY
    }
    for stretch in stretches.values():
        recompute(stretch)


def begin_again(act: Acting, zone: Zone) -> None:
    """Settle every run of a zone and compute all of its coverage anew, after its surface was corrected."""
    Coverage.objects.filter(coating__zone=zone).delete()
    runs = list(Run.objects.filter(sheet__coating__zone=zone).select_related("sheet__coating__zone__asset"))
    refresh_many(act, runs, Swath.objects.filter(run__in=runs, struck_at=None).defer("shape"))


def _stretches(swath: Swath) -> set[tuple[UUID, int]]:
    """The run and number of each stretch of ground that a swath reaches; one of a feature reaches none."""
    if swath.feature_id is not None:
        return set()
    return {(swath.run_id, number) for number in range(swath.stretch_low, swath.stretch_high + 1)}


def divided(stretch: Stretch) -> tuple[Ground, dict[str, float]]:
    """A stretch's ground divided from facts: the swaths that reach it, as they stand; and what each day added (m2)."""
    coating = stretch.coating
    whole = coating.zone.surface.stretch(stretch.number)
    reaching = swaths_of(coating, stretch.stage).filter(
        stretch_low__lte=stretch.number, stretch_high__gte=stretch.number
    )
    swaths = list(reaching.values_list("shape", "standing", "ended_at"))
    ground = divide(whole, [(shape, standing) for shape, standing, _ in swaths])
    return ground, _by_day(whole, ground.stands, swaths, coating.zone.asset.zone_info)


def _by_day(
    whole: BaseGeometry,
    stands: BaseGeometry,
    swaths: Sequence[tuple[BaseGeometry, str, datetime]],
    zone: ZoneInfo,
) -> dict[str, float]:
    """Area (m2) of standing ground by the day of the asset on which it was first swept; together all that stands."""
    by_day: dict[str, list[BaseGeometry]] = defaultdict(list)
    for shape, standing, ended_at in swaths:
        if standing == Standing.STANDS:
            by_day[ended_at.astimezone(zone).date().isoformat()].append(shape)
    added: dict[str, float] = {}
    so_far, before = EMPTY, 0.0
    for number, day in enumerate(sorted(by_day), 1):
        if number < len(by_day):
            so_far = shapely.union_all([so_far, *by_day[day]])
            area = shapely.intersection(so_far, whole).area
        else:
            area = stands.area
        added[day], before = area - before, area
    return added


def recompute(stretch: Stretch) -> None:
    ground, days = divided(stretch)
    Coverage.objects.update_or_create(
        coating=stretch.coating,
        stage=stretch.stage,
        stretch=stretch.number,
        defaults={
            "found": ground.stands,
            "held": ground.held,
            "pending": ground.pending,
            "lost": ground.lost,
            "found_area": ground.stands.area,
            "held_area": ground.held.area,
            "pending_area": ground.pending.area,
            "lost_area": ground.lost.area,
            "days": days,
        },
    )


def differences(record: UUID) -> Iterator[Problem]:
    """Compare every stored derivation of an asset with its recomputation (for verify_record)."""
    for run in Run.objects.filter(sheet__coating__zone__asset=record, struck_at=None):
        swaths = list(run.swaths.filter(struck_at=None))
        judged = judge(run, swaths)
        for swath in swaths:
            now = judged[swath.pk]
            for column, said in (("standing", now.standing), ("cause", words_of(now))):
                if getattr(swath, column) != said:
                    yield Problem(Swath._meta.db_table, str(swath.pk), column, said, getattr(swath, column))
    for sheet in FieldSheet.objects.filter(coating__zone__asset=record):
        if sheet.last_seq != (highest := highest_seq(sheet)):
            yield Problem(FieldSheet._meta.db_table, str(sheet.pk), "last_seq", str(highest), str(sheet.last_seq))
    for coating in Coating.objects.filter(zone__asset=record).select_related("zone__asset", "specification"):
        for stage in coating.terms.stages:
            yield from _coverage_differences(coating, stage.name)


def _coverage_differences(coating: Coating, stage: str) -> Iterator[Problem]:
    stored = {row.stretch: row for row in Coverage.objects.filter(coating=coating, stage=stage)}
    for number in range(len(coating.zone.surface.stretch_edges) - 1):
        ground, days = divided(Stretch(coating, stage, number))
        row = stored.get(number)
        said = row.days if row else {}
        if said.keys() != days.keys() or any(abs(said[day] - days[day]) >= SAME_SHAPE for day in days):
            place = f"coating {coating.pk}, {stage}, stretch {number}"
            yield Problem(Coverage._meta.db_table, place, "days", str(days), str(said))
        for column, shape in (
            ("found", ground.stands),
            ("held", ground.held),
            ("pending", ground.pending),
            ("lost", ground.lost),
        ):
            kept = getattr(row, column) if row else EMPTY
            off = shapely.symmetric_difference(kept, shape).area
            if off >= SAME_SHAPE or abs((getattr(row, f"{column}_area") if row else 0.0) - shape.area) >= SAME_SHAPE:
                yield Problem(
                    Coverage._meta.db_table,
                    f"coating {coating.pk}, {stage}, stretch {number}",
                    column,
                    f"{shape.area:.6f} m2",
                    f"{kept.area:.6f} m2, differing on {off:.6f} m2",
                )
