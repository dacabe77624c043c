"""A joint list becomes landmarks: all of it or nothing, and only once."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import Done, perform
from accounts.assets import Asset
from accounts.people import Person, Role
from accounts.record import Entry
from accounts.tablefile import TableError
from mapping.actions.joints import look_at_joints
from mapping.jointfile import read_joints
from mapping.landmarks import Landmark
from mapping.positions import Chainage
from tests.factories import AssetFactory, appointed

LIST = """\
what,name,at,length,weld
joint,J-001,0+000.00,12.05,W-001
joint,J-002,0+012.05,11.90,W-002
girth weld,W-003,0+023.95
valve,Line valve 1,"0+018,40"
"""
FEET = "what;name;at;length\njoint;J-1;0+00;39.5\njoint;J-2;0+39.5;40\n"


def listed(text: str, chainage: Chainage | None = None) -> list[str]:
    return [str(problem) for problem in read_joints(text.encode(), "joints.csv", chainage or Chainage()).problems]


def test_a_joint_brings_the_weld_where_it_begins() -> None:
    marks = read_joints(LIST.encode(), "joints.csv", Chainage()).marks
    assert [(mark.kind, mark.name, mark.x) for mark in marks[:4]] == [
        ("girth weld", "W-001", 0.0),
        ("joint", "J-001", 0.0),
        ("girth weld", "W-002", 12.05),
        ("joint", "J-002", 12.05),
    ]
    assert marks[1].said == "0+000.00, 12.05 m long"


def test_lengths_are_in_the_assets_own_unit() -> None:
    assert listed(FEET, Chainage(system="imperial")) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("joint,J-002", "elbow,J-002", 'row 3, what: "elbow" is no landmark; there are: girth weld, joint'),
        ("0+012.05", "0+1200", "row 3, at: "),
        (
            "12.05,W",
            "12.25,W",
            'row 2, length: "12.25" puts the end of J-001 at 0+012.25, and J-002 begins at 0+012.05',
        ),
        ("12.05,W", "long,W", "row 2, length: "),
        ("W-002", "W-001", 'row 3, name: "W-001" is the name of another girth weld, in row 2.'),
        ("W-003,", ",", "row 4, name: is no name; write 1 to 60 characters."),
        ("0+023.95", "0+023.95,,,x", 'row 4, column 6: "x" stands under no heading.'),
    ],
)
def test_a_bad_cell_is_named_by_row_and_column(old: str, new: str, told: str) -> None:
    assert LIST.count(old) == 1
    (found,) = listed(LIST.replace(old, new))
    assert found.startswith(told)


def test_a_list_with_other_columns_is_answered() -> None:
    with pytest.raises(TableError, match="what, name, at"):
        read_joints(b"name,km\nW1,1", "joints.csv", Chainage())


def send(person: Person, asset: Asset, text: str = LIST) -> Done:
    return perform("import_joints", person, asset.pk, {"file": SimpleUploadedFile("joints.csv", text.encode())})


@pytest.mark.django_db
def test_the_list_is_recorded_once() -> None:
    asset = AssetFactory()
    owner = appointed(Role.OWNER, asset)
    first = send(owner, asset)
    assert (first.status, Landmark.objects.count()) == ("recorded", 6)
    again = send(owner, asset)
    assert (again.status, again.entry, Landmark.objects.count()) == ("already", first.entry, 6)


@pytest.mark.django_db
def test_a_longer_list_adds_what_is_new() -> None:
    asset = AssetFactory()
    owner = appointed(Role.OWNER, asset)
    send(owner, asset)
    send(owner, asset, LIST + "marker,Post 1,1+000\n")
    assert Landmark.objects.count() == 7


@pytest.mark.django_db
def test_a_landmark_that_moved_is_refused_and_nothing_is_written() -> None:
    asset = AssetFactory()
    owner = appointed(Role.OWNER, asset)
    send(owner, asset)
    before = Entry.objects.count()
    with pytest.raises(ValidationError) as caught:
        send(owner, asset, LIST.replace("0+023.95", "0+023.97") + "marker,Post 1,1+000\n")
    detail: Any = caught.value.detail
    assert "is recorded at 0+023.95" in str(detail["file"]["row 4"]["at"][0])
    assert (Entry.objects.count(), Landmark.objects.count()) == (before, 6)


@pytest.mark.django_db
def test_a_landmark_that_was_struck_out_can_come_again() -> None:
    asset = AssetFactory()
    owner = appointed(Role.OWNER, asset)
    send(owner, asset)
    weld = Landmark.objects.get(name="W-003")
    perform("strike_landmark", owner, weld.pk, {"why": "measured wrongly"})
    send(owner, asset, LIST.replace("0+023.95", "0+023.97"))
    assert Landmark.objects.get(name="W-003", struck_at=None).x == pytest.approx(23.97)


@pytest.mark.django_db
def test_a_dry_run_writes_nothing() -> None:
    asset = AssetFactory()
    plan = look_at_joints(appointed(Role.LEAD, asset), asset, LIST.encode(), "joints.csv")
    assert (len(plan.new), plan.same, plan.problems, Landmark.objects.count()) == (6, 0, (), 0)


@pytest.mark.django_db
def test_a_contractor_cannot_import_joints() -> None:
    asset = AssetFactory()
    painter = appointed(Role.CONTRACTOR, asset)
    with pytest.raises(PermissionDenied):
        send(painter, asset)
    with pytest.raises(PermissionDenied):
        look_at_joints(painter, asset, LIST.encode(), "joints.csv")
