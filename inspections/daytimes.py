"""Days and clock times as a crew writes them, one row under the other. No Django."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

from accounts.wording import say

HALF_DAY = timedelta(hours=12)
_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})|(\d{1,2})\.(\d{1,2})\.(\d{4})|(\d{1,2}) ([a-z]{3,9}) (\d{4})", re.ASCII)
_TIME = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d))? ?(am|pm)?", re.ASCII)
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
           "december")  # fmt: skip


class Days:
    """The day that the next clock time belongs to.

    Rows are in the order of recording: a time more than twelve hours before the one above is of the next day, and once
    midnight was passed, one more than twelve hours after the one above is of the day before. A date begins anew.
    """

    def __init__(self) -> None:
        self.declared: date | None = None
        self.day: date | None = None
        self.last: datetime | None = None

    def begin(self, day: date) -> None:
        self.declared = self.day = day
        self.last = None

    def place(self, text: str) -> datetime:
        """The moment of a clock time, or of a date with a time. Raises ValueError naming what is allowed."""
        written = _DAY.match(text.lower())
        clock = read_time(text[written.end() :] if written else text)
        if written:
            self.begin(read_day(written.group()))
        if self.day is None or self.declared is None:
            raise ValueError(say("has no day; a row date stands above the first time."))
        at = datetime.combine(self.day, clock)
        if self.last is not None:
            if self.last - at > HALF_DAY:
                at += timedelta(days=1)
            elif at - self.last > HALF_DAY and self.day > self.declared:
                at -= timedelta(days=1)
        self.day, self.last = at.date(), at
        return at


def read_day(text: str) -> date:
    """A day written 2031-05-14, 14.05.2031 or 14 May 2031. Raises ValueError naming what is allowed."""
    found = _DAY.fullmatch(" ".join(text.lower().split()))
    if found is None:
        raise ValueError(
            say("is no day; write it like 2031-05-14, 14.05.2031 or 14 May 2031 (with strokes it has two readings).")
        )
    year, month, day, day_2, month_2, year_2, day_3, name, year_3 = found.groups()
    if name:
        month_3 = next((number for number, month_name in enumerate(_MONTHS, 1) if month_name.startswith(name)), 0)
        parts = (int(year_3), month_3, int(day_3))
    else:
        parts = (int(year or year_2), int(month or month_2), int(day or day_2))
    try:
        return date(*parts)
    except ValueError:
        raise ValueError(say("is no day of the calendar; write it like 2031-05-14.")) from None


def read_time(text: str) -> time:
    """A time of day written 6:30, 18:05, 18:05:30 or 6:05 pm. Raises ValueError naming what is allowed."""
    found = _TIME.fullmatch(text.strip().lower())
    hour, minute, second = (int(part or 0) for part in found.groups()[:3]) if found else (99, 0, 0)
    half = found[4] if found else None
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "pm" else 0)
    elif half:
        hour = 99
    if hour > 23 or minute > 59 or second > 59:
        raise ValueError(say("is no time; write it like 6:30, 18:05 or 6:05 pm, from 0:00 to 23:59."))
    return time(hour, minute, second)
