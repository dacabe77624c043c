"""How the dossier speaks to its reader: quantities in the reader's units, times in the asset's time zone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.utils.formats import date_format

from accounts.units import show, show_as_given
from accounts.wording import say
from repairs.reader_words import said_in
from repairs.spoken import Spoken

NOTHING = "–"


class AreaUnit(NamedTuple):
    """A unit of area and how many m2 it is."""

    name: str
    m2: float


@dataclass(frozen=True)
class Reader:
    """`name` is who the dossier is printed for, `units` "si" or "us", `clock` the asset's time zone."""

    name: str
    units: str
    clock: ZoneInfo

    @property
    def per(self) -> tuple[str, float]:
        """What densities are told per, and how many m2 that is."""
        return ("1000 ft²", 92.90304) if self.units == "us" else ("100 m²", 100.0)

    @property
    def area_unit(self) -> AreaUnit:
        return AreaUnit("ft²", 0.3048**2) if self.units == "us" else AreaUnit("m²", 1.0)

    @property
    def spoken(self) -> Spoken:
        """The reader's words for sentences of gates and pictures."""
        return said_in(self.units)

    def area(self, square: float) -> str:
        """An area; what would read as zero is said in cm² or in²."""
        return self.spoken.area(square)

    def length(self, metres: float | None, decimals: int | None = None) -> str:
        return show(metres, "metres", self.units, decimals)

    def film(self, um: float | None) -> str:
        return show(um, "film", self.units)

    def film_line(self, um: float) -> str:
        """A film thickness as arithmetic shows it: near a border the first decimal decides."""
        return show(um, "film", self.units, 1)

    def film_as_given(self, um: float | None, said: str) -> str:
        """A film thickness with the words it was given in, once where they say the same."""
        return show_as_given(um, said, "film", self.units)

    def volts(self, volts: float | None) -> str:
        return show(volts, "volts", self.units)

    def celsius(self, celsius: float | None) -> str:
        return show(celsius, "celsius", self.units)

    def speed(self, speed: float | None) -> str:
        return show(speed, "speed", self.units)

    def size(self, along: float, across: float) -> str:
        """A flaw's size: mm or inches; a dash while it was not measured."""
        if not along and not across:
            return NOTHING
        if self.units == "us":
            return f"{along / 0.0254:.2f} × {across / 0.0254:.2f} in"
        return f"{along * 1000:.0f} × {across * 1000:.0f} mm"

    def moment(self, at: datetime | None) -> str:
        """Day and time to the minute, as the clock shows at the asset."""
        return date_format(at.astimezone(self.clock), say("j M Y H:i")) if at else NOTHING

    def moment_in_full(self, at: datetime) -> str:
        """Day, time and time zone with its difference to UTC."""
        local = at.astimezone(self.clock)
        offset = f"{local:%z}"
        sign = "−" if offset[0] == "-" else "+"
        shown = date_format(local, say("j F Y, H:i:s"))
        return f"{shown} {local:%Z} (UTC{sign}{offset[1:3]}:{offset[3:5]}, {self.clock.key})"

    def day(self, day: date | None) -> str:
        return date_format(day, say("j M Y")) if day else NOTHING


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]
