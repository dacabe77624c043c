"""Under the railway: a film that no single setting of the detector serves, and a run that rests on its readings."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from accounts.acting import perform
from inspections.coatings import Spot
from inspections.rule_schema import shipped_bodies
from inspections.term_parts import Stage
from inspections.terms import FINISHED
from repairs.demo.setting import CROSSING, LANES, TERMS, Setting, begin
from repairs.film import film_picture
from repairs.film_voltage import voltage_of

BONDED = replace(
    TERMS,
    film_family="fusion-bonded epoxy",
    stages=(Stage(FINISHED, 570.0, 450.0, 750.0),),
    stated_volts=None,
    voltage_document="",
    voltage_rules=(shipped_bodies()["nace-sp0490"],),
    thickness_basis="measured mean",
)
DAY = "2025-06-19"


def sweep_crossing(there: Setting) -> None:
    """Measured with a gauge, half of it swept at the voltage its readings ask for; one of them was struck out since."""
    specification = there.do(
        "issue_specification",
        "owner",
        there.asset,
        name="Under the railway, HV-C-09",
        edition="1",
        body=BONDED.to_json(),
    )
    begin(there, there.zones[CROSSING - 1], specification, "2025-05-20 07:00")
    coating = there.coatings[CROSSING]
    _measure(there)
    proposal = voltage_of(film_picture(coating))
    assert proposal is not None
    thin, _thick = proposal.along
    volts = round(thin.volts, -1)  # as the dial can be set
    sheet = there.do("take_sheet", "crew", coating, at=f"{DAY} 06:40")
    permit = there.do(
        "record_permit",
        "crew",
        coating,
        at=f"{DAY} 06:45",
        number="HW-1289",
        gas_reading="0 % LEL and 20.9 % O2",
        tester="J. Marsh",
        expires_at=there.when(f"{DAY} 12:00").isoformat(),
    )
    air = {"air": "15.0 °C", "wet_bulb": "11.5 °C", "steel": ["13.8 °C", "14.1 °C"], "steel_at": ["invert", "crown"]}
    read = dict.fromkeys(("hygrometer", "thermometer"), str(there.hygrometer.pk))  # it has a probe for steel
    there.do("record_atmosphere", "crew", coating, at=f"{DAY} 06:50", **air, **read)
    run = there.do(
        "open_run",
        "crew",
        sheet,
        at=f"{DAY} 07:00",
        instrument=str(there.detector.pk),
        electrode=str(there.brush.pk),
        thickness_basis=thin.at.basis,
        basis_spots=list(thin.spots),
        set_volts=f"{volts} V",
        sweeper="Ada Winslow",
        permit=str(permit.pk),
        cautions=True,
    )
    _sweep(there, run, volts)
    cap = Spot.objects.get(pk=thin.spots[7])
    why = "read on the tape over a weld cap, not on the lining"
    there.do("strike_spot", "lead", cap, at=f"{DAY} 15:30", why=why)


def _measure(there: Setting) -> None:
    given = {
        "unit": "µm",
        "at": there.when("2025-06-18 10:00").isoformat(),
        "gauge": "DFT-310",
        "shift": "last coat",
        "file": there.upload("thickness-13.csv"),
    }
    perform("import_gauge_file", there.people["crew2"], there.coatings[CROSSING].pk, given)


def _sweep(there: Setting, run: Any, volts: int) -> None:
    """In lanes up to where the film grows thicker; what lies beyond waits for the other setting."""
    start = there.when(f"{DAY} 07:00")
    there.do("prove_return", "crew", run, at=start + timedelta(minutes=3), said="bare end at 1+950.00")
    for minutes, phase, measured in ((6, "start", volts - 10), (54, "end", volts + 10)):
        if phase == "end":
            _lanes(there, run, start + timedelta(minutes=7))
        at = start + timedelta(minutes=minutes)
        meter = str(there.voltmeter.pk)
        there.do("verify", "crew", run, at=at, phase=phase, measured=f"{measured} V", alarm_seen=True, voltmeter=meter)
    there.do("close_run", "crew", run, at=start + timedelta(minutes=56))


def _lanes(there: Setting, run: Any, start: datetime) -> None:
    for lane in range(1, LANES + 1):
        said = f"lane {lane} of {LANES}"
        place = f"1+800.00 to 1+870.00, {said}, 0.45 m wide"
        at = start + timedelta(minutes=5 * lane)
        there.do("mark_swept", "crew", run, at=at, place=place, lane=said)
