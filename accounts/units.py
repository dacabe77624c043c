"""Quantities as people say them: one serializer field a kind takes a number in SI or text with a unit, and keeps both.

Pure figures and DRF fields only; factors are exact (NIST SP 811 (2008), appendix B: 1 ft = 0.3048 m, 1 in = 25.4 mm,
1 mil = 25.4 um, degC = (degF - 32)/1.8). Positions are no quantities: they are read in the asset's own system.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, NamedTuple

from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.ohms import in_ohms
from accounts.wording import say


class Quantity(NamedTuple):
    """A figure in SI and the words it was given in."""

    value: float
    said: str


def plain(value: Any) -> Any:
    """The figure in SI of what a field gave, whether with words or as a default."""
    return value.value if isinstance(value, Quantity) else value


@dataclass(frozen=True)
class Unit:
    """A unit: SI = (given + shift) * factor. `aliases` are other spellings of its name."""

    name: str
    factor: Decimal
    aliases: tuple[str, ...] = ()
    shift: Decimal = Decimal(0)

    @property
    def spellings(self) -> tuple[str, ...]:
        return (self.name, *self.aliases)


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its units (SI first), the one a person with US units reads, and decimals when printed."""

    name: str
    units: tuple[Unit, ...]
    us: str
    si_decimals: int
    us_decimals: int

    @property
    def si(self) -> Unit:
        return self.units[0]

    def unit(self, name: str) -> Unit:
        return next(unit for unit in self.units if name in unit.spellings)

    def find(self, spelling: str) -> Unit | None:
        key = _key(spelling)
        return next((unit for unit in self.units if key in map(_key, unit.spellings)), None)


def _key(spelling: str) -> str:
    """Spellings are compared without case, and both Unicode forms of micro are one."""
    return spelling.casefold().replace("\u03bc", "\u00b5")


_D = Decimal
_FOOT = _D("0.3048")
_INCH = _D("0.0254")
LENGTH = Kind(
    "length",
    (
        Unit("m", _D(1), ("metre", "metres", "meter", "meters")),
        Unit("mm", _D("0.001"), ("millimetre", "millimetres", "millimeter", "millimeters")),
        Unit("cm", _D("0.01"), ("centimetre", "centimetres", "centimeter", "centimeters")),
        Unit("km", _D(1000), ("kilometre", "kilometres", "kilometer", "kilometers")),
        Unit("ft", _FOOT, ("foot", "feet", "'", "′")),
        Unit("in", _INCH, ("inch", "inches", '"', "″")),
    ),
    us="ft",
    si_decimals=2,
    us_decimals=2,
)
SIZE = Kind(
    "size",
    (Unit("mm", _D("0.001")), Unit("in", _INCH)),
    us="in",
    si_decimals=0,
    us_decimals=1,
)
"""A short length in m, printed as a tape measure says it."""
AREA = Kind(
    "area",
    (
        Unit("m²", _D(1), ("m2", "sq m", "square metre", "square metres", "square meter", "square meters")),
        Unit("cm²", _D("0.0001"), ("cm2",)),
        Unit("ft²", _FOOT * _FOOT, ("ft2", "sq ft", "square foot", "square feet")),
        Unit("in²", _INCH * _INCH, ("in2", "sq in")),
    ),
    us="ft²",
    si_decimals=1,
    us_decimals=0,
)
FILM = Kind(
    "film thickness",
    (
        Unit("µm", _D(1), ("um", "micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers")),
        Unit("mm", _D(1000), ("millimetre", "millimetres", "millimeter", "millimeters")),
        Unit("mil", _D("25.4"), ("mils", "thou")),
    ),
    us="mil",
    si_decimals=0,
    us_decimals=1,
)
VOLTAGE = Kind(
    "voltage",
    (Unit("V", _D(1), ("volt", "volts")), Unit("kV", _D(1000), ("kilovolt", "kilovolts"))),
    us="kV",
    si_decimals=0,
    us_decimals=2,
)
TEMPERATURE = Kind(
    "temperature",
    (
        Unit("°C", _D(1), ("C", "degC", "deg C", "℃", "°", "celsius")),
        Unit("°F", _D(5) / _D(9), ("F", "degF", "deg F", "℉", "fahrenheit"), shift=_D(-32)),
    ),
    us="°F",
    si_decimals=1,
    us_decimals=0,
)
PERCENT = Kind("share", (Unit("%", _D(1), ("percent", "per cent", "pct")),), us="%", si_decimals=1, us_decimals=1)
DURATION = Kind(
    "duration",
    (
        Unit("h", _D(1), ("hr", "hrs", "hour", "hours")),
        Unit("min", _D(1) / _D(60), ("mins", "minute", "minutes")),
        Unit("d", _D(24), ("day", "days")),
    ),
    us="h",
    si_decimals=1,
    us_decimals=1,
)
SPEED = Kind(
    "speed",
    (
        Unit("m/s", _D(1), ()),
        Unit("m/min", _D(1) / _D(60), ()),
        Unit("ft/s", _FOOT, ("fps",)),
        Unit("ft/min", _FOOT / _D(60), ("fpm",)),
    ),
    us="ft/s",
    si_decimals=2,
    us_decimals=2,
)
RESISTANCE = Kind(
    "resistance",
    (
        Unit("Ω", _D(1), ("ohm", "ohms", "\u03a9", "\u2126")),
        Unit("kΩ", _D(1000), ("kohm", "kiloohm", "kilohm", "k\u03a9", "k\u2126", "k")),
        Unit("MΩ", _D(1_000_000), ("Mohm", "megohm", "M\u03a9", "M\u2126")),
    ),
    us="Ω",
    si_decimals=0,
    us_decimals=0,
)
KINDS = {
    "metres": LENGTH,
    "size": SIZE,
    "area": AREA,
    "film": FILM,
    "volts": VOLTAGE,
    "celsius": TEMPERATURE,
    "percent": PERCENT,
    "hours": DURATION,
    "speed": SPEED,
    "ohms": RESISTANCE,
}

LONGEST = 40  # characters; no quantity needs more, and a number of a thousand digits is no quantity
_SPACES = re.compile(r"[\s\u00a0\u2007\u2009\u202f]+")
_SAID = re.compile(r"^([+-]?)(\d{1,3}(?: \d{3})+|\d+)?(?:([.,])(\d+))?\s*(.*)$")


class NotRead(ValueError):
    """The text is no such quantity; the message says what is wrong with it and what can be written."""


def read(text: str, kind: Kind) -> tuple[Decimal, Unit | None]:
    """The number and the unit (None: none was written) in `text`, such as "12 mil", "0,3 mm", "10 000 V".

    Raises NotRead. A comma is a decimal comma; one before exactly three digits might part thousands and is refused.
    """
    tidy = _SPACES.sub(" ", text.replace("\u2212", "-").replace("\u2013", "-")).strip()
    found = _SAID.match(tidy) if len(tidy) <= LONGEST else None
    if found is None or not (found[2] or found[4]):
        raise NotRead(say("does not start with a number"))
    sign, whole, mark, part, rest = found.groups()
    if mark == "," and part and len(part) == 3 and whole and len(whole) <= 3 and int(whole) > 0:
        raise NotRead(say("can be read two ways: write thousands without a comma, decimals with a point"))
    number = Decimal(f"{sign}{(whole or '0').replace(' ', '')}.{part or '0'}")
    if not rest:
        return number, None
    unit = kind.find(rest.strip())
    if unit is None:
        raise NotRead(say('has the unit "{rest}"', rest=rest.strip()))
    return number, unit


def to_si(number: Decimal, unit: Unit) -> Decimal:
    return (number + unit.shift) * unit.factor


def from_si(value: float | Decimal, unit: Unit) -> Decimal:
    return Decimal(str(value)) / unit.factor - unit.shift


def show(
    value: float | int | Decimal | None, kind: str, units_of_person: str = "si", decimals: int | None = None
) -> str:
    """The figure for a reader: `show(21.44, "area")` is "21.4 m²", `show(305, "film", "us")` is "12.0 mil".

    `kind` is a key of KINDS; `units_of_person` is "si" or "us"; None is shown as a dash.
    """
    if value is None:
        return "–"
    what = KINDS[kind]
    us = units_of_person == "us"
    unit = what.unit(what.us) if us else what.si
    if what is RESISTANCE:
        return in_ohms(float(value))
    if decimals is None:
        decimals = what.us_decimals if us else what.si_decimals
        if kind == "area" and 0 < value < 0.1:
            # A patch of a few square centimetres would read as nothing.
            decimals += 2
    figure = f"{from_si(value, unit):.{decimals}f}"
    if float(figure) == 0:
        figure = figure.lstrip("-")
    return f"{figure.replace('-', chr(0x2212))} {unit.name}"


def show_as_given(value: float | None, said: str, kind: str, units_of_person: str = "si") -> str:
    """The figure for a reader with the words it was given in, once where they say the same; "" where nothing was given."""
    shown = show(value, kind, units_of_person)
    return said if not said or said.startswith(shown) else say("{shown}, given as {said}", shown=shown, said=said)


@extend_schema_field(
    {"oneOf": [{"type": "number"}, {"type": "string", "maxLength": LONGEST}], "description": "SI, or text with a unit."}
)
class QuantityField(serializers.Field):
    """Takes a number (SI) or text with a unit; gives a Quantity. `min_value` and `max_value` are in SI.

    `page_unit` and `page_unit_us` are what a bare number typed on a page means, and are printed beside its box.
    """

    kind: ClassVar[Kind]
    default_error_messages = {
        "unread": '"{said}" {problem}. {allowed}',
        "low": _('"{said}" is below the least allowed. {allowed}'),
        "high": _('"{said}" is above the most allowed. {allowed}'),
    }

    def __init__(
        self,
        *,
        min_value: float | None = None,
        max_value: float | None = None,
        page_unit: str | None = None,
        page_unit_us: str | None = None,
        **kwargs: Any,
    ) -> None:
        self.min_value = min_value
        self.max_value = max_value
        self.page_unit = page_unit or self.kind.si.name
        self.page_unit_us = page_unit_us or (page_unit if page_unit else self.kind.us)
        super().__init__(**kwargs)

    @property
    def allowed(self) -> str:
        """What can be given, as a sentence."""
        names = [unit.name for unit in self.kind.units]
        words = (
            say("Write a number in {list} or {names}", list=", ".join(names[:-1]), names=names[-1])
            if len(names) > 1
            else say("Write a number in {names}", names=names[0])
        )
        si = self.kind.si.name
        low, high = self.min_value, self.max_value
        if low is not None and high is not None:
            return say("{words}, from {low:g} to {high:g} {si}.", words=words, low=low, high=high, si=si)
        if low is not None:
            return say("{words}, {low:g} {si} or more.", words=words, low=low, si=si)
        if high is not None:
            return say("{words}, {high:g} {si} or less.", words=words, high=high, si=si)
        return f"{words}."

    def unit_for(self, units_of_person: str) -> str:
        return self.page_unit_us if units_of_person == "us" else self.page_unit

    def to_internal_value(self, data: Any) -> Quantity:
        said = str(data).strip()
        if isinstance(data, bool) or not isinstance(data, int | float | Decimal | str):
            self.fail("unread", said=said, problem=say("is not a quantity"), allowed=self.allowed)
        try:
            if isinstance(data, str):
                number, unit = read(data, self.kind)
            else:
                number, unit = Decimal(str(data)), None
                if not number.is_finite():
                    raise NotRead(say("is not a number"))
        except NotRead as problem:
            self.fail("unread", said=said, problem=str(problem), allowed=self.allowed)
        if unit is None:
            said = f"{said} {self.kind.si.name}"
        value = to_si(number, unit or self.kind.si)
        if self.min_value is not None and value < Decimal(str(self.min_value)):
            self.fail("low", said=said, allowed=self.allowed)
        if self.max_value is not None and value > Decimal(str(self.max_value)):
            self.fail("high", said=said, allowed=self.allowed)
        return Quantity(self.figure(value, said), said)

    def figure(self, value: Decimal, said: str) -> float:
        return float(value)

    def to_representation(self, value: Any) -> Any:
        return value.value if isinstance(value, Quantity) else value


class LengthField(QuantityField):
    kind = LENGTH


class AreaField(QuantityField):
    kind = AREA


class FilmField(QuantityField):
    """Film thickness in um."""

    kind = FILM


class VoltField(QuantityField):
    """A test voltage; whole volts, because settings are compared as integers."""

    kind = VOLTAGE
    default_error_messages = {"part": _('"{said}" is not a whole number of volts. {allowed}')}

    def figure(self, value: Decimal, said: str) -> float:
        if value != value.to_integral_value():
            self.fail("part", said=said, allowed=self.allowed)
        return int(value)


class OhmField(QuantityField):
    """A resistance in whole ohms."""

    kind = RESISTANCE
    default_error_messages = {"part": _('"{said}" is not a whole number of ohms. {allowed}')}

    def figure(self, value: Decimal, said: str) -> float:
        if value != value.to_integral_value():
            self.fail("part", said=said, allowed=self.allowed)
        return int(value)


class TemperatureField(QuantityField):
    kind = TEMPERATURE

    def __init__(self, *, min_value: float = -60.0, max_value: float = 120.0, **kwargs: Any) -> None:
        super().__init__(min_value=min_value, max_value=max_value, **kwargs)


class PercentField(QuantityField):
    kind = PERCENT

    def __init__(self, *, min_value: float = 0.0, max_value: float = 100.0, **kwargs: Any) -> None:
        super().__init__(min_value=min_value, max_value=max_value, **kwargs)


class DurationHoursField(QuantityField):
    kind = DURATION

    def __init__(self, *, min_value: float = 0.0, **kwargs: Any) -> None:
        super().__init__(min_value=min_value, **kwargs)


class SpeedField(QuantityField):
    kind = SPEED
