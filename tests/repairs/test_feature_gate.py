"""The gate on welds, edges, nozzles and brackets: what is asked, what is missing, whose turn it is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from repairs.feature_gate import FeatureCoverage, judge_features
from repairs.spoken import metres

WELDS = FeatureCoverage(
    stage="finished system",
    seen="as left",
    measure="line",
    required_percent=100.0,
    marked=2,
    testable=9.42,
    stands=9.42,
    held=0.0,
    pending=0.0,
    lost=0.0,
    gap=0.0,
)
NOZZLES = replace(WELDS, measure="count", marked=4, testable=4.0, stands=4.0)


def test_nothing_asked_is_said_and_stops_nothing() -> None:
    assert judge_features([], metres) == (
        "green",
        "The specification asks for no coverage of welds, edges, nozzles or brackets.",
        None,
    )


def test_everything_tested_is_green_with_its_metres_and_counts() -> None:
    assert judge_features([WELDS, NOZZLES], metres) == (
        "green",
        "Finished system, as left: 9.42 m of 9.42 m of weld and edge tested. "
        "Finished system, as left: 4 of 4 nozzles and brackets tested.",
        None,
    )


def test_what_is_not_swept_or_lost_is_the_crew_s_turn_and_named() -> None:
    short = replace(WELDS, stands=6.28, gap=1.0, lost=2.14, missing=("weld W-2",))
    assert judge_features([short, NOZZLES], metres) == (
        "red",
        "Finished system, as left: 6.28 m of 9.42 m of weld and edge tested. Not tested whole: weld W-2.",
        "crew",
    )


def test_what_is_only_held_is_the_owner_s_turn() -> None:
    assert judge_features([replace(NOZZLES, stands=3.0, held=1.0, missing=("nozzle N3",))], metres)[2] == "owner"


def test_what_only_waits_for_a_check_is_the_crew_s_turn() -> None:
    assert judge_features([replace(NOZZLES, stands=3.0, pending=1.0, missing=("nozzle N3",))], metres)[2] == "crew"


def test_coverage_asked_where_nothing_is_marked_is_the_lead_s_turn() -> None:
    state, sentence, whose = judge_features([replace(WELDS, marked=0, testable=0.0, stands=0.0)], metres)
    assert (state, whose) == ("red", "lead")
    assert sentence == "Coverage of welds, edges or fittings is asked, but none is marked on this zone."


def test_a_kind_that_the_zone_does_not_have_is_nothing_to_test() -> None:
    state, sentence, _ = judge_features([WELDS, replace(NOZZLES, testable=0.0, stands=0.0)], metres)
    assert state == "green"
    assert sentence.endswith("Finished system, as left: no nozzle or bracket to test.")


@pytest.mark.parametrize(("stands", "state"), [(8.478, "green"), (8.47, "red")])
def test_a_share_that_is_asked_is_reached_at_equality(stands: float, state: str) -> None:
    row = replace(WELDS, required_percent=90.0, stands=stands, gap=9.42 - stands, missing=("weld W-2",))
    assert judge_features([row], metres)[0] == state


def test_many_names_are_cut_short() -> None:
    missing = tuple(f"weld W-{number}" for number in range(12))
    sentence = judge_features([replace(WELDS, stands=0.0, gap=9.42, missing=missing)], metres)[1]
    assert sentence.endswith("weld W-7 and 4 more.")
