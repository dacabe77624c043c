"""Do the lanes fit? Their overlap, their width beside the electrode's, and places swept again. No Django."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from accounts.wording import noted
from inspections.course import Course, Swept, ask_of_run, in_order, places_of
from inspections.questions import Figure, Question
from mapping.lanes import lane_count

SAME_WIDTH = 1e-3  # m


def lane_questions(course: Course) -> Iterator[Question]:
    """Every question about the lanes of a run; none where no electrode was used."""
    if course.electrical and course.electrode:
        yield from _divisions(course)
        yield from _wide_lanes(course, course.electrode)
        yield from _swept_again(course)


def _divisions(course: Course) -> Iterator[Question]:
    """Lanes of one division: do they overlap as much as asked, and are there no more than that takes?"""
    divided: dict[tuple[int, float, float, bool], list[Swept]] = {}
    for swath in course.swept:
        if swath.lane and swath.lane.of > 1:
            _, *division = swath.lane
            divided.setdefault(tuple(division), []).append(swath)  # type: ignore[arg-type]
    for (of, width, across, closed), swaths in sorted(divided.items()):
        asked = min(course.overlap, width / 2)
        needed = lane_count(across, width, asked, closed=closed)
        if of == needed:
            continue
        overlap = width - across / of if closed else (of * width - across) / (of - 1)
        few = of < needed
        sentence = (
            noted(
                "{of} lanes {width} wide on ground {across} wide overlap by {overlap}; {asked} are asked for, which takes "
                "{needed} lanes. Was anything left between them?"
            )
            if few
            else noted(
                "{of} lanes {width} wide on ground {across} wide overlap by {overlap}; {asked} are asked for, and {needed} lanes "
                "would do. Is the electrode narrower than noted?"
            )
        )
        yield ask_of_run(
            "lanes_few" if few else "lanes_many",
            course,
            [course.id, f"{of} x {width:g} on {across:.4g}"],
            max(swath.ended_at for swath in swaths),
            sentence,
            noted("{width} − {across} / {of} = {overlap}")
            if closed
            else noted("({of} × {width} − {across}) / ({of} − 1) = {overlap}"),
            {
                "of": Figure(of, "count"),
                "needed": Figure(needed, "count"),
                "width": Figure(width, "metres"),
                "across": Figure(across, "metres"),
                "overlap": Figure(overlap, "metres"),
                "asked": Figure(asked, "metres"),
            },
        )


def _wide_lanes(course: Course, electrode: float) -> Iterator[Question]:
    wide = in_order(s for s in course.swept if s.lane and s.lane.width > electrode + SAME_WIDTH)
    for width, same in groupby(sorted(wide, key=lambda s: s.lane.width), key=lambda s: s.lane.width):  # type: ignore[union-attr]
        swaths = in_order(same)
        yield ask_of_run(
            "wide_lane",
            course,
            [course.id, f"{width:g}"],
            swaths[-1].ended_at,
            noted("{place}: the lane is {width} wide, the electrode {electrode}. How was the rest of it swept?"),
            noted("Swaths of lanes that wide: {count}."),
            {
                "place": Figure(swaths[0].said, "words"),
                "width": Figure(width, "metres"),
                "electrode": Figure(electrode, "metres"),
                "count": Figure(len(swaths), "count"),
            },
        )


def _swept_again(course: Course) -> Iterator[Question]:
    """Places marked again while what was swept there before stands."""
    standing: set[str] = set()
    again = []
    for swath in in_order(course.swept):
        if swath.said in standing:
            again.append(swath)
        elif swath.stands:
            standing.add(swath.said)
    if again:
        yield ask_of_run(
            "swept_again",
            course,
            [swath.id for swath in again],
            again[-1].ended_at,
            noted("Marked again, though this run had swept it and it stands: {places}. Was it swept twice?"),
            noted("Swaths marked again: {count}."),
            {"places": places_of(again), "count": Figure(len(again), "count")},
        )
