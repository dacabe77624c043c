"""The figures of a zone, each with its inputs, formula, document and source: what the tiles show and link to."""

from __future__ import annotations

from typing import NamedTuple

from accounts.units import show
from accounts.wording import noted, say, say_many
from mapping.features import Feature
from repairs.pages.asked_again import density_again, surface_again
from repairs.picture import ZonePicture

SURFACE_SOURCE = noted("Plane geometry of the unrolled surface.")
COVERAGE_SOURCE = noted("Common practice of the trade, as the specification's checks ask; no published source.")


class Figure(NamedTuple):
    """One figure: `anchor` names its explanation, `more` is a second line of the tile, `worksheet` where it is asked again."""

    anchor: str
    name: str
    value: str
    more: str
    inputs: str
    formula: str
    source: str
    worksheet: str = ""


def figures_of(picture: ZonePicture, units: str) -> list[Figure]:
    """The zone's figures in reading order."""
    area = _in(units)
    found, left = picture.found, picture.left
    excluded = sum(each.area_m2 for each in picture.excluded)
    rows = [
        Figure(
            "true", say("true area"), area(picture.true_m2), "", f"{picture.zone.surface.limits_text()}.",
            say("For a pipe: circumference over the swept face times length."), say(SURFACE_SOURCE), surface_again(picture),
        ),
        Figure(
            "excluded", say("excluded, accepted"), area(excluded),
            say("{count} undecided", count=len(picture.undecided)) if picture.undecided else "",
            "; ".join(say("{reason}: {area}, accepted by {accepted_by}", reason=each.reason, area=area(each.area_m2), accepted_by=each.accepted_by) for each in picture.excluded)
            or say("No exclusion has been accepted."),
            say("Overlapping exclusions count once, under the one accepted first. What the owner has not accepted is ordinary ground."),
            say(SURFACE_SOURCE),
        ),
        Figure(
            "testable", say("testable"), area(picture.testable_m2), "", say("True area and accepted exclusions."),
            say("True area less accepted exclusions."), say(SURFACE_SOURCE),
        ),
        Figure(
            "found", say("tested, as found"), area(found.tested_m2), found.words,
            say("The swaths of survey runs that stand."),
            say("Area of the union of standing swaths inside the testable area; ground is divided without overlap into standing, held, pending, lost and gap, in that order."), say(COVERAGE_SOURCE),
        ),
    ]  # fmt: skip
    if left is not None:
        rows.append(
            Figure(
                "left", say("tested, as left"), area(left.tested_m2), left.words,
                say("As found, patches worked on and disturbances since, with {margin} around them, and retests.", margin=show(picture.terms.as_left_margin, "metres", units)),
                say("As found, less places coated or disturbed since, plus what standing retest swaths swept."), say(COVERAGE_SOURCE),
            )
        )  # fmt: skip
    ground = picture.ground
    for name, value, words in (
        ("pending", ground.pending_m2, say("waits for the next check")),
        ("held", ground.held_m2, say("waits for a decision")),
        ("lost", ground.lost_m2, say("swept, but not proven")),
        ("gap", ground.gap_m2, say("reached by no swath")),
    ):
        rows.append(
            Figure(
                name, say("not swept") if name == "gap" else say(name), area(value), words,
                say("Swaths and the checks around them.") if name != "gap" else say("Testable area and all swaths."),
                say("Work between two good checks stands; after the last good one it waits, and is lost if the next is low, missing or late, held if it is high.") if name != "gap" else say("Testable area that no swath of any standing reached."),
                say(COVERAGE_SOURCE),
            )
        )  # fmt: skip
    rows += _features(picture, units)
    rows += _counting(picture, units)
    return rows


def _features(picture: ZonePicture, units: str) -> list[Figure]:
    """One figure a kind of feature that the zone has: metres of weld and edge, counts of nozzles and brackets."""
    rows = []
    for each in picture.features.sums():
        kind = Feature.Kind(each.kind).label
        amount, testable = (
            show(value, "metres", units, 2) if each.is_line else f"{value:.0f}"
            for value in (each.stands, each.testable)
        )
        rows.append(
            Figure(
                f"features-{each.kind}",
                say("{kind}, tested, {seen}", kind=kind, seen=say(each.seen)),
                amount,
                say("of {testable}", testable=testable),
                say(
                    "Sweeps of {count} marked on this zone, exclusions, later work; not tested whole: {names}.",
                    count=each.count,
                    names=", ".join(each.missing) or say("none"),
                ),
                say(
                    "Union of what standing sweeps reached along each line, less what later work with its margin spoiled; a "
                    "nozzle or bracket counts once, swept whole. Parts below 1 cm are no hole."
                ),
                say(COVERAGE_SOURCE),
            )
        )
    return rows


def _counting(picture: ZonePicture, units: str) -> list[Figure]:
    per = say("1000 ft²") if units == "us" else "100 m²"
    density = picture.density_found
    rows = []
    if density is not None:
        times = 92.90304 if units == "us" else 100.0
        low, high = (times * bound for bound in density.interval_per_m2)
        rows.append(
            Figure(
                "density", say("flaws per {per}, as found", per=per), f"{times * density.per_m2:.1f}", say("{low:.1f} to {high:.1f} (95 %)", low=low, high=high),
                say_many("{count} flaw counted on {area} tested.", "{count} flaws counted on {area} tested.", density.count, area=show(density.area_m2, "area", units)),
                say("Count over tested area; exact Poisson interval: lower chi²(0.025, 2n)/2, upper chi²(0.975, 2n + 2)/2."),
                say(density.source), density_again(picture),
            )
        )  # fmt: skip
    else:
        rows.append(
            Figure(
                "density",
                say("flaws per {per}, as found", per=per),
                say("none yet"),
                say("nothing is tested"),
                say("No standing coverage."),
                "",
                "",
            )
        )
    if picture.contract is not None:
        allowed = picture.contract.allowed
        rows.append(
            Figure(
                "contract", say("contract line"), say(picture.contract.verdict or "no verdict"),
                say("{count} found, {allowed} allowed", count=picture.contract.count, allowed=allowed) if allowed is not None else say("nothing is tested"),
                picture.specification.name, picture.contract.arithmetic,
                say("{specification}. The plain count decides; the interval never does.", specification=picture.specification),
                density_again(picture),
            )
        )  # fmt: skip
    if picture.decision is not None:
        rows.append(
            Figure(
                "decision", say("what the sample shows"), say(picture.decision.verdict), "", picture.decision.sentence,
                say("Bounds of the exact interval ({sides}) against the limit.", sides=say(picture.decision.sides)), say(picture.decision.source),
                density_again(picture),
            )
        )  # fmt: skip
    if picture.open_per_100_m2 is not None:
        times = 0.9290304 if units == "us" else 1.0
        rows.append(
            Figure(
                "open", say("open flaws per {per}, as left", per=per), f"{times * picture.open_per_100_m2:.1f}", say("{count} open", count=picture.open_flaws),
                say_many("{count} open flaw on {area} testable.", "{count} open flaws on {area} testable.", picture.open_flaws, area=show(picture.testable_m2, "area", units)),
                say("Open flaws over testable area."), say(COVERAGE_SOURCE),
            )
        )  # fmt: skip
    return rows


def _in(units: str):  # type: ignore[no-untyped-def]
    return lambda square: show(square, "area", units)
