"""Lost and held ground by run, as the zone's page lists it."""

from __future__ import annotations

import pytest

from repairs.pages.zones import doubts_of
from tests.scenes import pipe_scene

pytestmark = pytest.mark.once


@pytest.mark.django_db
def test_a_run_that_lost_features_alone_says_how_many_metres_and_pieces() -> None:
    scene = pipe_scene()
    weld = scene.do("add_feature", scene.crew, scene.zone, kind="weld", name="W-7", place="1+006.00, all around")
    nozzle = scene.do("add_feature", scene.crew, scene.zone, kind="nozzle", name="N-1", place="1+010.00 @ 3:00")
    run = scene.open_run()
    for feature in (weld, nozzle):
        scene.do("sweep_feature", scene.crew, run, feature=str(feature.pk))
    scene.do("close_run", scene.crew, run)
    (doubt,) = doubts_of(scene.coating)
    assert (doubt.run, doubt.standing, doubt.area, doubt.counted) == (run, "lost", 0, 1)
    assert doubt.metres == pytest.approx(weld.length, abs=0.01)
