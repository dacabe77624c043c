"""Can the readings be? Checks and thickness alike to the digit, steel warmer than the air, air measured long before. No Django."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from accounts.wording import noted
from inspections.course import Air, Course, SpotRead, ask_of_run, in_order, places_of
from inspections.questions import Figure, Question, ask

ALIKE = 3
"""Readings in a row; our own choice."""
FEWEST_ALIKE_READINGS = 6
"""In spots alike in a row: three single readings alike are nothing odd. Our own choice."""
COARSE = 0.005
"""Share of a reading that its last digit may be worth; coarser ones are alike by themselves. Our own choice."""
WARMER = 1.0  # degC; our own choice, about what a surface probe and a hygrometer may differ by
NIGHT = (22, 4)  # from and to, by the asset's clock; our own choice
AIR_LASTS = timedelta(hours=4)
"""Our own choice; specifications differ."""
_FIGURE = re.compile(r"\d+(?:[.,](\d+))?")


def sun_on(at: datetime, *, inside: bool) -> bool | None:
    """Whether sun may have warmed what was measured at a moment of the asset's clock: False inside or at night, else not known.

    Night is from 22:00 to 4:00, our own choice: no place is known precisely enough to say when the sun was up.
    """
    evening, morning = NIGHT
    return False if inside or at.hour >= evening or at.hour < morning else None


def same_checks(course: Course) -> Iterator[Question]:
    """Checks of the output that read the same again and again: one question of the run, however often, and one answer to it."""
    ordered = sorted(course.checks, key=lambda check: (check.order, str(check.id)))
    rows = [list(same) for measured, same in groupby(ordered, key=lambda check: check.measured) if measured is not None]
    alike = [checks for checks in rows if len(checks) >= ALIKE]
    if alike:
        longest = max(alike, key=len)
        yield ask_of_run(
            "same_checks",
            course,
            [course.id],
            alike[0][ALIKE - 1].at,
            noted(
                "{count} checks in a row, from {start} to {end}, read {volts} to the digit. A steady detector may well do so: was "
                "the output read each time?"
            ),
            "",
            {
                "count": Figure(len(longest), "count"),
                "start": Figure(longest[0].at, "moment"),
                "end": Figure(longest[-1].at, "moment"),
                "volts": Figure(longest[0].measured or 0, "volts"),
            },
        )


def air_questions(course: Course) -> Iterator[Question]:
    """Air and steel missing from a run, or measured long before its swaths."""
    if not course.swept:
        return
    last = max(swath.ended_at for swath in course.swept)
    times = sorted(air.at for air in course.airs if course.opened_at - AIR_LASTS <= air.at <= last)
    figures = {
        "opened": Figure(course.opened_at, "moment"),
        "end": Figure(last, "moment"),
        "most": Figure(AIR_LASTS.total_seconds(), "duration"),
    }
    if not times:
        sentence = noted(
            "The run was opened at {opened} and swept until {end}, and neither air nor steel is recorded, from {most} before it "
            "on. Were they measured?"
        )
        yield ask_of_run("air_missing", course, [course.id], last, sentence, "", figures)
        return
    seen: set[datetime | None] = set()
    for swath in in_order(course.swept):
        measured = max((at for at in times if at <= swath.ended_at), default=None)
        begun = measured or course.opened_at - AIR_LASTS
        age = swath.ended_at - begun
        if age <= AIR_LASTS or measured in seen:
            continue
        seen.add(measured)
        yield ask_of_run(
            "air_old",
            course,
            [swath.id],
            swath.ended_at,
            noted(
                "{place} was swept until {ended}, {age} after air and steel were last measured. Were they measured in between?"
            )
            if measured
            else noted(
                "{place} was swept until {ended}, before air and steel were first measured. Were they measured earlier?"
            ),
            noted("Asked above {most}."),
            {
                "place": Figure(swath.said, "words"),
                "ended": Figure(swath.ended_at, "moment"),
                "age": Figure(age.total_seconds(), "duration"),
                "most": figures["most"],
            },
        )


def warm_steel(airs: Iterable[Air]) -> Iterator[Question]:
    """Steel warmer than the air where no sun was."""
    for row in airs:
        warmest = max(row.steel, default=row.air)
        if row.sun is not False or warmest - row.air < WARMER:
            continue
        where = (
            noted(
                "On {at} the steel was {steel} and the air {air}: {warmer} warmer inside, where no sun gets. What warmed it?"
            )
            if row.inside
            else noted("On {at} the steel was {steel} and the air {air}: {warmer} warmer at night. What warmed it?")
        )
        yield ask(
            "warm_steel",
            None,
            [row.id],
            row.at,
            where,
            noted("{steel} − {air} = {warmer}"),
            {
                "at": Figure(row.at, "moment"),
                "steel": Figure(warmest, "celsius"),
                "air": Figure(row.air, "celsius"),
                "warmer": Figure(warmest - row.air, "degrees"),
            },
        )


def same_film(spots: Iterable[SpotRead]) -> Iterator[Question]:
    """Thickness readings that are alike to the digit, from spot to spot, or within spots: those are one question."""
    ordered = sorted(spots, key=lambda spot: (spot.at, str(spot.id)))
    within: list[SpotRead] = []
    for readings, same in groupby(ordered, key=lambda spot: spot.readings):
        alike = list(same)
        equal = len(set(readings)) == 1
        if equal and told_coarsely(readings[0]):
            continue
        if len(alike) >= ALIKE and len(alike) * len(readings) >= FEWEST_ALIKE_READINGS:
            yield ask(
                "same_film",
                None,
                [spot.id for spot in alike],
                alike[-1].at,
                noted(
                    "{count} spots in a row, from {place} on, have the same readings: {readings}. Were they all taken?"
                ),
                "",
                {
                    "count": Figure(len(alike), "count"),
                    "place": Figure(alike[0].said, "words"),
                    "readings": Figure(readings, "readings"),
                },
            )
        elif equal and len(readings) >= ALIKE:
            within += alike
    if within:
        yield _alike_within(within)


def told_coarsely(reading: str) -> bool:
    """Whether the last digit of a reading is worth more than 0.5 % of it: such readings are often alike.

    >>> told_coarsely("20 mil"), told_coarsely("512 µm")
    (True, False)
    """
    found = _FIGURE.search(reading)
    if found is None or not float(found[0].replace(",", ".")):
        return True
    return 10 ** -len(found[1] or "") > COARSE * float(found[0].replace(",", "."))


def _alike_within(spots: Sequence[SpotRead]) -> Question:
    first = spots[0]
    one = len(spots) == 1
    figures = {
        "place": Figure(first.said, "words"),
        "count": Figure(len(first.readings), "count"),
        "reading": Figure(first.readings[:1], "readings"),
    }
    many = {"spots": Figure(len(spots), "count"), "places": places_of(spots)}
    return ask(
        "same_film",
        None,
        [spot.id for spot in spots],
        spots[-1].at,
        noted("{place}: all {count} readings say {reading}. Were they all taken?")
        if one
        else noted("{spots} spots have readings that are all alike: {places}. Were they all taken?"),
        "",
        figures if one else many,
    )
