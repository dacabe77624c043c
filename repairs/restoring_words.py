"""How what would be lost comes back, in words: what needs no sweep first, then the smallest set."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from accounts.languages import day_words
from accounts.wording import say, say_many
from repairs.restoring import ZoneSet
from repairs.what_if import Area, WhatIf, joined


def without_a_sweep(found: WhatIf) -> list[str]:
    """Evidence that would bring all of it back at once, the strongest first; each sentence says what for."""
    fallen, trace = found.fallen, found.trace
    said = []
    if fallen.uncalibrated:
        runs = say_many("{count} run", "{count} runs", len(fallen.uncalibrated))
        said.append(
            say(
                "A certificate whose as-found value is in tolerance, for {days}, brings back all ground of {runs} and the "
                "patches passed by it: record it under “Restore by evidence” on each run.",
                days=_days(found, "run"),
                runs=runs,
            )
        )
    if fallen.checks:
        checks = say_many("{count} check", "{count} checks", len(fallen.checks))
        said.append(
            say(
                "A late check made before any adjustment, or the voltmeter's as-found value in tolerance for {days}, brings "
                "back the ground that rests on {checks}.",
                days=_days(found, "check"),
                checks=checks,
            )
        )
    if fallen.spots and trace.subject.kind != "person":
        spots = say_many("{count} thickness spot counts", "{count} thickness spots count", len(fallen.spots))
        said.append(
            say(
                "If the gauge's as-found value is in tolerance for {days}, {spots} again.",
                days=_days(found, "spot"),
                spots=spots,
            )
        )
    if fallen.airs:
        readings = say_many("{count} reading of air and steel", "{count} readings of air and steel", len(fallen.airs))
        said.append(
            say(
                "If the instrument's as-found value is in tolerance for {days}, {readings} may stand.",
                days=_days(found, "air"),
                readings=readings,
            )
        )
    if fallen.void:
        runs = say_many("{count} run", "{count} runs", len(fallen.void))
        said.append(say("The owner may accept the ground of {runs} with a reason, run by run.", runs=runs))
    if fallen.rulings:
        rulings = say_many("{count} decision", "{count} decisions", len(fallen.rulings))
        said.append(say("Somebody else may decide again on the ground of {rulings}.", rulings=rulings))
    if fallen.unsettled:
        cycles = say_many("{count} retest", "{count} retests", len(fallen.unsettled))
        said.append(say("Somebody else may settle {cycles} again by the swath that stands.", cycles=cycles))
    if fallen.undone and trace.subject.kind == "batch":
        said.append(
            say(
                "The maker's certificate that clears the batch, or the owner's concession patch by patch, leaves the repairs as they are."
            )
        )
    elif fallen.undone:
        said.append(say("The owner may concede the repairs patch by patch, with a reason."))
    return said


def _days(found: WhatIf, leg: str) -> str:
    trace = found.trace
    days: list[date] = sorted({trace.day_of(row) for row in trace.found if row.leg == leg})
    if not days:
        return ""
    if days[0] == days[-1]:
        return day_words(days[0])
    return say("{first} to {last}", first=day_words(days[0]), last=day_words(days[-1]))


def set_in_words(sets: Sequence[ZoneSet], area: Area) -> str:
    """The whole set in one sentence, and whether it is proven to be the smallest."""
    parts = _things(sets, area)
    if not parts:
        return say("Nothing has to be done again.")
    shut = list(dict.fromkeys(gate.name for each in sets for gate in each.shut))
    if shut:
        return say(
            "This set brings back what testing can: {things}. Not green with it: {gates}.",
            things=joined(parts),
            gates=", ".join(shut),
        )
    swept = all(stage.proven for each in sets for stage in each.stages)
    if swept and all(each.spots_proven for each in sets):
        head = say("The smallest set that turns every gate green again: {things}.", things=joined(parts))
        return say(
            "{head} No set of fewer does, among the swaths as they were made, the lanes and the patches.", head=head
        )
    head = say("A set that turns every gate green again: {things}.", things=joined(parts))
    if swept:
        return say("{head} Fewer thickness spots may do: not every choice of them was tried.", head=head)
    least = sum(stage.least for each in sets for stage in each.stages)
    words = say_many("no set of fewer than {count} sweep does", "no set of fewer than {count} sweeps does", least)
    return say("{head} It is not proven to be the smallest: {words}.", head=head, words=words)


def _things(sets: Sequence[ZoneSet], area: Area) -> list[str]:
    sweeps = [sweep for each in sets for sweep in each.sweeps]
    m2 = sum(each.area_m2 for each in sets)
    retests = sum(sweep.purpose == "retest" for sweep in sweeps)
    parts = []
    if sweeps:
        words = say_many("{count} sweep ({area})", "{count} sweeps ({area})", len(sweeps), area=area(m2))
        if retests == len(sweeps):
            words = say("{words} in retest runs", words=words)
        elif retests:
            words = say("{words} of which {count} in retest runs", words=words, count=retests)
        parts.append(words)
    if count := sum(len(each.features) for each in sets):
        parts.append(
            say_many("{count} weld, edge, nozzle or bracket", "{count} welds, edges, nozzles or brackets", count)
        )
    if count := sum(len(each.spots) for each in sets):
        parts.append(say_many("{count} thickness spot", "{count} thickness spots", count))
    if count := sum(len(each.repairs) for each in sets):
        parts.append(say_many("{count} repair", "{count} repairs", count))
    if count := sum(len(each.settled) for each in sets):
        parts.append(say_many("{count} retest settled again", "{count} retests settled again", count))
    if count := sum(len({run.pk for run in (*each.answers, *each.questioned)}) for each in sets):
        parts.append(say_many("an answer for {count} run", "an answer for {count} runs", count))
    return parts
