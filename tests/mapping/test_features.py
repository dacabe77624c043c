"""Features of a zone: added one by one, taken over from landmarks and plates, imported from a table, struck out."""

from __future__ import annotations

import math

import pytest
from rest_framework.exceptions import PermissionDenied, ValidationError

from accounts.acting import perform
from accounts.people import Role
from accounts.verify import verify
from mapping.actions.features import look_at_features
from mapping.features import Feature
from tests.factories import appointed
from tests.scenes import Scene, pipe_scene

pytestmark = [pytest.mark.django_db, pytest.mark.once]
TABLE = """zone;what;name;place;size
# the spool's own
Spool 1;weld;W-1;1+006.00, all around
Spool 1;weld;L-1;1+006.00 @ 3:00 to 1+018.00 @ 3:00
Spool 1;nozzle;N1;1+004.00 @ 12:00;600 mm
"""


@pytest.fixture
def scene() -> Scene:
    return pipe_scene()


def listed() -> list[tuple[str, str, float | None, float]]:
    return list(Feature.objects.filter(struck_at=None).values_list("kind", "name", "length", "size"))


def test_a_weld_is_measured_and_a_nozzle_is_counted(scene: Scene) -> None:
    weld = scene.do("add_feature", scene.crew, scene.zone, kind="weld", name="W-1", place="1+006.00, all around")
    nozzle = scene.do(
        "add_feature", scene.crew, scene.zone, kind="nozzle", name="N1", place="1+004.00 @ 3:00", size="24 in"
    )
    assert (weld.length, weld.size) == (pytest.approx(math.pi), 0.0)
    assert (nozzle.length, nozzle.size) == (None, pytest.approx(0.6096))


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": "weld", "name": "W-1", "place": "1+006.00 @ 3:00"}, "place"),
        ({"kind": "nozzle", "name": "N1", "place": "1+026.00 @ 3:00"}, "place"),
        ({"kind": "bolt", "name": "B1", "place": "1+006.00 @ 3:00"}, "kind"),
        ({"kind": "nozzle", "name": "N1", "place": "1+006.00 @ 3:00", "size": "wide"}, "size"),
    ],
)
def test_a_feature_that_cannot_be_is_refused_by_its_field(scene: Scene, given: dict[str, str], field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        perform("add_feature", scene.crew, scene.zone.pk, given)
    assert list(refused.value.detail) == [field]


def test_two_welds_of_one_zone_have_two_names(scene: Scene) -> None:
    given = {"kind": "weld", "name": "W-1", "place": "1+006.00, all around"}
    scene.do("add_feature", scene.crew, scene.zone, **given)
    with pytest.raises(ValidationError, match='There is a weld named "w-1" already'):
        scene.do("add_feature", scene.crew, scene.zone, **{**given, "name": "w-1"})


def test_girth_welds_of_the_asset_become_welds_of_the_zone_once(scene: Scene) -> None:
    for name, at in (("GW 1", "1+006.00"), ("GW 2", "1+012.00"), ("GW 9", "1+900.00")):
        scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name=name, at=at)
    made = scene.do("add_seams", scene.crew, scene.zone, sources=["girth weld"])
    assert [(row.name, row.length) for row in made] == [
        ("GW 1", pytest.approx(math.pi)),
        ("GW 2", pytest.approx(math.pi)),
    ]
    assert all(row.landmark is not None for row in made)
    with pytest.raises(ValidationError, match="none of them that is not a feature already"):
        scene.do("add_seams", scene.crew, scene.zone, sources=["girth weld"])


def test_vertical_seams_of_a_strake_s_plates_become_welds(scene: Scene) -> None:
    surface = {"number": 2, "height": 2.4, "diameter": 12.0, "plates": [10.0, 130.0, 250.0]}
    strake = perform(
        "add_zone",
        scene.owner,
        scene.asset.pk,
        {"name": "Strake 2", "surface_kind": "strake", "surface": surface, "face": "inside"},
    ).made
    made = scene.do("add_seams", scene.crew, strake, sources=["plates"])
    assert [(row.name, row.length) for row in made] == [(f"V2.{n}", pytest.approx(2.4)) for n in (1, 2, 3)]


def test_a_table_is_recorded_whole_and_twice_is_once(scene: Scene) -> None:
    plan = look_at_features(scene.crew, scene.asset, TABLE.encode(), "features.csv")
    assert (len(plan.new), plan.same, plan.problems) == (3, 0, ())
    perform("import_features", scene.crew, scene.asset.pk, {"text": TABLE})
    assert listed() == [
        ("nozzle", "N1", None, 0.6),
        ("weld", "L-1", pytest.approx(12.0), 0.0),
        ("weld", "W-1", pytest.approx(math.pi), 0.0),
    ]
    again = perform("import_features", scene.crew, scene.asset.pk, {"text": TABLE})
    assert (again.status, again.consequences) == (
        "already",
        ("All 3 features are recorded already; nothing changes.",),
    )
    assert [problem for problem in verify(scene.asset.pk) if problem.table == Feature._meta.db_table] == []


def test_a_table_with_bad_rows_records_nothing_and_names_every_one(scene: Scene) -> None:
    bad = TABLE + (
        "Spool 9;weld;W-2;1+007.00, all around\n"
        "Spool 1;pipe;P1;1+007.00 @ 3:00\n"
        "Spool 1;weld;W-1;1+008.00, all around\n"
        "Spool 1;edge;E1;1+030.00, all around\n"
        "Spool 1;nozzle;N2;1+004.00 @ 6:00;600\n"
        "Spool 1;nozzle;;1+004.00 @ 6:00\n"
    )
    plan = look_at_features(scene.crew, scene.asset, bad.encode(), "features.csv")
    assert [(problem.row, problem.column) for problem in plan.problems] == [
        (6, "zone"), (7, "what"), (8, "name"), (9, "place"), (10, "size"), (11, "name"),
    ]  # fmt: skip
    with pytest.raises(ValidationError):
        perform("import_features", scene.crew, scene.asset.pk, {"text": bad})
    assert listed() == []


def test_a_feature_struck_out_may_be_imported_again_elsewhere(scene: Scene) -> None:
    perform("import_features", scene.crew, scene.asset.pk, {"text": TABLE})
    scene.do("strike_feature", scene.lead, Feature.objects.get(name="W-1"), why="Half a metre further.")
    moved = TABLE.replace("W-1;1+006.00", "W-1;1+006.50")
    (made,) = perform("import_features", scene.crew, scene.asset.pk, {"text": moved}).made
    assert (made.name, made.said) == ("W-1", "1+006.50, all around")


def test_painters_do_not_import_features(scene: Scene) -> None:
    with pytest.raises(PermissionDenied):
        look_at_features(appointed(Role.CONTRACTOR, scene.asset), scene.asset, TABLE.encode(), "features.csv")
