"""Charts as display lists: places are to scale, shapes tell whether the contract line is kept, hatches stay inside."""

from __future__ import annotations

import io
from datetime import date
from xml.etree import ElementTree

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas
from scipy.stats import chi2  # type: ignore[import-untyped]

from mapping.density import density
from repairs.chart_paint import chart_height, paint_chart
from repairs.charts import (
    WIDTH,
    AreaRow,
    Box,
    Chart,
    CountRow,
    DensityRow,
    Dot,
    Label,
    ProgressDay,
    Shape,
    Stroke,
    area_chart,
    count_chart,
    density_chart,
    progress_chart,
    svg,
)

KEPT = DensityRow("Strake 1", 3.0, 1.0, 7.0, 5.0, True)
OVER = DensityRow("Strake 2", 9.0, 6.0, 13.0, 5.0, False)
UNJUDGED = DensityRow("Roof", 2.0, 0.5, 6.0, None, None)
positive = st.floats(0, 1e6)


def of_style(chart: Chart, style: str) -> list[object]:
    return [item for item in chart.items if not isinstance(item, Label) and item.style == style]


def test_a_kept_line_is_a_disc_and_an_exceeded_one_a_triangle() -> None:
    chart = density_chart([KEPT, OVER, UNJUDGED], "100 m²")

    (kept,), (over,), (unjudged,) = (of_style(chart, style) for style in ("kept", "over", "unjudged"))
    assert isinstance(kept, Dot)
    assert isinstance(unjudged, Dot)
    assert isinstance(over, Shape)
    assert len(over.points) == 3


def test_the_verdict_is_the_plain_counts_even_where_the_interval_lies_across_the_line() -> None:
    across = DensityRow("Strake 3", 4.9, 1.0, 20.0, 5.0, True)

    assert of_style(density_chart([across], "100 m²"), "over") == []


def test_figure_interval_and_limit_are_at_one_scale() -> None:
    chart = density_chart([KEPT], "100 m²")

    (mark,) = of_style(chart, "kept")
    interval = of_style(chart, "interval")[0]
    (limit,) = of_style(chart, "allowed")
    assert isinstance(mark, Dot)
    assert isinstance(interval, Stroke)
    assert isinstance(limit, Stroke)
    (low, _), (high, _) = interval.points
    per_unit = (high - low) / 6.0
    assert mark.x - low == pytest.approx(2.0 * per_unit)
    assert limit.points[0][0] - low == pytest.approx(4.0 * per_unit)


def test_an_interval_that_leaves_the_paper_ends_in_an_arrow() -> None:
    barely_begun = DensityRow("Strake 4", 1.0, 0.0, 5000.0, 5.0, True)

    arrows = [item for item in of_style(density_chart([barely_begun], "100 m²"), "interval") if len(item.points) == 3]  # type: ignore[attr-defined]
    assert len(arrows) == 1


def test_the_interval_drawn_is_garwoods() -> None:
    """Exact Poisson limits: F. Garwood, Biometrika 28 (1936), by the chi-squared quantiles of scipy.stats."""
    found = density(7, 250.0)
    low, high = (100 * bound for bound in found.interval_per_m2)

    assert (low, high) == pytest.approx((100 * chi2.ppf(0.025, 14) / 2 / 250, 100 * chi2.ppf(0.975, 16) / 2 / 250))
    chart = density_chart([DensityRow("Floor", found.per_100_m2, low, high, None, None)], "100 m²")
    assert "2.8 (1.1 to 5.8)" in [item.text for item in chart.items if isinstance(item, Label)]


@pytest.mark.parametrize("row", [DensityRow("Floor", -1, -2, 0, None, None), DensityRow("Floor", float("nan"), 0, 1, None, None),
                                 DensityRow("Floor", 5, 6, 7, None, None)])  # fmt: skip
def test_figures_that_cannot_be_are_refused_by_name(row: DensityRow) -> None:
    with pytest.raises(ValueError, match="Floor"):
        density_chart([row], "100 m²")


@given(st.lists(st.tuples(positive, positive, positive, positive, positive, positive), min_size=1, max_size=4))
def test_bars_are_to_scale_and_lie_end_to_end(parts: list[tuple[float, ...]]) -> None:
    chart = area_chart([AreaRow(f"Zone {number}", *areas) for number, areas in enumerate(parts)], "m²")

    boxes = [item for item in chart.items if isinstance(item, Box)]
    most = max(sum(areas) for areas in parts) or 1.0
    room = 352.0
    for number, areas in enumerate(parts):
        mine = [box for box in boxes if box.y == number * 44.0 + 20]
        assert sum(box.width for box in mine) == pytest.approx(room * sum(areas) / most, abs=0.01)
        for one, other in zip(mine, mine[1:], strict=False):
            assert other.x == pytest.approx(one.x + one.width)


@given(positive, positive)
def test_hatches_stay_inside_their_ground(pending: float, lost: float) -> None:
    chart = area_chart([AreaRow("Zone", 1.0, 0.0, pending, lost, 1.0, 0.0)], "m²")

    for style, ground in (("hatch", "pending"), ("hatch-lost", "lost")):
        for box in of_style(chart, ground):
            assert isinstance(box, Box)
            for line in of_style(chart, style):
                assert isinstance(line, Stroke)
                for x, y in line.points:
                    assert box.x - 1e-6 <= x <= box.x + box.width + 1e-6
                    assert box.y - 1e-6 <= y <= box.y + box.height + 1e-6


def test_ground_without_area_draws_an_empty_row() -> None:
    chart = area_chart([AreaRow("Zone", 0, 0, 0, 0, 0, 0)], "m²")

    assert [item for item in chart.items if isinstance(item, Box)] == []


def test_progress_steps_at_its_days() -> None:
    days = [ProgressDay(date(2026, 5, 1), 50.0, 4), ProgressDay(date(2026, 5, 3), 100.0, 2), ProgressDay(date(2026, 5, 5), 100.0, 0)]  # fmt: skip

    chart = progress_chart(days, "m²")

    (tested,) = of_style(chart, "tested")
    assert isinstance(tested, Shape)
    assert [x for x, _ in tested.points] == pytest.approx([4, 4, 180, 180, 356, 356, 356])
    heights = [96 - y for _, y in tested.points]
    assert heights == pytest.approx([0, 37, 37, 74, 74, 74, 0])


def test_days_out_of_order_are_refused() -> None:
    day = ProgressDay(date(2026, 5, 1), 50.0, 4)

    with pytest.raises(ValueError, match="out of order"):
        progress_chart([day, day], "m²")


def test_nothing_done_yet_draws_nothing() -> None:
    assert progress_chart([], "m²").items == ()


def test_a_picture_is_well_formed_whatever_the_names_hold() -> None:
    row = CountRow('Zone "<1>" & so on', 3)

    picture = ElementTree.fromstring(svg(count_chart([row], "by <age>")))

    assert picture.get("aria-label") == "by <age>"
    assert [text.text for text in picture.iter("text")] == ['Zone "<1>" & so on', "3"]


def test_a_long_name_gives_way_to_its_figure() -> None:
    chart = density_chart([KEPT._replace(name="The long spool behind the pumping station of the old town")], "100 m²")

    name, figure = [item for item in chart.items if isinstance(item, Label)][:2]
    assert name.text.endswith("…")
    assert (len(name.text) + len(figure.text)) * 6.2 < WIDTH


def test_on_paper_each_style_has_a_look_and_the_letters_can_be_read() -> None:
    everything = [density_chart([KEPT, OVER, UNJUDGED], "100 m²"), area_chart([AreaRow("Zone", 1, 1, 1, 1, 1, 1)], "m²"),
                  progress_chart([ProgressDay(date(2026, 5, 1), 50.0, 4)], "m²"), count_chart([CountRow("0 to 7 days", 2)], "")]  # fmt: skip
    paper = io.BytesIO()
    canvas = Canvas(paper, invariant=1)
    for chart in everything:
        assert paint_chart(chart, canvas, 50, 800, 300) == pytest.approx(chart_height(chart, 300))
        canvas.showPage()
    canvas.save()

    document = pypdfium2.PdfDocument(paper.getvalue())
    said = document[0].get_textpage().get_text_bounded()
    assert "Strake 1" in said
    assert "9.0 (6.0 to 13.0)" in said
    assert "0 to 7 days" in document[3].get_textpage().get_text_bounded()
