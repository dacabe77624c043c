"""The whole proof of the record, over sha256 of the same entries and nothing else."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from accounts.record import Entry
from accounts.verify import Tally, verify
from tests.benchmarks.databases import SQLITE, temporary_database
from tests.benchmarks.filling import long_pipe, sweep
from tests.benchmarks.measuring import Line, side_by_side

SWATHS = 5000
REPEATS = 3


def measure() -> Iterator[Line]:
    with temporary_database(SQLITE):
        sweep(long_pipe(1000.0), SWATHS, rows_per_entry=1)
        bodies = [body.encode() for body in Entry.objects.values_list("body", flat=True)]
        tally = Tally()
        _prove(tally)
        seconds = side_by_side(_prove, lambda: [hashlib.sha256(body).hexdigest() for body in bodies], REPEATS)
    megabytes = sum(map(len, bodies)) / 1e6
    what = f"verify_record, {tally.entries} entries of {megabytes:.1f} MB / sha256"
    yield Line(what, "ms", seconds.ours * 1e3, seconds.floor * 1e3)


def _prove(tally: Tally | None = None) -> None:
    problems = [str(problem) for problem in verify(tally=tally)]
    if problems:
        raise RuntimeError(f"the filled record does not prove: {problems[:3]}")
