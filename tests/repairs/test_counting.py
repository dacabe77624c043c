"""Which flaws count as found, and why the others do not."""

from __future__ import annotations

from typing import Any

import pytest

from repairs.counting import FlawPicture
from repairs.picture import ZonePicture, zone_picture
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def swept(**terms: Any) -> tuple[Scene, Any]:
    """A scene whose survey run has swept the first half of the zone and is open."""
    scene = pipe_scene(**terms)
    run = scene.open_run()
    scene.sweep(run, "1+000.00 to 1+010.00")
    return scene, run


def seen(scene: Scene, run: Any) -> tuple[FlawPicture, ...]:
    scene.close(run)
    return zone_picture(scene.coating).flaws


def why(scene: Scene, run: Any) -> list[str]:
    return [flaw.why_not for flaw in seen(scene, run)]


@pytest.mark.parametrize("kind", ["indication", "pinhole", "mechanical damage", "thin spot"])
def test_what_the_detector_found_on_standing_ground_counts(kind: str) -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 3:00", kind=kind)

    assert [flaw.counted for flaw in seen(scene, run)] == [True]


@pytest.mark.parametrize("kind", ["false indication", "destructive test spot", "burned by test"])
def test_kinds_that_are_no_flaw_of_the_film_do_not_count(kind: str) -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 3:00", kind=kind)

    assert why(scene, run) == [f"{kind} does not count"]


def test_the_specification_may_say_which_kinds_count() -> None:
    scene, run = swept(counting_kinds=("pinhole", "burned by test"))
    for kind in ("pinhole", "burned by test", "crater", "indication"):
        scene.flaw(run, "1+004.00 @ 3:00", kind=kind)

    assert why(scene, run) == ["", "", "crater does not count", ""]


def test_flaws_found_by_eye_do_not_count_against_a_holiday_limit() -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 3:00", found_by="visual")

    assert why(scene, run) == ["found by visual means"]


def test_a_flaw_outside_standing_coverage_is_listed_but_not_counted() -> None:
    scene, run = swept()
    scene.flaw(run, "1+015.00 @ 3:00")
    (flaw,) = seen(scene, run)

    assert (flaw.why_not, flaw.is_open) == ("outside standing coverage", True)


def test_a_flaw_on_lost_ground_stays_listed_but_is_not_counted() -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.check(run, measured=1500)
    scene.do("close_run", scene.crew, run)

    assert [flaw.why_not for flaw in zone_picture(scene.coating).flaws] == ["outside standing coverage"]


def test_audit_finds_are_listed_not_counted() -> None:
    scene, run = swept()
    scene.close(run)
    audit = scene.open_run("audit")
    scene.flaw(audit, "1+004.00 @ 3:00")

    assert why(scene, audit) == ["found by an audit"]


def test_retest_failures_never_add_to_what_was_found() -> None:
    scene, run = swept()
    scene.close(run)
    retest = scene.open_run("retest")
    scene.flaw(retest, "1+004.00 @ 3:00")

    assert why(scene, retest) == ["found at a retest"]


def test_a_struck_flaw_is_listed_and_not_counted() -> None:
    scene, run = swept()
    flaw = scene.flaw(run, "1+004.00 @ 3:00")
    scene.do("strike_flaw", scene.lead, flaw, why="wrong zone")
    (listed,) = seen(scene, run)

    assert (listed.status.value, listed.why_not, listed.is_open) == ("struck", "struck out", False)


def test_the_same_flaw_by_a_persons_word_counts_once_and_shares_its_status() -> None:
    scene, run = swept()
    first, again = scene.flaw(run, "1+004.00 @ 3:00"), scene.flaw(run, "1+007.00 @ 3:00")
    scene.do("same_flaw", scene.crew, again, as_flaw=str(first.pk))
    scene.close(run)
    (patch,) = scene.issue()
    scene.step(patch, "prepared")

    flaws = zone_picture(scene.coating).flaws

    assert [flaw.why_not for flaw in flaws] == ["", "the same as A01"]
    assert [flaw.status.value for flaw in flaws] == ["begun", "begun"]
    assert [flaw.is_open for flaw in flaws] == [True, False]


@pytest.mark.parametrize(
    ("again", "counted"),
    [("1+004.07 @ 3:00", 1), ("1+004.08 @ 3:00", 2)],  # the joint uncertainty of twice 0.05 m is 0.0707 m
)
def test_a_flaw_found_again_in_another_run_within_the_joint_uncertainty_counts_once(again: str, counted: int) -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.close(run)
    second = scene.open_run()
    scene.sweep(second, "1+000.00 to 1+010.00")
    scene.flaw(second, again)

    assert sum(flaw.counted for flaw in seen(scene, second)) == counted


def test_a_flaw_found_again_across_the_seam_counts_once() -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 11:59:00")
    scene.close(run)
    second = scene.open_run()
    scene.sweep(second, "1+000.00 to 1+010.00")
    scene.flaw(second, "1+004.00 @ 0:01:00")

    assert why(scene, second) == ["", "found again within the joint uncertainty: the same as A01"]


def test_two_flaws_near_each_other_in_one_run_are_two() -> None:
    scene, run = swept()
    scene.flaw(run, "1+004.00 @ 3:00")
    scene.flaw(run, "1+004.03 @ 3:00")

    assert why(scene, run) == ["", ""]


def pictured(flaws: int) -> ZonePicture:
    scene, run = swept()
    for number in range(flaws):
        scene.flaw(run, f"1+00{number + 1}.00 @ 3:00")
    scene.close(run)
    return zone_picture(scene.coating)


def test_density_is_counted_flaws_over_tested_area_with_its_poisson_interval() -> None:
    density = pictured(2).density_found

    # Two events: 0.242 to 7.225 (Garwood, Fiducial limits for the Poisson distribution, Biometrika 28, 1936, table).
    assert density is not None
    tested = 31.41592653589793
    assert density.per_100_m2 == pytest.approx(200 / tested)
    assert density.interval_per_m2 == pytest.approx((0.242 / tested, 7.225 / tested), rel=2e-3)


def test_the_contract_line_counts_against_what_the_tested_area_allows() -> None:
    # One per 20 m2 on 31.4 m2 allows one.
    assert [contract.verdict for flaws in (1, 2) if (contract := pictured(flaws).contract)] == ["kept", "exceeded"]


def test_open_flaws_are_counted_over_the_testable_area() -> None:
    assert pictured(2).open_per_100_m2 == pytest.approx(200 / 62.83185307179586)


def test_nothing_tested_gives_no_density_and_no_verdict() -> None:
    scene = pipe_scene()
    picture = zone_picture(scene.coating)

    assert picture.density_found is None
    assert picture.contract is not None
    assert picture.contract.verdict is None
