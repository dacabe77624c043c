"""How long permits hold. A permit states until when it holds, and is renewed or work stops: common practice of the trade."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.permits import (
    PermitFact,
    Span,
    Work,
    held_until,
    in_force,
    not_permitted,
    ran_out,
    with_renewals,
    work_without_permit,
)

DAY = datetime(2025, 6, 3, tzinfo=UTC)


def at(hour: float) -> datetime:
    return DAY + timedelta(hours=hour)


def permit(name: str, begins: float, expires: float, renews: str | None = None) -> PermitFact:
    return PermitFact(name, name, at(begins), at(expires), renews)


MORNING = permit("HW-1", 6, 14)
RENEWED = permit("HW-1 renewed", 13, 18, "HW-1")
EVENING = permit("HW-2", 19, 22, "HW-1 renewed")


@pytest.mark.parametrize(("hour", "holds"), [(5.9, None), (6, "HW-1"), (14, "HW-1"), (14.1, None)])
def test_a_permit_holds_from_its_first_moment_to_its_last(hour: float, holds: str | None) -> None:
    found = in_force([MORNING], at(hour))
    assert (found.name if found else None) == holds


def test_of_several_the_one_that_holds_longest_is_named() -> None:
    assert in_force([MORNING, RENEWED], at(13.5)) == RENEWED


def test_renewals_of_renewals_belong_to_the_run_and_foreign_permits_do_not() -> None:
    other = permit("CS-9", 6, 23)
    assert with_renewals([EVENING, other, RENEWED, MORNING], ["HW-1"]) == (MORNING, RENEWED, EVENING)


def test_a_permit_without_a_number_before_it_renews_nothing() -> None:
    assert with_renewals([MORNING, EVENING], [None]) == ()


def test_work_is_permitted_until_the_last_renewal_that_follows_without_a_break() -> None:
    assert held_until([MORNING, RENEWED, EVENING], at(10)) == at(18)


def test_work_under_no_permit_is_not_permitted_at_all() -> None:
    assert held_until([MORNING], at(15)) is None


def test_the_hours_between_two_permits_are_found() -> None:
    assert not_permitted([MORNING, RENEWED, EVENING], at(5), at(23)) == (
        Span(at(5), at(6)),
        Span(at(18), at(19)),
        Span(at(22), at(23)),
    )


def test_a_moment_is_permitted_or_not() -> None:
    assert not_permitted([MORNING], at(7), at(7)) == ()
    assert not_permitted([MORNING], at(15), at(15)) == (Span(at(15), at(15)),)


def test_an_end_before_the_start_is_refused() -> None:
    with pytest.raises(ValueError, match="must not lie before the start"):
        not_permitted([MORNING], at(7), at(6))


def test_swaths_past_the_expiry_are_found_and_those_under_a_renewal_are_not() -> None:
    swaths = [Work(1, at(13), at(13.9)), Work(2, at(13.9), at(14.2)), Work(3, at(17.9), at(18.1))]
    assert [each.id for each in work_without_permit([MORNING], swaths)] == [2, 3]
    assert [each.id for each in work_without_permit([MORNING, RENEWED], swaths)] == [3]


def test_a_run_without_any_permit_was_never_permitted() -> None:
    assert work_without_permit([], [Work(1, at(8), at(9))]) == (Work(1, at(8), at(9)),)


@pytest.mark.parametrize(("hour", "name"), [(12, None), (18, None), (18.5, "HW-1 renewed")])
def test_the_permit_that_ran_out_last_is_named_once_none_follows(hour: float, name: str | None) -> None:
    found = ran_out([MORNING, RENEWED], at(hour))
    assert (found.name if found else None) == name


HOURS = st.integers(0, 48)
PERMITS = st.lists(
    st.tuples(HOURS, st.integers(0, 12)).map(lambda row: permit(f"{row}", row[0], row[0] + row[1])), max_size=8
)


@given(PERMITS, HOURS, HOURS)
def test_each_half_hour_is_bare_exactly_where_no_permit_holds(permits: list[PermitFact], one: int, other: int) -> None:
    start, end = sorted((one, other))
    bare = not_permitted(permits, at(start), at(end))
    for half in range(start * 2 + 1, end * 2, 2):  # the middles of the hours, so that no end is met
        middle = at(half / 2)
        assert any(span.start <= middle <= span.end for span in bare) == (in_force(permits, middle) is None)


@given(st.permutations([MORNING, RENEWED, EVENING]))
def test_the_order_in_which_permits_were_recorded_changes_nothing(permits: list[PermitFact]) -> None:
    assert not_permitted(permits, at(5), at(23)) == not_permitted([MORNING, RENEWED, EVENING], at(5), at(23))
    assert with_renewals(permits, ["HW-1"]) == (MORNING, RENEWED, EVENING)
    assert held_until(permits, at(10)) == at(18)
