"""Station equations as they are given: where an asset's stationing jumps, as pairs or one a line."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.wording import noted, say

CHAINAGE = r"([-\u2212]?)(?:(\d+)\+)?(\d+(?:\.\d*)?)"
LINE = re.compile(rf"^\s*{CHAINAGE}\s*(?:back)?\s*=\s*{CHAINAGE}\s*(?:ahead)?\s*$", re.IGNORECASE)
ALLOWED = noted(
    'Write pairs of chainages, one a line, as they are spoken ("1+225.00 back = 1+250.00 ahead") or in plain metres or feet '
    '("1225.00 back = 1250.00 ahead").'
)
STATION = {"metric": 1000, "imperial": 100}
"""How much a number before the plus counts, in the asset's unit: kilometres of metres, or stations of feet."""


@extend_schema_field(
    {
        "oneOf": [
            {"type": "array", "items": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}},
            {"type": "string"},
        ],
        "description": "Pairs of back and ahead chainage in the asset's unit, or one equation a line, also as stations.",
    }
)
class StationEquationsField(serializers.Field):
    """Takes [[back, ahead], ...] or text with one equation a line; gives pairs in the asset's unit.

    `system_in` names the sibling that says how places are spoken; whatever is not metric there counts stations of 100 ft.
    """

    allowed = ALLOWED

    def __init__(self, *, system_in: str = "unit_system", **kwargs: Any) -> None:
        self.system_in = system_in
        super().__init__(style={"base_template": "textarea.html", "rows": 3}, **kwargs)

    def to_internal_value(self, data: Any) -> list[list[float]]:
        if isinstance(data, str):
            return [_equation(line, self._station()) for line in data.splitlines() if line.strip()]
        if not isinstance(data, list):
            raise serializers.ValidationError(
                say('"{data}" is no list of station equations. {allowed}', data=data, allowed=say(ALLOWED))
            )
        return [_pair(item) for item in data]

    def to_representation(self, value: Any) -> Any:
        return value

    def _station(self) -> int:
        given = getattr(self.parent, "initial_data", None) or {}
        return STATION["metric" if given.get(self.system_in, "metric") == "metric" else "imperial"]


def _equation(line: str, station: int) -> list[float]:
    found = LINE.match(line)
    if found is None:
        raise serializers.ValidationError(
            say('"{line}" is no station equation. {allowed}', line=line.strip(), allowed=say(ALLOWED))
        )
    parts = found.groups()
    return [_chainage(line, station, *parts[:3]), _chainage(line, station, *parts[3:])]


def _chainage(line: str, station: int, sign: str, stations: str | None, rest: str) -> float:
    offset = float(rest)
    if stations is not None and offset >= station:
        raise serializers.ValidationError(
            say(
                '"{line}" is no station equation: after the plus stands less than {station}.',
                line=line.strip(),
                station=station,
            )
        )
    return round((int(stations or 0) * station + offset) * (-1 if sign else 1), 6)


def _pair(item: Any) -> list[float]:
    numbers = isinstance(item, list | tuple) and len(item) == 2 and all(type(each) in (int, float) for each in item)
    if not numbers or not all(math.isfinite(each) for each in item):
        raise serializers.ValidationError(
            say('"{item}" is no station equation. {allowed}', item=item, allowed=say(ALLOWED))
        )
    return [float(each) for each in item]


def check_equations(equations: Sequence[Sequence[float]], start: float) -> None:
    """Refuse equations that could not be told apart in speech.

    Written to 0.01; back and ahead differ; in order along the asset; no chainage occurs more than twice.
    """
    low, sections = start, []
    for back, ahead in equations:
        said = f'"{back:g} back = {ahead:g} ahead"'
        if any(abs(each * 100 - round(each * 100)) > 1e-6 for each in (back, ahead)):
            _refuse(say("{said} is finer than 0.01. Write chainages to two decimals.", said=said))
        if back == ahead:
            _refuse(say("{said} does not jump. Back and ahead must differ.", said=said))
        if back <= low:
            _refuse(
                say("{said} is out of order. Back must be above {low:g}, where its section begins.", said=said, low=low)
            )
        sections.append((low, back))
        low = ahead
    sections.append((low, math.inf))
    for begins, _ in sections:
        if sum(first <= begins <= last for first, last in sections) > 2:
            _refuse(
                say(
                    "Chainage {begins:g} would occur more than twice; back and ahead tell only two apart.",
                    begins=begins,
                )
            )


def _refuse(message: str) -> None:
    raise serializers.ValidationError({"station_equations": [message]})
