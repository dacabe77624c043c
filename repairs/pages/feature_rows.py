"""Welds, edges, nozzles and brackets on a zone's page: sums in sentences, one row each, where a press sweeps it."""

from __future__ import annotations

from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.urls import reverse

from accounts.acting import may
from accounts.people import Person
from accounts.units import show
from accounts.wording import noted, say, say_many
from inspections.runs import Run
from mapping.features import Feature
from repairs.feature_ground import FeaturePicture, FeatureSum, part_words
from repairs.picture import ZonePicture

_COUNTED = {
    "weld": (noted("{count} weld"), noted("{count} welds")),
    "edge": (noted("{count} edge"), noted("{count} edges")),
    "nozzle": (noted("{count} nozzle"), noted("{count} nozzles")),
    "bracket": (noted("{count} bracket"), noted("{count} brackets")),
}


class FeatureLine(NamedTuple):
    """One feature with its state in words, what is missing along it, and where a press takes the crew."""

    feature: Feature
    words: str
    untested: str
    sweep: str


def features_shown(person: Person, picture: ZonePicture, open_run: Run | None) -> dict[str, Any]:
    """What the page shows of the features, and what the person may do with them."""
    rows = [_line(each, open_run) for each in picture.features.features]
    return {
        "feature_rows": rows,
        "feature_gaps": any(each.worst not in ("stands", "excluded") for each in picture.features.features),
        "may_mark": may(person, "add_feature", picture.zone),
        "may_strike_feature": may(person, "strike_feature", picture.zone),
    }


def sum_words(each: FeatureSum, units: str) -> str:
    """All features of one kind in a sentence: how much is tested, as found or as left."""
    one, many = _COUNTED[each.kind]
    gaps = {"counted": say_many(one, many, each.count), "seen": say(each.seen)}
    if each.is_line:
        return say(
            "{counted}: {stands} of {testable} tested, {seen}.",
            stands=show(each.stands, "metres", units, 2),
            testable=show(each.testable, "metres", units, 2),
            **gaps,
        )
    return say(
        "{counted}: {stands:.0f} of {testable:.0f} tested, {seen}.", stands=each.stands, testable=each.testable, **gaps
    )


def _line(each: FeaturePicture, open_run: Run | None) -> FeatureLine:
    sweep = ""
    if open_run is not None and each.worst in ("gap", "lost"):
        query = urlencode({"feature": str(each.feature.pk), "to": reverse("run", args=[open_run.pk])})
        sweep = f"{reverse('do', args=['sweep_feature', open_run.pk])}?{query}"
    return FeatureLine(each.feature, part_words(each.worst), each.untested_said, sweep)
