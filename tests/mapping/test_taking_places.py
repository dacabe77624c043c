"""Places and zones as they are sent: brought onto the surface, or refused with what is allowed."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from accounts.acting import perform
from tests.scenes import pipe_scene

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ({"x": 1004.0, "y": 0.5}, (1004.0, 0.5)),
        ({"x": 1004.0, "y": -0.5}, (1004.0, pi - 0.5)),
        ({"x": 1004.0, "y": pi + 0.5}, (1004.0, 0.5)),
        ({"x": 1020.004, "y": 0.5}, (1020.0, 0.5)),
    ],
)
def test_plane_metres_are_kept_on_the_zone(sent: dict[str, float], kept: tuple[float, float]) -> None:
    scene = pipe_scene()
    run = scene.open_run()

    flaw = scene.do("report_flaw", scene.crew, run, place=sent)

    assert (flaw.x, flaw.y) == pytest.approx(kept)


@pytest.mark.parametrize("sent", [{"x": 1021.0, "y": 0.5}, {"x": 1e300, "y": 0}, {"x": float("nan"), "y": 0}, {"x": 1}])
def test_plane_metres_off_the_zone_are_refused(sent: dict[str, float]) -> None:
    scene = pipe_scene()
    run = scene.open_run()

    with pytest.raises(ValidationError) as refused:
        scene.do("report_flaw", scene.crew, run, place=sent)
    assert list(refused.value.detail) == ["place"]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "surface",
    [
        {"diameter": 1, "start": 0, "end": 1e9},
        {"diameter": 1, "start": -1e308, "end": 1e308},
        {"diameter": 1, "start": 0, "end": float("nan")},
        {"diameter": 1, "start": 1e9, "end": 1e9 + 10},
    ],
)
def test_a_pipe_beyond_all_measure_is_refused(surface: dict[str, Any]) -> None:
    scene = pipe_scene()
    given = {"name": "Spool 2", "surface_kind": "pipe", "surface": surface, "face": "outside"}

    with pytest.raises(ValidationError) as refused:
        perform("add_zone", scene.owner, scene.asset.pk, given)
    assert list(refused.value.detail) == ["surface"]  # type: ignore[arg-type]
