"""The briefing of the day in a field sheet's file: one briefing of the asset, whichever sheet names it."""

from __future__ import annotations

import pytest

from inspections.briefings import Briefing
from inspections.cautions import cautions
from tests.inspections.test_intake import refused, send
from tests.scenes import pipe_scene

pytestmark = pytest.mark.django_db

HEAD = "what;value\nzone;Spool 1\nsheet;{}\ndate;2025-03-10\nwhat;time;method;people;gone through\n"
ROW = "briefing;6:10;;Ines Holt / Tove Lind;yes\n"


def test_a_briefing_goes_through_every_point_with_everybody_named() -> None:
    there = pipe_scene()
    send(there, HEAD.format("K") + ROW)
    briefing = Briefing.objects.get()
    assert (briefing.asset, briefing.method, briefing.by) == (there.asset, "high_voltage_dc", there.crew)
    assert briefing.points == list(cautions("high_voltage_dc").full)
    assert sorted(each.name for each in briefing.attendees.all()) == ["Ines Holt", "Tove Lind"]


def test_another_sheet_that_names_it_adds_who_is_not_on_it() -> None:
    there = pipe_scene()
    send(there, HEAD.format("K") + ROW)
    send(there, HEAD.format("L") + "briefing;6:10;;ines  holt / Ada Winslow;yes\n")
    names = sorted(each.name for each in Briefing.objects.get().attendees.all())
    assert names == ["Ada Winslow", "Ines Holt", "Tove Lind"]


def test_the_same_row_twice_changes_nothing() -> None:
    there = pipe_scene()
    send(there, HEAD.format("K") + ROW)
    assert send(there, HEAD.format("K") + ROW).status == "already"


def test_one_that_was_struck_out_comes_back_only_with_somebody_else() -> None:
    there = pipe_scene()
    send(there, HEAD.format("K") + ROW)
    there.do("strike_briefing", there.lead, Briefing.objects.get(), why="held for the other tank")
    assert send(there, HEAD.format("K") + ROW).status == "already"
    send(there, HEAD.format("K") + "briefing;6:10;;Ada Winslow;yes\n")
    assert Briefing.objects.filter(struck_at=None).count() == 1


def test_a_briefing_that_left_points_out_is_refused() -> None:
    there = pipe_scene()
    told = refused(there, HEAD.format("K") + "briefing;6:10;;Ines Holt;no\n")
    assert "every point" in told["row 6"]["gone through"]
