"""Plates, bays and stretches on every surface, and that what is marked on them is all of the ground."""

from __future__ import annotations

import pytest
import shapely

from mapping.axes import Gridline, spoken
from mapping.bays import bays_between, strips_of
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from tests.mapping.made_up_surfaces import ANNULUS, CURVED, DECK, DISK, HEAD, STRAKE, SURFACES, inside

ALL = {**SURFACES, "pipe": Pipe(start=1000, end=1020, diameter=1)}


@pytest.mark.parametrize("cut", [False, True], ids=["uncut", "with seams"])
@pytest.mark.parametrize("surface", ALL.values(), ids=ALL.keys())
def test_the_strips_of_all_bays_cover_the_zone(surface: Surface, cut: bool) -> None:
    seams = [
        (name, Gridline(0, spoken(surface, *inside(surface, share, 0.4))[0]))
        for name, share in (("V1", 0.3), ("V2", 0.8))
    ]
    said = [
        strip.said
        for bay in bays_between(surface, seams if cut else [])
        for strip in strips_of(surface, bay, 0.5, 0.05)
    ]
    ground = shapely.union_all([surface.read_region(each) for each in said])
    assert ground.area == pytest.approx(surface.outline.area, rel=1e-4)
    assert len(set(said)) == len(said)


@pytest.mark.parametrize(
    ("surface", "names"),
    [
        (STRAKE, ["plate 1", "plate 2", "plate 3", "plate 4"]),
        (DISK, ["whole zone"]),
        (ANNULUS, ["from V1", "from V2"]),
        (ALL["pipe"], ["from the start", "from V1", "from V2"]),
    ],
)
def test_bays_are_named_by_what_is_seen(surface: Surface, names: list[str]) -> None:
    seams = {
        "pipe": [("V1", Gridline(0, 1004.0)), ("V2", Gridline(0, 1012.0))],
        "annulus": [("V1", Gridline(0, 30.0)), ("V2", Gridline(0, 200.0))],
    }
    assert [bay.name for bay in bays_between(surface, seams.get(surface.kind, []))] == names


def test_the_bays_of_a_grid_are_those_with_ground() -> None:
    assert len(bays_between(DECK, [])) == 12
    assert {"bay A-1", "bay E-4"} <= {bay.said for bay in bays_between(CURVED, [])}


def test_a_lane_says_which_band_of_its_bay_it_is() -> None:
    plate, *_ = bays_between(STRAKE, [])
    first = strips_of(STRAKE, plate, 0.45, 0.05)[0]
    assert (first.said, first.band) == ("plate 1, lane 1 of 6, 0.45 m wide", "0.00 to 0.45 m up")
    lane = strips_of(DISK, bays_between(DISK, [])[0], 0.5, 0.0)[0]
    assert lane.band == "11.50 to 12.00 m from the middle, towards azimuth 180"


def test_what_does_not_unroll_is_marked_by_sectors_without_lanes() -> None:
    bays = bays_between(HEAD, [])
    assert [strip.said for strip in strips_of(HEAD, bays[0], 0.5, 0.05)] == ["0.00 deg to 30.00 deg"]
    assert len(bays) == 12
