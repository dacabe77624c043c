"""Stored coverage, whatever led to it, is the fresh union of what stands and the count of its cells; the seam is nowhere."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from accounts.acting import perform
from inspections.coatings import Coverage
from inspections.runs import ReturnProof, Run, Swath, Verification
from inspections.tested import differences, ground_of
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]
SAME_SHAPE = 1e-6  # m2
START, LENGTH = 1000, 60  # m: three stretches
ALONG, AROUND = 10 * LENGTH, 72  # cells of 0.1 m by ten minutes of the clock
PERIOD = np.pi  # m, of a pipe 1 m thick
KINDS = ("stands", "held", "pending", "lost")
COLUMNS = dict(zip(KINDS, ("found", "held", "pending", "lost"), strict=True))
MEASURED = {"good": 2500, "low": 1500, "high": 3500}


class Block(NamedTuple):
    """Swept ground in whole cells: from low to high along, `wide` cells clockwise from `first`."""

    low: int
    high: int
    first: int
    wide: int

    def said(self) -> str:
        clocks = (f"{cell // 6 % 12}:{cell % 6}0" for cell in (self.first, self.first + self.wide))
        return f"1+{self.low / 10:06.2f} to 1+{self.high / 10:06.2f}, {' to '.join(clocks)}"

    def shape(self) -> BaseGeometry:
        """The ground as a polygon, made here and not by the surface: cut where it passes twelve o'clock."""
        step = PERIOD / AROUND
        x = (START + self.low / 10, START + self.high / 10)
        end = self.first + self.wide
        pieces = [shapely.box(x[0], self.first * step, x[1], min(end, AROUND) * step)]
        if end > AROUND:
            pieces.append(shapely.box(x[0], 0.0, x[1], (end - AROUND) * step))
        return shapely.union_all(pieces)

    def cells(self) -> NDArray[np.bool_]:
        grid = np.zeros((ALONG, AROUND), dtype=bool)
        around = np.arange(self.first, self.first + self.wide) % AROUND
        grid[np.ix_(np.arange(self.low, self.high), around)] = True
        return grid


@dataclass
class Told:
    """A run as this test tells it: checks and swaths in order of recording, and what was decided or struck out."""

    run: Run
    proof: ReturnProof
    steps: list[tuple[Verification, str] | tuple[Swath, Block]] = field(default_factory=list)
    struck: set[object] = field(default_factory=set)
    accepted: set[object] = field(default_factory=set)
    closed: bool = False

    def standings(self) -> list[tuple[Block, str]]:
        """What each swath is worth by the rule in plain words: between two good checks it stands."""
        if self.run.pk in self.struck:
            return []
        steps = [step for step in self.steps if step[0].pk not in self.struck]
        found = []
        for place, (row, block) in enumerate(steps):
            if isinstance(block, str):
                continue
            before = [what for _, what in steps[:place] if isinstance(what, str)]
            after = next((what for _, what in steps[place:] if isinstance(what, str)), None)
            if row.pk in self.accepted:  # what only waits for its next check goes on waiting
                found.append((block, "stands" if after or self.closed or "good" not in before else "pending"))
            else:
                found.append((block, self._worth(before, after)))
        return found

    def _worth(self, before: list[str], after: str | None) -> str:
        if self.proof.pk in self.struck or "good" not in before:
            return "lost"
        around = {before[-1], after or ("missing" if self.closed else "awaited")}
        if around & {"low", "missing"}:
            return "lost"
        if "high" in around:
            return "held"
        return "pending" if "awaited" in around else "stands"


@dataclass
class History:
    """A made-up history of one zone, told to the database through actions and to this test."""

    scene: Scene
    chance: random.Random
    shift: int = 0
    runs: list[Told] = field(default_factory=list)

    def live(self, actions: int) -> None:
        for _ in range(3):
            self._open()
        moves = [self._sweep] * 6 + [self._check] * 4 + [self._close, self._strike_swath, self._strike_check]
        moves += [self._strike_run, self._strike_proof]
        for _ in range(actions):
            move, told = self.chance.choice(moves), self.chance.choice(self.runs)
            move(told)

    def _open(self) -> None:
        run = self.scene.open_run(set_volts=2500)
        told = Told(run, ReturnProof.objects.get(run=run))
        told.steps.append((Verification.objects.get(run=run), "good"))
        self.runs.append(told)

    def _sweep(self, told: Told) -> None:
        low, high = sorted(self.chance.sample(range(ALONG + 1), 2))
        first = (self.chance.randrange(AROUND) + self.shift) % AROUND
        block = Block(low, high, first, self.chance.randint(1, AROUND - 1))
        swath = self.scene.sweep(told.run, block.said())
        told.steps.append((swath, block))

    def _check(self, told: Told) -> None:
        outcome = self.chance.choice(("good", "good", "good", "low", "high"))
        told.steps.append((self.scene.check(told.run, measured=MEASURED[outcome]), outcome))

    def _close(self, told: Told) -> None:
        if not told.closed and told.run.pk not in told.struck:
            self.scene.do("close_run", self.scene.crew, told.run)
            told.closed = True

    def _strike(self, told: Told, name: str, row: Run | Swath | Verification | ReturnProof) -> None:
        if row.pk not in told.struck:
            self.scene.do(name, self.scene.lead, row, why="Written down by mistake.")
            told.struck.add(row.pk)

    def _strike_swath(self, told: Told) -> None:
        if swaths := [row for row, _ in told.steps if isinstance(row, Swath)]:
            self._strike(told, "strike_swath", self.chance.choice(swaths))

    def _strike_check(self, told: Told) -> None:
        checks = [row for row, _ in told.steps if isinstance(row, Verification)]
        self._strike(told, "strike_verification", self.chance.choice(checks))

    def _strike_run(self, told: Told) -> None:
        if self.chance.random() < 0.3:
            self._strike(told, "strike_run", told.run)
            self._open()

    def _strike_proof(self, told: Told) -> None:
        if self.chance.random() < 0.3:
            self._strike(told, "strike_return_proof", told.proof)

    def accept(self) -> None:
        """The owner takes what is lost or held; it comes last, because it rules on the causes known by then."""
        for told in self.runs:
            doubtful = Swath.objects.filter(run=told.run, struck_at=None, standing__in=("lost", "held"))
            if told.run.pk in told.struck or not doubtful or self.chance.random() < 0.5:
                continue
            told.accepted |= {swath.pk for swath in doubtful}
            perform("decide_held", self.scene.owner, told.run.pk, {"decision": "stands", "why": "Seen by the owner."})

    def worth(self) -> list[tuple[Block, str]]:
        return [row for told in self.runs for row in told.standings()]


def history(seed: int, shift: int = 0) -> History:
    scene = pipe_scene(start=START, end=START + LENGTH, check_interval_min=10_080, speed_limit=10)
    made = History(scene, random.Random(seed), shift)
    made.live(40)
    return made


def fresh_union(worth: list[tuple[Block, str]]) -> dict[str, BaseGeometry]:
    """The zone divided once, from nothing, by the swaths as they are in the end."""
    left: BaseGeometry = shapely.box(START, 0.0, START + LENGTH, PERIOD)
    divided = {}
    for kind in KINDS:
        swept = shapely.union_all([block.shape() for block, standing in worth if standing == kind])
        divided[kind] = shapely.intersection(left, swept)
        left = shapely.difference(left, swept)
    return divided


def counted_cells(worth: list[tuple[Block, str]]) -> dict[str, NDArray[np.bool_]]:
    taken = np.zeros((ALONG, AROUND), dtype=bool)
    counted = {}
    for kind in KINDS:
        swept = np.zeros_like(taken)
        for block, standing in worth:
            if standing == kind:
                swept |= block.cells()
        counted[kind] = swept & ~taken
        taken |= swept
    return counted


def stored_areas(scene: Scene) -> dict[str, float]:
    rows = list(Coverage.objects.filter(coating=scene.coating))
    return {kind: sum(getattr(row, f"{column}_area") for row in rows) for kind, column in COLUMNS.items()}


def check(made: History) -> None:
    scene, worth = made.scene, made.worth()
    stage = scene.coating.terms.final_stage.name
    ground, areas = ground_of(scene.coating, stage), stored_areas(scene)
    union, cells = fresh_union(worth), counted_cells(worth)
    for kind in KINDS:
        assert shapely.symmetric_difference(getattr(ground, kind), union[kind]).area < SAME_SHAPE, kind
        assert areas[kind] == pytest.approx(cells[kind].sum() * 0.1 * PERIOD / AROUND, abs=SAME_SHAPE), kind
    assert list(differences(scene.asset.pk)) == []


@pytest.mark.parametrize("seed", range(6))
def test_stored_coverage_is_the_fresh_union_and_the_counted_cells_after_any_history(seed: int) -> None:
    made = history(seed)

    check(made)
    made.accept()
    check(made)


def test_the_made_up_histories_hold_every_kind_of_ground_and_every_way_back() -> None:
    kinds, struck, accepted = set[str](), set[str](), 0
    for seed in range(6):
        made = history(seed)
        made.accept()
        kinds |= {standing for _, standing in made.worth()}
        for told in made.runs:
            accepted += len(told.accepted)
            rows = [told.run, told.proof, *(row for row, _ in told.steps)]
            struck |= {type(row).__name__ for row in rows if row.pk in told.struck}

    assert kinds == set(KINDS)
    assert struck == {"Run", "ReturnProof", "Verification", "Swath"}
    assert accepted > 0


@pytest.mark.parametrize(("seed", "shift"), [(0, 1), (1, 35), (2, 71)])
def test_the_same_history_begun_further_round_the_pipe_covers_the_same_ground_further_round(
    seed: int, shift: int
) -> None:
    here, there = history(seed), history(seed, shift)

    check(there)
    assert stored_areas(there.scene) == pytest.approx(stored_areas(here.scene), abs=SAME_SHAPE)
    cells, shifted = counted_cells(here.worth()), counted_cells(there.worth())
    for kind in KINDS:
        assert np.array_equal(np.roll(cells[kind], shift, axis=1), shifted[kind]), kind
