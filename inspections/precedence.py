"""In which order the documents of a specification rule: the orders there are, as codes and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import permutations
from typing import Any

from django.utils.functional import lazy

from accounts.wording import say
from inspections.vocabulary import KINDS, PRECEDENCE

THEN = " > "
ORDERS: Mapping[str, tuple[str, ...]] = {THEN.join(order): order for order in permutations(PRECEDENCE)}
"""Every order of all kinds of document, by its code."""


def precedence_words(order: Sequence[str]) -> str:
    """Kinds of document in their order, first the one that rules."""
    return say(", then ").join(say(KINDS[kind]) for kind in order)


def spoken_orders() -> list[tuple[str, Any]]:
    """The orders as choices, in the reader's language when they are shown."""
    return [(code, _words_later(order)) for code, order in ORDERS.items()]


_words_later = lazy(precedence_words, str)
