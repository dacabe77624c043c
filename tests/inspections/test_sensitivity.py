"""The wet sponge: checks against a known resistor, films it reaches through, wet runs and what they leave on flaws.

80 kΩ and 10 %: ASTM D5162, method A, from memory. 10 and 20 mil: published (see inspections/rules/wet-sponge-*.json).
"""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from rest_framework.exceptions import ValidationError

from inspections.marks import marks_of
from inspections.runs import Run, Verification
from inspections.sensitivity import ProvesNothing, Sensitivity, asked_sensitivity, sensitivity_outcome, too_thick
from inspections.terms import Stage
from tests.inspections.test_intake import refused
from tests.scenes import Scene, pipe_scene

EIGHTY = Sensitivity(80_000, 8_000)
SPONGE: dict[str, Any] = {
    "film_family": "tank lining",
    "method": "wet_sponge",
    "medium": "water",
    "stated_volts": None,
    "voltage_tolerance_percent": None,
    "stages": (Stage("finished system", 250.0, 200.0),),
}


def test_a_silent_specification_asks_for_80_kohm_within_10_percent() -> None:
    assert asked_sensitivity(None, None) == EIGHTY


@pytest.mark.parametrize(
    ("ohm", "alarm", "outcome"),
    [
        (80_000, True, "good"), (72_000, True, "good"), (88_000, True, "good"),
        (80_000, False, "low"), (50_000, False, "low"), (88_001, True, "high"),
    ],
)  # fmt: skip
def test_an_alarm_inside_the_range_is_good_silence_there_or_below_is_low_an_alarm_above_is_high(
    ohm: int, alarm: bool, outcome: str
) -> None:
    assert sensitivity_outcome(EIGHTY, ohm, alarm) == outcome


@pytest.mark.parametrize(("ohm", "alarm"), [(71_999, True), (88_001, False)])
def test_what_proves_nothing_is_said_with_the_range(ohm: int, alarm: bool) -> None:
    with pytest.raises(ProvesNothing, match="72 kΩ to 88 kΩ"):
        sensitivity_outcome(EIGHTY, ohm, alarm)


@pytest.mark.parametrize(
    ("film", "medium", "beyond"),
    [
        (254.0, "water", False), (254.1, "water", True), (508.0, "water with wetting agent", False),
        (508.1, "water with wetting agent", True), (None, "water", False), (9000.0, "", False),
    ],
)  # fmt: skip
def test_water_reaches_through_10_mil_and_a_wetting_agent_through_20(film: float, medium: str, beyond: bool) -> None:
    assert too_thick(film, medium) is beyond


@pytest.fixture
def scene(db: None) -> Scene:
    return pipe_scene(**SPONGE)


def sponge_run(scene: Scene, **given: Any) -> Run:
    run = scene.do(
        "open_run", scene.crew, scene.sheet,
        **{"purpose": "survey", "instrument": str(scene.detector.pk), "electrode": str(scene.electrode.pk),
           "sweeper": "Ines Holt", "cautions": True, **given},
    )  # fmt: skip
    scene.do("prove_return", scene.crew, run, said="bare end of the spool")
    touch(scene, run, phase="start")
    return run


def touch(scene: Scene, run: Run, **given: Any) -> Verification:
    return scene.do("check_sensitivity", scene.crew, run, **{"resistor": "80 kΩ", "alarm_seen": True, **given})


def test_a_wet_sponge_run_asks_for_no_voltage_and_stands_between_two_good_checks(scene: Scene) -> None:
    run = sponge_run(scene)
    swath = scene.sweep(run, "whole zone")
    touch(scene, run, phase="end")
    swath.refresh_from_db()
    assert (run.set_volts, run.sensitivity, swath.standing) == (None, EIGHTY, "stands")


def test_silence_at_the_known_resistor_loses_the_ground(scene: Scene) -> None:
    run = sponge_run(scene)
    swath = scene.sweep(run, "whole zone")
    check = touch(scene, run, alarm_seen=False)
    swath.refresh_from_db()
    assert (check.outcome, check.measured, check.unit) == ("low", 80_000, "Ω")
    assert (swath.standing, swath.cause) == ("lost", "the check failed low")


@pytest.mark.parametrize(
    ("action", "given", "field"),
    [
        ("verify", {"measured": 90, "alarm_seen": True}, "measured"),
        ("check_sensitivity", {"resistor": "40 kΩ", "alarm_seen": True}, "resistor"),
        ("check_sensitivity", {"resistor": "eighty", "alarm_seen": True}, "resistor"),
        ("check_sensitivity", {"resistor": 0, "alarm_seen": True}, "resistor"),
    ],
)
def test_what_is_no_check_of_a_sponge_is_refused_by_its_field(
    scene: Scene, action: str, given: dict[str, Any], field: str
) -> None:
    run = sponge_run(scene)
    with pytest.raises(ValidationError) as refused:
        scene.do(action, scene.crew, run, **given)
    assert field in str(refused.value.detail)


def test_a_film_too_thick_for_water_is_told_and_its_ground_held_and_a_wetting_agent_reaches_it(scene: Scene) -> None:
    thick = sponge_run(scene, thickness="400 µm")
    held = scene.sweep(thick, "1+000.00 to 1+001.00")
    touch(scene, thick, phase="end")
    agent = sponge_run(scene, thickness="400 µm", medium="water with wetting agent")
    stands = scene.sweep(agent, "1+002.00 to 1+003.00")
    touch(scene, agent, phase="end")
    for swath in (held, stands):
        swath.refresh_from_db()
    assert (held.standing, held.cause) == ("held", "the film is thicker than a wet sponge reaches through")
    assert stands.standing == "stands"


def test_a_flaw_of_a_run_with_puddles_is_unconfirmed_until_somebody_says_no_wet_run_reached_it(scene: Scene) -> None:
    run = sponge_run(scene, surface_state="puddles")
    flaw = scene.flaw(run, "1+004.00 @ 3:00")
    assert marks_of(scene.coating) == {flaw.pk: ("unconfirmed",)}
    scene.do("say_wet_run", scene.crew, flaw, wet_run_reached=False)
    assert marks_of(scene.coating) == {}


def test_the_pages_show_the_resistor_beforehand_and_what_was_read(scene: Scene, client: Client) -> None:
    run = sponge_run(scene)
    client.force_login(scene.crew)
    form = client.get(f"/runs/{run.pk}/check/").content.decode()
    page = client.get(f"/runs/{run.pk}/").content.decode()
    assert "Put a resistor of 72 kΩ to 88 kΩ between" in form
    assert "ASTM D5162, method A, from memory" in form
    assert "It has to alarm at 80 kΩ ± 8 kΩ." in page
    assert "80 kΩ ± 8 kΩ" in page


@pytest.mark.parametrize(
    ("terms", "set_volts", "column", "cell"),
    [(SPONGE, "", "voltmeter", "CV-118"), (SPONGE, "", "measured", "2,5"), ({}, "2,5", "resistor", "80 kΩ")],
)
def test_a_check_of_the_other_method_in_a_field_sheet_is_refused_by_its_column(
    db: None, terms: dict[str, Any], set_volts: str, column: str, cell: str
) -> None:
    there = pipe_scene(**terms)
    told = refused(
        there,
        f"what;value\nzone;Spool 1\nsheet;K\ndate;2025-03-10\nunits;volts kV\n"
        f"what;run;time;sweeper;instrument;electrode;set;cautions;alarm;{column}\n"
        f"run;1;6:30;Ines Holt;{there.detector.serial};{there.electrode.name};{set_volts};yes;;\n"
        f"check;1;6:40;;;;;;yes;{cell}\n",
    )
    assert "Leave it empty" in told["row 8"][column]
