"""Zones out of tables: any kinds, shell tables, joint lists and the lines of a deck; every bad row is named."""

from __future__ import annotations

import pytest

from accounts.tablefile import TableError
from mapping.actions.zone_tables import ZonePlan, zone_plan
from mapping.positions import Chainage
from mapping.surfaces.deck import Deck
from mapping.surfaces.pipe import Pipe
from mapping.zonefile import read_zones
from mapping.zones import Zone
from tests.scenes import Scene, pipe_scene

JOINTS = """what,name,at,length,zone,diameter (mm)
joint,J-1,0+000,12.05,Spool A,1016
joint,J-2,0+012.05,11.90,Spool A,
joint,J-3,0+023.95,12.00,Spool B,1016
valve,V-1,0+018,,,
"""
GRID = """what,name,at,from,to,face
letter,H,0
letter,J,6.10
letter,K,12.30
number,1,0
number,2,4.05
zone,North,,H-1,J-2,outside
zone,South,,J-1,K-2,outside
"""


def planned(table: str) -> ZonePlan:
    return zone_plan(pipe_scene().asset, table.encode(), "t.csv")


def problems(table: str, chainage: Chainage | None = None) -> list[tuple[int, str]]:
    found = read_zones(table.encode(), "t.csv", chainage or Chainage()).problems
    return [(problem.row, problem.column) for problem in found]


@pytest.mark.django_db
def test_stretches_of_a_joint_list_run_from_the_first_joint_to_the_end_of_the_last() -> None:
    first, second = (zone.surface for zone in planned(JOINTS).new)
    assert first == Pipe(start=0.0, end=23.95, diameter=1.016)
    assert second == Pipe(start=23.95, end=35.95, diameter=1.016)


@pytest.mark.django_db
def test_a_deck_is_cut_out_of_its_grid_with_its_own_lines() -> None:
    north, south = (zone.surface for zone in planned(GRID).new)
    assert north == Deck(letters=(0.0, 6.1), numbers=(0.0, 4.05), first_letter="H", skip="I")
    assert south == Deck(letters=(6.1, 12.3), numbers=(0.0, 4.05), first_letter="J")


@pytest.mark.django_db
def test_any_zones_stand_one_a_row() -> None:
    plan = planned("zone,kind,diameter,width,height,order\nFloor,disk,18.2\nGate,panel,,3.4,84 in,7\n")
    assert [(zone.name, zone.surface_kind, zone.order) for zone in plan.new] == [
        ("Floor", "disk", 1),
        ("Gate", "panel", 7),
    ]
    assert plan.new[1].surface_json == {"width": 3.4, "height": pytest.approx(2.1336)}


@pytest.mark.django_db
def test_the_same_table_twice_says_nothing_new() -> None:
    scene: Scene = pipe_scene()
    given = {"text": GRID, "file": None}
    scene.do("import_zones", scene.owner, scene.asset, **given)

    again = scene.perform("import_zones", scene.owner, scene.asset, **given)

    assert (again.status, Zone.objects.count()) == ("already", 3)


@pytest.mark.django_db
def test_a_zone_that_is_there_with_another_surface_is_refused() -> None:
    plan = planned("zone,kind,start,end,diameter\nSpool 1,pipe,1+000,1+021,1\n")
    assert [(problem.row, problem.column) for problem in plan.problems] == [(2, "zone")]


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        (JOINTS.replace("Spool B,1016", "Spool A,1020"), [(4, "diameter")]),
        (JOINTS.replace("0+012.05,11.90", "0+012.05,11.20").replace("Spool B", "Spool A"), [(3, "length")]),
        (JOINTS.replace("0+023.95,12.00", "0+023.95,"), [(4, "length")]),
        (JOINTS + "joint,J-4,0+035.95,12,Spool A,\n", [(6, "zone")]),
        (JOINTS.replace("0+000", "zero"), [(2, "at")]),
        (GRID.replace("J-2", "J-9"), [(7, "to")]),
        (GRID.replace("letter,J", "letter,L"), [(7, "to"), (8, "from")]),
        (GRID.replace("number,2", "number,5").replace("-2", "-5"), [(7, "to"), (8, "to")]),
        ("zone,kind\nA,panel\na,panel\n", [(3, "zone")]),
        ("zone,kind\nA,panel,3\n", [(2, "column 3")]),
    ],
)
def test_each_bad_row_is_named(table: str, expected: list[tuple[int, str]]) -> None:
    assert problems(table) == expected


@pytest.mark.parametrize("table", ["name,size\nA,3\n", "zone,kind,colour\nA,panel,red\n", ""])
def test_a_table_of_something_else_is_refused(table: str) -> None:
    with pytest.raises(TableError):
        read_zones(table.encode(), "t.csv", Chainage())


@pytest.mark.django_db
def test_bare_lengths_are_in_the_assets_unit() -> None:
    listed = read_zones(b"strake,height,diameter\n1,8,60\n", "t.csv", Chainage("imperial"))
    assert listed.zones[0].sizes == {"height": "8ft", "diameter": "60ft", "number": "1"}
