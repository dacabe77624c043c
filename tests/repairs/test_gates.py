"""Gates before release: what each asks, whose turn it is, and that green carries name and date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from inspections.film_judgement import FilmJudgement, Measured, judge_film
from inspections.term_parts import Stage
from mapping.density import ContractLimit, judge_contract
from repairs.feature_gate import FeatureCoverage
from repairs.gate_facts import Concession, Evidence, Facts, PatchFact, StageCoverage
from repairs.gates import CODES, Gate, gates, may_release
from repairs.reader_words import said_in
from repairs.spoken import square_metres
from tests.scenes import TERMS

NOW = datetime(2031, 5, 6, 8, tzinfo=UTC)
PROOF = Evidence("Ada Quill", NOW - timedelta(days=1), "reviewed")
FULL = StageCoverage("finished system", "as left", 100, 412, 412, 0, 0, 0, 0, 0)
GOOD = Facts(now=NOW, coverage=(FULL,), evidence=dict.fromkeys(CODES, (PROOF,)))


def film_of(means: Sequence[float], maximum: float | None = None) -> FilmJudgement | None:
    """What SSPC-PA 2 says of these spots on 8 m2, with a minimum of 180 um."""
    stage = Stage("finished system", 200.0, 180.0, maximum)
    terms = replace(TERMS, stages=(stage,), thickness_rule="SSPC-PA 2", thickness_level=3)
    spots = [
        Measured(str(number), f"spot {number}", 0.0, 0.0, (mean,) * 3, 0.0, "", "", NOW)
        for number, mean in enumerate(means)
    ]
    return judge_film(terms, stage, spots, 8.0, (0.0, 1.0))


def gate(facts: Facts, code: str) -> Gate:
    return next(one for one in gates(facts) if one.code == code)


def red(facts: Facts) -> list[str]:
    return [one.code for one in gates(facts) if one.state != "green"]


def test_every_gate_is_green_when_nothing_is_missing() -> None:
    assert red(GOOD) == []
    assert may_release(gates(GOOD))


def test_there_is_one_gate_for_each_thing_a_release_asks() -> None:
    assert [one.code for one in gates(GOOD)] == list(CODES)
    assert len(set(CODES)) == 13


def test_a_green_gate_is_dated_by_its_latest_evidence() -> None:
    later = Evidence("Ida Brook", NOW, "closed run A-2")
    facts = replace(GOOD, evidence={**GOOD.evidence, "runs_closed": (later, PROOF)})
    assert gate(facts, "runs_closed").since == NOW


@pytest.mark.parametrize("code", CODES)
def test_no_gate_is_green_without_a_name_and_a_date(code: str) -> None:
    facts = replace(GOOD, evidence={key: row for key, row in GOOD.evidence.items() if key != code})
    assert red(facts) == [code]
    assert "no name and date" in gate(facts, code).sentence
    assert gate(facts, code).whose == "lead"


def test_a_gap_is_the_crews_turn_and_says_how_much_is_missing() -> None:
    short = StageCoverage("finished system", "as left", 100, 412, 390.6, 5, 0, 2.4, 14, 3)
    found = gate(replace(GOOD, coverage=(short,)), "coverage")
    assert (found.state, found.whose) == ("red", "crew")
    assert found.sentence == (
        "Finished system, as left: 21.4 m² not tested in 3 places (14.0 m² never swept, 2.4 m² lost, 5.0 m² held)."
    )


def test_ground_that_is_only_held_waits_for_the_owner() -> None:
    held = StageCoverage("finished system", "as left", 100, 412, 407, 5, 0, 0, 0, 1)
    assert gate(replace(GOOD, coverage=(held,)), "coverage").whose == "owner"


def test_parts_below_a_square_centimetre_do_not_stop_full_coverage() -> None:
    crumbs = StageCoverage("finished system", "as left", 100, 412, 411.9998, 0, 0, 0, 0.0002, 0)
    assert red(replace(GOOD, coverage=(crumbs,))) == []


def test_coverage_asked_in_part_is_reached_at_equality() -> None:
    part = StageCoverage("primer", "as found", 20, 400, 80, 0, 0, 0, 320, 1)
    assert red(replace(GOOD, coverage=(FULL, part))) == []
    short = replace(part, stands_m2=79, gap_m2=321)
    assert "19.8 % tested, 20 % asked" in gate(replace(GOOD, coverage=(short,)), "coverage").sentence


def test_nothing_to_test_is_said_and_never_a_share() -> None:
    none = StageCoverage("finished system", "as left", 100, 0, 0, 0, 0, 0, 0, 0)
    found = gate(replace(GOOD, coverage=(none,)), "coverage")
    assert (found.state, found.sentence) == ("green", "Finished system: nothing to test.")


def test_no_coverage_at_all_is_red() -> None:
    assert gate(replace(GOOD, coverage=()), "coverage").state == "red"


def test_areas_are_said_in_the_readers_unit() -> None:
    short = StageCoverage("finished system", "as left", 100, 412, 391, 0, 0, 0, 21, 1)
    judged = gates(replace(GOOD, coverage=(short,)), said_in("us"))
    assert "226 ft² not tested" in next(one for one in judged if one.code == "coverage").sentence


@pytest.mark.parametrize(
    ("area", "words"),
    [(21.44, "21.4 m²"), (0.0123, "123 cm²"), (0.00001, "under 1 cm²"), (0, "0.0 m²")],
)
def test_small_areas_never_read_as_nothing(area: float, words: str) -> None:
    assert square_metres(area) == words


@pytest.mark.parametrize(
    ("change", "code", "state", "whose", "sentence"),
    [
        ({"open_runs": ("B-2",)}, "runs_closed", "red", "crew", "1 test run is not closed: B-2."),
        (
            {"sheets_out": ("A", "C")},
            "sheets",
            "red",
            "crew",
            "2 field sheets are still out: A, C.",
        ),
        ({"files_awaited": 1}, "files", "red", "crew", "1 photo or file has not arrived."),
        (
            {"open_questions": ("A-1", "A-1", "Steel warmer than the air without sun")},
            "questions",
            "red",
            "lead",
            "3 questions wait for an answer: A-1, Steel warmer than the air without sun.",
        ),
        (
            {"held_swaths": 2, "pending_swaths": 1},
            "nothing_open",
            "red",
            "owner",
            "2 swaths are held for a decision, 1 waits for a check.",
        ),
        (
            {"pending_swaths": 1},
            "nothing_open",
            "waits",
            "crew",
            "1 swath waits for the next check.",
        ),
        (
            {"undecided_exclusions": ("manway M2",)},
            "exclusions",
            "red",
            "owner",
            "1 exclusion waits for a decision: manway M2.",
        ),
        (
            {"unclassified_flaws": tuple(f"B{n}" for n in range(1, 8))},
            "classified",
            "red",
            "crew",
            "7 indications are not yet looked at: B1, B2, B3, B4, B5 and 2 more.",
        ),
        ({"loose_flaws": ("B17",)}, "patches", "red", "lead", "1 open flaw is in no patch: B17."),
        (
            {"patches": (PatchFact("P1", "to do"), PatchFact("P2", "accepted"))},
            "patches",
            "red",
            "contractor",
            "1 patch not begun: P1.",
        ),
        (
            {"patches": (PatchFact("P1", "ready for retest"),)},
            "patches",
            "red",
            "crew",
            "1 patch ready for retest: P1.",
        ),
        (
            {"cured_at": NOW + timedelta(hours=6)},
            "cure",
            "waits",
            None,
            "The last repair is cured in 6.0 h.",
        ),
        (
            {"contract": judge_contract(ContractLimit(1, 100, "m2"), 5, 412)},
            "contract",
            "red",
            "owner",
            "5 flaws found, only 4 allowed.",
        ),
        (
            {"contract": judge_contract(ContractLimit(1, 100, "m2"), 0, 0)},
            "contract",
            "waits",
            "crew",
            "No verdict while nothing is tested.",
        ),
        (
            {"thickness": film_of(())},
            "thickness",
            "red",
            "crew",
            "Not judged: 0 of 1 area measurements taken.",
        ),
        (
            {"thickness": film_of([200.0] * 5, maximum=190.0)},
            "thickness",
            "red",
            "owner",
            "Not accepted: area 1: mean of 5 spots 200 µm, outside 180 µm to 190 µm.",
        ),
    ],
)
def test_a_gate_that_is_not_green_says_what_is_missing_and_whose_turn_it_is(
    change: dict[str, object], code: str, state: str, whose: str | None, sentence: str
) -> None:
    facts = replace(GOOD, **change)  # type: ignore[arg-type]
    found = gate(facts, code)
    assert red(facts) == [code]
    assert (found.state, found.whose, found.sentence) == (state, whose, sentence)


def test_patches_accepted_or_conceded_are_counted() -> None:
    patches = (
        PatchFact("P1", "accepted"),
        PatchFact("P2", "conceded"),
        PatchFact("P3", "accepted"),
    )
    found = gate(replace(GOOD, patches=patches), "patches")
    assert (found.state, found.sentence) == ("green", "2 patches accepted, 1 conceded.")


def test_a_concession_turns_a_red_gate_green_and_keeps_what_was_missing() -> None:
    conceded = Concession("Oda Marsh", NOW, "tank goes out of service in June.")
    facts = replace(GOOD, open_runs=("B-2",), concessions={"runs_closed": conceded})
    found = gate(facts, "runs_closed")
    assert found.state == "green"
    assert found.sentence == ("Conceded because tank goes out of service in June. 1 test run is not closed: B-2.")
    assert found.evidence[-1] == Evidence("Oda Marsh", NOW, "conceded because tank goes out of service in June")
    assert found.since == NOW


def test_a_concession_leaves_other_gates_as_they_are() -> None:
    conceded = Concession("Oda Marsh", NOW, "accepted")
    facts = replace(GOOD, open_runs=("B-2",), files_awaited=1, concessions={"files": conceded})
    assert red(facts) == ["runs_closed"]


def test_a_concession_no_longer_needed_is_not_shown() -> None:
    facts = replace(GOOD, concessions={"files": Concession("Oda Marsh", NOW, "lost phone")})
    assert gate(facts, "files").sentence == "All photos and files have arrived."


def test_a_red_gate_tells_since_when() -> None:
    facts = replace(GOOD, files_awaited=1, since={"files": NOW - timedelta(days=3)})
    assert gate(facts, "files").since == NOW - timedelta(days=3)


def test_a_cure_date_passes_at_its_very_moment() -> None:
    assert red(replace(GOOD, cured_at=NOW)) == []


def test_no_gates_is_no_release() -> None:
    assert not may_release([])


def test_metres_of_weld_and_thickness_are_said_in_the_readers_unit() -> None:
    welds = FeatureCoverage("finished system", "as left", "line", 100, 3, 30.48, 15.24, 0, 0, 0, 15.24, ("GW 4",))
    judged = {
        one.code: one.sentence
        for one in gates(replace(GOOD, features=(welds,), thickness=film_of([100] * 5)), said_in("us"))
    }
    assert "50.00 ft of 100.00 ft of weld and edge tested" in judged["features"]
    assert " mil" in judged["thickness"]
    assert "µm" not in judged["thickness"]
