"""Words for people, ready for another language: a sentence with named gaps is looked up first and filled afterwards.

No Django here, so the computation may speak too. Until `speak` names a catalogue, and in a notebook, it is English.
What is stored or hashed is never looked up: it stays English whoever acts.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Lookup = Callable[[str], str]
LookupMany = Callable[[str, str, int], str]


def _english(sentence: str) -> str:
    return sentence


def _english_many(one: str, many: str, count: int) -> str:
    return one if count == 1 else many


_lookup: Lookup = _english
_lookup_many: LookupMany = _english_many


def speak(lookup: Lookup, lookup_many: LookupMany) -> None:
    """Take sentences from a catalogue: the singular form, and the form that fits a count."""
    global _lookup, _lookup_many
    _lookup, _lookup_many = lookup, lookup_many


def say(sentence: str, /, **gaps: Any) -> str:
    """The sentence in the reader's language, its gaps `{name}` or `{name:.1f}` filled.

    >>> say("{area:.1f} m² not tested", area=21.44)
    '21.4 m² not tested'
    """
    return _lookup(sentence).format(**gaps) if gaps else _lookup(sentence)


def say_many(one: str, many: str, count: int, /, **gaps: Any) -> str:
    """The form of the sentence that fits `count`, which fills the gap {count}.

    >>> say_many("{count} flaw open", "{count} flaws open", 3)
    '3 flaws open'
    """
    return _lookup_many(one, many, count).format(count=count, **gaps)


def noted(sentence: str) -> str:
    """The sentence as it is, noted for translation: for tables of words that are looked up with `say` when shown."""
    return sentence
