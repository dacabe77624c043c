"""Was it swept too fast? Swath by swath, and where several share the clock. Ground hangs on these questions. No Django."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from math import inf

from accounts.wording import noted
from inspections.course import Course, Swept, ask_of_run, places_of, seconds_of
from inspections.questions import Figure, Question, Verdict
from inspections.standing import TooFast
from inspections.sweep import is_too_fast
from inspections.together import Job, crowded
from mapping.lanes import least_seconds

_MADE_OF: Mapping[Verdict | None, TooFast] = {"so it was": "so", "explained": "not so"}
_WORST: tuple[TooFast, ...] = ("so", "asked", "not so")


def least_of(swath: Swept, electrode: float | None, speed_limit: float) -> float:
    """Least possible time (s) of a swath: area / (electrode width * speed), along a weld or edge length / speed."""
    if swath.length:
        return swath.length / speed_limit
    return least_seconds(swath.area, electrode, speed_limit) if electrode else 0.0


def too_fast(course: Course, said: Mapping[str, Verdict]) -> dict[Hashable, TooFast]:
    """What the questions of speed make of each swath they are about, by its id; `said` are the last answers by key.

    Of several questions about one swath the worst counts: swept too fast over still asked over explained. A record that is
    to be corrected is still asked about, until it is corrected.
    """
    found: dict[Hashable, TooFast] = {}
    for question in speed_questions(course):
        now = _MADE_OF.get(said.get(question.key), "asked")
        for pk in question.about:
            found[pk] = min(now, found.get(pk, now), key=_WORST.index)
    return found


def speed_questions(course: Course) -> Iterator[Question]:
    """The questions of speed, on which ground hangs: each swath by itself, then those that share the clock."""
    if not course.electrode:
        return
    fits: list[Swept] = []
    for swath in course.swept:
        asked = _too_fast(course, swath, course.electrode)
        if asked is None:
            fits.append(swath)
        else:
            yield asked
    yield from _together(course, fits, course.electrode)


def _too_fast(course: Course, swath: Swept, electrode: float) -> Question | None:
    taken, limit = seconds_of(swath), course.speed_limit
    along = swath.length > 0
    # A line is swept once along it: its least time is that of a swath as wide as the electrode.
    area = swath.length * electrode if along else swath.area
    if not is_too_fast(area, taken, electrode, limit):
        return None
    least = least_of(swath, electrode, limit)
    speed = area / (electrode * taken) if taken > 0 else inf
    figures = {
        "place": Figure(swath.said, "words"),
        "taken": Figure(taken, "duration"),
        "least": Figure(least, "duration"),
        "limit": Figure(limit, "speed"),
        "speed": Figure(speed, "speed"),
    }
    if along:
        code, figures["length"] = "feature_speed", Figure(swath.length, "metres")
        sentence = noted(
            "{place}: {length} in {taken}; at the limit of {limit} it takes at least {least}. Was it swept too fast?"
        )
        arithmetic = noted("{length} / {limit} = {least}. Speed that {taken} takes: {speed}.")
    else:
        code = "ground_speed"
        figures |= {"area": Figure(area, "area"), "width": Figure(electrode, "metres")}
        sentence = noted(
            "{place}: {area} in {taken} with an electrode of {width}; at the limit of {limit} it takes at least {least}. "
            "Was it swept too fast?"
        )
        arithmetic = noted("{area} / ({width} × {limit}) = {least}. Speed that {taken} takes: {speed}.")
    return ask_of_run(code, course, [swath.id], swath.ended_at, sentence, arithmetic, figures)


def _together(course: Course, swept: Sequence[Swept], electrode: float) -> Iterator[Question]:
    by_id = {swath.id: swath for swath in swept}
    jobs = [
        Job(
            swath.id,
            swath.started_at.timestamp(),
            swath.ended_at.timestamp(),
            least_of(swath, electrode, course.speed_limit),
        )
        for swath in swept
    ]
    for one in crowded(jobs):
        within = [by_id[pk] for pk in one.ids]
        yield ask_of_run(
            "together_speed",
            course,
            one.ids,
            max(swath.ended_at for swath in within),
            noted(
                "Between {start} and {end}, that is {taken}, these were swept: {places}. Each fits its own times, but together "
                "they take at least {least}. Were they swept too fast?"
            ),
            noted("Least possible times together {least}, and the clock had {taken}; swaths: {count}."),
            {
                "start": Figure(min(swath.started_at for swath in within), "moment"),
                "end": Figure(max(swath.ended_at for swath in within), "moment"),
                "taken": Figure(one.end - one.start, "duration"),
                "least": Figure(one.least, "duration"),
                "places": places_of(within),
                "count": Figure(len(within), "count"),
            },
        )
