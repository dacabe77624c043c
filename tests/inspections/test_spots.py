"""Thickness spots as a crew records them: kept as given, refused where they cannot be, asked about where the unit looks wrong."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from inspections.coatings import Spot
from inspections.instruments import Instrument
from repairs.film import film_picture
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
PLACE = "1+002.00 @ 12:00"


def record(scene: Scene, **given: Any) -> Spot:
    readings = given.pop("readings", ["500", "510", "505"])
    spot: Spot = scene.do("record_spot", scene.crew, scene.sheet, place=PLACE, readings=readings, **given)
    return spot


def refusal(scene: Scene, **given: Any) -> str:
    with pytest.raises(ValidationError) as refused:
        record(scene, **given)
    return str(refused.value.detail)


def test_area_shift_purpose_and_correction_are_kept_as_they_were_given() -> None:
    spot = record(pipe_scene(), area="north  side", shift="12 May, early", correction="1 mil", readings=["20 mil"] * 3)
    assert (spot.area, spot.shift, spot.correction_said, spot.unit) == ("north side", "12 May, early", "1 mil", "mil")
    # 20 mil less 1 mil are 19 mil: 482.6 um (NIST SP 811).
    assert (spot.correction, spot.mean) == (25.4, pytest.approx(482.6))


def test_the_specifications_profile_is_subtracted_where_no_correction_is_given() -> None:
    # ISO 19840, from memory: 25 um for a medium profile.
    scene = pipe_scene(profile="medium")
    assert (record(scene).correction, record(scene, correction="0").correction) == (25.0, 0.0)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (["-5"], '"-5 µm" is below the least allowed'),
        ([], "write at least one"),
        (["thin"], '"thin" does not start with a number'),
        (["500 V"], 'has the unit "V"'),
        (["30 mm"], "from 0 to 25000 µm"),
    ],
)
def test_a_reading_that_cannot_be_names_its_value_and_what_is_allowed(readings: list[str], words: str) -> None:
    refused = refusal(pipe_scene(), readings=readings)
    assert "readings" in refused
    assert words in refused


def test_a_reading_that_no_film_of_the_family_has_is_refused() -> None:
    scene = pipe_scene(film_family="fusion-bonded epoxy")
    assert "up to 3000 µm" in refusal(scene, readings=["4000"])


def test_a_reading_beyond_what_the_gauge_is_calibrated_for_is_refused() -> None:
    scene = pipe_scene()
    gauge = gauge_of(scene)
    assert "covers 0 to 1500 µm" in refusal(scene, readings=["1600"], gauge=str(gauge.pk))


def test_a_unit_that_looks_wrong_is_recorded_asked_and_flagged_until_it_is_confirmed() -> None:
    scene = pipe_scene()
    done = scene.perform("record_spot", scene.crew, scene.sheet, place=PLACE, readings=["20", "20", "20"])
    assert "was it mil?" in " ".join(map(str, done.said))
    (flagged,) = film_picture(scene.coating).spots
    assert flagged.question is not None

    scene.do("confirm_spot_unit", scene.crew, done.made)
    (settled,) = film_picture(scene.coating).spots
    assert settled.question is None


def test_a_unit_that_is_not_in_question_is_not_confirmed() -> None:
    scene = pipe_scene()
    spot = record(scene)
    with pytest.raises(ValidationError, match="not in question"):
        scene.do("confirm_spot_unit", scene.crew, spot)


def test_a_spot_that_was_coated_over_says_nothing_of_the_film_any_more() -> None:
    scene = pipe_scene(end=1003.0, thickness_rule="SSPC-PA 2", thickness_level=3)
    record(scene, readings=["100", "100", "100"])
    scene.do("record_disturbance", scene.crew, scene.coating, place="1+001.00 to 1+003.00", kind="coating")
    (spot,) = film_picture(scene.coating).spots
    assert (spot.counts, [str(line) for line in spot.why_not]) == (
        False,
        ["coated over or worked on since it was measured"],
    )


def gauge_of(scene: Scene) -> Instrument:
    """A gauge of the crew's firm with a certificate for 0 to 1500 um."""
    gauge: Instrument = scene.do(
        "register_instrument", scene.lead, scene.crew.organisation, kind="gauge", name="Gauge", serial="DFT-1"
    )
    scene.do(
        "register_certificate", scene.lead, gauge, number="K-1", issued="2025-01-01", due="2026-01-01",
        range_min=0.0, range_max=1500.0,
    )  # fmt: skip
    return gauge
