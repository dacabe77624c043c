"""Five zones of one asset, each with 200 swaths and 100 flaws, from being swept to released: what copies are made of."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from random import Random

from accounts.ids import new_id
from inspections.flaws import Classification, Flaw, FlawKind
from inspections.runs import Run
from tests.benchmarks.filling import long_pipe, sweep
from tests.factories import recorded
from tests.scenes import Scene

SWATHS, FLAWS, CLUSTERS = 200, 100, 10
METRES, DIAMETER = 50.0, 1.5


@dataclass(frozen=True)
class FiveZones:
    """The scene of the whole asset, the zone that is being swept, and the one with most work done on it."""

    scene: Scene
    open: Scene
    busiest: Scene


def five_zones() -> FiveZones:
    """One zone in each of five states: being swept, flaws in no patch, patches issued, half repaired, all retested."""
    first = long_pipe(METRES)
    scenes = [first, *(_next_zone(first, number) for number in range(2, 6))]
    for number, scene in enumerate(scenes):
        _fill(scene, number)
    return FiveZones(first, scenes[0], scenes[3])


def _next_zone(first: Scene, number: int) -> Scene:
    start = 1000.0 + 100.0 * number
    surface = {"diameter": DIAMETER, "start": start, "end": start + METRES}
    zone = first.do(
        "add_zone", first.owner, first.asset, name=f"Spool {number}", order=number, surface_kind="pipe", surface=surface
    )
    coating = first.do("begin_coating", first.owner, zone, specification=str(first.specification.pk))
    scene = replace(first, zone=zone, coating=coating, runs=[])
    scene.take_sheet()
    return scene


def _fill(scene: Scene, done: int) -> None:
    run = sweep(scene, SWATHS)
    scene.runs.append(run)
    _flaws(scene, run)
    if done == 0:
        return
    scene.close(run)
    if done == 1:
        return
    patches = scene.issue()
    for patch in patches[: {2: 0, 3: len(patches) // 2, 4: len(patches)}[done]]:
        scene.repair(patch)
        if done == 4:
            scene.retest(patch)
    if done == 4:
        scene.hand_in()


def _flaws(scene: Scene, run: Run) -> None:
    """Flaws in clusters, as they lie along welds, each looked at."""
    dice = Random(str(scene.zone.name))
    surface = scene.zone.surface
    low, bottom, high, top = surface.outline.bounds
    rows, looks = [], []
    for number in range(FLAWS):
        middle = low + (high - low) * (number % CLUSTERS + 0.5) / CLUSTERS
        x, y = middle + dice.uniform(-0.05, 0.05), bottom + (top - bottom) * (0.1 + 0.08 * dice.random())
        at = scene.clock - timedelta(minutes=30)
        flaw = Flaw(
            id=new_id(), sheet=run.sheet, run=run, number=number + 1, said=surface.print_place(x, y), x=x, y=y,
            found_at=at, sheet_seq=10_000 + number, by=scene.crew,
        )  # fmt: skip
        rows.append(flaw)
        looks.append(Classification(id=new_id(), flaw=flaw, kind=FlawKind.PINHOLE, by=scene.crew, at=at))
    Flaw.objects.bulk_create(rows)
    Classification.objects.bulk_create(looks)
    type(run.sheet)._default_manager.filter(pk=run.sheet_id).update(last_seq=10_000 + FLAWS)
    recorded(*rows, *looks)
