"""The drawing on a patch card."""

from __future__ import annotations

import pytest

from inspections.flaws import Flaw
from repairs.pages.patches import card_of
from tests.scenes import pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]


def test_tags_of_neighbours_stand_on_either_side_of_their_marks() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00", "1+004.01 @ 3:00"])
    (patch,) = scene.issue()

    card = card_of(scene.zone, patch, list(Flaw.objects.all()))

    assert [anchor for _, _, _, anchor, _, _ in sorted(card.flaws, key=lambda flaw: flaw[1])] == ["end", "start"]
