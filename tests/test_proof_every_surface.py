"""Coverage on every kind of surface, whatever led to it: the stored ground is the fresh union of what stands and the
count of its cells; where the seam lies changes nothing; what is printed is read as the same."""

from __future__ import annotations

import random
from typing import NamedTuple

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from inspections.runs import Run, Swath
from inspections.tested import differences, ground_of
from mapping.axes import spoken
from mapping.surfaces.plane import Place, Sector, Surface
from mapping.surfaces.polar import Polar
from tests.scenes import Scene, scene_of
from tests.test_every_surface import SMALL

pytestmark = [pytest.mark.django_db, pytest.mark.once]
FINE = 1000
"""Shares of an axis in which the made-up ground begins and ends; cells lie between them."""
every_kind = pytest.mark.parametrize("kind", SMALL)
closed = pytest.mark.parametrize("kind", [kind for kind, surface in SMALL.items() if surface.has_seam])


class Block(NamedTuple):
    """Ground between shares of both axes; past 1 around where the surface closes."""

    left: float
    right: float
    low: float
    high: float


def goes_round(surface: Surface) -> int | None:
    """Which of the two axes of its stretches comes back to its beginning: 0 along the lanes, 1 across; None: neither."""
    if isinstance(surface, Polar):
        return 1
    return {"x": 0, "y": 1, None: None}[surface.wrap_axis]


def said(surface: Surface, block: Block) -> str:
    """The ground in the zone's own words."""
    if isinstance(surface, Polar):
        long = surface.outer - surface.inner
        ends = (surface.inner + share * long for share in block[:2])
        return surface.print_region(*ends, Sector(block.low * 360, block.high * 360))
    low_x, low_y, high_x, high_y = surface.outline.bounds
    along = (low_x + share * (high_x - low_x) for share in block[:2])
    return surface.print_region(*along, Sector(*(low_y + share * (high_y - low_y) for share in block[2:])))


def made_up(surface: Surface, chance: random.Random) -> Block:
    def ends(axis: int) -> tuple[float, float]:
        low, high = sorted(chance.sample(range(0, FINE + 1, 20), 2))
        return (
            (high / FINE, low / FINE + 1)
            if goes_round(surface) == axis and chance.random() < 0.4
            else (low / FINE, high / FINE)
        )

    return Block(*ends(0), *ends(1))


def holds(surface: Surface, block: Block, places: list[Place]) -> NDArray[np.bool_]:
    """Which places lie in the block, by the figures of their two axes and not by the surface's shapes."""
    if isinstance(surface, Polar):
        figures = np.array([spoken(surface, *place) for place in places])
        shares = np.column_stack(
            ((figures[:, 1] * surface.scale - surface.inner) / (surface.outer - surface.inner), figures[:, 0] / 360)
        )
    else:
        low_x, low_y, high_x, high_y = surface.outline.bounds
        shares = (np.array(places) - (low_x, low_y)) / (high_x - low_x, high_y - low_y)
    within = np.ones(len(places), dtype=bool)
    for axis, (low, high) in enumerate((block[:2], block[2:])):
        share = shares[:, axis]
        around = share + 1 if goes_round(surface) == axis else share
        within &= ((share >= low) & (share <= high)) | ((around >= low) & (around <= high))
    return within


def cells_of(surface: Surface) -> list[Place]:
    """Middles of cells all over the zone, off the borders of the made-up ground."""
    low_x, low_y, high_x, high_y = surface.outline.bounds
    xs, ys = (low + (np.arange(30) + 0.47) / 30 * (high - low) for low, high in ((low_x, high_x), (low_y, high_y)))
    x, y = (each.ravel() for each in np.meshgrid(xs, ys))
    there = shapely.intersects_xy(surface.outline.buffer(-0.02), x, y)
    return [Place(*point) for point in np.column_stack((x, y))[there]]


def near_an_edge(shape: shapely.Geometry, points: NDArray[np.object_]) -> NDArray[np.bool_]:
    return np.asarray(shapely.distance(shape.boundary, points) < 0.011)  # half a printed step, and what a rim is cut by


def history(scene: Scene, chance: random.Random) -> tuple[list[tuple[Swath, Block]], list[Run]]:
    """Runs with swaths of which some are struck out, and one run whose ground is lost."""
    told, runs = [], []
    for number in range(3):
        run = scene.open_run()
        for _ in range(3):
            block = made_up(scene.zone.surface, chance)
            told.append((scene.sweep(run, said(scene.zone.surface, block)), block))
        scene.check(run, measured=1500 if number == 1 else 2500, phase="end")
        scene.do("close_run", scene.crew, run)
        runs.append(run)
    struck, _ = told[chance.randrange(3)]
    scene.do("strike_swath", scene.lead, struck, why="Not swept after all.")
    return told, runs


@every_kind
def test_stored_coverage_is_the_fresh_union_and_the_counted_cells(kind: str) -> None:
    surface = SMALL[kind]
    scene = scene_of(surface, kind)
    told, _ = history(scene, random.Random(kind))
    standing = [
        (swath, block) for swath, block in told if Swath.objects.get(pk=swath.pk, ).standing == "stands"
        and Swath.objects.get(pk=swath.pk).struck_at is None
    ]  # fmt: skip

    stored = ground_of(scene.coating, scene.coating.terms.final_stage.name).stands

    fresh = shapely.union_all([surface.read_region(said(surface, block)) for _, block in standing])
    assert shapely.symmetric_difference(stored, fresh).area < 1e-6
    places = cells_of(surface)
    counted = np.zeros(len(places), dtype=bool)
    for _, block in standing:
        counted |= holds(surface, block, places)
    points = shapely.points(np.array(places))
    agree = (shapely.intersects(stored, points) == counted) | near_an_edge(stored, points)
    assert agree.all()
    assert counted.any()
    assert not counted.all()
    assert list(differences(scene.asset.pk)) == []


@closed
def test_where_the_seam_lies_changes_no_area_and_no_number_of_gaps(kind: str) -> None:
    surface = SMALL[kind]
    chance = random.Random(f"seam of {kind}")
    blocks = [made_up(surface, chance) for _ in range(4)]
    axis = goes_round(surface)

    def turned(block: Block, by: float) -> Block:
        ends = [list(block[:2]), list(block[2:])]
        assert axis is not None
        low, high = ends[axis]
        start = (low + by) % 1.0
        ends[axis] = [start, start + high - low]
        return Block(*ends[0], *ends[1])

    areas = [
        shapely.union_all([surface.read_region(said(surface, turned(block, by))) for block in blocks]).area
        for by in (0.0, 0.25, 0.5, 0.74)
    ]
    assert areas == pytest.approx([areas[0]] * 4, rel=2e-3)


@every_kind
def test_ground_that_is_printed_is_read_as_the_same_ground(kind: str) -> None:
    surface = SMALL[kind]
    chance = random.Random(f"words of {kind}")
    for _ in range(10):
        words = said(surface, made_up(surface, chance))
        region = surface.read_region(words)
        again = surface.read_region(surface.describe_region(region))
        assert shapely.difference(region, again).area < 1e-9, words
        assert surface.describe_region(again) == surface.describe_region(region), words
