"""Standing of swaths: the truth table of the trade (common practice, no source) and its laws."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.standing import (
    Check,
    CheckDue,
    FoundFlaw,
    Outcome,
    Restored,
    RunFacts,
    Sweep,
    TooFast,
    Verdict,
    marks_on_flaws,
    standings,
)

DAY = datetime(2031, 5, 6, 8, tzinfo=UTC)
OPEN = RunFacts(method="high_voltage_dc", closed=False, proven_islands=frozenset({""}))
CLOSED = replace(OPEN, closed=True)
SPONGE = replace(CLOSED, method="wet_sponge")


def minute(order: int) -> datetime:
    return DAY + timedelta(minutes=order)


def check(order: int, outcome: Outcome = "good", at: datetime | None = None) -> Check:
    return Check(f"c{order}", order, at or minute(order), outcome)


def sweep(start: int, end: int) -> Sweep:
    return Sweep(f"s{start}-{end}", start, end, minute(start), minute(end))


def judged(
    run: RunFacts,
    checks: list[Check],
    sweeps: list[Sweep],
    dues: list[CheckDue] | None = None,
    restored: list[Restored] | None = None,
) -> dict[str, Verdict]:
    found = standings(run, checks, dues or [], sweeps, restored or [])
    return {str(key): value.standing for key, value in found.items()}


def codes(run: RunFacts, checks: list[Check], one: Sweep) -> list[str]:
    return [cause.code for cause in standings(run, checks, [], [one])[one.id].causes]


def test_work_between_two_good_checks_stands() -> None:
    assert judged(OPEN, [check(0), check(9)], [sweep(1, 2), sweep(3, 4)]) == {
        "s1-2": "stands",
        "s3-4": "stands",
    }


def test_work_since_the_last_good_check_of_an_open_run_is_pending() -> None:
    assert judged(OPEN, [check(0), check(5)], [sweep(1, 2), sweep(6, 7)]) == {
        "s1-2": "stands",
        "s6-7": "pending",
    }


def test_what_is_pending_when_the_run_is_closed_is_lost() -> None:
    assert codes(CLOSED, [check(0)], sweep(1, 2)) == ["check_missing"]
    assert judged(CLOSED, [check(0)], [sweep(1, 2)]) == {"s1-2": "lost"}


def test_work_before_the_first_good_check_is_lost() -> None:
    assert judged(OPEN, [check(2, "high"), check(5)], [sweep(0, 1), sweep(3, 4)]) == {
        "s0-1": "lost",
        "s3-4": "lost",
    }
    assert judged(OPEN, [], [sweep(0, 1)]) == {"s0-1": "lost"}


def test_a_low_check_loses_what_was_swept_since_the_good_one() -> None:
    assert judged(CLOSED, [check(0), check(5), check(9, "low")], [sweep(1, 2), sweep(6, 7)]) == {
        "s1-2": "stands",
        "s6-7": "lost",
    }


def test_a_high_check_holds_what_was_swept_since_the_good_one() -> None:
    assert judged(CLOSED, [check(0), check(9, "high")], [sweep(1, 2)]) == {"s1-2": "held"}


def test_work_after_a_failed_check_does_not_stand_before_the_next_good_one() -> None:
    checks = [check(0), check(3, "low"), check(6), check(9, "high"), check(12), check(15)]
    sweeps = [sweep(4, 5), sweep(7, 8), sweep(10, 11), sweep(13, 14)]
    assert list(judged(CLOSED, checks, sweeps).values()) == ["lost", "held", "held", "stands"]


def test_a_swath_that_spans_the_good_check_is_lost_whole() -> None:
    assert judged(CLOSED, [check(0), check(5), check(9, "low")], [sweep(3, 7)]) == {"s3-7": "lost"}


def test_a_swath_that_spans_a_good_check_between_good_ones_stands() -> None:
    assert judged(CLOSED, [check(0), check(5), check(9)], [sweep(3, 7)]) == {"s3-7": "stands"}


def test_a_press_on_a_check_begins_or_ends_at_it() -> None:
    checks = [check(0), check(5), check(9, "low")]
    assert judged(CLOSED, checks, [sweep(0, 5), sweep(5, 6)]) == {"s0-5": "stands", "s5-6": "lost"}


def test_lost_rules_over_held_and_held_over_pending() -> None:
    checks = [check(0), check(4, "high"), check(8, "low")]
    assert judged(CLOSED, checks, [sweep(5, 6)]) == {"s5-6": "lost"}
    assert judged(OPEN, checks[:2], [sweep(5, 6)]) == {"s5-6": "held"}


def test_the_gravest_cause_comes_first_and_all_are_named() -> None:
    run = replace(OPEN, film_uncured=True, voltage_below_band=True)
    assert codes(run, [check(0)], sweep(1, 2)) == ["voltage_below", "uncured", "awaits_check"]


def test_a_check_later_than_the_interval_loses_the_work_since_the_previous_check() -> None:
    run = replace(CLOSED, check_interval_s=60 * 60)
    checks = [check(0), check(60), check(121)]
    assert judged(run, checks, [sweep(1, 2), sweep(61, 62)]) == {"s1-2": "stands", "s61-62": "lost"}


def test_the_interval_runs_from_the_previous_check_even_if_that_one_failed() -> None:
    run = replace(CLOSED, check_interval_s=60 * 60)
    checks = [check(0), check(50, "low"), check(100), check(150)]
    assert judged(run, checks, [sweep(101, 102)]) == {"s101-102": "stands"}


def test_an_event_without_its_check_loses_from_the_event_on() -> None:
    due = [CheckDue(3, minute(3), "battery")]
    sweeps = [sweep(1, 2), sweep(4, 5), sweep(7, 8)]
    assert judged(CLOSED, [check(0), check(6), check(9)], sweeps, due) == {
        "s1-2": "stands",
        "s4-5": "lost",
        "s7-8": "stands",
    }


def test_an_event_with_its_check_made_before_work_went_on_loses_nothing() -> None:
    due = [CheckDue(3, minute(3), "drop")]
    sweeps = [sweep(1, 2), sweep(5, 6)]
    assert set(judged(CLOSED, [check(0), check(4), check(9)], sweeps, due).values()) == {"stands"}


def test_a_swath_interrupted_by_an_event_and_its_check_stands() -> None:
    due = [CheckDue(3, minute(3), "lead")]
    assert judged(CLOSED, [check(0), check(4), check(9)], [sweep(2, 5)], due) == {"s2-5": "stands"}


def test_a_swath_that_spans_an_event_left_unchecked_is_lost_whole() -> None:
    due = [CheckDue(3, minute(3), "electrode")]
    assert judged(OPEN, [check(0), check(9)], [sweep(2, 5)], due) == {"s2-5": "lost"}


def test_work_after_an_event_of_an_open_run_is_lost_before_any_check_comes() -> None:
    due = [CheckDue(3, minute(3), "setting")]
    assert judged(OPEN, [check(0)], [sweep(1, 2), sweep(4, 5)], due) == {
        "s1-2": "pending",
        "s4-5": "lost",
    }


def test_presses_count_by_order_of_recording_whatever_the_clock_says() -> None:
    set_back = replace(sweep(6, 7), started_at=minute(1), ended_at=minute(2))
    assert judged(CLOSED, [check(0), check(5), check(9, "low")], [set_back]) == {"s6-7": "lost"}


def test_times_edited_by_hand_count_by_the_clock() -> None:
    edited = replace(sweep(6, 7), started_at=minute(1), ended_at=minute(2), hand_timed=True)
    assert judged(CLOSED, [check(0), check(5), check(9, "low")], [edited]) == {"s6-7": "stands"}


def test_a_clock_set_back_between_checks_does_not_reorder_them() -> None:
    checks = [check(0), check(5, at=minute(-30)), check(9, "low", at=minute(-20))]
    assert judged(CLOSED, checks, [sweep(1, 2), sweep(6, 7)]) == {"s1-2": "stands", "s6-7": "lost"}


@pytest.mark.parametrize(
    ("run", "expected"),
    [
        (replace(CLOSED, voltage_below_band=True), "lost"),
        (replace(CLOSED, instrument_in_calibration=False), "lost"),
        (replace(CLOSED, proven_islands=frozenset()), "lost"),
        (replace(CLOSED, voltage_above_band=True), "held"),
        (replace(CLOSED, surface_damp_or_salty=True), "held"),
        (replace(CLOSED, film_uncured=True), "held"),
        (replace(SPONGE, sponge_not_wetted=True), "lost"),
        (replace(SPONGE, sponge_runs_or_puddles=True), "lost"),
        (replace(SPONGE, surface_damp_or_salty=True), "stands"),
        (replace(CLOSED, sponge_runs_or_puddles=True), "stands"),
    ],
)
def test_what_spoils_the_whole_run(run: RunFacts, expected: Verdict) -> None:
    assert judged(run, [check(0), check(9)], [sweep(1, 2)]) == {"s1-2": expected}


def test_a_return_proven_on_one_island_proves_nothing_on_another() -> None:
    run = replace(CLOSED, proven_islands=frozenset({"spool 1"}))
    one, two = sweep(1, 2), sweep(3, 4)
    sweeps = [replace(one, island="spool 1"), replace(two, island="spool 2")]
    found = standings(run, [check(0), check(9)], [], sweeps)
    assert found["s1-2"].standing == "stands"
    assert found["s3-4"].causes[0].words == "spool 2: no proof of the return"


@pytest.mark.parametrize(
    ("answer", "expected"),
    [(None, "stands"), ("asked", "held"), ("so", "lost"), ("not so", "stands")],
)
def test_a_swath_swept_too_fast_is_held_until_the_question_is_answered(
    answer: TooFast | None, expected: Verdict
) -> None:
    fast = replace(sweep(1, 2), too_fast=answer)
    assert judged(CLOSED, [check(0), check(9)], [fast]) == {"s1-2": expected}


def test_a_visual_run_needs_no_checks_of_an_instrument() -> None:
    run = RunFacts(method="visual", closed=False)
    assert judged(run, [], [sweep(1, 2)]) == {"s1-2": "stands"}


def test_evidence_restores_exactly_the_swaths_it_names() -> None:
    restored = [Restored(DAY, "stands", frozenset({"s1-2"}))]
    sweeps = [sweep(1, 2), sweep(3, 4)]
    assert judged(CLOSED, [check(0), check(9, "low")], sweeps, restored=restored) == {
        "s1-2": "stands",
        "s3-4": "lost",
    }


def test_evidence_restores_exactly_the_cause_it_names() -> None:
    run = replace(CLOSED, instrument_in_calibration=False, voltage_above_band=True)
    restored = [Restored(DAY, "stands", cause="out_of_calibration")]
    assert judged(run, [check(0), check(9)], [sweep(1, 2)], restored=restored) == {"s1-2": "held"}


def test_a_decision_on_one_check_does_not_cover_a_later_one_of_its_kind() -> None:
    restored = [Restored(DAY, "stands", cause="check_low@5")]
    checks = [check(0), check(5, "low"), check(6), check(9, "low")]
    assert judged(CLOSED, checks, [sweep(1, 2), sweep(7, 8)], restored=restored) == {
        "s1-2": "stands",
        "s7-8": "lost",
    }


def test_the_owner_may_call_held_ground_lost() -> None:
    restored = [Restored(DAY, "lost", cause="voltage_above")]
    run = replace(CLOSED, voltage_above_band=True)
    assert judged(run, [check(0), check(9)], [sweep(1, 2)], restored=restored) == {"s1-2": "lost"}


def test_the_later_of_two_decisions_rules() -> None:
    rows = [Restored(minute(9), "stands"), Restored(minute(1), "lost")]
    run = replace(CLOSED, film_uncured=True)
    assert judged(run, [check(0), check(9)], [sweep(1, 2)], restored=rows) == {"s1-2": "stands"}


def test_no_decision_makes_pending_work_stand() -> None:
    rows = [Restored(DAY, "stands")]
    assert judged(OPEN, [check(0)], [sweep(1, 2)], restored=rows) == {"s1-2": "pending"}


@pytest.mark.parametrize(
    ("run", "outcome", "marks"),
    [
        (CLOSED, "good", ()),
        (CLOSED, "low", ()),
        (CLOSED, "high", ("may be made by the test",)),
        (replace(CLOSED, voltage_above_band=True), "good", ("may be made by the test",)),
        (replace(CLOSED, surface_damp_or_salty=True), "good", ("unconfirmed",)),
        (replace(CLOSED, film_uncured=True), "good", ("unconfirmed",)),
        (replace(SPONGE, sponge_not_wetted=True), "good", ()),
        (replace(SPONGE, sponge_runs_or_puddles=True), "good", ("unconfirmed",)),
        (replace(CLOSED, voltage_below_band=True), "good", ()),
    ],
)
def test_flaws_stand_with_the_marks_of_the_truth_table(run: RunFacts, outcome: Outcome, marks: tuple[str, ...]) -> None:
    assert marks_on_flaws(run, [check(0), check(9, outcome)], [FoundFlaw("f", 4)]) == {"f": marks}


def test_a_flaw_that_no_wet_run_reached_is_confirmed() -> None:
    run = replace(SPONGE, sponge_runs_or_puddles=True)
    flaw = FoundFlaw("f", 4, reached_by_wet_run=False)
    assert marks_on_flaws(run, [check(0), check(9)], [flaw]) == {"f": ()}


def test_a_check_that_failed_high_marks_only_flaws_next_to_it() -> None:
    checks = [check(0), check(5), check(9, "high"), check(12), check(20)]
    found = marks_on_flaws(CLOSED, checks, [FoundFlaw(order, order) for order in (3, 7, 10, 15)])
    assert [order for order, marks in found.items() if marks] == [7, 10]


# Laws, on days made up by chance -----------------------------------------------------------------

OUTCOMES = st.sampled_from(["good", "good", "good", "low", "high"])
KINDS = st.lists(st.sampled_from(["check", "sweep", "sweep", "sweep", "event"]), max_size=25)


@st.composite
def days(draw: st.DrawFn) -> tuple[list[Check], list[CheckDue], list[Sweep]]:
    checks, dues, sweeps = [check(0)], [], []
    last = 0
    for order, kind in enumerate(draw(KINDS), start=1):
        if kind == "check":
            checks.append(check(order, draw(OUTCOMES)))
        elif kind == "event":
            dues.append(CheckDue(order, minute(order), "battery"))
        else:
            sweeps.append(sweep(last, order))
            last = order
            continue
        last = draw(st.sampled_from([last, order]))
    return checks, dues, sweeps


@given(days(), st.booleans(), st.randoms())
def test_order_of_arrival_does_not_matter(
    day: tuple[list[Check], list[CheckDue], list[Sweep]], closed: bool, chance: random.Random
) -> None:
    run = replace(OPEN, closed=closed)
    plain = standings(run, *day)
    shuffled = [chance.sample(rows, len(rows)) for rows in day]
    assert standings(run, *shuffled) == plain


@given(days())
def test_closing_turns_pending_into_lost_and_nothing_else(
    day: tuple[list[Check], list[CheckDue], list[Sweep]],
) -> None:
    before, after = judged(OPEN, day[0], day[2], day[1]), judged(CLOSED, day[0], day[2], day[1])
    moved = {key for key, standing in before.items() if after[key] != standing}
    assert {before[key] for key in moved} <= {"pending", "held"}
    assert {after[key] for key in moved} <= {"lost"}


@given(days())
def test_a_late_failing_check_takes_exactly_what_was_swept_after_the_last_good_one(
    day: tuple[list[Check], list[CheckDue], list[Sweep]],
) -> None:
    checks, dues, sweeps = day
    end = 100
    good = judged(CLOSED, [*checks, check(end)], sweeps, dues)
    failed = judged(CLOSED, [*checks, check(end, "low")], sweeps, dues)
    last = max(one.order for one in checks)
    taken = {str(one.id) for one in sweeps if one.end_order > last}
    assert {key for key in good if failed[key] != good[key]} == {key for key in taken if good[key] != "lost"}
    assert all(failed[key] == "lost" for key in taken)


@given(days())
def test_restoring_the_failing_check_gives_back_exactly_what_it_took(
    day: tuple[list[Check], list[CheckDue], list[Sweep]],
) -> None:
    checks, dues, sweeps = day
    good = judged(CLOSED, [*checks, check(100)], sweeps, dues)
    back = [Restored(DAY, "stands", cause="check_low@100")]
    assert judged(CLOSED, [*checks, check(100, "low")], sweeps, dues, back) == good


@given(days(), st.data())
def test_a_swath_is_judged_by_itself_but_for_events(
    day: tuple[list[Check], list[CheckDue], list[Sweep]], data: st.DataObject
) -> None:
    checks, _, sweeps = day
    batch = [one for one in sweeps if data.draw(st.booleans())]
    whole = judged(CLOSED, checks, sweeps)
    assert judged(CLOSED, checks, batch) == {str(one.id): whole[str(one.id)] for one in batch}
