"""Swaths that share the clock: which stretches of it hold more than can be swept, against trying every stretch."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.together import Crowded, Job, crowded

# Whole seconds, so that sums are exact.
JOBS = st.lists(st.tuples(st.integers(0, 30), st.integers(1, 15), st.integers(0, 15)), max_size=7).map(
    lambda rows: [Job(place, start, start + span, min(least, span)) for place, (start, span, least) in enumerate(rows)]
)


def fits(jobs: list[Job]) -> bool:
    """Second by second: work goes on with the swath that ends first (Dertouzos 1974, from memory: nothing does better)."""
    left = {job.id: job.least for job in jobs}
    for second in range(50):
        waiting = [job for job in jobs if job.start <= second and left[job.id] > 0]
        if waiting:
            left[min(waiting, key=lambda job: job.end).id] -= 1
        if any(job.end <= second + 1 and left[job.id] > 0 for job in jobs):
            return False
    return True


@given(JOBS)
def test_nothing_is_crowded_just_when_all_of_it_can_be_swept(jobs: list[Job]) -> None:
    assert (not crowded(jobs)) == fits(jobs)


@given(JOBS)
def test_what_is_crowded_takes_longer_than_its_stretch_and_what_is_left_fits(jobs: list[Job]) -> None:
    found = crowded(jobs)
    by_id = {job.id: job for job in jobs}
    for one in found:
        within = [by_id[pk] for pk in one.ids]
        assert all(one.start <= job.start and job.end <= one.end for job in within)
        assert one.least == sum(job.least for job in within) > one.end - one.start
    taken = list(itertools.chain.from_iterable(one.ids for one in found))
    assert len(set(taken)) == len(taken)
    assert fits([job for job in jobs if job.id not in taken])


def test_the_tightest_stretch_is_named_and_not_all_that_hangs_together() -> None:
    jobs = [Job("a", 0, 10, 10), Job("b", 0, 10, 10), Job("c", 9, 100, 5)]
    assert crowded(jobs) == [Crowded(0.0, 10.0, 20.0, ("a", "b"))]


def test_a_swath_that_does_not_fit_its_own_time_is_left_out() -> None:
    assert crowded([Job("a", 0, 5, 9), Job("b", 0, 5, 5)]) == []


def test_a_swath_that_ends_before_it_starts_is_refused() -> None:
    with pytest.raises(ValueError, match="'a' runs from 5 to 4"):
        crowded([Job("a", 5, 4, 0)])
