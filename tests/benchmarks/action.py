"""One press of a crew: a flaw reported through the one way in, over a bare insert of the same row."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count

from django.db import transaction

from accounts.acting import perform
from inspections.flaws import Flaw
from inspections.runs import Run
from tests.benchmarks.databases import NO_POSTGRESQL, available, temporary_database
from tests.benchmarks.measuring import Line, Skipped, side_by_side
from tests.scenes import Scene, pipe_scene

REPEATS = 300


def measure() -> Iterator[Line | Skipped]:
    for vendor, is_there in available().items():
        what = f"report a flaw / bare insert, {vendor}"
        if not is_there:
            yield Skipped(what, NO_POSTGRESQL)
            continue
        with temporary_database(vendor):
            scene = pipe_scene()
            run = scene.open_run()
            scene.take_sheet()
            bare = scene.open_run()
            seconds = side_by_side(_report(scene, run), _insert(scene, bare), REPEATS, warm_up=20)
        yield Line(what, "ms", seconds.ours * 1e3, seconds.floor * 1e3)


def _report(scene: Scene, run: Run) -> Callable[[], object]:
    """Reports a flaw as the page does: the place is enough."""

    def report() -> object:
        return perform("report_flaw", scene.crew, run.pk, {"place": "1+004.00 @ 3:00"})

    return report


def _insert(scene: Scene, run: Run) -> Callable[[], object]:
    """Inserts a flaw's row in a transaction of its own: no rights, no order, no record, the same guards and indexes."""
    numbers = count(1)

    def insert() -> None:
        number = next(numbers)
        at = scene.clock
        flaw = Flaw(sheet=run.sheet, run=run, number=number, said="1+004.00 @ 3:00", x=1004.0, y=0.785, by=scene.crew)
        flaw.found_at, flaw.sheet_seq = at, number
        with transaction.atomic():
            flaw.save(force_insert=True)

    return insert
