"""What lists and rows hold, how they come in pages, and how many queries they take."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient
from shapely.geometry import shape

from accounts.people import Role
from accounts.record import Entry, digest_of
from tests.api.conftest import World
from tests.api.contract import COLLECTIONS
from tests.factories import AssetFactory

API = "/api/v1/"
Client = Callable[..., APIClient]


@pytest.fixture
def client(own: World, client_of: Client) -> APIClient:
    return client_of(own.everything)


def listed(client: APIClient, path: str) -> list[dict[str, Any]]:
    answer = client.get(API + path)
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def queries(client: APIClient, path: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as taken:
        listed(client, path)
    return len(taken)


def test_lists_take_as_many_queries_for_many_rows_as_for_few(own: World, client: APIClient) -> None:
    before = {name: queries(client, f"{name}/") for name in COLLECTIONS}
    scene = own.scene
    run = scene.open_run()
    for place in ("1+003.00 @ 1:00", "1+009.00 @ 5:00", "1+014.00 @ 8:00"):
        flaw = scene.flaw(run, place)
        scene.check(run)
        scene.do("report_event", scene.crew, run, kind="lead")
        scene.sweep(run, "1+001.00 to 1+002.00")
        (patch,) = scene.issue(flaw)
        scene.step(patch, "prepared")
        scene.do("record_spot", scene.crew, scene.sheet, place=place, readings=[500, 505, 510])
    exclusion = scene.do("draw_exclusion", scene.crew, scene.zone, place="1+000.00 to 1+001.00", reason="clamp")
    scene.do("decide_exclusion", scene.owner, exclusion, accepted=False, why="It can be reached.")
    scene.do("add_zone", scene.owner, scene.asset, name="Spool 2", surface_kind="pipe",
             surface={"diameter": 1, "start": 1020, "end": 1030}, face="outside")  # fmt: skip
    assert {name: queries(client, f"{name}/") for name in COLLECTIONS} == before
    assert max(before.values()) <= 18


def test_pages_follow_one_another_without_losing_or_repeating_a_row(own: World, client: APIClient) -> None:
    AssetFactory.create_batch(7, organisation=own.scene.asset.organisation)
    seen, link = [], f"{API}assets/?limit=3"
    while link:
        page = client.get(link).json()
        assert len(page["results"]) <= 3
        seen += [row["id"] for row in page["results"]]
        link = page["next"]
    assert len(seen) == len(set(seen)) == 8


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("limit=0", "limit"),
        ("limit=1001", "limit"),
        ("limit=ten", "limit"),
        ("cursor=nonsense", "cursor"),
        ("cursor=cD1ub3RoaW5n", "cursor"),
        ("zone=spool", "zone"),
        ("status=perhaps", "status"),
        ("struck=maybe", "struck"),
    ],
)
def test_a_query_that_cannot_be_read_is_named(query: str, field: str, client: APIClient) -> None:
    answer = client.get(f"{API}flaws/?{query}")
    assert answer.status_code == 400
    assert [error["field"] for error in answer.json()["errors"]] == [field]


def test_flaws_are_filtered_by_run_and_status(own: World, client: APIClient) -> None:
    run = own.scene.runs[0]
    rows = listed(client, f"flaws/?run={run.pk}&status=conceded")
    assert [(row["tag"], row["kind"], row["patch_number"]) for row in rows] == [("A01", "pinhole", 1)]


def test_patches_are_filtered_by_state_and_carry_their_work(own: World, client: APIClient) -> None:
    rows = listed(client, f"patches/?status=conceded&coating={own.scene.coating.pk}")
    assert [step["kind"] for row in rows for cycle in row["cycles"] for step in cycle["steps"]] == ["prepared"]


def test_a_run_carries_what_proves_it(own: World, client: APIClient) -> None:
    run = client.get(f"{API}runs/{own.scene.runs[0].pk}/").json()
    assert [check["measured"] for check in run["verifications"]] == [2500, 2500]
    assert [proof["said"] for proof in run["return_proofs"]] == ["bare end of the spool"]
    assert [event["kind"] for event in run["events"]] == ["battery"]
    assert run["instrument"]["id"] == str(own.scene.detector.pk)


def test_a_swath_is_drawn_in_plane_metres_and_says_so(own: World, client: APIClient) -> None:
    (swath, *_) = listed(client, f"swaths/?run={own.scene.runs[0].pk}")
    assert swath["shape"]["crs_note"] == "plane metres of the zone, not longitude and latitude"
    assert shape(swath["shape"]).area == pytest.approx(swath["area"])


def test_a_zone_tells_its_surface_and_figures(own: World, client: APIClient) -> None:
    zone = client.get(f"{API}zones/{own.scene.zone.pk}/").json()
    assert zone["surface"]["diameter"] == 1.0
    assert zone["figures"]["length"] == pytest.approx(20.0)
    assert zone["figures"]["period"] == pytest.approx(3.141592653589793)


def test_the_picture_of_a_zone_divides_its_testable_ground_without_overlap(own: World, client: APIClient) -> None:
    picture = client.get(f"{API}zones/{own.scene.zone.pk}/picture/").json()
    found = picture["found"]
    parts = ("tested", "held", "pending", "lost", "gap")
    assert sum(found[part] for part in parts) == pytest.approx(found["testable"])
    assert picture["true_area"] - sum(each["area"] for each in picture["excluded"]) == pytest.approx(found["testable"])
    assert picture["gates"] == client.get(f"{API}coatings/{own.scene.coating.pk}/gates/").json()["gates"]


def test_a_coat_stage_that_is_not_there_is_refused_with_those_that_are(own: World, client: APIClient) -> None:
    answer = client.get(f"{API}zones/{own.scene.zone.pk}/picture/?stage=primer")
    assert answer.status_code == 400
    assert "finished system" in answer.json()["errors"][0]["message"]


def test_me_lists_the_roles_in_force(own: World, client_of: Client) -> None:
    me = client_of(own.people[Role.OBSERVER], may_decide=False).get(f"{API}me/").json()
    assert [(role["role"], role["asset"]) for role in me["roles"]] == [("observer", None)]
    assert me["may_decide"] is False


def test_the_change_feed_hands_on_every_entry_in_order_and_its_digests_can_be_checked(
    own: World, client: APIClient
) -> None:
    feed, after, previous, seen = f"{API}records/{own.scene.asset.pk}/entries/", 0, "", []
    while True:
        page = client.get(f"{feed}?after={after}&limit=5").json()
        for entry in page["entries"]:
            assert entry["previous"] == previous
            assert entry["digest"] == digest_of(previous, entry["body"])
            after, previous = entry["seq"], entry["digest"]
            seen.append(after)
        if not page["more"]:
            break
    assert seen == list(Entry.objects.filter(record=own.scene.asset.pk).values_list("seq", flat=True))
    assert page["head"] == {"record": str(own.scene.asset.pk), "seq": after, "digest": previous}


def test_the_feed_refuses_a_number_that_is_none(own: World, client: APIClient) -> None:
    answer = client.get(f"{API}records/{own.scene.asset.pk}/entries/?after=-1")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "after"


def test_the_record_of_something_nothing_was_written_to_begins_at_nothing(own: World, client: APIClient) -> None:
    asset = AssetFactory(organisation=own.scene.asset.organisation)
    assert client.get(f"{API}records/{asset.pk}/").json() == {"record": str(asset.pk), "seq": 0, "digest": ""}


def test_a_reader_who_holds_the_row_is_told_that_it_did_not_change(own: World, client: APIClient) -> None:
    flaw = f"{API}flaws/{listed(client, 'flaws/')[0]['id']}/"
    tag = client.get(flaw)["ETag"]
    again = client.get(flaw, headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", tag)


def test_the_tag_of_a_flaw_changes_when_only_its_repair_moves_on(own: World, client: APIClient) -> None:
    scene = own.scene
    flaw = scene.flaw(scene.open_run(), "1+014.00 @ 8:00")
    tag = client.get(f"{API}flaws/{flaw.pk}/")["ETag"]
    (patch,) = scene.issue(flaw)
    scene.step(patch, "prepared")
    assert client.get(f"{API}flaws/{flaw.pk}/", headers={"If-None-Match": tag}).status_code == 200


def test_the_index_leads_to_every_collection(own: World, client: APIClient) -> None:
    for name, each in client.get(API).json()["collections"].items():
        assert client.get(each["address"]).status_code == 200, name
