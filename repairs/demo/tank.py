"""The demo's tank: five strakes, floor and coned roof, lined inside; wet sponge above, spark where the lining is thick."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from inspections.specifications import Specification
from inspections.term_parts import HolidayLimit, RepairCoat, Stage
from inspections.terms import FINISHED, Terms
from mapping.zones import Zone
from repairs.demo.answering import answer_all
from repairs.demo.repairing import issue, pass_retests, repair, retest_swaths, settle, steps
from repairs.demo.setting import Setting, begin, elsewhere

TANK = "Tarn Head tank 3"
FLOOR, ROOF = 6, 7
SPONGE = Terms(
    substrate="steel",
    film_family="tank lining",
    stages=(
        Stage(
            FINISHED, 450.0, 400.0, 500.0, required_line_coverage_percent=100.0, required_count_coverage_percent=100.0
        ),
    ),
    method="wet_sponge",
    medium="water with wetting agent",
    stated_volts=90,
    voltage_tolerance_percent=10.0,
    voltage_document="Hallow Valley Water HV-T-04, clause 6.2",
    check_interval_min=240.0,
    check_tolerance_percent=5.0,
    holiday_limit=HolidayLimit("2", "100"),
    repair_coats=(
        RepairCoat("primer", "Linefast A", 6.0, 72.0, 100.0, 160.0),
        RepairCoat("topcoat", "Linefast B", 16.0, None, 300.0, 420.0),
    ),
    patch_overlap=0.1,
    as_left_margin=0.1,
    primer_within_h=4.0,
    cure_before_retest_h=48.0,
    cycle_limit=3,
    notes="Invented for the demo. No figure in it is advice for a real tank.",
)
SPARK = replace(
    SPONGE,
    stages=(
        Stage(
            FINISHED, 1000.0, 850.0, 1300.0, required_line_coverage_percent=100.0, required_count_coverage_percent=100.0
        ),
    ),
    method="high_voltage_dc",
    medium="air",
    stated_volts=3000,
    voltage_tolerance_percent=5.0,
    voltage_document="Hallow Valley Water HV-T-04, clause 6.3, as NACE SP0188-2006 has it for 39 mil (from memory)",
    holiday_limit=HolidayLimit("1", "20"),
    repair_coats=(
        RepairCoat("primer", "Linefast A", 6.0, 72.0, 100.0, 160.0),
        RepairCoat("glass flake", "Linefast F", 24.0, None, 900.0, 1200.0),
    ),
)


def build_tank(main: Setting) -> Setting:
    """The tank with its zones, landmarks, features, specifications, and all that happened on it."""
    there = elsewhere(
        main,
        name=TANK,
        kind="above-ground storage tank",
        place="Tarn Head works, 2.6 km west of the intake",
        datum="azimuth 0 at the north, clockwise seen from above; strakes count from 1 at the bottom",
    )
    there.do("import_zones", "lead", there.asset, file=there.upload("tank-shell.csv"), text="")
    there.do("import_zones", "lead", there.asset, file=there.upload("tank-floor-and-roof.csv"), text="")
    there.zones = list(Zone.objects.filter(asset=there.asset).order_by("order", "name"))
    _landmarks(there)
    there.do("import_features", "lead", there.asset, file=there.upload("tank-features.csv"), text="")
    by_order = {zone.order: zone for zone in there.zones}
    for strake in range(1, 6):
        there.do("add_seams", "lead", by_order[strake], sources=["plates"])
    sponge, spark = _specifications(there)
    for order, zone in by_order.items():
        if order != ROOF:
            begin(there, zone, spark if order in (1, FLOOR) else sponge, "2025-05-19 07:00")
    _strakes(there)
    _floor(there)
    return there


def _landmarks(there: Setting) -> None:
    """What painters measure from: seams, nozzles, the manway, brackets, the sump."""
    marks: list[tuple[str, str, str, str]] = [
        ("Strake 1", "nozzle", "N1", "45 deg, 0.60 m up"),
        ("Strake 1", "nozzle", "N2", "200 deg, 0.45 m up"),
        ("Strake 1", "nozzle", "Manway M1", "120 deg, 0.90 m up"),
        ("Strake 2", "nozzle", "N3", "300 deg, 1.80 m up"),
        *[("Strake 5", "bracket", f"B{number}", f"{60 * number - 20} deg, 1.60 m up") for number in (1, 2, 3, 4)],
        ("Floor", "nozzle", "Sump", "180 deg, r 6.20 m"),
        ("Roof", "nozzle", "Vent", "0 deg, slant 0.60 m"),
        ("Roof", "nozzle", "Hatch", "120 deg, slant 7.50 m"),
    ]
    zones = {zone.name: zone for zone in there.zones}
    for name, zone in zones.items():
        if zone.surface_kind == "strake":
            plates = zone.surface_json["plates"]
            marks += [
                (name, "seam", f"V{zone.order}.{number}", f"{azimuth:g} deg")
                for number, azimuth in enumerate(plates, 1)
            ]
    for zone_name, kind, called, said in marks:
        there.mark(zones[zone_name], kind, called, said)


def _specifications(there: Setting) -> tuple[Specification, Specification]:
    return tuple(  # type: ignore[return-value]
        there.do("issue_specification", "owner", there.asset, name=name, edition="2", body=terms.to_json())
        for name, terms in (("Inside lining, thin, HV-T-04 A", SPONGE), ("Inside lining, thick, HV-T-04 B", SPARK))
    )


def _strakes(there: Setting) -> None:
    _released(there)
    _undermined(there)
    _conceded(there)
    there.bring("tank-strake-2-A.csv", 2)
    _in_repair(there)


def _released(there: Setting) -> None:
    there.bring("tank-strake-5-A.csv", 5)
    patches = issue(there, 5, "2025-05-27 09:00")
    for patch in patches:
        repair(there, patch, "2025-05-28", "2025-05-31")
    there.bring("tank-strake-5-B.csv", 5, "crew2")
    pass_retests(there, 5, patches, "2025-06-02 10:30")
    answer_all(there, there.coatings[5], "2025-06-02 11:00")
    there.do("release_zone", "owner", there.coatings[5], conditions="")


def _undermined(there: Setting) -> None:
    """Released, and then a bracket was welded on the outside: what was tested behind it does not hold any more."""
    there.bring("tank-strake-4-A.csv", 4)
    there.do(
        "release_zone", "owner", there.coatings[4], conditions="Nothing is welded to this strake without telling us."
    )
    work: dict[str, Any] = {"place": "222 deg to 236 deg, 0.80 to 1.30 m up", "kind": "weld"}
    there.do("record_disturbance", "contractor", there.coatings[4], at=there.now, **work)


def _conceded(there: Setting) -> None:
    """One patch accepted, the other conceded by the owner: every gate is green."""
    there.bring("tank-strake-3-A.csv", 3)
    sag, pinhole = issue(there, 3, "2025-05-29 09:00")
    repair(there, pinhole, "2025-05-30", "2025-06-02")
    there.bring("tank-strake-3-B.csv", 3, "crew2")
    pass_retests(there, 3, [pinhole], "2025-06-04 09:40")
    answer_all(there, there.coatings[3], "2025-06-04 10:30")
    reason = "a sag of sound film, 120 by 60 mm, above the water line; looked at on 5 June, left as it is"
    there.do("concede", "owner", there.coatings[3], patch=str(sag.pk), reason=reason)


def _in_repair(there: Setting) -> None:
    there.bring("tank-strake-1-A.csv", 1)
    patches = issue(there, 1, "2025-06-06 09:00")
    for patch in patches[:2]:
        repair(there, patch, "2025-06-09", "2025-06-12")
    there.bring("tank-strake-1-B.csv", 1, "crew2")
    swaths = retest_swaths(there, 1)
    settle(there, patches[0], swaths, "passed", "2025-06-13 10:00")
    settle(there, patches[1], swaths, "failed", "2025-06-13 10:10")
    repair(there, patches[2], "2025-06-14", "2025-06-17")
    steps(there, patches[3], [("prepared", None, "2025-06-19 08:00"), ("coated", 1, "2025-06-19 10:00")])


def _floor(there: Setting) -> None:
    there.bring("tank-floor-A.csv", FLOOR)
    floor = next(zone for zone in there.zones if zone.order == FLOOR)
    drawn = [
        there.do("draw_exclusion", "crew", floor, at="2025-06-17 10:00", place=place, reason=reason)
        for place, reason in (
            ("r 5.70 to 6.70 m, 175 deg to 185 deg", "the sump; lined and tested in the shop"),
            ("r 0.00 to 0.60 m", "under the foot of the roof's column"),
        )
    ]
    there.do("decide_exclusion", "owner", drawn[0], accepted=True)
