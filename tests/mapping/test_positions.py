"""Spoken positions: what is read, what is refused, and that printing and reading agree."""

from __future__ import annotations

import contextlib
import doctest
import json
import math
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mapping import clock, positions
from mapping.clock import print_clock, read_clock
from mapping.positions import (
    Chainage,
    PositionError,
    StationEquation,
)
from mapping.surfaces import pipe
from mapping.surfaces.pipe import Pipe

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "positions_pipe.json").read_text("ascii"))
READ = [case for case in VECTORS if "error" not in case]
REFUSED = [case for case in VECTORS if "error" in case]


def said(case: dict[str, Any]) -> str:
    return f"{case['system']} {case['text']}"


def chainage_of(case: dict[str, Any]) -> Chainage:
    return Chainage(
        system=case["system"],
        foot=case.get("foot", "international"),
        equations=tuple(StationEquation(*pair) for pair in case.get("equations", ())),
        start=case.get("start", 0.0),
    )


def pipe_of(case: dict[str, Any]) -> Pipe:
    return Pipe(start=0.0, end=5000.0, circumference=1.0, chainage=chainage_of(case))


@pytest.mark.parametrize("case", READ, ids=said)
def test_a_spoken_position_is_read(case: dict[str, Any]) -> None:
    if "metres" in case and "clock" in case:
        place = pipe_of(case).read_place(case["text"])
        assert place == pytest.approx((case["metres"], case["clock"]), abs=1e-9)
    elif "metres" in case:
        metres = chainage_of(case).read(case["text"])
        assert metres == pytest.approx(case["metres"], abs=1e-9)
    else:
        assert read_clock(case["text"]) == pytest.approx(case["clock"], abs=1e-12)


@pytest.mark.parametrize("case", [case for case in READ if "prints" in case], ids=said)
def test_a_position_is_printed_in_its_one_form(case: dict[str, Any]) -> None:
    if "metres" in case and "clock" in case:
        assert pipe_of(case).print_place(case["metres"], case["clock"]) == case["prints"]
    elif "metres" in case:
        assert chainage_of(case).print(case["metres"]) == case["prints"]
    else:
        assert print_clock(case["clock"]) == case["prints"]


@pytest.mark.parametrize("case", REFUSED, ids=said)
def test_a_position_that_cannot_be_meant_is_refused_with_its_reason(
    case: dict[str, Any],
) -> None:
    read = {
        "metres": chainage_of(case).read,
        "clock": read_clock,
        "place": pipe_of(case).read_place,
    }[case["reads"]]
    with pytest.raises(PositionError, match=case["error"]):
        read(case["text"])


hundredths = st.integers(-500_000, 500_000).map(lambda n: n / 100)


@st.composite
def asset_chainages(draw: st.DrawFn) -> Chainage:
    """Any system, with up to three equations that make no chainage occur three times."""
    low = start = draw(hundredths)
    equations = []
    for _ in range(draw(st.integers(0, 3))):
        back = round(low + draw(st.integers(1, 100_000)) / 100, 2)
        ahead = draw(hundredths)
        if ahead == back:
            continue
        equations.append(StationEquation(back, ahead))
        low = ahead
    system = draw(st.sampled_from(["metric", "imperial"]))
    foot = draw(st.sampled_from(["international", "survey"]))
    try:
        return Chainage(system, foot, tuple(equations), start)
    except PositionError:
        return Chainage(system, foot, tuple(equations[:1]), start)


@given(chainage=asset_chainages(), above=st.floats(0, 20_000))
def test_reading_a_printed_chainage_gives_the_same_point_within_half_a_step(chainage: Chainage, above: float) -> None:
    metres = chainage.start * chainage.unit + above
    again = chainage.read(chainage.print(metres))
    assert abs(again - metres) <= chainage.step / 2 + 1e-7


@given(chainage=asset_chainages(), above=st.floats(0, 20_000))
def test_printing_a_read_chainage_repeats_what_was_printed_or_names_the_same_point(
    chainage: Chainage, above: float
) -> None:
    printed = chainage.print(chainage.start * chainage.unit + above)
    metres = chainage.read(printed)
    # At an equation the back and the ahead chainage are one point, printed as either.
    again = chainage.print(metres)
    assert again == printed or chainage.read(again) == pytest.approx(metres, abs=1e-7)


@given(fraction=st.floats(0, 1, exclude_max=True))
def test_reading_a_printed_clock_gives_the_same_place_within_half_a_second(
    fraction: float,
) -> None:
    off = abs(read_clock(print_clock(fraction)) - fraction)
    assert min(off, 1 - off) <= 0.5 / 43200 + 1e-12


@given(seconds=st.integers(0, 43199))
def test_printing_a_read_clock_repeats_it(seconds: int) -> None:
    printed = print_clock(seconds / 43200)
    assert print_clock(read_clock(printed)) == printed


@given(text=st.text("0123456789+-.,:@ hdegtompback°²\u0663\u2212\u00a0", max_size=12) | st.text(max_size=12))
@pytest.mark.parametrize("read", [Chainage().read, read_clock, Chainage().read_length])
def test_any_text_is_read_as_a_number_or_refused(read: Callable[[str], float], text: str) -> None:
    with contextlib.suppress(PositionError):
        assert math.isfinite(read(text))


def test_an_international_station_is_100_feet_of_exactly_0_3048_m() -> None:
    # NIST SP 811 (2008), Appendix B.6: 1 ft = 0.3048 m exactly.
    assert Chainage("imperial").read("1+00") == pytest.approx(30.48, abs=1e-12)


def test_a_survey_station_is_100_feet_of_1200_over_3937_m() -> None:
    # NIST SP 811 (2008), Appendix B.6, footnote on the US survey foot: 1200/3937 m.
    metres = Chainage("imperial", "survey").read("39+37")
    assert metres == pytest.approx(1200.0, abs=1e-9)


def test_equations_that_make_a_chainage_occur_three_times_are_refused() -> None:
    equations = (StationEquation(200, 100), StationEquation(180, 120))
    with pytest.raises(PositionError, match="more than twice"):
        Chainage(equations=equations)


def test_an_equation_that_does_not_jump_is_refused() -> None:
    with pytest.raises(PositionError, match="does not jump"):
        Chainage(equations=(StationEquation(100, 100),))


def test_equations_out_of_order_are_refused() -> None:
    equations = (StationEquation(100, 300), StationEquation(200, 250))
    with pytest.raises(PositionError, match="out of order"):
        Chainage(equations=equations)


def test_an_equation_finer_than_the_printed_step_is_refused() -> None:
    with pytest.raises(PositionError, match="to 0.01"):
        Chainage(equations=(StationEquation(100.005, 90),))


def test_an_unknown_system_is_refused() -> None:
    with pytest.raises(PositionError, match="metric or imperial"):
        Chainage(system="leagues")


def test_an_unknown_foot_is_refused() -> None:
    with pytest.raises(PositionError, match="international or survey"):
        Chainage("imperial", "left")


def test_a_long_text_is_shortened_in_the_message() -> None:
    with pytest.raises(PositionError) as refused:
        Chainage().read("9" * 500)
    assert len(str(refused.value)) < 200


@pytest.mark.parametrize(
    ("text", "metres"),
    [("0.45 m", 0.45), ("450 mm", 0.45), ("1,5 ft", 0.4572), ("18 in", 0.4572)],
)
def test_a_length_is_read_in_the_unit_it_names(text: str, metres: float) -> None:
    assert Chainage().read_length(text) == pytest.approx(metres, abs=1e-12)


def test_a_length_without_unit_is_refused() -> None:
    with pytest.raises(PositionError, match="cannot be read"):
        Chainage().read_length("0.45")


@pytest.mark.parametrize(
    ("system", "metres", "printed"),
    [("metric", 0.45, "0.45 m"), ("metric", 0.4572, "0.4572 m"), ("imperial", 0.4572, "1.50 ft")],
)
def test_a_length_is_printed_in_the_unit_of_the_asset(system: str, metres: float, printed: str) -> None:
    assert Chainage(system).print_length(metres) == printed


@pytest.mark.parametrize("module", [positions, clock, pipe])
def test_the_examples_in_the_docstrings_are_true(module: ModuleType) -> None:
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0
