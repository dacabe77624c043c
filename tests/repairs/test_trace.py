"""Trace forward: what rests on an instrument, electrode, certificate, batch or person, found by one statement."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from rest_framework.exceptions import NotFound

from accounts.people import Person, Role
from inspections.instruments import Certificate, Instrument
from inspections.runs import Run
from repairs.trace import ALWAYS, Period, Trace, statement, trace
from repairs.trace_reading import in_words
from repairs.trace_subjects import find_subject
from tests.factories import AssetFactory, appointed
from tests.scenes import Scene, pipe_scene


class Told:
    """A released zone: swept in halves by two runs, the second checked with a voltmeter, one flaw repaired and retested."""

    def __init__(self) -> None:
        scene = pipe_scene()
        self.scene = scene
        organisation = scene.detector.organisation
        self.voltmeter = Instrument(organisation=organisation, kind="crest voltmeter", name="Voltmeter", serial="V-1")
        self.gauge = Instrument(organisation=organisation, kind="gauge", name="Gauge", serial="G-1")
        for each in (self.voltmeter, self.gauge):
            each.save(force_insert=True)
        scene.do(
            "record_spot", scene.crew, scene.sheet, place="1+002.00 @ 12:00", readings=[500, 510, 520],
            gauge=str(self.gauge.pk),
        )  # fmt: skip
        self.first = scene.survey("1+000.00 to 1+010.00", flaws=["1+004.00 @ 3:00"])
        self.second = scene.open_run()
        scene.sweep(self.second, "1+010.00 to 1+020.00")
        scene.check(self.second, phase="end", voltmeter=str(self.voltmeter.pk))
        scene.do("close_run", scene.crew, self.second)
        (self.patch,) = scene.issue()
        scene.step(self.patch, "prepared")
        for number, coat in enumerate(scene.coating.terms.repair_coats, 1):
            scene.step(self.patch, "coated", number, batch="B-7", product=coat.product)
            scene.wait(hours=coat.minimum_wait_h)
        scene.wait(hours=scene.coating.terms.cure_before_retest_h)
        scene.step(self.patch, "cured")
        scene.do("hand_over", scene.painter, self.patch)
        self.retest = scene.retest(self.patch)
        scene.hand_in()
        self.release = scene.release()

    def trace(self, kind: Any, row: Any, period: Period = ALWAYS) -> Trace:
        return trace(self.scene.owner, find_subject(self.scene.owner, kind, row.pk), period)


@pytest.fixture(scope="module")
def telling(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Told]:
    """Told once for all tests of the module; what a test writes is rolled back."""
    before, settings.MEDIA_ROOT = settings.MEDIA_ROOT, Path(tmp_path_factory.mktemp("files"))
    with django_db_blocker.unblock(), transaction.atomic():
        yield Told()
        transaction.set_rollback(True)
    settings.MEDIA_ROOT = before


@pytest.fixture
def told(telling: Told, db: None) -> Told:
    return telling


@pytest.mark.parametrize("kind", ["instrument", "electrode", "certificate", "batch", "person"])
def test_ids_and_areas_take_one_statement(told: Told, kind: Any, django_assert_num_queries: Any) -> None:
    scene = told.scene
    step = told.patch.cycles.get().steps.filter(kind="coated").first()
    rows = {
        "instrument": scene.detector,
        "electrode": scene.electrode,
        "certificate": scene.detector.certificates.get(),
        "batch": step,
        "person": scene.crew,
    }
    subject = find_subject(scene.owner, kind, rows[kind].pk)
    with django_assert_num_queries(1):
        found = list(statement(scene.owner, subject))
    assert found


def test_a_detector_bears_its_runs_their_ground_the_patch_passed_by_it_and_the_release(told: Told) -> None:
    found = told.trace("instrument", told.scene.detector)

    assert found.ids("run") == {told.first.pk, told.second.pk, told.retest.run_id}
    # A pipe of 1 m: pi m2 a metre, 20 m of it, and the patch's square of 0.4 m around a point of the retest.
    assert found.swept_m2 == pytest.approx(20 * 3.141592653589793 + 0.16, abs=1e-3)
    assert found.ids("cycle", "retest") == {told.patch.cycles.get().pk}
    assert found.ids("release") == {told.release.pk}


def test_a_voltmeter_bears_the_checks_made_with_it(told: Told) -> None:
    found = told.trace("instrument", told.voltmeter)

    assert [row.on for row in found.of("check")] == [told.second.pk]
    assert found.runs == {told.second.pk}


def test_a_gauge_bears_its_spots(told: Told) -> None:
    assert len(told.trace("instrument", told.gauge).of("spot")) == 1


def test_a_batch_bears_every_cycle_coated_with_the_same_product_and_batch(told: Told) -> None:
    step = told.patch.cycles.get().steps.filter(kind="coated").first()

    found = told.trace("batch", step)

    assert found.ids("cycle", "batch") == {told.patch.cycles.get().pk}
    assert found.ids("release") == {told.release.pk}


def test_a_step_without_a_batch_bears_nothing(told: Told) -> None:
    assert not told.trace("batch", told.patch.cycles.get().steps.get(kind="prepared")).found


def test_a_person_bears_what_they_recorded_retested_and_measured(told: Told) -> None:
    found = told.trace("person", told.scene.crew)

    assert {row.part for row in found.found} == {"recorder", "retest", "retester", "reader", "stands", "release"}


def test_days_are_those_of_the_asset(told: Told) -> None:
    """08:00 UTC on 3 March 2025 is 01:00 at the asset; what was retested two days later is left out."""
    found = told.trace("instrument", told.scene.detector, Period(date(2025, 3, 3), date(2025, 3, 3)))

    assert found.ids("run") == {told.first.pk, told.second.pk}
    assert not found.of("cycle")


def test_a_certificate_bears_only_the_days_on_which_none_issued_later_is_in_force(told: Told) -> None:
    paper = told.scene.detector.certificates.get()
    later = Certificate(instrument=told.scene.detector, number="C-2", issued=date(2025, 3, 4), due=date(2026, 3, 4))
    later.save(force_insert=True)

    assert told.trace("certificate", paper).ids("run") == {told.first.pk, told.second.pk}
    assert told.trace("certificate", later).ids("run") == {told.retest.run_id}


def test_a_stranger_is_told_of_a_foreign_instrument_as_of_an_absent_one(told: Told) -> None:
    stranger = appointed(Role.OWNER, AssetFactory())
    with pytest.raises(NotFound) as foreign:
        find_subject(stranger, "instrument", told.scene.detector.pk)
    with pytest.raises(NotFound) as absent:
        find_subject(stranger, "instrument", told.scene.asset.pk)
    assert str(foreign.value) == str(absent.value)


def test_words_take_as_many_queries_however_much_was_found(told: Told, django_assert_num_queries: Any) -> None:
    found = told.trace("person", told.scene.crew)
    with django_assert_num_queries(4):  # runs, spots, cycles, releases
        lines = in_words(found)
    assert [line.label for line in lines.runs] == ["A-1", "A-2", "A-3"]


@pytest.fixture
def beside(db: None) -> tuple[Scene, Run, Person, Instrument]:
    """A run under a permit, briefed by somebody who neither swept nor recorded, in air measured with a hygrometer."""
    scene = pipe_scene()
    foreman = scene.lead
    scene.do("record_qualification", foreman, scene.crew, scheme="Coating inspector", level="2", number="N-1",
             issued="2024-01-01", expires="2026-01-01")  # fmt: skip
    scene.do("hold_briefing", foreman, scene.asset, people=["Ines  Holt"], gone_through=True)
    until = "2025-03-04T00:00:00Z"
    given = {"number": "HW-1", "gas_reading": "0 % LEL", "tester": foreman.name.upper(), "expires_at": until}
    permit = scene.do("record_permit", scene.crew, scene.coating, **given)
    hygrometer = Instrument(
        organisation=scene.detector.organisation, kind="hygrometer", name="Hygrometer", serial="H-1"
    )
    hygrometer.save(force_insert=True)
    run = scene.open_run(permit=str(permit.pk))
    scene.do(
        "record_atmosphere", scene.crew, scene.coating, air=15, humidity=60, steel=[14], hygrometer=str(hygrometer.pk)
    )
    scene.sweep(run, "1+000.00 to 1+010.00")
    scene.close(run)
    scene.wait(hours=30)
    scene.survey("1+010.00 to 1+020.00")
    return scene, run, foreman, hygrometer


@pytest.mark.parametrize("part", ["briefer", "gas tester"])
def test_somebody_bears_the_runs_they_briefed_and_whose_gas_they_tested(beside: Any, part: str) -> None:
    scene, run, foreman, _ = beside
    found = trace(scene.owner, find_subject(scene.owner, "person", foreman.pk))
    assert found.ids("run", part) == {run.pk}
    assert found.swept_m2 > 31


def test_whoever_recorded_a_qualification_bears_the_runs_on_whose_day_it_held(beside: Any) -> None:
    scene, run, foreman, _ = beside
    found = trace(scene.owner, find_subject(scene.owner, "person", foreman.pk, frozenset({"papers"})))
    assert {row.on for row in found.of("run")} == {each.pk for each in scene.runs}


def test_a_hygrometer_bears_its_readings_and_the_runs_open_within_four_hours_of_them(beside: Any) -> None:
    scene, run, _, hygrometer = beside
    found = trace(scene.owner, find_subject(scene.owner, "instrument", hygrometer.pk))
    assert (len(found.of("air")), found.ids("run", "under")) == (1, {run.pk})
    # 10 m of a pipe of 1 m.
    assert found.swept_m2 == pytest.approx(31.41592653589793)


def test_somebody_appointed_who_has_done_nothing_yet_may_be_asked_about(told: Told) -> None:
    nobody = appointed(Role.CREW, told.scene.asset, told.scene.contractor)

    assert not told.trace("person", nobody).found
