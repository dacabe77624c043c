"""The worksheet of sweeping: lanes, the time they take, and the least possible time."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.units import DurationHoursField, LengthField, SpeedField, plain, show
from accounts.wording import noted, say, say_many
from accounts.worksheets import Answer, Figure, Source, WorksheetGiven, refuse, worksheet
from inspections.cautions import cautions
from inspections.sweep import SPEED_LIMIT_M_S, speed_question
from mapping.lanes import lane_count, least_seconds, sweep_seconds

TESTING = _("Testing")
LANES = Source(noted("Width and overlap shared out evenly"), "", "plain arithmetic")
LEAST = Source(noted("Least possible time: area / (electrode width × speed)"), "", "common practice")
LIMIT = Source(noted("NACE SP0188: 0.3 m/s (1 ft/s)"), "2006", "from memory")


class SweepGiven(WorksheetGiven):
    width = LengthField(
        label=_("Width to sweep"),
        min_value=0.001,
        max_value=1e5,
        help_text=_("Across the lanes; around a pipe, its circumference."),
    )
    closed = serializers.BooleanField(
        label=_("It closes to a ring"), default=False, help_text=_("All around a pipe or a tank.")
    )
    length = LengthField(label=_("Length of a lane"), min_value=0.001, max_value=1e6)
    electrode = LengthField(label=_("Width of the electrode"), min_value=0.001, max_value=20)
    overlap = LengthField(label=_("Overlap of lanes"), min_value=0, max_value=20, default=0.0)
    speed = SpeedField(
        label=_("Speed"),
        min_value=0.001,
        max_value=5,
        default=SPEED_LIMIT_M_S,
        help_text=_("At most what the specification allows."),
    )
    taken = DurationHoursField(
        label=_("Time it took"), min_value=0, max_value=10_000, page_unit="min", allow_null=True, default=None,
        help_text=_("To ask whether that is possible at this speed."),
    )  # fmt: skip


@worksheet(
    "sweep",
    takes=SweepGiven,
    title=_("Sweep: lanes and time"),
    about=_(
        "How many lanes sweep a width, how long they take at the allowed speed, and the least time anybody could need."
    ),
    part=TESTING,
    example={"width": 3.833, "closed": True, "length": 96.0, "electrode": 0.4, "overlap": 0.05, "taken": "40 min"},
)
def sweep_worksheet(given: dict[str, Any], units: str) -> Answer:
    width, length = plain(given["width"]), plain(given["length"])
    electrode, overlap, speed = plain(given["electrode"]), plain(given["overlap"]), plain(given["speed"])
    try:
        count = lane_count(width, electrode, overlap, closed=given["closed"])
    except ValueError as problem:
        raise refuse("overlap", str(problem)) from problem
    area = width * length
    takes, least = sweep_seconds(count, length, speed), least_seconds(area, electrode, speed)
    formula = (
        say("width / (electrode − overlap), rounded up")
        if given["closed"]
        else say("(width − overlap) / (electrode − overlap), rounded up")
    )
    figures = [
        Figure("lanes", say("lanes"), count, "", str(count), formula, LANES),
        Figure(
            "time", say("time to sweep, without turning"), takes, "s", clock(takes),
            say("{lanes} × {length} / {speed}", lanes=count, length=show(length, "metres", units),
                speed=show(speed, "speed", units)), LANES,
        ),
        Figure("least", say("least possible time"), least, "s", clock(least), say("area / (electrode width × speed)"), LEAST),
        Figure("area", say("area"), area, "m²", show(area, "area", units), say("width × length"), LANES),
    ]  # fmt: skip
    sentences = [
        say_many("{count} lane, {time} to sweep.", "{count} lanes, {time} to sweep.", count, time=clock(takes)),
        say("Nobody can sweep it in less than {least} at this speed.", least=clock(least)),
    ]
    tone = ""
    if given["taken"] is not None:
        seconds = 3600 * plain(given["taken"])
        question = speed_question(area, seconds, electrode, speed)
        tone = "done" if question is None else "held"
        sentences.append(
            say("{taken} is possible.", taken=clock(seconds))
            if question is None
            else say("{taken} is too short: swept so, it is held until somebody answers for it.", taken=clock(seconds))
        )
    if speed > SPEED_LIMIT_M_S:
        figures.append(
            Figure("limit", say("usual limit of speed"), SPEED_LIMIT_M_S, "m/s", show(SPEED_LIMIT_M_S, "speed", units),
                   say("the speed given is above it"), LIMIT)
        )  # fmt: skip
    return Answer(
        " ".join(sentences),
        tuple(figures),
        cautions=tuple(say(each) for each in cautions("high_voltage_dc").short),
        tone=tone,  # type: ignore[arg-type]
    )


def clock(seconds: float) -> str:
    """ "1 h 12 min", "4 min 30 s", "12 s"."""
    whole = round(seconds)
    if whole >= 3600:
        return say("{hours} h {minutes} min", hours=whole // 3600, minutes=whole % 3600 // 60)
    if whole >= 60:
        return say("{minutes} min {seconds} s", minutes=whole // 60, seconds=whole % 60)
    return say("{seconds} s", seconds=whole)
