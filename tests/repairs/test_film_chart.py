"""The histogram of readings: numpy.histogram is the oracle for its counts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.charts import Box, Label, Stroke, svg
from repairs.film_chart import MOST_BINS, Line, bins_of, histogram

FILM = st.lists(st.integers(1, 25_000).map(lambda tenth: tenth / 10), min_size=1, max_size=200)


@given(FILM)
def test_every_reading_is_counted_once(values: list[float]) -> None:
    bins = bins_of(values)
    assert sum(each.readings for each in bins) == len(values)
    assert bins[0].start <= min(values) + 1e-9
    assert max(values) <= bins[-1].end + 1e-9


@given(FILM)
def test_counts_are_those_of_numpy(values: list[float]) -> None:
    bins = bins_of(values)
    edges = [each.start for each in bins] + [bins[-1].end]
    counts, _ = np.histogram(np.clip(values, edges[0], edges[-1]), bins=edges)
    assert [each.readings for each in bins] == counts.tolist()


@given(FILM)
def test_bins_lie_side_by_side_and_are_few(values: list[float]) -> None:
    bins = bins_of(values)
    assert len(bins) <= MOST_BINS + 1
    assert all(one.end == other.start for one, other in zip(bins, bins[1:], strict=False))


def test_readings_all_alike_make_one_bin() -> None:
    assert [each.readings for each in bins_of([320.0] * 7)] == [7]


@pytest.mark.parametrize("values", [[], [float("nan")]], ids=["none", "not a number"])
def test_what_is_no_reading_is_refused(values: list[float]) -> None:
    with pytest.raises(ValueError, match="values"):
        bins_of(values)


def test_the_highest_bar_fills_the_picture_and_limits_stay_on_it() -> None:
    bins = bins_of([300.0, 310.0, 322.0, 345.0])
    chart = histogram(bins, [Line(280.0, "280"), Line(380.0, "380")], [Line(316.0, "50 %")], "film thickness, µm")
    bars = [item for item in chart.items if isinstance(item, Box)]
    assert [round(bar.height) for bar in bars] == [120, 40]
    limits = [item for item in chart.items if isinstance(item, Stroke) and item.style == "allowed"]
    assert len(limits) == 2
    assert all(0 <= point[0] <= 360 for line in limits for point in line.points)
    assert {"280", "380", "50 %"} <= {item.text for item in chart.items if isinstance(item, Label)}


def test_a_limit_far_off_is_told_with_an_arrow_and_does_not_press_the_bars_together() -> None:
    bins = bins_of([300.0, 310.0, 322.0, 345.0])
    chart = histogram(bins, [Line(320.0, "320"), Line(2000.0, "2000")], [], "film thickness, µm")
    assert "2000 →" in {item.text for item in chart.items if isinstance(item, Label)}
    assert len([item for item in chart.items if isinstance(item, Stroke) and item.style == "allowed"]) == 1
    assert sum(item.width for item in chart.items if isinstance(item, Box)) > 200


def test_the_picture_says_what_it_is_for_those_who_do_not_see_it() -> None:
    assert 'aria-label="Histogram of film thickness, µm; the table says the same."' in svg(
        histogram(bins_of([300.0]), [], [], "film thickness, µm")
    )
