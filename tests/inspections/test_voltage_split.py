"""Voltage part by part along a zone. The fewest parts are proven against every way of cutting the row of spots."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.asked_voltage import Asked, asked_voltage
from inspections.rule_schema import shipped_bodies
from inspections.term_parts import Stage
from inspections.terms import Terms
from inspections.voltage_formulas import Given, thickness_given
from inspections.voltage_split import SpotFilm, in_unit, propose


def asking(rule: str, family: str, tolerance: float = 5.0) -> Callable[[Given], Asked]:
    terms = Terms(
        "steel", family, (Stage("finished system", 500, 400),), "high_voltage_dc", None, tolerance, "", 240, 5, None, (),
        voltage_rules=(shipped_bodies()[rule],), thickness_unit="mil",
    )  # fmt: skip
    return lambda thickness: asked_voltage(terms, thickness)


LINING = asking("nace-sp0188-2006", "tank lining")
G62 = asking("astm-g62-b-2014", "pipeline")


def spot(number: int, along: float, *mils: float | str, area: str = "") -> SpotFilm:
    return SpotFilm(f"s{number}", along, area, tuple(thickness_given(value, "mil") for value in mils))


def test_an_even_film_is_one_part_from_end_to_end() -> None:
    found = propose([spot(1, 2.0, 12, 13, 14), spot(2, 8.0, 13, 15, 15)], LINING)
    (part,) = found.along
    assert (part.starts, part.ends, part.volts, part.low, part.high) == (None, None, 2000, 1900, 2100)
    assert (part.spots, part.readings) == (("s1", "s2"), 6)


def test_a_film_that_grows_thicker_along_the_zone_is_cut_half_way_between_spots() -> None:
    # SP0188-2006, from memory: 12 to 15 mil 2 kV, 16 to 20 mil 2.5 kV, 21 to 40 mil 3 kV.
    spots = [spot(1, 0.0, 12, 13, 14), spot(2, 4.0, 15, 14, 13), spot(3, 10.0, 17, 18, 19), spot(4, 20.0, 25, 24, 30)]
    found = propose(spots, LINING)
    assert [(part.starts, part.ends, part.volts) for part in found.along] == [
        (None, 7.0, 2000),
        (7.0, 15.0, 2500),
        (15.0, None, 3000),
    ]
    assert len(found.plan.settings) == 3


def test_a_spot_whose_own_readings_share_no_setting_is_told_apart_and_cuts_nothing() -> None:
    found = propose([spot(1, 0.0, 12, 13, 14), spot(2, 5.0, 14, 17, 30), spot(3, 9.0, 15, 13, 12)], LINING)
    assert found.straddling == ("s2",)
    assert [part.volts for part in found.along] == [2000]


def test_spots_at_one_place_along_the_zone_stand_or_fall_together() -> None:
    found = propose([spot(1, 3.0, 12, 13, 14), spot(2, 3.0, 25, 26, 30)], LINING)
    assert set(found.straddling) == {"s1", "s2"}
    assert found.along == ()


def test_each_area_measurement_has_the_settings_it_needs() -> None:
    found = propose([spot(1, 0.0, 12, 13, area="A"), spot(2, 5.0, 18, 30, area="B")], LINING)
    assert [(each.area, [part.volts for part in each.parts]) for each in found.by_area] == [
        ("A", [2000]),
        ("B", [2500, 3000]),
    ]


def test_readings_on_both_branches_of_g62_are_said_to_straddle() -> None:
    found = propose([spot(1, 0.0, 30, 32, 35), spot(2, 9.0, 45, 46, 50)], G62)
    assert found.straddles
    assert [each.readings for each in found.ruled] == [3, 3]
    assert len({each.form for each in found.ruled}) == 2


def test_a_reading_in_the_gap_of_g62_has_no_voltage_and_says_why() -> None:
    found = propose([spot(1, 0.0, 30, "40.5")], G62)
    ((owner, unserved),) = found.unserved
    assert owner == "s1"
    assert "lies between two branches" in unserved.why
    assert found.straddles


def test_a_film_on_one_branch_does_not_straddle() -> None:
    assert not propose([spot(1, 0.0, 30, 32, 35)], G62).straddles


def test_what_is_asked_at_percentiles_follows_numpy() -> None:
    values = [30.0, 31.5, 33.0, 35.25, 38.0]
    found = propose([spot(1, 0.0, *values)], G62)
    expected = np.percentile(values, (5, 50, 95), method="linear")
    assert [float(each.thickness.value) for each in found.asked] == pytest.approx(list(expected))
    # ASTM G62-2014 method B, from memory: 525 * sqrt(T mil).
    assert [each.asked.volts for each in found.asked] == [round(525 * value**0.5) for value in expected]


def test_a_run_can_rest_on_the_mean_of_the_readings_where_its_band_holds_the_setting() -> None:
    found = propose([spot(1, 0.0, 30, 32, 33)], G62)
    (part,) = found.along
    assert (str(part.at), part.at.basis) == ("31.67 mil", "measured mean")
    band = G62(part.at).band
    assert band is not None
    assert band.low <= part.volts <= band.high


def test_a_run_rests_on_the_lowest_reading_where_the_document_has_no_voltage_for_the_mean() -> None:
    def with_a_hole(thickness: Given) -> Asked:
        asked = LINING(thickness)
        return asked._replace(volts=None, band=None) if thickness.value == Fraction(13) else asked

    (part,) = propose([spot(1, 0.0, 12, 14)], with_a_hole).along
    assert (str(part.at), part.at.basis) == ("12 mil", "measured minimum")


def test_a_reading_that_the_correction_eats_up_is_served_by_nothing() -> None:
    found = propose([SpotFilm("s1", 0.0, "", (in_unit(-5.0, "um"), in_unit(315.0, "um")))], LINING)
    ((_, unserved),) = found.unserved
    assert "Nothing is left of the reading" in unserved.why


def test_a_thickness_is_brought_into_a_unit_exactly() -> None:
    assert in_unit(25.4, "mil").value == Fraction(1)


def fewest_by_trying(spots: Sequence[SpotFilm], ask: Callable[[Given], Asked]) -> int:
    """The least number of parts by trying every set of cuts between neighbours."""

    def served(group: Sequence[SpotFilm]) -> bool:
        bands = [band for spot in group for reading in spot.readings if (band := ask(reading).band)]
        return max(band.low for band in bands) <= min(band.high for band in bands)

    count = len(spots)
    for cuts in range(count):
        for chosen in combinations(range(1, count), cuts):
            edges = [0, *chosen, count]
            if all(served(spots[low:high]) for low, high in zip(edges, edges[1:], strict=False)):
                return cuts + 1
    raise AssertionError("every way of cutting was tried")


@settings(deadline=None, max_examples=60)
@given(st.lists(st.integers(8, 60), min_size=1, max_size=8), st.sampled_from([2.0, 5.0, 12.0, 30.0]))
def test_no_way_of_cutting_gives_fewer_parts(mils: list[int], tolerance: float) -> None:
    ask = asking("nace-sp0188-2006", "tank lining", tolerance)
    spots = [spot(number, float(number), value) for number, value in enumerate(mils)]
    assert len(propose(spots, ask).along) == fewest_by_trying(spots, ask)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.lists(st.integers(8, 60), min_size=1, max_size=4), min_size=1, max_size=8))
def test_every_reading_of_a_part_allows_its_setting(rows: list[list[int]]) -> None:
    spots = [spot(number, float(number), *mils) for number, mils in enumerate(rows)]
    found = propose(spots, LINING)
    by_id = {each.id: each for each in spots}
    for part in found.along:
        for pk in part.spots:
            for reading in by_id[pk].readings:
                band = LINING(reading).band
                assert band is not None
                assert band.low <= part.low <= part.volts <= part.high <= band.high
    assert {pk for part in found.along for pk in part.spots} | set(found.straddling) == set(by_id)
