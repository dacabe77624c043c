"""What is said of a run beside its ground: permit, briefing, qualifications. Common practice of the trade; it takes nothing away."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from inspections.permits import PermitFact, Work
from inspections.qualified import Asked, PaperFact, shown_on, state_words
from inspections.run_notes import Briefed, RunFacts, Worker, notes

OPENED = datetime(2025, 6, 3, 8, 0, tzinfo=UTC)
DAY = OPENED.date()


def hours(count: float) -> datetime:
    return OPENED + timedelta(hours=count)


CARD = PaperFact("Coating inspector", "level 2", date(2024, 6, 4), date(2025, 6, 3))
FACTS = RunFacts(
    opened_at=OPENED,
    closed_at=hours(4),
    now=hours(30),
    clock=UTC,
    high_voltage=True,
    sweeper=Worker("Ada Winslow", 1, (CARD,)),
    recorder=Worker("Tomas Brandt", 2),
    organisation="Kestrel Point Inspection",
    briefed=(Briefed("Ada Winslow", 1, hours(-1)),),
)


def codes(**facts: Any) -> list[str]:
    return [note.code for note in notes(replace(FACTS, **facts))]


def said(**facts: Any) -> str:
    return " ".join(note.words for note in notes(replace(FACTS, **facts)))


def permit(begins: float, expires: float, name: str = "HW-1", renews: str | None = None) -> PermitFact:
    return PermitFact(name, name, hours(begins), hours(expires), renews)


def test_a_run_in_order_has_nothing_said_of_it() -> None:
    assert codes() == []


def test_a_card_holds_to_the_end_of_its_last_day_and_has_lapsed_on_the_next() -> None:
    assert codes(opened_at=datetime(2025, 6, 3, 23, 59, tzinfo=UTC)) == []
    assert codes(opened_at=datetime(2025, 6, 4, 0, 1, tzinfo=UTC), high_voltage=False) == ["sweeper_lapsed"]


def test_the_day_of_a_run_is_the_assets() -> None:
    evening_in_denver = datetime(2025, 6, 4, 3, 0, tzinfo=UTC)
    assert codes(opened_at=evening_in_denver, clock=ZoneInfo("America/Denver"), high_voltage=False) == []


def test_the_note_on_a_lapsed_person_names_who_when_and_which_card() -> None:
    words = said(opened_at=datetime(2025, 6, 9, 9, tzinfo=UTC), high_voltage=False)
    for part in ("Ada Winslow", "9 June 2025", "3 June 2025", "Coating inspector, level 2"):
        assert part in words


def test_a_lapsed_recorder_is_said_too() -> None:
    assert codes(recorder=Worker("Tomas Brandt", 2, (CARD._replace(expires=date(2025, 6, 2)),))) == ["recorder_lapsed"]


def test_without_a_specification_that_asks_nobody_without_a_card_is_flagged() -> None:
    assert codes(sweeper=Worker("Ada Winslow", 1)) == []


ASKED = Asked("a coating inspector of level 2 or above", ("Coating inspector, level 2", "coating  INSPECTOR, level 3"))


@pytest.mark.parametrize(
    ("papers", "expected"),
    [
        ((CARD,), []),
        ((CARD._replace(level="Level 3"),), []),
        ((CARD._replace(level="level 1"),), ["sweeper_not_qualified"]),
        ((CARD._replace(scheme="Painter"),), ["sweeper_not_qualified"]),
        ((), ["sweeper_not_qualified"]),
        ((CARD._replace(expires=date(2025, 6, 2)),), ["sweeper_lapsed"]),
        ((CARD._replace(expires=date(2025, 6, 2)), CARD), []),
        ((CARD._replace(expires=None),), []),
        ((CARD._replace(issued=date(2025, 6, 4), expires=None),), ["sweeper_not_qualified"]),
    ],
)
def test_the_list_of_the_specification_says_which_cards_are_taken(
    papers: tuple[PaperFact, ...], expected: list[str]
) -> None:
    recorder = Worker("Tomas Brandt", 2, (CARD._replace(scheme="Painter"),))
    assert codes(asked=ASKED, sweeper=Worker("Ada Winslow", 1, papers), recorder=recorder) == expected


def test_a_scheme_without_a_level_takes_any_level() -> None:
    assert shown_on([CARD], DAY, ["coating inspector"]).held == "valid"


def test_words_without_a_list_take_any_valid_card() -> None:
    recorder = Worker("Tomas Brandt", 2, (CARD,))
    assert codes(asked=Asked("somebody trained by the maker"), recorder=recorder) == []


def test_a_sweeper_who_is_nobody_registered_is_named_where_a_qualification_is_asked() -> None:
    words = said(sweeper=Worker("A. Nobody"), asked=ASKED, briefed=(Briefed("a.  nobody", None, hours(-1)),))
    assert "nobody of that name is registered with Kestrel Point Inspection" in words
    assert codes(sweeper=Worker("A. Nobody"), briefed=(Briefed("A. Nobody", None, hours(-1)),)) == []


def test_a_high_voltage_run_without_a_briefing_of_its_sweeper_says_so() -> None:
    assert codes(briefed=()) == ["not_briefed"]
    assert codes(briefed=(Briefed("Tomas Brandt", 2, hours(-1)),)) == ["not_briefed"]
    assert codes(briefed=(), high_voltage=False) == []


def test_a_briefing_after_the_run_was_opened_is_said_with_both_hours() -> None:
    words = said(briefed=(Briefed("Ada Winslow", 1, hours(1.5)),))
    assert words == "Ada Winslow was briefed at 09:30, after the run was opened at 08:00."


def test_the_same_name_of_another_person_is_no_briefing() -> None:
    assert codes(briefed=(Briefed("Ada Winslow", 7, hours(-1)),)) == ["not_briefed"]


def test_no_permit_is_said_only_where_the_specification_asks_for_one() -> None:
    assert codes(permit_asked=True) == ["permit_absent"]
    assert codes(permit_asked=True, high_voltage=False) == []
    assert codes() == []


def test_a_permit_that_did_not_hold_at_the_opening_is_named_with_its_hours() -> None:
    words = said(permits=(permit(-4, -1),))
    assert words == "No permit held when the run was opened at 08:00: HW-1 from 04:00 to 07:00."


def test_swaths_past_the_expiry_are_counted_with_their_hours() -> None:
    sweeps = (Work(1, hours(0.5), hours(1)), Work(2, hours(1.5), hours(2.5)), Work(3, hours(2.5), hours(3)))
    assert codes(permits=(permit(-1, 2),), sweeps=sweeps) == ["swept_without_permit"]
    assert "2 swaths were swept while no permit held, 10:00 to 11:00" in said(permits=(permit(-1, 2),), sweeps=sweeps)


def test_a_renewal_covers_what_was_swept_under_it() -> None:
    sweeps = (Work(2, hours(1.5), hours(2.5)),)
    assert codes(permits=(permit(-1, 2), permit(1.9, 6, "HW-2", "HW-1")), sweeps=sweeps) == []


def test_an_open_run_past_its_permit_says_renew_or_close_and_a_closed_one_does_not() -> None:
    permits = (permit(-1, 6),)
    assert codes(permits=permits) == []
    open_run = {"permits": permits, "closed_at": None}
    assert said(**open_run) == ("Permit HW-1 ran out at 14:00 and the run is open: renew the permit or close the run.")
    assert codes(**open_run, now=hours(5)) == []


@pytest.mark.parametrize(
    ("today", "words"),
    [
        (date(2024, 6, 1), "holds from 4 June 2024"),
        (date(2025, 5, 1), "valid"),
        (date(2025, 5, 31), "runs out in 3 days"),
        (date(2025, 6, 3), "today is its last day"),
        (date(2025, 6, 4), "ran out 1 day ago"),
    ],
)
def test_a_card_says_how_long_it_still_holds(today: date, words: str) -> None:
    assert state_words(CARD, today) == words
