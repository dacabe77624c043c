"""What rests on one detector in many zones: the one statement over bare queries of the same rows, and the whole loss of one zone."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from inspections.coatings import Coating
from inspections.runs import Run, Swath
from repairs.release import Release
from repairs.restoring import restoring
from repairs.trace import statement, trace
from repairs.trace_subjects import find_subject
from repairs.what_if import what_if
from repairs.work import Cycle
from tests.benchmarks.databases import NO_POSTGRESQL, available, temporary_database
from tests.benchmarks.measuring import Line, Skipped, side_by_side
from tests.scenes import Scene, releasable_scene

RUNS, SWATHS = 200, 20
REPEATS = 30


def measure() -> Iterator[Line | Skipped]:
    for vendor, is_there in available().items():
        what = f"trace a detector in {RUNS} runs, {RUNS * SWATHS} swaths, {vendor}"
        if not is_there:
            yield Skipped(what, NO_POSTGRESQL)
            continue
        with temporary_database(vendor):
            scene = releasable_scene()
            scene.release()
            _fill(scene)
            found = side_by_side(_traced(scene), _bare(scene), REPEATS, warm_up=3)
            whole = side_by_side(_loss(scene), _bare(scene), 3)
        yield Line(f"{what} / bare queries", "ms", found.ours * 1e3, found.floor * 1e3)
        yield Line(
            "the same, with the loss and the smallest set / bare queries",
            "ms",
            whole.ours * 1e3,
            whole.floor * 1e3,
        )


def _fill(scene: Scene) -> None:
    """Runs made with the same detector, each sweeping a metre of the pipe again and again."""
    sheet = scene.take_sheet()
    first = scene.runs[0]
    runs = [
        Run(
            sheet=sheet, number=number, stage=first.stage, purpose="survey", method=first.method, sweeper="Ines Holt",
            instrument=scene.detector, electrode=scene.electrode, recorder=scene.crew, opened_at=scene.wait(minutes=1),
            closed_at=scene.wait(minutes=1),
        )
        for number in range(1, RUNS + 1)
    ]  # fmt: skip
    Run.objects.bulk_create(runs)
    surface = scene.zone.surface
    swaths = []
    for run in runs:
        for metre in range(SWATHS):
            said = f"1+{metre:03d}.00 to 1+{metre + 1:03d}.00"
            shape = surface.read_region(said)
            swaths.append(
                Swath(
                    run=run, said=said, shape=shape, area=shape.area, started_at=run.opened_at, ended_at=run.closed_at,
                    start_seq=1, sheet_seq=2, standing="lost", cause="",
                )
            )  # fmt: skip
    Swath.objects.bulk_create(swaths, batch_size=500)


def _traced(scene: Scene) -> Callable[[], object]:
    subject = find_subject(scene.owner, "instrument", scene.detector.pk)
    return lambda: list(statement(scene.owner, subject))


def _loss(scene: Scene) -> Callable[[], object]:
    subject = find_subject(scene.owner, "instrument", scene.detector.pk)
    return lambda: restoring(what_if(trace(scene.owner, subject)))


def _bare(scene: Scene) -> Callable[[], object]:
    """The same rows by plain queries that know where to look: no rights, no parts, no days."""
    coatings = list(Coating.objects.filter(zone__asset=scene.asset).values_list("pk", flat=True))

    def read() -> object:
        runs = list(Run.objects.filter(instrument=scene.detector).values_list("pk", "sheet__coating", "opened_at"))
        swept = list(Swath.objects.filter(run__instrument=scene.detector).values_list("run", "standing", "area"))
        cycles = list(
            Cycle.objects.filter(retest__swath__run__instrument=scene.detector).values_list("pk", "settled_at")
        )
        releases = list(Release.objects.filter(coating__in=coatings).values_list("pk", "at"))
        return runs, swept, cycles, releases

    return read
