"""What to ask about a run and about readings: times, lanes, battery, permit, and readings that are too alike.

Facts in, questions out, whatever the order of the facts. Nothing here is a verdict, and nothing depends on the present
time. No Django.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from itertools import pairwise

from accounts.wording import noted
from inspections.course import Air, Course, SpotRead, ask_of_run, in_order, places_of
from inspections.odd_lanes import lane_questions
from inspections.odd_readings import air_questions, same_checks, same_film, warm_steel
from inspections.odd_speed import speed_questions
from inspections.permits import Work, work_without_permit
from inspections.questions import Figure, Question

LONG_ON_BATTERY = timedelta(hours=8)
"""Common practice: batteries last about 8 to 40 h by unit and voltage."""
BACKWARDS = timedelta(minutes=1)
"""Our own choice: presses are recorded to the second, times by hand to the minute."""


def questions_of(course: Course) -> list[Question]:
    """Every question about a run, in order of code and key.

    Raises ValueError for an area, width or speed that cannot be.
    """
    asked = [*speed_questions(course), *lane_questions(course), *_after_permit(course), *_clock_back(course)]
    if course.electrical:
        asked += [*_battery(course), *same_checks(course), *air_questions(course)]
    return sorted(asked, key=lambda question: (question.code, question.key))


def questions_on_readings(airs: Iterable[Air], spots: Iterable[SpotRead]) -> list[Question]:
    """Questions about what hangs on no run: air and steel, and thickness."""
    asked = [*warm_steel(airs), *same_film(spots)]
    return sorted(asked, key=lambda question: (question.code, question.key))


def _battery(course: Course) -> Iterator[Question]:
    presses = [swath.ended_at for swath in course.swept] + [check.at for check in course.checks]
    if not presses:
        return
    changes = sorted(course.batteries, key=lambda change: (change.at, str(change.id)))
    last = max([*presses, *(change.at for change in changes)])
    begun = [(course.id, course.opened_at), *((change.id, change.at) for change in changes)]
    ended = [*(change.at for change in changes), last]
    for (row, start), end in zip(begun, ended, strict=True):
        if end - start > LONG_ON_BATTERY:
            yield ask_of_run(
                "battery",
                course,
                [course.id, row],
                end,
                noted(
                    "From {start} to {end} the run went {taken} and no change of the battery is noted. Was it changed?"
                ),
                noted("{end} − {start} = {taken}; asked above {most}."),
                {
                    "start": Figure(start, "moment"),
                    "end": Figure(end, "moment"),
                    "taken": Figure((end - start).total_seconds(), "duration"),
                    "most": Figure(LONG_ON_BATTERY.total_seconds(), "duration"),
                },
            )


def _after_permit(course: Course) -> Iterator[Question]:
    """Swaths made while none of the permits held that the run was under, renewals among them."""
    if not course.permits:
        return
    last = max(course.permits, key=lambda permit: (permit.expires_at, str(permit.id)))
    work = [Work(swath.id, swath.started_at, max(swath.started_at, swath.ended_at)) for swath in course.swept]
    bare = {each.id for each in work_without_permit(course.permits, work)}
    late = in_order(swath for swath in course.swept if swath.id in bare)
    if late:
        yield ask_of_run(
            "after_permit",
            course,
            [last.id, *(swath.id for swath in late)],
            max(swath.ended_at for swath in late),
            noted(
                "Swept while no permit held: {places}. Permit {permit} held until {until}, and no other is recorded for those times. "
                "Was there one?"
            ),
            noted("Swaths with no permit: {count}, the last ended at {end}."),
            {
                "permit": Figure(last.name, "words"),
                "until": Figure(last.expires_at, "moment"),
                "places": places_of(late),
                "count": Figure(len(late), "count"),
                "end": Figure(max(swath.ended_at for swath in late), "moment"),
            },
        )


def _clock_back(course: Course) -> Iterator[Question]:
    """Presses in order of recording whose clock goes back; what was timed by hand or written down afterwards is none."""
    presses = [(swath.order, swath.ended_at, swath.id) for swath in course.swept if not swath.hand_timed]
    presses += [(check.order, check.at, check.id) for check in course.checks if not check.hand_timed]
    presses.sort(key=lambda press: (press[0], press[1], str(press[2])))
    for (first, earlier, before), (second, later, after) in pairwise(presses):
        back = earlier - later
        if second > first and back > BACKWARDS:
            yield ask_of_run(
                "clock_back",
                course,
                [before, after],
                earlier,
                noted(
                    "What was recorded as number {second} has the time {later}, {back} before number {first} at {earlier}. Was the "
                    "clock set back, or is one of the times wrong?"
                ),
                "",
                {
                    "first": Figure(first, "count"),
                    "second": Figure(second, "count"),
                    "earlier": Figure(earlier, "moment"),
                    "later": Figure(later, "moment"),
                    "back": Figure(back.total_seconds(), "duration"),
                },
            )
