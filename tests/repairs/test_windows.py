"""Steps of a repair and their windows: the waiting times are the specification's, the order common practice."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.terms import RepairCoat
from repairs.windows import NextStep, StepDone, StepKind, WorkRules, breaches, next_step

EIGHT = datetime(2031, 5, 6, 8, tzinfo=UTC)
RULES = WorkRules(
    (RepairCoat("primer", "Halvard 210", 6, 72), RepairCoat("finish", "Halvard 455", 16, 168)),
    primer_within_h=4,
    cure_h=48,
)


def at(hours: float) -> datetime:
    return EIGHT + timedelta(hours=hours)


def done(*steps: tuple[StepKind, float] | tuple[StepKind, float, int]) -> list[StepDone]:
    return [StepDone(step[0], at(step[1]), step[2] if len(step) == 3 else None) for step in steps]


def due(now: float, *steps: tuple[StepKind, float] | tuple[StepKind, float, int]) -> NextStep:
    return next_step(RULES, done(*steps), at(now))


def test_work_begins_with_preparation() -> None:
    found = due(0)
    assert (found.kind, found.status, found.sentence) == ("prepared", "workable now", "Preparation now.")


def test_the_primer_closes_some_hours_after_preparation() -> None:
    found = due(1, ("prepared", 0))
    assert (found.kind, found.coat, found.status) == ("coated", 1, "closes at")
    assert (found.opens_at, found.closes_at) == (at(0), at(4))
    assert found.sentence == "Coat 1 of 2, primer now; 3.0 h left."


def test_both_ends_of_a_window_belong_to_it() -> None:
    assert due(4, ("prepared", 0)).status == "closes at"
    assert due(7, ("prepared", 0), ("coated", 1, 1)).status == "closes at"


def test_a_primer_that_comes_too_late_asks_for_preparation_again() -> None:
    found = due(5.5, ("prepared", 0))
    assert found.status == "missed"
    assert found.sentence == ("Coat 1 of 2, primer was due 1.5 h ago: the window is missed, prepare the surface again.")
    assert due(5.5, ("prepared", 0), ("prepared", 5)).status == "closes at"


def test_the_next_coat_opens_and_closes_by_the_coat_before_it() -> None:
    found = due(3, ("prepared", 0), ("coated", 1, 1))
    assert (found.kind, found.coat, found.status) == ("coated", 2, "opens at")
    assert (found.opens_at, found.closes_at) == (at(7), at(73))
    assert found.sentence == "Coat 2 of 2, finish in 4.0 h."


def test_a_missed_recoat_window_is_reopened_by_preparing_again() -> None:
    steps = (("prepared", 0), ("coated", 1, 1))
    assert due(74, *steps).status == "missed"
    found = due(76, *steps, ("prepared", 75))
    assert (found.kind, found.coat, found.status, found.closes_at) == ("coated", 2, "workable now", None)


def test_preparing_between_coats_does_not_shorten_the_least_wait() -> None:
    assert due(3, ("prepared", 0), ("coated", 1, 1), ("prepared", 2)).opens_at == at(7)


def test_preparing_after_the_last_coat_begins_anew() -> None:
    found = due(60, ("prepared", 0), ("coated", 1, 1), ("coated", 8, 2), ("prepared", 59))
    assert (found.kind, found.coat, found.closes_at) == ("coated", 1, at(63))


def test_the_last_coat_cures_before_handing_over_and_retest() -> None:
    steps = (("prepared", 0), ("coated", 1, 1), ("coated", 8, 2))
    assert (due(9, *steps).kind, due(9, *steps).opens_at) == ("cured", at(56))
    assert (due(57, *steps, ("cured", 56)).kind, due(57, *steps, ("cured", 56)).status) == (
        "handed over",
        "workable now",
    )
    retest = due(58, *steps, ("cured", 56), ("handed over", 57))
    assert (retest.kind, retest.status) == ("retest", "workable now")


def test_a_cure_recorded_too_early_does_not_open_the_retest() -> None:
    steps = (("prepared", 0), ("coated", 1, 1), ("coated", 8, 2), ("cured", 20), ("handed over", 21))
    assert (due(22, *steps).status, due(22, *steps).opens_at) == ("opens at", at(56))


def test_steps_in_their_windows_are_no_breach() -> None:
    steps = done(("prepared", 0), ("coated", 1, 1), ("coated", 8, 2), ("cured", 60), ("handed over", 61))
    assert breaches(RULES, steps) == ()


def test_steps_outside_their_windows_are_named() -> None:
    steps = done(("prepared", 0), ("coated", 5, 1), ("coated", 8, 2), ("handed over", 20))
    assert [breach.words for breach in breaches(RULES, steps)] == [
        "Coat 1 of 2, primer came 1.0 h too late",
        "Coat 2 of 2, finish came 3.0 h too early",
        "Handing over came where this was next: Cure",
    ]


def test_a_coat_on_ground_that_was_not_prepared_is_out_of_turn() -> None:
    assert [breach.words for breach in breaches(RULES, done(("coated", 0, 1)))] == [
        "Coat 1 of 2, primer came where this was next: Preparation"
    ]


@given(st.permutations(done(("prepared", 0), ("coated", 1, 1), ("coated", 8, 2), ("cured", 60))))
def test_order_of_arrival_does_not_matter(steps: list[StepDone]) -> None:
    assert next_step(RULES, steps, at(61)).kind == "handed over"


def test_a_window_that_closes_before_it_opens_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="maximum_wait_h of primer is 4; it must not be below its minimum, 6"):
        WorkRules((RepairCoat("primer", "Halvard 210", 6, 4),))


def test_a_repair_without_coats_is_refused() -> None:
    with pytest.raises(ValueError, match="coats is empty"):
        WorkRules(())
