"""Counts of thickness readings. SSPC-PA 2 from public summaries, ISO 19840 from memory, 90/10 from IMO MSC.215(82)."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.thickness import areas_asked
from inspections.thickness_plans import (
    iso19840_plan,
    ninety_ten_plan,
    pa2_plan,
    readings_missing,
    spots_missing,
)


@pytest.mark.parametrize(
    ("surface", "areas"),
    [(0.1, 1), (10, 1), (10.1, 2), (20, 2), (30, 3), (30.1, 3), (100, 3), (100.01, 4), (200, 4), (412, 7)],
)
def test_area_measurements_in_metric(surface: float, areas: int) -> None:
    assert len(pa2_plan([surface]).places) == areas


@pytest.mark.parametrize(
    ("surface", "areas"),
    [(1, 1), (100, 1), (101, 2), (300, 3), (301, 3), (1000, 3), (1001, 4), (2000, 4), (12_500, 15)],
)
def test_area_measurements_in_customary_units(surface: float, areas: int) -> None:
    # 12 500 ft2: three for the first 1000, twelve for 11 500 more.
    assert len(pa2_plan([surface], "customary").places) == areas


def test_the_two_systems_are_not_converted() -> None:
    # 92 m2 are 990 ft2 and ask for three; 95 m2 are 1023 ft2: three in metric, four in customary units.
    assert len(pa2_plan([95]).places) == 3
    assert len(pa2_plan([1023], "customary").places) == 4


@given(st.floats(0.001, 100_000))
def test_the_plan_agrees_with_the_plain_count(surface: float) -> None:
    assert len(pa2_plan([surface]).places) == areas_asked(surface)


def test_each_shift_asks_for_its_own_area_measurements() -> None:
    plan = pa2_plan([25, 8, 150])
    assert [(place.number, place.within) for place in plan.places] == [
        (1, 1), (2, 1), (3, 1), (4, 2), (5, 3), (6, 3), (7, 3), (8, 3),
    ]  # fmt: skip
    assert plan.arithmetic == (
        "Shift 1: 25 m², one for every 10 m² or part: 3 area measurements.",
        "Shift 2: 8 m², one for every 10 m² or part: 1 area measurement.",
        "Shift 3: 150 m², three for the first 100 m² and 1 for 50 m² more: 4 area measurements.",
        "8 x 5 spots = 40 spots; 40 x 3 = 120 readings at least.",
    )
    assert plan.readings == 120


@pytest.mark.parametrize(
    ("surface", "readings"),
    [
        (0.5, 5),
        (1, 5),
        (1.01, 10),
        (3, 10),
        (3.1, 15),
        (10, 15),
        (11, 20),
        (30, 20),
        (31, 30),
        (100, 30),
        (101, 40),
        (200, 40),
        (1000, 120),
    ],
)
def test_readings_by_iso_19840(surface: float, readings: int) -> None:
    assert iso19840_plan(surface).readings == readings


def test_above_1000_m2_the_surface_is_split_into_the_fewest_equal_parts() -> None:
    plan = iso19840_plan(2100)
    assert [place.readings for place in plan.places] == [90, 90, 90]
    assert plan.arithmetic == (
        "2100 m² is above 1000 m²: 3 equal parts of 700 m².",
        "30 for the first 100 m² + 10 x 6 for 600 m² more: 90 each.",
        "3 x 90 = 270 readings.",
    )


@pytest.mark.parametrize(("surface", "readings"), [(5, 1), (5.01, 2), (2, 1), (1000, 200), (1001, 201)])
def test_one_reading_for_every_5_m2_rounded_up(surface: float, readings: int) -> None:
    assert ninety_ten_plan(surface).readings == readings


def test_missing_spots_are_named_by_area_and_those_begun_are_completed_first() -> None:
    plan = pa2_plan([20])
    found = spots_missing(plan, {1: [3, 3, 3, 4, 3], 2: [3, 1, 2]})
    assert [(missing.place.number, missing.spots, missing.readings) for missing in found] == [(2, 2, 9)]
    assert found[0].sentence == (
        "Area 2 (shift 1): 1 of 5 spots; take 3 readings at 2 spots begun and 2 new spots of 3 readings."
    )


def test_an_area_not_begun_lacks_all_its_spots() -> None:
    assert [(missing.spots, missing.readings) for missing in spots_missing(pa2_plan([8]), {})] == [(5, 15)]


def test_no_more_begun_spots_are_completed_than_are_needed() -> None:
    found = spots_missing(pa2_plan([8]), {1: [3, 3, 3, 3, 1, 2]})
    assert (found[0].spots, found[0].readings) == (0, 1)


def test_a_full_plan_lacks_nothing() -> None:
    assert spots_missing(pa2_plan([8]), {1: [3] * 5}) == ()
    assert readings_missing(iso19840_plan(1), {1: 5}) == ()


def test_missing_readings_are_named_by_place() -> None:
    found = readings_missing(iso19840_plan(1500), {1: 100, 2: 94})
    assert [(missing.place.number, missing.readings, missing.sentence) for missing in found] == [
        (2, 6, "Place 2: 94 of 100 readings; take 6 more readings.")
    ]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: pa2_plan([]), "shift_areas is empty; give the surface coated in each shift"),
        (lambda: pa2_plan([10, -1]), "shift_areas holds -1; a surface must be above 0"),
        (lambda: pa2_plan([10], "imperial"), 'system is "imperial"; it must be metric or customary'),  # type: ignore[arg-type]
        (lambda: iso19840_plan(0), "surface_m2 holds 0; a surface must be above 0"),
        (lambda: iso19840_plan(float("nan")), "surface_m2 holds nan; a surface must be above 0"),
        (lambda: ninety_ten_plan(float("inf")), "flat_m2 holds inf; a surface must be above 0"),
        (lambda: spots_missing(pa2_plan([8]), {2: []}), "taken names place 2; it must be from 1 to 1"),
    ],
)
def test_what_cannot_be_planned_is_refused_by_name(call: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
