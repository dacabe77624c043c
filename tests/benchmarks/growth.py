"""One more swath when the coating holds fifty thousand, over the same when it holds five hundred."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack

from django.db.backends.base.base import BaseDatabaseWrapper

from accounts.acting import perform
from tests.benchmarks.databases import NO_POSTGRESQL, available, on, temporary_database
from tests.benchmarks.filling import long_pipe, sweep
from tests.benchmarks.measuring import Line, Skipped, side_by_side

FEW, MANY = 500, 50_000
METRES = 10_000.0  # what fifty thousand swaths sweep; the zone is as long with five hundred
REPEATS = 40


def measure() -> Iterator[Line | Skipped]:
    for vendor, is_there in available().items():
        what = f"one more swath, {MANY} there / {FEW} there, {vendor}"
        if not is_there:
            yield Skipped(what, NO_POSTGRESQL)
            continue
        with ExitStack() as open_databases:
            many, few = (_press(open_databases.enter_context(temporary_database(vendor)), n) for n in (MANY, FEW))
            seconds = side_by_side(many, few, REPEATS, warm_up=3)
        yield Line(what, "ms", seconds.ours * 1e3, seconds.floor * 1e3)


def _press(database: BaseDatabaseWrapper, swaths: int) -> Callable[[], object]:
    """Marks ground of the open run's last lane once more: the same work lies around it in both databases."""
    scene = long_pipe(METRES)
    run = sweep(scene, swaths)
    place = run.swaths.order_by("-sheet_seq").values_list("said", flat=True)[12]

    def press() -> object:
        with on(database):
            return perform("mark_swept", scene.crew, run.pk, {"place": place}, device_at=scene.wait(minutes=0.5))

    return press
