"""Words with gaps, looked up before they are filled."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from accounts import wording
from accounts.wording import noted, say, say_many

pytestmark = pytest.mark.once


@pytest.fixture
def other_language() -> Iterator[None]:
    before = wording._lookup, wording._lookup_many, wording._day, wording._moment
    wording.speak(
        {"{count:.1f} m² of {what}": "{what}: {count:.1f} m²"}.__getitem__, lambda one, many, count: f"<{many}>"
    )
    yield
    wording.speak(*before)


def test_a_sentence_without_a_catalogue_is_filled_as_it_stands() -> None:
    assert say("{area:.1f} m² of {what}", area=2.04, what="gap") == "2.0 m² of gap"


def test_a_sentence_without_gaps_may_hold_braces() -> None:
    assert say("{}") == "{}"


@pytest.mark.parametrize(("count", "said"), [(0, "0 flaws"), (1, "1 flaw"), (2, "2 flaws")])
def test_the_form_fits_the_count(count: int, said: str) -> None:
    assert say_many("{count} flaw", "{count} flaws", count) == said


def test_a_catalogue_may_put_the_gaps_in_another_order(other_language: None) -> None:
    assert say("{count:.1f} m² of {what}", count=3, what="hueco") == "hueco: 3.0 m²"
    assert say_many("{count} flaw", "{count} flaws", 2) == "<2 flaws>"


def test_noting_a_sentence_leaves_it_as_it_is() -> None:
    assert noted("lost") == "lost"
