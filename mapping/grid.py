"""Lettered and numbered lines of a deck: their names, and places named from them. No Django."""

from __future__ import annotations

import string
from bisect import bisect_right
from dataclasses import dataclass

from accounts.wording import say
from mapping.positions import ROUNDING, Chainage, PositionError, quote


def letters_from(first: str, count: int, skip: str = "") -> tuple[str, ...]:
    """Names of `count` lettered lines from `first` on; AA follows Z; the letters in `skip` are left out everywhere.

    Raises
    ------
    ValueError
        When `first` is no letter name, or holds a letter that is skipped.

    Examples
    --------
    >>> letters_from("G", 4, skip="IO")
    ('G', 'H', 'J', 'K')
    >>> letters_from("Y", 3)
    ('Y', 'Z', 'AA')
    """
    alphabet = [letter for letter in string.ascii_uppercase if letter not in skip]
    if not first or any(letter not in alphabet for letter in first):
        raise ValueError(
            say("{first!r} is not allowed: capital letters that are not skipped, such as A or AA", first=first)
        )
    place = 0
    for letter in first:
        place = place * len(alphabet) + alphabet.index(letter) + 1
    return tuple(_letters(place + step, alphabet) for step in range(count))


def _letters(place: int, alphabet: list[str]) -> str:
    name = ""
    while place:
        place, index = divmod(place - 1, len(alphabet))
        name = alphabet[index] + name
    return name


@dataclass(frozen=True)
class Lines:
    """Parallel lines: a name and a place (m) each, places rising."""

    names: tuple[str, ...]
    at: tuple[float, ...]

    def read(self, name: str, offset: float, chainage: Chainage, text: str) -> float:
        """The place (m) at an offset (m) from a line towards the next one, within the bay.

        Raises
        ------
        PositionError
            For a line that does not occur, or an offset that leaves the bay.
        """
        if name not in self.names:
            raise PositionError(
                say(
                    "{quote}: there is no line {name}: they run {names} to {names_2}",
                    quote=quote(text),
                    name=name,
                    names=self.names[0],
                    names_2=self.names[-1],
                )
            )
        index = self.names.index(name)
        near = chainage.step / 2 + ROUNDING
        if offset < 0 and index > 0:
            raise PositionError(
                say(
                    "{quote}: offsets run from line {name} towards the next line: name it from {names}",
                    quote=quote(text),
                    name=name,
                    names=self.names[index - 1],
                )
            )
        if index < len(self.at) - 1:
            bay = self.at[index + 1] - self.at[index]
            if offset > bay + near:
                raise PositionError(
                    say(
                        "{quote}: the bay from line {name} is {print_length} wide: name it from line {names} "
                        "or a later one",
                        quote=quote(text),
                        name=name,
                        print_length=chainage.print_length(bay),
                        names=self.names[index + 1],
                    )
                )
            offset = min(offset, bay)
        return self.at[index] + offset

    def print(self, place: float, chainage: Chainage) -> tuple[str, str]:
        """The line a place is named from, and its signed offset as printed; a point on a line is named from it."""
        index = max(bisect_right(self.at, place + ROUNDING) - 1, 0)
        offset = chainage.print_measure(place - self.at[index])
        if index < len(self.at) - 1:
            bay = self.at[index + 1] - self.at[index]
            if float(offset) * chainage.unit > bay - ROUNDING:
                index, offset = index + 1, chainage.print_measure(0.0)
        return self.names[index], offset if offset.startswith("-") else f"+{offset}"

    def bay(self, name: str, low: float, high: float, text: str) -> tuple[float, float]:
        """From and to (m) of the ground named from a line; the outer bays reach to `low` and `high`."""
        if name not in self.names:
            raise PositionError(
                say(
                    "{quote}: there is no line {name}: they run {names} to {names_2}",
                    quote=quote(text),
                    name=name,
                    names=self.names[0],
                    names_2=self.names[-1],
                )
            )
        index = self.names.index(name)
        start = min(low, self.at[0]) if index == 0 else self.at[index]
        end = max(high, self.at[-1]) if index == len(self.at) - 1 else self.at[index + 1]
        return start, end
