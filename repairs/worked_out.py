"""What is derived from rows, worked out again from rows in memory: ground, sweeps, the state of patches.

For a coating as it stood at an earlier moment, and for what would be if something did not count. Reads nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from inspections.coatings import Coating, Coverage
from inspections.runs import Run, Swath
from mapping.coverage import TimedSwath, divide
from mapping.line_coverage import LineSwath
from repairs.gathered import FeatureSweep, Swept
from repairs.release import Concession
from repairs.state import PatchState
from repairs.work import Cycle, Step


def swept(swaths: Iterable[Swath], purpose: str) -> list[Swept]:
    """The swaths of ground of runs of that purpose."""
    return [
        Swept(s.run.stage, s.run.method, purpose, TimedSwath(s.shape, s.standing, s.started_at))  # type: ignore[arg-type]
        for s in swaths
        if s.feature_id is None and s.run.purpose == purpose
    ]


def along(swath: Swath) -> FeatureSweep:
    """The sweep of a feature."""
    run = swath.run
    line = LineSwath(swath.parts, swath.standing, swath.started_at)  # type: ignore[arg-type]
    assert swath.feature_id is not None
    return FeatureSweep(swath.feature_id, run.stage, run.method, run.purpose, line)


def coverage_rows(
    coating: Coating, swaths: Sequence[Swath], only: Collection[tuple[str, int]] | None = None
) -> list[Coverage]:
    """The stretches divided again by these swaths, unsaved; `only` these (coat stage, number) where it is given."""
    surface = coating.zone.surface
    by_stage: dict[str, list[Swath]] = defaultdict(list)
    for swath in swaths:
        run = swath.run
        if swath.feature_id is None and run.purpose == Run.Purpose.SURVEY and run.method == coating.terms.method:
            by_stage[run.stage].append(swath)
    rows = []
    for stage, some in by_stage.items():
        for number, ground in enumerate(surface.stretches):
            if only is not None and (stage, number) not in only:
                continue
            reaching = [(s.shape, s.standing) for s in some if s.stretch_low <= number <= s.stretch_high]
            if reaching:
                divided = divide(ground, reaching)  # type: ignore[arg-type]
                shapes = {
                    "found": divided.stands,
                    "held": divided.held,
                    "pending": divided.pending,
                    "lost": divided.lost,
                }
                rows.append(Coverage(coating=coating, stage=stage, stretch=number, **shapes))
    return rows


def put_states(
    patches: Iterable[Any],
    cycles: Iterable[Cycle],
    steps: Iterable[Step],
    concessions: Iterable[Concession],
    standing: Mapping[UUID, str],
) -> None:
    """Each patch's state from its rounds, as `repairs.state` asks it of the database; a test holds the two together."""
    rounds: dict[UUID, list[Cycle]] = defaultdict(list)
    for cycle in cycles:
        rounds[cycle.patch_id].append(cycle)
    work: dict[UUID, list[Step]] = defaultdict(list)
    for step in steps:
        work[step.cycle_id].append(step)
    conceded = {row.patch_id for row in concessions if row.patch_id}
    for patch in patches:
        if patch.is_struck:
            patch.state = PatchState.STRUCK
        elif patch.pk in conceded:
            patch.state = PatchState.CONCEDED
        else:
            patch.state = _work_state(rounds[patch.pk], work, standing)


def _work_state(
    rounds: Sequence[Cycle], work: Mapping[UUID, Sequence[Step]], standing: Mapping[UUID, str]
) -> PatchState:
    told = [row for row in rounds if row.outcome != Cycle.Outcome.ABANDONED or row.pk in work]
    if not told:
        return PatchState.TO_DO
    last = max(told, key=lambda row: row.number)
    if last.outcome == Cycle.Outcome.PASSED:
        stood = standing.get(last.retest.swath_id) if hasattr(last, "retest") else None
        waits = PatchState.RETEST_WAITS if stood in ("pending", "held") else PatchState.REOPENED
        return PatchState.ACCEPTED if stood == "stands" else waits
    if last.outcome == Cycle.Outcome.FAILED:
        return PatchState.FAILED
    if last.outcome == Cycle.Outcome.ABANDONED:
        return PatchState.TO_DO
    done = work.get(last.pk, ())
    if not done:
        return PatchState.FAILED  # an open round without work was opened by the failure before it
    return PatchState.READY if done[-1].kind == Step.Kind.HANDED_OVER else PatchState.BEGUN
