"""Welds, edges, nozzles and brackets for readers: what of each is tested, as found and as left, and what is missing.

Never stored: computed whole from sweeps, later work and exclusions, as `repairs.gathered` reads them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal
from uuid import UUID

from accounts.wording import noted, say
from inspections.coatings import Coating
from inspections.runs import Run
from inspections.terms import Stage
from mapping import lines
from mapping.coverage import Event
from mapping.features import Feature
from mapping.intervals import Intervals, minus, total, union
from mapping.line_coverage import DividedLine, LineEvent, LineSwath, divide_line, line_as_left
from mapping.zones import Exclusion
from repairs.feature_gate import FeatureCoverage
from repairs.gathered import Gathered
from repairs.ground import later_work

Seen = Literal["as found", "as left"]
PART_WORDS = {
    "stands": noted("tested"),
    "held": noted("held"),
    "pending": noted("waits for a check"),
    "lost": noted("lost"),
    "gap": noted("not swept"),
}


@dataclass(frozen=True)
class FeaturePicture:
    """One feature at a coat stage. left is None at earlier stages, which are judged as found."""

    feature: Feature
    found: DividedLine
    left: DividedLine | None

    @property
    def now(self) -> DividedLine:
        """What release looks at."""
        return self.left or self.found

    @cached_property
    def worst(self) -> str:
        """The gravest that is missing of it ("gap", "lost", "held", "pending"), or "stands"; "excluded" if all is."""
        if not self.now.testable:
            return "excluded"
        missing = self.now.missing
        for kind in ("gap", "lost", "held", "pending"):
            if missing and total(getattr(self.now, kind)) > 0:
                return kind
        return "stands"

    def amount(self, kind: str) -> float:
        """Metres (or 1) of it that are of one kind: stands, held, pending, lost, gap."""
        return total(getattr(self.now, kind))

    @property
    def untested_said(self) -> str:
        """Where along it it is not tested, in the asset's own words; nothing where it is counted or tested."""
        if not self.feature.is_line or not self.now.missing:
            return ""
        return lines.print_part(self.feature.zone.surface, self.feature.shape, tuple(self.now.missing))


@dataclass(frozen=True)
class FeatureSum:
    """All features of one kind at a coat stage: metres of line, or how many. The parts together are testable."""

    kind: str
    stage: str
    seen: Seen
    count: int
    testable: float
    stands: float
    held: float
    pending: float
    lost: float
    gap: float
    missing: tuple[str, ...]
    """Names of the features that are not tested whole."""

    @property
    def is_line(self) -> bool:
        return self.kind in (Feature.Kind.WELD, Feature.Kind.EDGE)

    @property
    def percent(self) -> float | None:
        """Share tested; None where nothing is testable."""
        return 100 * self.stands / self.testable if self.testable > 0 else None


@dataclass(frozen=True)
class FeaturesPicture:
    """The features of a zone at one coat stage, in order of kind and name, and their sums by kind."""

    stage: str
    features: tuple[FeaturePicture, ...]

    def sums(self, seen: Seen = "as left") -> tuple[FeatureSum, ...]:
        """One row a kind that the zone has."""
        return tuple(
            _sum(kind, self.stage, seen, rows)
            for kind in Feature.Kind.values
            if (rows := [each for each in self.features if each.feature.kind == kind])
        )


def features_at(coating: Coating, rows: Gathered, stage: str) -> FeaturesPicture:
    """The features of a coating's zone at a stage: as found, and for the finished system as left too."""
    features = rows.features.get(coating.zone_id, ())
    if not features:
        return FeaturesPicture(stage, ())
    surface, terms = coating.zone.surface, coating.terms
    final = stage == terms.final_stage.name
    accepted = [row.shape for row in rows.exclusions.get(coating.zone_id, ()) if _is_accepted(row)]
    events = (
        [Event(surface.with_margin(row.shape, terms.as_left_margin), row.at) for row in later_work(coating, rows)]
        if final
        else []
    )
    sweeps: dict[tuple[UUID, str], list[LineSwath]] = defaultdict(list)
    for row in rows.feature_sweeps.get(coating.pk, ()):
        if (row.stage, row.method) == (stage, terms.method):
            sweeps[row.feature, row.purpose].append(row.swath)
    pictures = []
    for feature in features:
        excluded = union(piece for shape in accepted for piece in feature.excluded_by(surface, shape))
        testable = minus(feature.whole, excluded)
        surveyed = sweeps[feature.pk, Run.Purpose.SURVEY]
        found = divide_line(testable, [(sweep.parts, sweep.standing) for sweep in surveyed])
        left = None
        if final:
            later = [
                LineEvent(parts, event.at) for event in events if (parts := feature.spoiled_by(surface, event.shape))
            ]
            left = divide_line(testable, line_as_left(surveyed, later, sweeps[feature.pk, Run.Purpose.RETEST]))
        pictures.append(FeaturePicture(feature, found, left))
    return FeaturesPicture(stage, tuple(pictures))


def _is_accepted(exclusion: Exclusion) -> bool:
    decision = exclusion.decision()
    return decision is not None and decision.accepted


def _sum(kind: str, stage: str, seen: Seen, rows: Sequence[FeaturePicture]) -> FeatureSum:
    left = seen == "as left" and all(each.left is not None for each in rows)
    divided = [each.now if left else each.found for each in rows]

    def of(part: Callable[[DividedLine], Intervals]) -> float:
        return sum(total(part(each)) for each in divided)

    return FeatureSum(
        kind=kind,
        stage=stage,
        seen="as left" if left else "as found",
        count=len(rows),
        testable=sum(each.testable for each in divided),
        stands=of(lambda each: each.stands),
        held=of(lambda each: each.held),
        pending=of(lambda each: each.pending),
        lost=of(lambda each: each.lost),
        gap=of(lambda each: each.gap),
        missing=tuple(each.feature.name for each, now in zip(rows, divided, strict=True) if now.missing),
    )


def asked_of(stage: Stage) -> tuple[tuple[Literal["line", "count"], float], ...]:
    """What a stage asks of lines and of counted features, in percent; nothing where it asks none."""
    asked: tuple[tuple[Literal["line", "count"], float | None], ...] = (
        ("line", stage.required_line_coverage_percent),
        ("count", stage.required_count_coverage_percent),
    )
    return tuple((measure, percent) for measure, percent in asked if percent)


def coverage_asked(coating: Coating, rows: Gathered) -> tuple[FeatureCoverage, ...]:
    """What the gate looks at: one row for each measure that a coat stage asks coverage of."""
    found = []
    for stage in coating.terms.stages:
        asked = asked_of(stage)
        sums = features_at(coating, rows, stage.name).sums() if asked else ()
        for measure, percent in asked:
            mine = [each for each in sums if each.is_line == (measure == "line")]
            found.append(
                FeatureCoverage(
                    stage=stage.name,
                    seen="as left" if stage is coating.terms.final_stage else "as found",
                    measure=measure,
                    required_percent=percent,
                    marked=len(rows.features.get(coating.zone_id, ())),
                    testable=sum(each.testable for each in mine),
                    stands=sum(each.stands for each in mine),
                    held=sum(each.held for each in mine),
                    pending=sum(each.pending for each in mine),
                    lost=sum(each.lost for each in mine),
                    gap=sum(each.gap for each in mine),
                    missing=tuple(f"{Feature.Kind(each.kind).label} {name}" for each in mine for name in each.missing),
                )
            )
    return tuple(found)


def part_words(kind: str) -> str:
    """What a part of a feature is worth, for people."""
    return say(PART_WORDS[kind]) if kind in PART_WORDS else say("left out")
