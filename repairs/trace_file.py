"""A trace as one CSV table: what rests on it, what would be lost, and what brings it back. Areas in m²."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from accounts.wording import say
from inspections.coatings import Coating
from repairs.exports.csvfile import MARK, written
from repairs.exports.scope import Line
from repairs.restoring import ZoneSet
from repairs.trace import Trace
from repairs.trace_reading import in_words
from repairs.trace_subjects import PARTS
from repairs.what_if import WhatIf

HEADS = ("section", "kind", "asset", "zone", "coating", "name", "part", "at", "number", "area m2", "words", "id")
RESTS, LOST, AGAIN = "rests on it", "would be lost", "to be done again"


def trace_csv(trace: Trace, loss: WhatIf | None, sets: Sequence[ZoneSet]) -> bytes:
    """The whole file. Sections and kinds are English codes; what people read is in the reader's language."""
    lines = [*_rests(trace), *(_lost(loss) if loss else ()), *_again(sets)]
    return written([HEADS, *lines], MARK)


def _on(coating: Coating) -> tuple[str, str, int]:
    return coating.zone.asset.name, coating.zone.name, coating.number


def _rests(trace: Trace) -> Iterator[Line]:
    words = in_words(trace)
    for run in words.runs:
        at, parts = run.at.isoformat(), ", ".join(run.parts)
        yield RESTS, "run", *_on(run.coating), run.label, parts, at, run.checks, None, run.purpose, str(run.id)
        for each in run.amounts:
            yield (
                RESTS,
                "swept",
                *_on(run.coating),
                run.label,
                each.standing,
                at,
                each.number,
                each.area_m2,
                "",
                str(run.id),
            )
    for spot in words.spots:
        at = spot.at.isoformat()
        yield (
            RESTS,
            "spot",
            *_on(spot.coating),
            spot.said,
            spot.part,
            at,
            None,
            None,
            f"{spot.mean:.1f} µm",
            str(spot.id),
        )
    for air in words.airs:
        yield (
            RESTS,
            "air",
            *_on(air.coating),
            f"{air.air:g} °C",
            say(PARTS["air"]),
            air.at.isoformat(),
            None,
            None,
            " / ".join(f"{reading:g} °C" for reading in air.steel),
            str(air.id),
        )
    for row in words.cycles:
        at = row.at.isoformat()
        yield RESTS, "cycle", *_on(row.coating), row.patch, row.part, at, row.cycle, None, row.outcome, str(row.id)
    for release in words.releases:
        at = release.at.isoformat()
        yield RESTS, "release", *_on(release.coating), "", "", at, None, None, release.owner, str(release.id)


def _lost(loss: WhatIf) -> Iterator[Line]:
    for zone in loss.zones:
        on = _on(zone.coating)
        for stage in zone.stages:
            yield LOST, "ground", *on, stage.stage.name, "", "", None, stage.area_m2, say(stage.seen), ""
        for each in zone.features:
            amount = f"{each.amount:.2f} m" if each.feature.is_line else ""
            yield LOST, "feature", *on, each.feature.name, each.stage, "", None, None, amount, str(each.feature.pk)
        for turn in zone.patches:
            words = f"{turn.before.label} → {turn.after.label}"
            yield LOST, "patch", *on, turn.patch.name, "", "", None, turn.patch.area_m2, words, str(turn.patch.id)
        for gate in zone.gates:
            yield LOST, "gate", *on, gate.after.name, gate.after.code, "", None, None, gate.after.sentence, ""
        if zone.undermined and zone.now.release:
            yield LOST, "release", *on, "", "", "", None, None, "", str(zone.now.release.id)


def _again(sets: Sequence[ZoneSet]) -> Iterator[Line]:
    for each in sets:
        on = _on(each.zone.coating)
        for sweep in each.sweeps:
            patches = ", ".join(patch.name for patch in sweep.patches)
            words = f"{sweep.part_said}; {patches}" if patches else sweep.part_said
            yield AGAIN, "sweep", *on, sweep.said, sweep.purpose, "", None, sweep.area_m2, words, ""
        for loss in each.features:
            yield AGAIN, "feature", *on, loss.feature.name, loss.stage, "", None, None, "", str(loss.feature.pk)
        for spot in each.spots:
            yield AGAIN, "spot", *on, spot.said, "", "", None, None, "", str(spot.pk)
        for run in dict.fromkeys((*each.answers, *each.questioned)):
            yield AGAIN, "answer", *on, run.label, "", "", None, None, "", str(run.pk)
        for kind, some in (("repair", each.repairs), ("settle", each.settled)):
            for patch in some:
                yield AGAIN, kind, *on, patch.name, "", "", None, patch.area_m2, "", str(patch.id)
