"""The standing of every swath of one test run: pending, stands, held or lost, and why.

A detector proves nothing by itself: work counts only between two good checks of its output.
Everything here is a function of the recorded facts, never of the present time or of the order in
which the facts arrived, so a stored standing can be proven by computing it again. No database.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import accumulate
from typing import Literal, NamedTuple

from accounts.wording import noted
from inspections.causes import CAUSES, EVENTS, FAILED, Event, Outcome, Phase, Verdict

Method = Literal["high_voltage_dc", "high_voltage_pulsed", "wet_sponge", "visual"]
TooFast = Literal["asked", "so", "not so"]
Ruling = Literal["stands", "lost"]
FlawMark = Literal["may be made by the test", "unconfirmed"]
FLAW_MARKS = (noted("may be made by the test"), noted("unconfirmed"))

ONE_ISLAND = ""
_RANK: dict[Verdict, int] = {"stands": 0, "pending": 1, "held": 2, "lost": 3}
_HIGH_VOLTAGE: frozenset[Method] = frozenset({"high_voltage_dc", "high_voltage_pulsed"})


@dataclass(frozen=True)
class RunFacts:
    """What holds for a whole run, as recorded up to now.

    proven_islands names the electrical islands whose return was proven, in letters of either case; a run
    on one island uses ONE_ISLAND for it. touch_needed: high voltage on concrete, where bare concrete some metres from
    the return has to alarm on each island; touches holds the outcome of the latest touch by island.
    check_interval_s is None where the specification asks for none.
    """

    method: Method
    closed: bool
    instrument_in_calibration: bool = True
    proven_islands: frozenset[str] = frozenset()
    touch_needed: bool = False
    touches: Mapping[str, bool] = field(default_factory=dict)
    voltage_below_band: bool = False
    voltage_above_band: bool = False
    voltage_not_given: bool = False
    surface_damp_or_salty: bool = False
    film_uncured: bool = False
    sponge_not_wetted: bool = False
    sponge_runs_or_puddles: bool = False
    sponge_film_too_thick: bool = False
    check_interval_s: float | None = None


@dataclass(frozen=True)
class Check:
    """One verification of the instrument. order is its place in the field sheet."""

    id: Hashable
    order: int
    at: datetime
    outcome: Outcome
    phase: Phase = "during"


@dataclass(frozen=True)
class CheckDue:
    """Something happened after which the instrument has to be checked before work goes on."""

    order: int
    at: datetime
    event: Event


@dataclass(frozen=True)
class Sweep:
    """One swath as work: its start and end press, and the answer to the question of speed.

    hand_timed: somebody edited the times, so the clock places it instead of the presses.
    """

    id: Hashable
    start_order: int
    end_order: int
    started_at: datetime
    ended_at: datetime
    hand_timed: bool = False
    too_fast: TooFast | None = None
    island: str = ONE_ISLAND


@dataclass(frozen=True)
class Restored:
    """A decision on evidence; of two on the same cause the later rules.

    sweep_ids None: every swath of the run. cause is a Cause.key (exactly that finding), a
    Cause.code (every finding of its kind) or None (every cause, also one that comes to light
    later: name the key to decide only on what was seen).
    """

    at: datetime
    decision: Ruling
    sweep_ids: frozenset[Hashable] | None = None
    cause: str | None = None


class Cause(NamedTuple):
    """Why a swath does not stand. at is None for what holds for the whole run."""

    code: str
    verdict: Verdict
    words: str
    restorable_by: str
    at: datetime | None = None
    key: str = ""


@dataclass(frozen=True)
class Standing:
    """A swath's standing with every cause that still speaks against it, the gravest first."""

    id: Hashable
    standing: Verdict
    causes: tuple[Cause, ...] = ()


@dataclass(frozen=True)
class FoundFlaw:
    """A flaw as far as the run's causes touch it.

    reached_by_wet_run matters for a wet sponge that left runs or puddles: False only when
    somebody looked and says that none reached the place.
    """

    id: Hashable
    order: int
    reached_by_wet_run: bool = True


@dataclass(frozen=True)
class _Timeline:
    """Checks in order of recording; stretch i lies after check i, stretch -1 before the first."""

    checks: Sequence[Check]
    orders: Sequence[int]
    times: Sequence[datetime]

    def stretches(self, sweep: Sweep) -> range:
        """Indices of the stretches a sweep touches; a press on a check begins or ends there."""
        if sweep.hand_timed:
            first, last = sorted((sweep.started_at, sweep.ended_at))
            low = bisect_right(self.times, first) - 1
            high = bisect_left(self.times, last) - 1
        else:
            begin, end = sorted((sweep.start_order, sweep.end_order))
            low = bisect_right(self.orders, begin) - 1
            high = bisect_left(self.orders, end) - 1
        return range(low, max(low, high) + 1)


def standings(
    run: RunFacts,
    checks: Iterable[Check],
    dues: Iterable[CheckDue],
    sweeps: Iterable[Sweep],
    restored: Iterable[Restored] = (),
) -> dict[Hashable, Standing]:
    """Judge every swath of a run.

    Parameters
    ----------
    run, checks, dues, sweeps, restored : facts of one run, in any order, without what was struck
        out. Orders count within the run's field sheet.

    Returns
    -------
    One Standing for each sweep, by its id.

    Notes
    -----
    Swaths between two good checks stand. Between a good check and one that failed low, is missing
    or came later than the interval (counted from the previous check) they are lost; failed high:
    held. Until the next check they are pending; once the run is closed what is still open is
    missing. Work before the first good check is lost. A check due at an event and not made
    before work went on loses from the event on. A swath takes the worst of all it touches:
    lost over held over pending. Common practice of the trade, no source.
    """
    line = _timeline(checks)
    swept = tuple(sweeps)
    due = sorted(dues, key=lambda event: (event.order, event.event))
    unmade = [(event, due_causes) for event in due if (due_causes := _unmade(event, line, swept))]
    decisions = sorted(restored, key=lambda row: (row.at, row.decision == "lost"))
    return {sweep.id: _judge(run, line, unmade, sweep, decisions) for sweep in swept}


def marks_on_flaws(
    run: RunFacts, checks: Iterable[Check], flaws: Iterable[FoundFlaw]
) -> dict[Hashable, tuple[FlawMark, ...]]:
    """Say for each flaw of a run which marks it carries; a flaw never falls with coverage.

    Too high a voltage (set, or found by a check that failed high since the last good one) may
    have made the flaw itself; damp, salt, uncured film and wet runs may have faked it. A decision
    on coverage does not clear a mark: looking at the flaw does. Common practice, no source.
    """
    line = _timeline(checks)
    whole_run: set[FlawMark] = set()
    if run.method != "visual" and run.voltage_above_band:
        whole_run.add("may be made by the test")
    if run.method in _HIGH_VOLTAGE and (run.surface_damp_or_salty or run.film_uncured):
        whole_run.add("unconfirmed")
    marks: dict[Hashable, tuple[FlawMark, ...]] = {}
    for flaw in flaws:
        found = set(whole_run)
        if run.method == "wet_sponge" and run.sponge_runs_or_puddles and flaw.reached_by_wet_run:
            found.add("unconfirmed")
        if run.method != "visual":
            index = bisect_right(line.orders, flaw.order) - 1
            if any(check.outcome == "high" for check in line.checks[max(index, 0) : index + 2]):
                found.add("may be made by the test")
        marks[flaw.id] = tuple(sorted(found))
    return marks


def _timeline(checks: Iterable[Check]) -> _Timeline:
    ordered = sorted(checks, key=lambda check: (check.order, str(check.id)))
    # A device's clock may be set back between two checks: recording order still rules.
    times = tuple(accumulate((check.at for check in ordered), max))
    return _Timeline(ordered, tuple(check.order for check in ordered), times)


def _judge(
    run: RunFacts,
    line: _Timeline,
    unmade: Sequence[tuple[CheckDue, _Open]],
    sweep: Sweep,
    decisions: Sequence[Restored],
) -> Standing:
    causes: list[Cause] = []
    if run.method != "visual":  # a visual run has no instrument to doubt
        causes += _run_causes(run, sweep)
        for index in line.stretches(sweep):
            causes += _stretch_causes(run, line, index)
        causes += [_event_cause(event) for event, gap in unmade if gap.touches(sweep)]
    unique = {cause.key: cause for cause in causes}
    left = [ruled for cause in unique.values() if (ruled := _ruled(cause, sweep.id, decisions))]
    left.sort(key=lambda cause: (-_RANK[cause.verdict], cause.key))
    return Standing(sweep.id, left[0].verdict if left else "stands", tuple(left))


def _ruled(cause: Cause, sweep_id: Hashable, decisions: Sequence[Restored]) -> Cause | None:
    """Apply the latest decision on a cause; what is only pending cannot be decided."""
    if cause.verdict == "pending":
        return cause
    for row in reversed(decisions):
        if row.sweep_ids is not None and sweep_id not in row.sweep_ids:
            continue
        if row.cause is not None and row.cause not in (cause.key, cause.code):
            continue
        return None if row.decision == "stands" else cause._replace(verdict="lost")
    return cause


def _cause(code: str, at: datetime | None = None, order: int | None = None, about: str = "") -> Cause:
    verdict, words, restorable_by = CAUSES[code]
    key = code if order is None else f"{code}@{order}"
    return Cause(code, verdict, f"{about}{words}", restorable_by, at, key)


def _run_causes(run: RunFacts, sweep: Sweep) -> list[Cause]:
    """Causes that need no check to be seen."""
    high_voltage = run.method in _HIGH_VOLTAGE
    sponge = run.method == "wet_sponge"
    touched = {name.casefold(): alarm for name, alarm in run.touches.items()}.get(sweep.island.casefold())
    spoken = {
        "out_of_calibration": not run.instrument_in_calibration,
        "no_return": sweep.island.casefold() not in map(str.casefold, run.proven_islands),
        "no_touch": run.touch_needed and touched is None,
        "too_dry": run.touch_needed and touched is False,
        "maybe_too_fast": sweep.too_fast == "asked",
        "too_fast": sweep.too_fast == "so",
        "voltage_below": run.voltage_below_band,
        "voltage_above": run.voltage_above_band,
        "no_voltage": run.voltage_not_given,
        "damp": high_voltage and run.surface_damp_or_salty,
        "uncured": high_voltage and run.film_uncured,
        "not_wetted": sponge and run.sponge_not_wetted,
        "wet_runs": sponge and run.sponge_runs_or_puddles,
        "film_too_thick": sponge and run.sponge_film_too_thick,
    }
    here = f"{sweep.island}: " if sweep.island else ""
    island = {"no_return": here, "no_touch": here, "too_dry": here}
    return [_cause(code, about=island.get(code, "")) for code, true in spoken.items() if true]


def _stretch_causes(run: RunFacts, line: _Timeline, index: int) -> list[Cause]:
    """What speaks against work in stretch `index`, between the checks on either side of it."""
    if not any(check.outcome == "good" for check in line.checks[: index + 1]):
        return [_cause("before_first_check")]
    before = line.checks[index]
    if index + 1 == len(line.checks):
        code = "check_missing" if run.closed else "awaits_check"
        return [*_failed(before), _cause(code, before.at, before.order)]
    after = line.checks[index + 1]
    causes = _failed(before) + _failed(after)
    interval = run.check_interval_s
    if interval is not None and (after.at - before.at).total_seconds() > interval:
        causes.append(_cause("check_late", after.at, after.order))
    return causes


def _failed(check: Check) -> list[Cause]:
    if check.outcome == "good":
        return []
    return [_cause(f"check_{check.outcome}", check.at, check.order, FAILED[check.phase, check.outcome])]


@dataclass(frozen=True)
class _Open:
    """The open interval from an event to the next check, by order and by clock."""

    after_order: int
    after_time: datetime
    before_order: int | None
    before_time: datetime | None

    def touches(self, sweep: Sweep) -> bool:
        if sweep.hand_timed:
            first, last = sorted((sweep.started_at, sweep.ended_at))
            return last > self.after_time and (self.before_time is None or first < self.before_time)
        begin, end = sorted((sweep.start_order, sweep.end_order))
        return end > self.after_order and (self.before_order is None or begin < self.before_order)

    def pressed_within(self, sweep: Sweep) -> bool:
        """Whether a start or end press falls inside, so that work was going on there."""
        if not self.touches(sweep):
            return False
        if sweep.hand_timed:
            first, last = sorted((sweep.started_at, sweep.ended_at))
            return first >= self.after_time or (self.before_time is None or last <= self.before_time)
        begin, end = sorted((sweep.start_order, sweep.end_order))
        return begin >= self.after_order or (self.before_order is None or end <= self.before_order)


def _unmade(event: CheckDue, line: _Timeline, sweeps: Sequence[Sweep]) -> _Open | None:
    """Return the interval an event spoiled, or None where its check was made before work went on.

    A swath that was interrupted (start, event, check, end) shows no work between event and check.
    """
    index = bisect_right(line.orders, event.order)
    check = line.checks[index] if index < len(line.checks) else None
    gap = _Open(
        event.order,
        event.at,
        check.order if check else None,
        check.at if check else None,
    )
    return gap if any(gap.pressed_within(sweep) for sweep in sweeps) else None


def _event_cause(event: CheckDue) -> Cause:
    return _cause("event_unchecked", event.at, event.order, EVENTS[event.event])
