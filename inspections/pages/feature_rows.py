"""What a run's page shows beside its lanes: welds, edges, nozzles and brackets, and on concrete the touch tests."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple
from uuid import UUID

from accounts.people import Person
from accounts.wording import say
from inspections.runs import Run, Swath, TouchTest
from inspections.tested import touch_needed
from mapping.features import Feature


class FeatureRow(NamedTuple):
    """A feature of the zone and what this run has swept of it, the last first: which part (empty: all), and the swath."""

    feature: Feature
    swaths: tuple[tuple[str, Swath], ...]


def feature_rows(run: Run) -> list[FeatureRow]:
    """Every feature of the run's zone, in order of kind and name."""
    swept: dict[UUID | None, list[Swath]] = defaultdict(list)
    for swath in run.swaths.filter(struck_at=None, feature__isnull=False).defer("shape").order_by("-sheet_seq"):
        swept[swath.feature_id].append(swath)
    features = Feature.objects.filter(zone=run.sheet.coating.zone, struck_at=None).defer("shape")
    rows = []
    for feature in features.order_by("kind", "name"):
        named = f"{feature.kind} {feature.name}"
        swaths = swept[feature.pk]
        parts = [swath.said.removeprefix(named).removeprefix(", ") for swath in swaths]
        rows.append(FeatureRow(feature, tuple(zip(parts, swaths, strict=True))))
    return rows


def sweep_feature_offers(person: Person, run: Run) -> dict[str, Sequence[tuple[str, str]]]:
    """The features of the zone to choose from."""
    return {"feature": [(str(row.feature.pk), f"{row.feature}, {row.feature.said}") for row in feature_rows(run)]}


def touches(run: Run) -> list[TouchTest]:
    """The touch tests of a run in order of recording."""
    return list(run.touch_tests.select_related("by", "struck_by").order_by("sheet_seq"))


def touch_words(run: Run) -> tuple[bool, str] | None:
    """Whether bare concrete alarmed on every island that was touched, and what is to be said; None where none is asked."""
    if not touch_needed(run):
        return None
    last = {row.island: row for row in touches(run) if row.struck_at is None}
    if not last:
        return False, say(
            "Not touched: on concrete no ground counts before bare concrete about 4 m from the return has alarmed "
            "(common practice, no source)."
        )
    told = [
        say(
            "{where}{island}, {distance:.1f} m from the return at {volts} V: {outcome}",
            where=row.said,
            island=f" ({row.island})" if row.island else "",
            distance=row.distance,
            volts=row.volts,
            outcome=say("alarm") if row.alarm else say("NO ALARM, too dry"),
        )
        for row in last.values()
    ]
    return all(row.alarm for row in last.values()), f"{'; '.join(told)}."
