"""What happened on the main: sheets brought in, patches at every step, decisions taken and still to take."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from accounts.acting import perform
from repairs.demo.answering import answer_all
from repairs.demo.crossing import sweep_crossing
from repairs.demo.repairing import issue, pass_retests, repair, retest_swaths, settle, steps
from repairs.demo.setting import LANES, LENGTH, Setting


def tell(there: Setting) -> None:
    """Every section in its turn; what the last ones need is still to be done."""
    _released(there)
    _ready(there)
    _inrepair(there)
    _lost_and_held(there)
    _gaps(there)
    _sweeping_now(there)
    for name, section in (("section-08-A.xlsx", 8), ("section-09-A.csv", 9), ("section-10-A.csv", 10)):
        there.bring(name, section)
    there.bring("section-11-A.csv", 11)
    issue(there, 11, "2025-06-18 15:00")
    there.bring("section-12-A.csv", 12)
    _measured(there)
    sweep_crossing(there)


def _measured(there: Setting) -> None:
    """A gauge's file: one area measurement fails on a spot far too thin, which was bounded at once."""
    given = {
        "unit": "µm",
        "at": there.when("2025-06-18 16:00").isoformat(),
        "gauge": "DFT-310",
        "shift": "last coat",
        "file": there.upload("thickness.csv"),
    }
    perform("import_gauge_file", there.people["crew2"], there.coatings[12].pk, given)


def _released(there: Setting) -> None:
    there.bring("section-01-A.csv", 1)
    patches = issue(there, 1, "2025-05-28 09:00")
    for patch in patches:
        repair(there, patch, "2025-05-30", "2025-06-01")
    there.bring("section-01-B.csv", 1, "crew2")
    pass_retests(there, 1, patches, "2025-06-03 11:30")
    answer_all(there, there.coatings[1], "2025-06-03 12:30")
    there.do(
        "release_zone",
        "owner",
        there.coatings[1],
        conditions="Backfill with screened sand only; call before any work within 2 m.",
    )


def _ready(there: Setting) -> None:
    there.bring("section-02-A.xlsx", 2)
    patches = issue(there, 2, "2025-05-29 10:00")
    for patch in patches:
        repair(there, patch, "2025-05-31", "2025-06-02")
    there.bring("section-02-B.xlsx", 2, "crew2")
    pass_retests(there, 2, patches, "2025-06-04 13:00")
    answer_all(there, there.coatings[2], "2025-06-04 14:00")


def _inrepair(there: Setting) -> None:
    there.bring("section-03-A.csv", 3)
    patches = issue(there, 3, "2025-06-02 09:00")
    for patch in patches[:2]:
        repair(there, patch, "2025-06-05", "2025-06-07")
    there.bring("section-03-B.csv", 3, "crew2")
    swaths = retest_swaths(there, 3)
    settle(there, patches[0], swaths, "passed", "2025-06-12 10:00")
    settle(there, patches[1], swaths, "failed", "2025-06-12 10:10")
    steps(there, patches[1], [("prepared", None, "2025-06-19 07:30"), ("coated", 1, "2025-06-19 09:15")])
    repair(there, patches[2], "2025-06-10", "2025-06-12")
    repair(there, patches[3], "2025-06-15", "2025-06-17", hand_over=False)
    begun = [
        ("prepared", None, "2025-06-19 07:00"),
        ("coated", 1, "2025-06-19 08:50"),
        ("coated", 2, "2025-06-19 15:20"),
    ]
    steps(there, patches[4], begun)
    steps(there, patches[5], begun[:2])
    steps(there, patches[6], begun[:1])


def _lost_and_held(there: Setting) -> None:
    there.bring("section-04-A.csv", 4)
    there.bring("section-04-B.csv", 4)
    there.bring("section-05-A.csv", 5)


def _gaps(there: Setting) -> None:
    there.bring("section-06-A.csv", 6)
    zone = there.zones[5]
    drawn = [
        there.do("draw_exclusion", "crew", zone, at="2025-06-04 11:00", place=f"{ends}, 5:15 to 6:45", reason=reason)
        for ends, reason in (
            ("0+844.40 to 0+845.60", "on the saddle; lined before it was set down"),
            ("0+794.40 to 0+795.60", "on the saddle; to be shown when the pipe is lifted"),
        )
    ]
    there.do("decide_exclusion", "owner", drawn[0], accepted=True)


def _sweeping_now(there: Setting) -> None:
    """A run that is open: the next check is due within half an hour, and the steel comes near the dew point."""
    there.bring("section-07-A.csv", 7)
    start = there.now - timedelta(minutes=222)
    sheet = there.do("take_sheet", "crew", there.coatings[7], at=start)
    permit = {"number": "HW-1294", "gas_reading": "0 % LEL and 20.9 % O2", "tester": "J. Marsh"}
    noon = (start + timedelta(minutes=150)).isoformat()
    permit_row = there.do("record_permit", "crew", there.coatings[7], at=start, expires_at=noon, **permit)
    run = there.do(
        "open_run",
        "crew",
        sheet,
        at=start,
        instrument=str(there.detector.pk),
        electrode=str(there.brush.pk),
        set_volts="2.5 kV",
        sweeper="Ada Winslow",
        permit=str(permit_row.pk),
        cautions=True,
    )
    _press(there, "prove_return", run, start, 4, said="bare end at 1+050.00")
    expires = (there.now + timedelta(hours=5)).isoformat()
    renewed = {**permit, "number": "HW-1294 B", "gas_reading": "0 % LEL and 20.8 % O2"}
    _press(there, "renew_permit", run, start, 140, expires_at=expires, **renewed)
    _press(there, "verify", run, start, 10, phase="start", measured="2.5 kV", alarm_seen=True,
           voltmeter=str(there.voltmeter.pk))  # fmt: skip
    for minute, air, humidity, steel in (
        (5, 18.0, 60, (16.1, 16.4)),
        (75, 17.2, 66, (15.7, 16.0)),
        (145, 16.6, 70, (15.2, 15.4)),
        (210, 16.2, 72, (14.7, 14.9)),
    ):
        told = {"air": f"{air} °C", "humidity": humidity, "steel": [f"{each} °C" for each in steel]}
        told |= dict.fromkeys(("hygrometer", "thermometer"), str(there.hygrometer.pk))
        _press(there, "record_atmosphere", there.coatings[7], start, minute, steel_at=["crown", "invert"], **told)
    first = 6 * LENGTH
    minutes = 14
    for low in (50.0, 100.0):
        for lane in range(1, LANES + 1 if low < 100 else 5):
            stretch = f"{_chainage(first + low)} to {_chainage(first + low + 50)}"
            place = f"{stretch}, lane {lane} of {LANES}, 0.45 m wide"
            minutes += 13
            _press(there, "mark_swept", run, start, minutes, place=place, lane=f"lane {lane} of {LANES}")
        _press(
            there, "report_flaw", run, start, minutes, place=f"{_chainage(first + low + 23.4)} @ 5:10", kind="pinhole"
        )


def _press(there: Setting, name: str, target: Any, start: datetime, minutes: float, **given: Any) -> Any:
    return there.do(name, "crew", target, at=start + timedelta(minutes=minutes), **given)


def _chainage(metres: float) -> str:
    return f"{int(metres // 1000)}+{metres % 1000:06.2f}"
