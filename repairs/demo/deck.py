"""The demo's bridge deck: concrete under a sprayed membrane, rebar mats as electrical islands, skewed spans."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from inspections.term_parts import HolidayLimit, RepairCoat, Stage
from inspections.terms import FINISHED
from repairs.demo.answering import answer_all
from repairs.demo.repairing import issue, pass_retests, repair
from repairs.demo.setting import Setting, begin, elsewhere
from repairs.demo.tank import SPONGE

DECK = "Otter Beck service bridge"
NUMBERS = [0.0, 3.0, 6.6, 9.8]
BAY, SPAN, SKEW = 6.1, 12.2, 2.2
TERMS = replace(
    SPONGE,
    substrate="concrete",
    film_family="other",
    stages=(Stage(FINISHED, 2000.0, 1600.0, 2800.0, required_line_coverage_percent=100.0),),
    method="high_voltage_dc",
    medium="air",
    stated_volts=8000,
    voltage_tolerance_percent=5.0,
    voltage_document="Hallow Valley Water HV-B-02, clause 4.5",
    holiday_limit=HolidayLimit("1", "50"),
    repair_coats=(
        RepairCoat("primer", "Spanseal P", 2.0, 24.0, 150.0, 250.0),
        RepairCoat("membrane", "Spanseal M", 4.0, None, 1800.0, 2400.0),
    ),
    cure_before_retest_h=24.0,
    returns=tuple(f"mat {span} {side}" for span in (1, 2, 3) for side in ("west", "east")),
    notes="Invented for the demo. No figure in it is advice for a real bridge.",
)


def build_deck(main: Setting) -> Setting:
    """The deck with its spans, their mats, and all that happened on it."""
    there = elsewhere(
        main,
        name=DECK,
        kind="concrete bridge deck",
        place="over the spillway of Otter Beck dam",
        datum="lettered lines from the west abutment, numbered lines from the upstream kerb",
    )
    specification = there.do(
        "issue_specification", "owner", there.asset, name="Deck membrane, HV-B-02", edition="1", body=TERMS.to_json()
    )
    for span in (1, 2, 3):
        zone = there.do("add_zone", "lead", there.asset, **_span(span))
        there.zones.append(zone)
        begin(there, zone, specification, "2025-05-21 07:00")
    for zone, letter in zip(there.zones, "BDF", strict=True):
        there.mark(zone, "nozzle", f"Drain {zone.order}", f"{letter}-1 +2.00 +0.40")
    there.do("import_features", "lead", there.asset, file=there.upload("deck-features.csv"), text="")
    there.bring("deck-span-1-A.csv", 1)
    patches = issue(there, 1, "2025-06-04 09:00")
    for patch in patches:
        repair(there, patch, "2025-06-06", "2025-06-09")
    there.bring("deck-span-1-B.csv", 1, "crew2")
    pass_retests(there, 1, patches, "2025-06-11 11:30")
    answer_all(there, there.coatings[1], "2025-06-11 12:30")
    there.bring("deck-span-2-A.csv", 2)
    there.bring("deck-span-3-A.csv", 3)
    return there


def _span(number: int) -> dict[str, Any]:
    """One span between two skewed joints; the kerbs lie half a metre outside the outer numbered lines."""
    low = (number - 1) * SPAN
    high = low + SPAN
    west, east = ((x - 0.4, x - 0.4 + SKEW) for x in (low, high))
    near, far = NUMBERS[0] - 0.5, NUMBERS[-1] + 0.5
    return {
        "name": f"Span {number}",
        "order": number,
        "surface_kind": "deck",
        "face": "outside",
        "surface": {
            "letters": [low, low + BAY, high],
            "numbers": NUMBERS,
            "first_letter": "ACE"[number - 1],
            "numbers_run": "up",
            "corners": [[west[0], near], [east[0], near], [east[1], far], [west[1], far]],
        },
    }
