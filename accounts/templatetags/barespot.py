"""Template filters for figures and times: `{{ area|area:units }}` where `units` is the reader's ("si" or "us").

`{{ run.opened_at|when:asset }}` prints a moment in the asset's time zone.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.utils import timezone

from accounts.ids import new_id
from accounts.languages import day_words, moment_words
from accounts.units import show
from accounts.wording import say

register = template.Library()


@register.filter
def metres(value: float | None, units: str = "si") -> str:
    return show(value, "metres", units)


@register.filter
def size(value: float | None, units: str = "si") -> str:
    return show(value, "size", units)


@register.filter
def area(value: float | None, units: str = "si") -> str:
    return show(value, "area", units)


@register.filter
def film(value: float | None, units: str = "si") -> str:
    return show(value, "film", units)


@register.filter
def volts(value: float | None, units: str = "si") -> str:
    return show(value, "volts", units)


@register.filter
def ohms(value: float | None) -> str:
    return show(value, "ohms")


@register.filter
def celsius(value: float | None, units: str = "si") -> str:
    return show(value, "celsius", units)


@register.filter
def percent(value: float | None) -> str:
    return show(value, "percent")


@register.filter
def hours(value: float | None) -> str:
    return show(value, "hours")


@register.filter
def when(moment: datetime | None, zone: Any = "UTC") -> str:
    """ "14 May, 16:40" in the zone (an asset, its zone or its name); the year is added when it is not this one."""
    if moment is None:
        return "–"
    where = getattr(zone, "zone_info", zone) or "UTC"
    local = moment.astimezone(ZoneInfo(where) if isinstance(where, str) else where)
    return moment_words(local)


@register.filter
def clocks(zones: Any) -> str:
    """ "Europe/Oslo, CET (UTC+01:00)" of an asset, a zone or the zone's name; of several, each clock once."""
    several = [zones] if isinstance(zones, str) or hasattr(zones, "zone_info") else zones
    return "; ".join(sorted({_clock(each) for each in several}))


def _clock(zone: Any) -> str:
    where = getattr(zone, "zone_info", zone)
    now = timezone.now().astimezone(ZoneInfo(where) if isinstance(where, str) else where)
    return f"{where}, {now:%Z} (UTC{now.isoformat()[-6:]})"


@register.filter
def day(date: Any) -> str:
    """ "14 May 2031", in the reader's language."""
    return day_words(date) if date else "–"


@register.filter
def spoken(words: Any) -> str:
    """A word or sentence of ours that was noted elsewhere, in the reader's language."""
    return say(str(words))


@register.simple_tag(name="new_id")
def fresh_id() -> str:
    """An id for one press: put it in a hidden field `id`, and pressing twice is one operation."""
    return str(new_id())
