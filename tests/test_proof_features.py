"""Coverage of welds and nozzles, whatever led to it, is what counting cells along them by the plain rule gives."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from inspections.runs import Swath
from inspections.tested import differences
from mapping.features import Feature
from mapping.intervals import total
from repairs.feature_ground import FeaturesPicture, features_at
from repairs.gathered import gather
from repairs.picture import zone_picture
from tests.scenes import pipe_scene
from tests.test_proof_coverage import KINDS, LENGTH, START, History, Told

pytestmark = [pytest.mark.django_db, pytest.mark.once]
# Cells a feature is counted in, and how long one is: ten minutes of the clock, a tenth of a metre, the nozzle itself.
CELLS = {"ring": 72, "seam": 10 * LENGTH, "nozzle": 1}
LONG = {"ring": np.pi / 72, "seam": 0.1, "nozzle": 1.0}
AT = {"ring": 300, "nozzle": 450}  # cells along the pipe, of 0.1 m
MICRONS = 1e-4


class Reach(NamedTuple):
    """Swept cells of a feature."""

    name: str
    low: int
    high: int

    def said(self) -> str:
        if self.name == "nozzle":
            return ""
        if self.name == "seam":
            return f"{self.low / 10:.2f} to {self.high / 10:.2f} m"
        clocks = [f"{cell // 6}:{cell % 6}0" for cell in (self.low, self.high % 72)]
        return "" if (self.low, self.high) == (0, 72) else f"1+020 to 1+040, {' to '.join(clocks)}"


class Spoiled(NamedTuple):
    """Cells along the pipe, all around, that were welded on, without the margin of one cell."""

    low: int
    high: int
    at: datetime

    def reaches(self, name: str) -> tuple[int, int]:
        """The cells of a feature that it spoils."""
        low, high = self.low - 1, self.high + 1
        if name == "seam":
            return max(low, 0), high
        return (0, CELLS[name]) if low <= AT[name] + 0.5 <= high else (0, 0)


@dataclass
class FeatureHistory(History):
    """A made-up history in which a weld around, a weld along and a nozzle are swept, and the pipe is welded on."""

    features: dict[str, Feature] = field(default_factory=dict)
    spoiled: list[Spoiled] = field(default_factory=list)

    def mark(self) -> None:
        for name, kind, place in (
            ("ring", "weld", "1+030.05, all around"),
            ("seam", "weld", "1+000.00 @ 3:00 to 1+060.00 @ 3:00"),
            ("nozzle", "nozzle", "1+045.05 @ 6:00"),
        ):
            self.features[name] = self.scene.do(
                "add_feature", self.scene.crew, self.scene.zone, kind=kind, name=name, place=place
            )

    def _sweep(self, told: Told) -> None:
        name = self.chance.choice(sorted(self.features))
        low, high = sorted(self.chance.sample(range(CELLS[name] + 1), 2))
        reach = Reach(name, low, high)
        self.scene.wait(minutes=5)
        row = self.scene.do(
            "sweep_feature", self.scene.crew, told.run, feature=str(self.features[name].pk), part=reach.said()
        )
        told.steps.append((row, reach))  # type: ignore[arg-type]
        if self.chance.random() < 0.15:
            first, last = sorted(self.chance.sample(range(10 * LENGTH + 1), 2))
            last = min(last, first + 60)
            place = f"1+{first / 10:06.2f} to 1+{last / 10:06.2f}"
            made = self.scene.do("record_disturbance", self.scene.crew, self.scene.coating, place=place, kind="weld")
            self.spoiled.append(Spoiled(first, last, made.at))

    def counted(self, name: str, *, left: bool) -> dict[str, int]:
        """How many cells of a feature end with each standing."""
        taken = np.zeros(CELLS[name], dtype=bool)
        found = {}
        reached = [
            (reach, standing, Swath.objects.get(pk=row.pk).started_at)
            for told in self.runs
            for (reach, standing), row in zip(told.standings(), _counting(told), strict=True)
        ]
        for kind in KINDS:
            swept = np.zeros_like(taken)
            for reach, standing, at in reached:
                if standing == kind and reach.name == name:  # type: ignore[attr-defined]
                    swept |= self._cells(reach, at, left)  # type: ignore[arg-type]
            found[kind] = int((swept & ~taken).sum())
            taken |= swept
        return {**found, "gap": int((~taken).sum())}

    def _cells(self, reach: Reach, at: datetime, left: bool) -> NDArray[np.bool_]:
        cells = np.zeros(CELLS[reach.name], dtype=bool)
        cells[reach.low : reach.high] = True
        if left:
            for event in self.spoiled:
                if event.at >= at:
                    low, high = event.reaches(reach.name)
                    cells[low:high] = False
        return cells


def _counting(told: Told) -> list[Swath]:
    """The rows that `standings` speaks of, in its order."""
    if told.run.pk in told.struck:
        return []
    return [row for row, what in told.steps if isinstance(row, Swath) and row.pk not in told.struck]


def history(seed: int) -> FeatureHistory:
    scene = pipe_scene(start=START, end=START + LENGTH, check_interval_min=10_080, speed_limit=10)
    made = FeatureHistory(scene, random.Random(seed))
    made.mark()
    made.live(40)
    return made


def check(made: FeatureHistory) -> FeaturesPicture:
    coating = made.scene.coating
    picture = features_at(coating, gather([coating]), coating.terms.final_stage.name)
    for each in picture.features:
        name = each.feature.name
        assert each.left is not None
        for divided, left in ((each.found, False), (each.left, True)):
            metres = {kind: total(parts) for kind, parts in divided._asdict().items()}
            expected = {kind: count * LONG[name] for kind, count in made.counted(name, left=left).items()}
            assert metres == pytest.approx(expected, abs=MICRONS), (name, left)
    assert list(differences(made.scene.asset.pk)) == []
    return picture


@pytest.mark.parametrize("seed", range(3))
def test_coverage_of_features_is_the_counted_cells_after_any_history(seed: int) -> None:
    made = history(seed)

    check(made)
    made.accept()
    picture = check(made)

    assert zone_picture(made.scene.coating).features == picture


def test_the_made_up_histories_hold_every_standing_and_spoil_what_stood() -> None:
    kinds, spoiled = set[str](), 0.0
    for seed in range(3):
        made = history(seed)
        kinds |= {standing for _, standing in made.worth()}
        for each in check(made).features:
            assert each.left is not None
            spoiled += total(each.found.stands) - total(each.left.stands)

    assert kinds == set(KINDS)
    assert spoiled > 1.0
