"""Stretches along a line: joined, taken away and summed; against Shapely's own one-dimensional sets."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from mapping.intervals import Interval, Intervals, minus, overlap, total, union

ENDS = st.integers(0, 60).map(lambda tenths: tenths / 4)
PIECES = st.lists(st.tuples(ENDS, ENDS).map(lambda ends: (min(ends), max(ends))), max_size=8)


def as_line(pieces: Intervals | list[Interval]) -> shapely.Geometry:
    """The same stretches as collinear segments of a plane, whose sets Shapely (GEOS) computes."""
    return shapely.union_all([shapely.LineString([(low, 0), (high, 0)]) for low, high in pieces if high > low])


@given(PIECES)
def test_joined_pieces_are_as_long_as_their_union(pieces: list[Interval]) -> None:
    assert total(union(pieces)) == pytest.approx(as_line(pieces).length, abs=1e-12)


@given(PIECES, PIECES)
def test_what_is_taken_away_and_what_is_shared_make_the_whole(one: list[Interval], other: list[Interval]) -> None:
    whole, taken = union(one), union(other)
    assert total(minus(whole, taken)) == pytest.approx(as_line(whole).difference(as_line(taken)).length, abs=1e-12)
    assert union((*minus(whole, taken), *overlap(whole, taken))) == whole


@given(PIECES)
def test_joined_pieces_rise_and_lie_apart(pieces: list[Interval]) -> None:
    ends = [end for piece in union(pieces) for end in piece]
    assert ends == sorted(set(ends))


@given(PIECES, st.randoms(use_true_random=False))
def test_the_order_of_the_pieces_does_not_matter(pieces: list[Interval], chance: object) -> None:
    shuffled = list(pieces)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert union(shuffled) == union(pieces)


def test_an_end_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="finite metres"):
        union([(0.0, math.inf)])
