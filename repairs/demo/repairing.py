"""What the demo's painters and retesters do on any of its assets: patches issued, repaired step by step, retested."""

from __future__ import annotations

from typing import Any

from inspections.runs import Swath
from repairs.demo.setting import PAINTER, Setting
from repairs.work import Patch

_PREPARED = {
    "steel": "ground to bright metal, edges feathered",
    "concrete": "loose film cut back, concrete ground and blown clean",
}


def issue(there: Setting, section: int, at: str) -> list[Patch]:
    contractor = str(there.firms[PAINTER].pk)
    made = there.do("issue_patches", "lead", there.coatings[section], at=at, contractor=contractor)
    return sorted(made, key=lambda patch: patch.number)


def repair(there: Setting, patch: Patch, begun: str, cured: str, *, hand_over: bool = True) -> None:
    """Every step of a repair, one day's work and its cure."""
    work = [("prepared", None, f"{begun} 08:00"), ("coated", 1, f"{begun} 09:40"), ("coated", 2, f"{begun} 15:10")]
    steps(there, patch, [*work, ("cured", None, f"{cured} 08:30")])
    if hand_over:
        there.do("hand_over", "contractor", patch, at=f"{cured} 09:00")


def steps(there: Setting, patch: Patch, done: list[tuple[str, int | None, str]]) -> None:
    terms = patch.coating.terms
    for kind, coat, at in done:
        given: dict[str, Any] = {"kind": kind}
        if coat is not None:
            asked = terms.repair_coats[coat - 1]
            wet = ((asked.wet_minimum or 0.0) + (asked.wet_maximum or 0.0)) / 2
            batch = f"{asked.product[-1]}-{patch.number:02d}{at[8:10]}"
            given |= {"coat": coat, "product": asked.product, "batch": batch, "wet": f"{wet:g} µm"}
        elif kind == "prepared":
            given["note"] = _PREPARED[terms.substrate]
        there.do("record_step", "contractor", patch, at=at, **given)


def retest_swaths(there: Setting, section: int) -> list[Swath]:
    return list(Swath.objects.filter(run__sheet__coating=there.coatings[section], run__purpose="retest"))


def pass_retests(there: Setting, section: int, patches: list[Patch], at: str) -> None:
    swaths = retest_swaths(there, section)
    for patch in patches:
        settle(there, patch, swaths, "passed", at)


def settle(there: Setting, patch: Patch, swaths: list[Swath], outcome: str, at: str) -> None:
    swath = next(swath for swath in swaths if swath.shape.covers(patch.shape))
    there.do("settle_retest", "crew2", patch, at=at, swath=str(swath.pk), outcome=outcome)
