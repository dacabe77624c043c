"""A long pipe swept in lanes, run after run, filled in bulk: what a coating holds after many days of work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import product
from random import Random

from django.db import connection, transaction

from accounts.guards import recorded_models
from accounts.ids import new_id
from accounts.rows import Row
from inspections.coatings import FieldSheet
from inspections.runs import ReturnProof, Run, Standing, Swath, Verification
from inspections.tested import Stretch, recompute, stretch_range
from mapping.lanes import Lane, lanes
from tests.factories import recorded
from tests.scenes import MORNING, Scene, pipe_scene

LONG = 2.0  # m of one swath
TURN = timedelta(seconds=20)  # 2 m at a tenth of a metre a second
PART = 50.0  # m of pipe swept in one run
RUN = 250  # swaths of one run: ten lanes of a part, about an hour and a half


def long_pipe(metres: float) -> Scene:
    """A pipe zone from 1+000, ten lanes round, with its people and sheet, nothing swept; the record tells of all."""
    scene = pipe_scene(end=1000.0 + metres, diameter=1.5)
    told_by_no_action = {"accounts_organisation", "accounts_person", "accounts_asset", "accounts_appointment"}
    told_by_no_action |= {f"inspections_{name}" for name in ("instrument", "certificate", "electrode")}
    for model in recorded_models():
        if model._meta.db_table in told_by_no_action:
            recorded(*model._default_manager.all())
    return scene


def sweep(scene: Scene, count: int, rows_per_entry: int = 500) -> Run:
    """Sweep `count` swaths from the zone's start, in runs of 250 of which the last stays open; the open run.

    All that an action would have written is there: rows, standings, coverage, entries (as of an import).
    """
    swaths: list[Swath] = []
    others: list[Row] = []
    clock, seq = MORNING + timedelta(hours=1), 0
    regions = _regions(scene)
    for number in range(1, -(-count // RUN) + 1):
        is_last = number * RUN >= count
        run = _run(scene, number, clock, clock + (RUN + 4) * TURN)
        if is_last:
            run.closed_at = None
        proof = ReturnProof(
            run=run, island="", said="bare end of the spool", at=clock, sheet_seq=seq + 1, by=scene.crew
        )
        others += [run, proof, _check(run, "start", clock, seq + 2)]
        seq += 2
        for _ in range(min(RUN, count - len(swaths))):
            clock, seq = clock + TURN, seq + 1
            swaths.append(_swath(scene, run, next(regions), clock, seq))
        if not is_last:
            clock, seq = clock + TURN, seq + 1
            others.append(_check(run, "end", clock, seq))
        clock += 4 * TURN
    with transaction.atomic():
        rows: Sequence[Row] = [*others, *swaths]
        kinds: tuple[type[Row], ...] = (Run, ReturnProof, Verification, Swath)
        for model in kinds:
            model._default_manager.bulk_create([row for row in rows if type(row) is model], batch_size=500)
        FieldSheet.objects.filter(pk=scene.sheet.pk).update(last_seq=seq)
        for start in range(0, len(rows), rows_per_entry):
            recorded(*rows[start : start + rows_per_entry])
        for stretch in range(max(swath.stretch_high for swath in swaths) + 1):
            recompute(Stretch(scene.coating, swaths[0].run.stage, stretch))
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    scene.clock = clock
    return run


def _regions(scene: Scene) -> Iterator[tuple[float, Lane]]:
    """Start and lane of each swath in order: a part of one lane, then of the next lane, then the next part."""
    surface = scene.zone.surface
    across = lanes(surface, scene.electrode.width)
    start, _, end, _ = surface.outline.bounds
    for part in range(int((end - start) // PART)):
        for lane, step in product(across, range(int(PART / LONG))):
            yield start + part * PART + step * LONG, lane


def _swath(scene: Scene, run: Run, region: tuple[float, Lane], ended_at: datetime, seq: int) -> Swath:
    """A swath whose ends lie a hand's breadth off, as presses do."""
    surface = scene.zone.surface
    start, lane = region
    dice = Random(seq)
    said = surface.print_region(start - dice.uniform(0.0, 0.1), start + LONG + dice.uniform(0.0, 0.1), lane)
    shape = surface.read_region(said)
    low, high = stretch_range(surface, shape)
    standing = (Standing.PENDING, "waits for the next check") if run.closed_at is None else (Standing.STANDS, "")
    return Swath(
        id=new_id(),
        run=run,
        said=said,
        lane=f"{lane.number} of {lane.of}",
        shape=shape,
        area=shape.area,
        stretch_low=low,
        stretch_high=high,
        started_at=ended_at - TURN,
        ended_at=ended_at,
        start_seq=seq - 1,
        sheet_seq=seq,
        standing=standing[0],
        cause=standing[1],
    )


def _run(scene: Scene, number: int, opened_at: datetime, closed_at: datetime) -> Run:
    terms = scene.coating.terms
    return Run(
        id=new_id(),
        sheet=scene.sheet,
        number=number,
        stage=terms.final_stage.name,
        purpose=Run.Purpose.SURVEY,
        method=terms.method,
        instrument=scene.detector,
        electrode=scene.electrode,
        asked_volts=2500,
        set_volts=2500,
        band_low=2250,
        band_high=2750,
        check_interval_min=terms.check_interval_min,
        check_tolerance_volts=125,
        sweeper="Ines Holt",
        recorder=scene.crew,
        opened_at=opened_at,
        closed_at=closed_at,
    )


def _check(run: Run, phase: str, at: datetime, seq: int) -> Verification:
    return Verification(
        id=new_id(),
        run=run,
        at=at,
        sheet_seq=seq,
        phase=phase,
        expected=2500,
        measured=2500,
        tolerance=125,
        outcome=Verification.Outcome.GOOD,
        alarm_seen=True,
        by=run.recorder,
    )
