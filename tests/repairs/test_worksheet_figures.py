"""What worksheets answer, against something outside: tables, other libraries, or a reckoning of its own."""

from __future__ import annotations

import math
from typing import Any

import pytest
from rest_framework.test import APIClient
from shapely import box
from shapely.geometry import shape
from statsmodels.stats.rates import confint_poisson

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def ask(name: str, status: int = 200, **given: Any) -> dict[str, Any]:
    answer = APIClient().post(f"/api/v1/worksheets/{name}/", given, format="json")
    assert answer.status_code == status, answer.content
    return answer.json()


def figures(name: str, **given: Any) -> dict[str, Any]:
    return {figure["key"]: figure["value"] for figure in ask(name, **given)["figures"]}


def table(answer: dict[str, Any], key: str) -> list[dict[str, Any]]:
    (found,) = (each for each in answer["tables"] if each["key"] == key)
    return [dict(zip([column["key"] for column in found["columns"]], row, strict=True)) for row in found["rows"]]


class TestDensity:
    @pytest.mark.parametrize("count", [0, 1, 3, 10, 250])
    def test_the_interval_is_the_exact_one_of_statsmodels(self, count: int) -> None:
        told = figures("density", count=count, area=80)
        low, high = confint_poisson(count, 80, method="exact-c")
        assert (told["lower"], told["upper"]) == pytest.approx((low, high))

    def test_ten_flaws_have_the_interval_of_the_printed_tables(self) -> None:
        """Garwood 1936, as in Pearson and Hartley, Biometrika Tables for Statisticians, table 40: 4.80 to 18.39."""
        told = figures("density", count=10, area=1)
        assert (round(told["lower"], 2), round(told["upper"], 2)) == (4.80, 18.39)

    def test_the_further_area_settles_it_exactly(self) -> None:
        given = {"count": 3, "limit_count": "2", "limit_per": "100"}
        further = figures("density", area=420, left=1000, **given)["further_area"]
        assert figures("density", area=420 + further - 0.01, **given)["decision"] == "not demonstrated yet"
        assert figures("density", area=420 + further + 0.01, **given)["decision"] == "demonstrated"

    def test_the_contract_line_is_the_plain_count(self) -> None:
        assert "is kept" in ask("density", count=4, area=400, limit_count="1", limit_per="100")["sentence"]
        assert "is exceeded" in ask("density", count=5, area=400, limit_count="1", limit_per="100")["sentence"]

    def test_without_a_limit_nothing_is_judged(self) -> None:
        assert "decision" not in figures("density", count=4, area=400)


class TestSurfaces:
    def test_a_pipe_has_the_area_of_its_cylinder(self) -> None:
        told = figures("surface", surface_kind="pipe", surface={"start": 0, "end": 100, "diameter": 1.2})
        assert told["area"] == pytest.approx(math.pi * 1.2 * 100)

    def test_a_truncated_cone_has_the_area_of_the_handbooks(self) -> None:
        """Lateral area pi (R + r) s: Bronshtein and Semendyayev, Handbook of Mathematics, solids; from memory."""
        sizes = {"diameter": 10, "cut_diameter": 4, "height": 4}
        assert figures("surface", surface_kind="cone", surface=sizes)["area"] == pytest.approx(math.pi * 7 * 5)

    def test_the_way_between_two_places_is_the_shorter_one_over_the_seam(self) -> None:
        told = figures(
            "surface", surface_kind="pipe", surface={"start": 0, "end": 100, "diameter": 1.2},
            first="0+010.00 @ 11:00", second="0+010.00 @ 1:00",
        )  # fmt: skip
        assert told["distance"] == pytest.approx(math.pi * 1.2 / 6)

    def test_a_position_is_the_same_place_in_imperial_words(self) -> None:
        """1250.40 m is 4102.362 ft (NIST SP 811: 1 ft = 0.3048 m), forty-one stations of 100 ft and 2.36 ft."""
        given = {"surface_kind": "pipe", "surface": {"start": 1000, "end": 2000, "diameter": 1.2}}
        told = figures("position", said="1+250.40 @ 4:30", **given)
        assert told["printed_imperial"] == "41+02.36 @ 4:30:00"

    def test_a_position_off_the_zone_is_refused_with_its_limits(self) -> None:
        given = {"surface_kind": "pipe", "surface": {"start": 1000, "end": 2000, "diameter": 1.2}}
        (error,) = ask("position", 400, said="3+250.40 @ 4:30", **given)["errors"]
        assert error["field"] == "said"
        assert "2+000.00" in error["message"]

    def test_a_size_that_cannot_be_is_named_with_its_place(self) -> None:
        wrong = {"surface_kind": "strake", "surface": {"number": 1, "height": -2, "diameter": 10}, "said": "x"}
        (error,) = ask("position", 400, **wrong)["errors"]
        assert error["field"] == "surface.height"


PANEL = {"surface_kind": "panel", "surface": {"width": 10, "height": 2}}


class TestCoverage:
    def swaths(self) -> list[dict[str, Any]]:
        corners = ((0, 3), (3, 6), (6, 8))
        times = (("08:10", "08:50"), ("09:10", "09:50"), ("10:10", "10:50"))
        return [
            {"begin": begin, "end": end, "place": [[low, 0], [high, 0], [high, 2], [low, 2]]}
            for (low, high), (begin, end) in zip(corners, times, strict=True)
        ]

    def asked(self, *outcomes: str, **more: Any) -> dict[str, Any]:
        checks = [{"at": f"{8 + hour:02}:00", "outcome": outcome} for hour, outcome in enumerate(outcomes)]
        return ask("coverage", **PANEL, swaths=self.swaths(), checks=checks, **more)

    @pytest.mark.parametrize(
        ("outcomes", "closed", "worth"),
        [
            (("good", "good", "good", "good"), True, ["stands", "stands", "stands"]),
            (("good", "good", "low", "good"), True, ["stands", "lost", "lost"]),
            (("good", "good", "high", "good"), True, ["stands", "held", "held"]),
            (("good", "good"), False, ["stands", "pending", "pending"]),
            (("good", "good"), True, ["stands", "lost", "lost"]),
            ((), False, ["lost", "lost", "lost"]),
        ],
    )
    def test_each_sweep_is_worth_what_the_checks_around_it_say(
        self, outcomes: tuple[str, ...], closed: bool, worth: list[str]
    ) -> None:
        """The truth table of the trade, common practice, no source: written out by hand."""
        answer = self.asked(*outcomes, closed=closed)
        assert [row["standing"] for row in table(answer, "swaths")] == worth

    def test_a_check_later_than_the_interval_loses_what_was_before_it(self) -> None:
        answer = self.asked("good", "good", "good", "good", closed=True, interval="45 min")
        assert {row["standing"] for row in table(answer, "swaths")} == {"lost"}

    def test_a_battery_change_without_a_check_loses_from_there(self) -> None:
        answer = self.asked("good", "good", "good", "good", closed=True, events=[{"at": "09:30", "event": "battery"}])
        assert [row["standing"] for row in table(answer, "swaths")] == ["stands", "lost", "stands"]

    def test_the_areas_are_those_of_plain_rectangles(self) -> None:
        answer = self.asked(
            "good", "good", "low", "good", closed=True, exclusions=[{"reason": "saddle", "place": "x 9 to 10"}]
        )
        told = {figure["key"]: figure["value"] for figure in answer["figures"]}
        assert told["true"] == pytest.approx(20)
        assert told["testable"] == pytest.approx(18)
        assert (told["stands"], told["lost"], told["gap"]) == pytest.approx((6, 10, 2))
        assert told["coverage"] == pytest.approx(6 / 18)

    def test_the_shapes_are_the_ground_in_plane_metres(self) -> None:
        answer = self.asked("good", "good", "low", "good", closed=True)
        shapes = {each["key"]: shape(each["geometry"]) for each in answer["shapes"]}
        assert shapes["stands"].equals(box(0, 0, 3, 2))
        assert shapes["lost"].equals(box(3, 0, 8, 2))
        assert shapes["gap"].equals(box(8, 0, 10, 2))

    def test_a_gap_is_listed_by_a_spoken_place(self) -> None:
        (row,) = table(self.asked("good", "good", "good", "good", closed=True), "gap")
        assert row["place"] == "x 8.00 to 10.00 m"
        assert row["area"] == pytest.approx(4)

    def test_a_line_that_cannot_be_read_is_named_by_its_number_and_part(self) -> None:
        text = "08:00; 09:00; x 0 to 3\n25:00; 26:00; x 3 to 6"
        errors = ask("coverage", 400, **PANEL, swaths=text)["errors"]
        assert {error["field"] for error in errors} == {"swaths.1.begin", "swaths.1.end"}
        assert '"25:00" is no time' in errors[0]["message"]

    def test_ground_off_the_zone_is_refused_by_its_line(self) -> None:
        far = [{"begin": "08:00", "end": "09:00", "place": [[20, 0], [21, 0], [21, 1]]}]
        (error,) = ask("coverage", 400, **PANEL, swaths=far)["errors"]
        assert error["field"] == "swaths.0.place"

    def test_too_many_lines_are_refused_with_how_many_are_taken(self) -> None:
        (error,) = ask("coverage", 400, **PANEL, swaths="08:00; 09:00; whole zone\n" * 101)["errors"]
        assert "at most 100" in error["message"]

    def test_too_many_corners_together_are_refused(self) -> None:
        ring = [[5 + 2 * math.cos(a / 30 * math.pi), 1 + 0.9 * math.sin(a / 30 * math.pi)] for a in range(60)]
        many = [{"begin": "08:00", "end": "09:00", "place": ring}] * 4
        (error,) = ask("coverage", 400, **PANEL, swaths=many)["errors"]
        assert "240 corners" in error["message"]


class TestPatches:
    def test_footprints_that_overlap_are_one_patch_of_their_union(self) -> None:
        flaws = [
            {"along": "20 mm", "across": "20 mm", "place": "x 1.00 y 1.00"},
            {"along": "20 mm", "across": "20 mm", "place": "x 1.10 y 1.00"},
            {"along": "20 mm", "across": "20 mm", "place": "x 5.00 y 1.00"},
        ]
        answer = ask("patches", **PANEL, flaws=flaws, overlap=0.1)
        told = {figure["key"]: figure["value"] for figure in answer["figures"]}
        first = box(0.89, 0.89, 1.11, 1.11).union(box(0.99, 0.89, 1.21, 1.11))
        assert told["patches"] == 2
        assert told["patch"] == pytest.approx(first.area + 0.22**2)
        assert told["flaw"] == pytest.approx(3 * 0.02**2)

    def test_a_rule_that_leaves_its_reading_open_is_answered_under_each(self) -> None:
        """20 m2, one spot per 200 m2: a tenth of a window allows a tenth of a spot, rounded down none, rounded up one."""
        flaws = [{"along": "20 mm", "across": "20 mm", "place": "x 1.00 y 1.00"}]
        answer = ask("patches", **PANEL, flaws=flaws, overlap=0.1, count=1, per="200")
        assert [row["recoat"] for row in table(answer, "readings")] == [True, True, False]
        assert answer["sentence"].startswith("It depends")

    def test_a_flaw_off_the_zone_is_named_by_its_line(self) -> None:
        flaws = [{"along": "20 mm", "across": "20 mm", "place": "x 11.00 y 1.00"}]
        (error,) = ask("patches", 400, **PANEL, flaws=flaws, overlap=0.1)["errors"]
        assert error["field"] == "flaws.0.place"


class TestSweep:
    def test_lanes_and_times_are_those_of_a_count_by_hand(self) -> None:
        """Around 3.8 m with 0.4 m less 0.05 m: eleven lanes of 0.35 m; 11 x 96 m at 0.3 m/s is 3520 s."""
        told = figures("sweep", width=3.8, closed=True, length=96, electrode=0.4, overlap=0.05)
        assert (told["lanes"], told["time"]) == (11, pytest.approx(3520))
        assert told["least"] == pytest.approx(3.8 * 96 / (0.4 * 0.3))

    def test_a_time_nobody_can_keep_is_held(self) -> None:
        assert "too short" in ask("sweep", width=3.8, length=96, electrode=0.4, taken="40 min")["sentence"]


class TestFilmAndAir:
    def test_a_gallon_covers_1604_square_feet_at_one_mil(self) -> None:
        """NIST SP 811: 1 US gal = 3.785412 l; 231 in3 at 0.001 in is 1604.17 ft2."""
        told = figures("film", dry="1 mil", solids=100, area="1604.1667 ft2")
        assert told["paint"] == pytest.approx(3.785412, rel=1e-6)

    @pytest.mark.parametrize(("air", "humidity", "dew"), [(20, 50, 9.3), (25, 80, 21.3), (10, 85, 7.6), (30, 60, 21.4)])
    def test_the_dew_point_is_that_of_the_magnus_formula(self, air: float, humidity: float, dew: float) -> None:
        """WMO-No. 8, annex 4.B: ew = 6.112 exp(17.62 t / (243.12 + t)); rounded figures to 0.1 degC."""
        gamma = math.log(humidity / 100) + 17.62 * air / (243.12 + air)
        magnus = 243.12 * gamma / (17.62 - gamma)
        told = figures("dew-point", air=air, humidity=humidity, steel=[30])["dew_point"]
        assert told == pytest.approx(magnus, abs=0.1)
        assert told == pytest.approx(dew, abs=0.1)

    def test_three_degrees_above_the_dew_point_is_enough_and_less_is_not(self) -> None:
        dew = figures("dew-point", air=20, humidity=50, steel=[30])["dew_point"]
        assert "may go on" in ask("dew-point", air=20, humidity=50, steel=[dew + 3.001])["sentence"]
        assert "may not" in ask("dew-point", air=20, humidity=50, steel=[dew + 2.99])["sentence"]

    def test_without_steel_work_may_not_go_on(self) -> None:
        assert "No steel" in ask("dew-point", air=20, humidity=50)["sentence"]


class TestVoltage:
    def asked(self, thickness: str, **more: Any) -> dict[str, Any]:
        return ask("voltage", thickness=thickness, **more)

    def rules(self, thickness: str, **more: Any) -> dict[str, dict[str, Any]]:
        return {row["document"]: row for row in table(self.asked(thickness, **more), "rules")}

    def test_sixteen_mil_of_fusion_bonded_epoxy_ask_for_2100_volts(self) -> None:
        """NACE SP0490, from memory: 525 times the root of T in mil."""
        answer = self.asked("16 mil", family="fusion-bonded epoxy", named="nace-sp0490", tolerance=10)
        told = {figure["key"]: figure["value"] for figure in answer["figures"]}
        assert (told["volts"], told["low"], told["high"]) == (2100, 1890, 2310)

    def test_between_the_branches_of_a_document_there_is_no_figure_and_both_are_named(self) -> None:
        """ASTM G62 method B, editions to 2014, from memory: 40 to 41 mil lies between its branches."""
        row = self.rules("40.5 mil")["ASTM G62 method B, editions to 2014"]
        assert row["volts"] is None
        assert "between two branches" in row["why"]

    def test_several_standards_that_apply_do_not_rule_until_one_is_named(self) -> None:
        assert "has to name one" in self.asked("16 mil", family="fusion-bonded epoxy")["sentence"]

    def test_the_project_specification_rules_over_the_standard(self) -> None:
        answer = self.asked("16 mil", family="fusion-bonded epoxy", named="nace-sp0490", project_volts="2.4 kV")
        assert {figure["key"]: figure["value"] for figure in answer["figures"]}["volts"] == 2400

    def test_a_film_that_conducts_is_tested_by_none(self) -> None:
        assert not any(row["applies"] for row in self.rules("16 mil", conductive=True).values())

    def test_cautions_stand_beside_the_figures(self) -> None:
        assert any("pacemaker" in caution for caution in self.asked("16 mil")["cautions"])

    def test_readings_that_no_one_setting_serves_are_split(self) -> None:
        """525 times the root of 9 and of 25 mil: 1575 and 2625 V, which no band of 5 % joins."""
        answer = ask(
            "settings", readings=["9 mil", "25 mil"], rule="astm-g62-b-2014", family="pipeline", tolerance=5
        )  # fmt: skip
        assert [row["volts"] for row in table(answer, "settings")] == [1575, 2625]


class TestThickness:
    @pytest.mark.parametrize(
        ("areas", "readings"), [(["10 m2"], 15), (["30 m2"], 45), (["85 m2"], 45), (["250 m2"], 75)]
    )
    def test_pa2_asks_for_what_its_public_summaries_say(self, areas: list[str], readings: int) -> None:
        """SSPC-PA 2, public summaries: to 30 m2 one area measurement each 10 m2, to 100 three, then one each 100 m2."""
        assert figures("thickness-plan", standard="pa2", areas=areas)["readings"] == readings

    def test_the_customary_system_goes_by_square_feet_as_typed(self) -> None:
        told = figures("thickness-plan", standard="pa2", system="customary", areas=["100 ft2"])
        assert told["places"] == 1

    def test_what_is_missing_is_said_with_its_place(self) -> None:
        answer = ask("thickness-plan", standard="pa2", areas=["20 m2"], taken="1; 3 3 3 3 3\n2; 3 3 2")
        (row,) = table(answer, "missing")
        assert (row["place"], row["readings"]) == (2, 7)

    def test_ninety_percent_of_the_readings_are_enough_and_fewer_are_not(self) -> None:
        """IMO MSC.215(82): 90 % of readings at nominal or more, none below 90 % of it."""
        kept = [320] * 9 + [300]
        assert (
            figures("thickness", standard="ninety-ten", readings=kept, nominal=320, asked=10)["verdict"] == "accepted"
        )
        few = [320] * 8 + [300, 300]
        assert figures("thickness", standard="ninety-ten", readings=few, nominal=320)["verdict"] == "not accepted"

    def test_a_spot_s_readings_may_carry_their_unit(self) -> None:
        spots = "\n".join(["1; 10 mil 10.2 mil 9.8 mil"] * 5)
        told = figures("thickness", standard="pa2", spots=spots, minimum="10 mil", maximum="14 mil")
        assert told["mean"] == pytest.approx(254)
        assert told["verdict"] == "accepted"

    def test_a_missing_thickness_is_asked_for_by_name(self) -> None:
        (error,) = ask("thickness", 400, standard="iso19840", readings=[300])["errors"]
        assert error["field"] == "nominal"


def test_two_sweeps_with_fifteen_flaws_in_common_leave_about_one() -> None:
    """Chapman 1951 by hand: 21 x 19 / 16 - 1 = 23.94, of which 23 were found."""
    told = figures("missed", first=20, second=18, common=15)
    assert told["total"] == pytest.approx(23.9375)
    assert told["missed"] == pytest.approx(0.9375)


def test_more_station_equations_than_anybody_has_are_refused_before_they_are_compared() -> None:
    equations = [[10.0 * n, 10.0 * n + 1] for n in range(1, 5000)]
    given = {"surface_kind": "pipe", "surface": {"start": 0, "end": 100, "diameter": 1.2}, "said": "0+010.00 @ 1:00"}
    (error,) = ask("position", 400, station_equations=equations, **given)["errors"]
    assert error["field"] == "station_equations"
    assert "at most 50" in error["message"]


def test_thousands_of_pieces_of_ground_are_told_apart() -> None:
    """Fifty stripes up a shell and fifty around it leave 2500 gaps: each a piece of its own, forty of them listed."""
    up = [f"08:10; 09:00; {7.2 * n:.2f} deg to {7.2 * n + 3:.2f} deg" for n in range(50)]
    around = [f"08:10; 09:00; 0 deg to 360 deg, {0.2 * n:.2f} to {0.2 * n + 0.1:.2f} m up" for n in range(50)]
    surface = {"surface_kind": "strake", "surface": {"number": 1, "height": 10, "diameter": 36.6}}
    answer = ask("coverage", **surface, swaths="\n".join([*up, *around]), checks="08:00; good\n09:10; good")
    (gaps,) = (each for each in answer["tables"] if each["key"] == "gap")
    assert len(gaps["rows"]) + gaps["not_listed"] == 2500
