"""State of patches and flaws as a query: one by one, in bulk, and over random histories."""

from __future__ import annotations

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.exceptions import APIException

from accounts.ids import new_id
from inspections.flaws import Flaw
from repairs.state import FlawStatus, PatchState, flaw_status, gate_state, state, with_state, with_status
from repairs.work import Cycle, Patch, Retest, Step
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db


def one_patch() -> tuple[Scene, Patch]:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    return scene, scene.issue()[0]


def status(scene: Scene) -> FlawStatus:
    return FlawStatus(with_status(Flaw.objects.filter(sheet__coating=scene.coating)).get().status)


def test_a_flaw_goes_from_open_to_accepted_with_its_patch() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00"])
    seen = [status(scene)]
    (patch,) = scene.issue()
    seen.append(status(scene))
    scene.work(patch)
    seen.append(status(scene))
    scene.do("hand_over", scene.painter, patch)
    seen.append(status(scene))
    scene.retest(patch)
    seen.append(status(scene))

    assert [each.value for each in seen] == ["open", "open", "begun", "ready", "accepted"]


def test_a_struck_flaw_is_struck_whatever_its_patch_says() -> None:
    scene, _ = one_patch()
    flaw = Flaw.objects.get()
    scene.do("strike_flaw", scene.lead, flaw, why="wrong zone")

    assert status(scene) == FlawStatus.STRUCK


def test_a_false_indication_is_neither_open_nor_accepted() -> None:
    scene, _ = one_patch()
    scene.do("classify_flaw", scene.crew, Flaw.objects.get(), kind="false indication")

    assert status(scene) == FlawStatus.FALSE


def test_the_latest_classification_counts() -> None:
    scene, _ = one_patch()
    flaw = Flaw.objects.get()
    for kind in ("false indication", "crater"):
        scene.do("classify_flaw", scene.crew, flaw, kind=kind)

    assert with_status(Flaw.objects.all()).get().kind_now == "crater"


def test_a_struck_patch_leaves_its_flaw_open() -> None:
    scene, patch = one_patch()
    scene.do("strike_patch", scene.lead, patch, why="another contractor")

    assert (state(patch), status(scene)) == (PatchState.STRUCK, FlawStatus.OPEN)


@pytest.mark.parametrize(
    ("move", "expected"),
    [("", "open"), ("step", "begun"), ("strike", "open"), ("concede", "conceded"), ("retest", "accepted")],
)
def test_the_query_and_the_plain_function_for_a_flaws_status_agree(move: str, expected: str) -> None:
    scene, patch = one_patch()
    if move == "step":
        scene.step(patch, "prepared")
    if move == "strike":
        scene.do("strike_patch", scene.lead, patch, why="another contractor")
    if move == "concede":
        scene.do("concede", scene.owner, scene.coating, patch=str(patch.pk), reason="out of sight")
    if move == "retest":
        scene.repair(patch)
        scene.retest(patch)

    assert status(scene).value == flaw_status(False, "pinhole", state(patch)).value == expected


def test_work_after_handing_over_takes_the_hand_over_back() -> None:
    scene, patch = one_patch()
    scene.repair(patch)
    scene.step(patch, "prepared")

    assert state(patch) == PatchState.BEGUN


def test_a_conceded_patch_can_still_be_repaired_and_handed_over() -> None:
    scene, patch = one_patch()
    concession = scene.do("concede", scene.owner, scene.coating, patch=str(patch.pk), reason="out of sight")
    scene.repair(patch)
    scene.retest(patch)
    conceded = state(patch)
    scene.do("strike_concession", scene.owner, concession, why="it was repaired after all")

    assert (conceded, state(patch)) == (PatchState.CONCEDED, PatchState.ACCEPTED)


def test_gates_take_every_state_but_struck_out() -> None:
    told = {each: gate_state(each) for each in PatchState}

    assert {each for each, said in told.items() if said is None} == {PatchState.STRUCK}
    assert told[PatchState.REOPENED] == told[PatchState.RETEST_WAITS] == "ready for retest"


def test_patches_can_be_filtered_by_state() -> None:
    scene = pipe_scene()
    scene.survey(flaws=["1+004.00 @ 3:00", "1+008.00 @ 3:00"])
    first, second = scene.issue()
    scene.step(second, "prepared")

    assert list(with_state(Patch.objects.all()).filter(state=PatchState.TO_DO)) == [first]


def test_states_of_any_number_of_patches_are_one_query() -> None:
    scene, patch = one_patch()
    scene.repair(patch)
    many = [
        Patch(
            id=new_id(), coating=scene.coating, number=number, shape=patch.shape, area=patch.area, said=patch.said,
            contractor=scene.contractor, issued_by=scene.lead, issued_at=scene.clock,
        )
        for number in range(2, 202)
    ]  # fmt: skip
    Patch.objects.bulk_create(many)
    cycles = [Cycle(patch=each, number=1, worker_org=scene.contractor, opened_at=scene.clock) for each in many]
    Cycle.objects.bulk_create(cycles)
    work = {"by": scene.painter, "organisation": scene.contractor}
    Step.objects.bulk_create(Step(cycle=each, kind="prepared", at=scene.clock, **work) for each in cycles)

    with CaptureQueriesContext(connection) as queries:
        states = [each.state for each in with_state(Patch.objects.order_by("number"))]

    assert len(queries) == 1
    assert states == [PatchState.READY, *[PatchState.BEGUN] * 200]


MOVES = ("work", "hand over", "pass", "fail", "give up", "lose")
SAYS = {
    None: PatchState.TO_DO,
    "worked": PatchState.BEGUN,
    "handed over": PatchState.READY,
    "passed": PatchState.ACCEPTED,
    "lost": PatchState.REOPENED,
    "failed": PatchState.FAILED,
    "opened by a failure": PatchState.FAILED,
    "given up": PatchState.TO_DO,
}


def allowed(last: str | None, move: str) -> bool:
    """Whether an action may be done on a patch whose last round stands like this."""
    return (
        last
        in {
            "work": set(SAYS),
            "hand over": {"worked"},
            "pass": {"worked", "handed over", "lost"},
            "fail": {"worked", "handed over", "lost", "passed"},
            "give up": {"worked", "handed over", "opened by a failure"},
            "lose": {"passed"},
        }[move]
    )


def told(rounds: list[str], move: str) -> None:
    """Tell the story on: how each round of the patch stands."""
    running = rounds[-1:] and rounds[-1] in {"worked", "handed over", "opened by a failure"}
    after = {"work": "worked", "hand over": "handed over", "pass": "passed", "fail": "failed", "give up": "given up"}
    if move == "lose":
        rounds[-1] = "lost"
    elif move == "give up" and rounds[-1] == "opened by a failure":
        rounds.pop()  # nothing was done in it: what was before holds
    elif running:
        rounds[-1] = after[move]
    else:
        rounds.append(after[move])
    if move == "fail":
        rounds.append("opened by a failure")


def done(scene: Scene, patch: Patch, move: str) -> None:
    if move == "work":
        scene.work(patch)
    elif move == "hand over":
        scene.do("hand_over", scene.painter, patch)
    elif move == "give up":
        scene.do("abandon_cycle", scene.lead, patch, why="another product")
    elif move == "lose":
        last = Retest.objects.filter(cycle__patch=patch).order_by("-cycle__number").first()
        assert last is not None
        scene.do("strike_swath", scene.lead, last.swath, why="the wrong patch was swept")
    else:
        scene.retest(patch, "passed" if move == "pass" else "failed")


@pytest.mark.once
@settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(moves=st.lists(st.sampled_from(MOVES), min_size=3, max_size=9))
def test_any_order_of_actions_leaves_the_state_that_its_story_tells(db: None, moves: list[str]) -> None:
    with transaction.atomic():
        scene, patch = one_patch()
        rounds: list[str] = []
        for move in moves:
            last = rounds[-1] if rounds else None
            if allowed(last, move):
                done(scene, patch, move)
                told(rounds, move)
            elif move != "lose":
                with pytest.raises(APIException), transaction.atomic():
                    done(scene, patch, move)
            assert state(patch) == SAYS[rounds[-1] if rounds else None], (rounds, move)
        transaction.set_rollback(True)
