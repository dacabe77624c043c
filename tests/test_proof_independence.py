"""Whoever applied a patch never passes it: not by page, interface, file, bulk write or plain SQL."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from rest_framework.exceptions import PermissionDenied, ValidationError
from rest_framework.test import APIClient

from accounts.acting import perform
from accounts.people import Person, Role
from accounts.tokens import Token
from inspections.runs import Run, Swath
from repairs.state import PatchState, state
from repairs.work import Cycle, Patch, Retest
from tests.factories import AppointmentFactory, appointed
from tests.scenes import Scene, pipe_scene

pytestmark = pytest.mark.django_db
RULE = "cycle_not_passed_by_its_worker"


class Ready(NamedTuple):
    """A patch handed over, a standing swath over it, and somebody of the contractor who recorded no step of it."""

    scene: Scene
    patch: Patch
    swath: Swath
    mate: Person


def ready(**terms: Any) -> Ready:
    scene = pipe_scene(**terms)
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.repair(patch)
    swath = scene.retest_swath(patch)
    return Ready(scene, patch, swath, appointed(Role.CONTRACTOR, scene.asset, scene.contractor))


def passing(there: Ready, **more: Any) -> dict[str, Any]:
    return {"swath": str(there.swath.pk), "outcome": "passed", **more}


def by_page(there: Ready, person: Person) -> int:
    client = Client()
    client.force_login(person)
    return client.post(reverse("do", args=["settle_retest", there.patch.pk]), passing(there)).status_code


def by_api(there: Ready, person: Person) -> int:
    client = APIClient()
    client.credentials(
        HTTP_AUTHORIZATION=f"Token {Token.objects.create(user=person, name='tablet', may_decide=True)[1]}"
    )
    return client.post(f"/api/v1/patches/{there.patch.pk}/settle_retest/", passing(there), format="json").status_code


@pytest.mark.parametrize("send", [by_page, by_api])
def test_neither_the_painter_nor_a_colleague_passes_the_patch_over_the_web(
    send: Callable[[Ready, Person], int],
) -> None:
    there = ready()

    assert [send(there, person) for person in (there.scene.painter, there.mate)] == [403, 403]
    assert state(there.patch) == PatchState.READY


@pytest.mark.parametrize("send", [by_page, by_api])
def test_what_refuses_the_contractor_lets_the_crew_pass(send: Callable[[Ready, Person], int]) -> None:
    there = ready()

    assert send(there, there.scene.crew) in (201, 303)
    assert state(there.patch) == PatchState.ACCEPTED


def test_own_quality_control_needs_a_witness_from_elsewhere() -> None:
    there = ready(own_quality_control_may_retest=True)

    for witness in ("", there.scene.painter.email, "nobody@example.org"):
        with pytest.raises(ValidationError):
            there.scene.settle(there.patch, there.swath, person=there.mate, witness=witness)
    assert state(there.patch) == PatchState.READY


def test_a_second_appointment_makes_nobody_independent_of_the_firm_that_did_the_work() -> None:
    there = ready()
    inspector = there.scene.crew.organisation
    AppointmentFactory(person=there.mate, organisation=inspector, asset=there.scene.asset, role=Role.CREW)

    with pytest.raises(PermissionDenied, match="the specification asks for another retester"):
        there.scene.settle(there.patch, there.swath, person=there.mate)


def test_somebody_employed_by_the_contractor_and_lent_to_the_crew_does_not_pass_its_work() -> None:
    there = ready()
    lent = appointed(Role.CREW, there.scene.asset, there.scene.contractor)

    with pytest.raises(PermissionDenied, match="the specification asks for another retester"):
        there.scene.settle(there.patch, there.swath, person=lent)


def test_a_colleague_with_a_second_appointment_is_no_witness() -> None:
    there = ready(own_quality_control_may_retest=True)
    AppointmentFactory(
        person=there.scene.painter, organisation=there.scene.crew.organisation, asset=there.scene.asset, role=Role.CREW
    )

    with pytest.raises(ValidationError, match="nobody appointed on this asset by another organisation"):
        there.scene.settle(there.patch, there.swath, person=there.mate, witness=there.scene.painter.email)


def test_a_contractor_sweeps_nothing_in_a_run_of_the_crew() -> None:
    there = ready()
    run = there.scene.open_run("retest")

    for name, given in (
        ("mark_swept", {"place": "whole zone"}),
        ("verify", {"measured": 2500, "alarm_seen": True}),
        ("prove_return", {"said": "flange"}),
        ("close_run", {}),
    ):
        with pytest.raises(PermissionDenied):
            there.scene.do(name, there.mate, run, **given)
    assert not Swath.objects.filter(run=run).exists()


def test_a_retest_swept_by_the_contractor_is_not_settled_by_another_as_his_own() -> None:
    there = ready(own_quality_control_may_retest=True)
    own = there.scene.retest_swath(there.patch, there.mate)

    with pytest.raises(ValidationError, match="name the witness"):
        there.scene.settle(there.patch, own)
    there.scene.settle(there.patch, own, witness=there.scene.lead.email)
    assert state(there.patch) == PatchState.ACCEPTED


def test_a_contractor_opens_no_survey_run_even_where_it_may_retest() -> None:
    there = ready(own_quality_control_may_retest=True)

    with pytest.raises(ValidationError, match="may only open a retest run"):
        there.scene.open_run("survey", there.mate)


SHEET = """what,value,run,time,until,purpose,instrument,electrode,set,sweeper,cautions,phase,measured,alarm,place
sheet,R
zone,Spool 1
date,2025-03-10
run,,1,10:00,,retest,{detector},{electrode},2500 V,Ines Holt,yes
return,,1,10:01,,,,,,,,,,,flange
check,,1,10:02,,,,,,,,start,2500 V,yes
swept,,1,10:03,10:30,,,,,,,,,,1+003.00 to 1+005.00
check,,1,10:31,,,,,,,,end,2500 V,yes
close,,1,10:32
"""


def sheet_of(scene: Scene) -> dict[str, str]:
    return {"text": SHEET.format(detector=scene.detector.serial, electrode=scene.electrode.name)}


def test_a_contractor_imports_no_field_sheet() -> None:
    there = ready()

    for person in (there.scene.painter, there.mate):
        with pytest.raises(PermissionDenied):
            perform("import_sheet", person, there.scene.coating.pk, sheet_of(there.scene))
    assert not Run.objects.filter(number=1, sheet__letter="R").exists()


def test_no_row_of_a_file_passes_a_patch() -> None:
    there = ready()

    perform("import_sheet", there.scene.crew, there.scene.coating.pk, sheet_of(there.scene))

    assert Swath.objects.get(run__sheet__letter="R").standing == "stands"
    assert state(there.patch) == PatchState.READY
    assert not Retest.objects.exists()


@pytest.mark.parametrize("word", ["settle", "retest", "passed", "accepted", "cycle", "patch"])
def test_a_file_knows_no_row_that_would_settle_a_retest(word: str) -> None:
    there = ready()
    text = f"what,value,outcome\nsheet,R\n{word},1,passed\n"

    with pytest.raises(ValidationError):
        perform("import_sheet", there.scene.crew, there.scene.coating.pk, {"text": text})


def sql(statement: str, *values: Any) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)


def key(value: Any) -> Any:
    return Cycle._meta.pk.get_db_prep_value(value.pk, connection)


@pytest.mark.parametrize("outcome", ["passed", "failed"])
def test_plain_sql_settles_nothing_in_the_name_of_the_contractor(outcome: str) -> None:
    there = ready()
    settled = f"UPDATE repairs_cycle SET outcome = '{outcome}', settled_at = opened_at"

    with pytest.raises(IntegrityError, match=RULE):
        sql(settled)
    with pytest.raises(IntegrityError, match=RULE):
        sql(f"{settled}, retester_id = %s", key(there.mate))
    with pytest.raises(IntegrityError, match=RULE):
        sql(f"{settled}, retester_id = %s, retester_org_id = worker_org_id", key(there.mate))
    with pytest.raises(IntegrityError, match="never changes"):
        sql("UPDATE repairs_cycle SET worker_org_id = %s", key(there.scene.crew.organisation))


def test_plain_sql_inserts_no_cycle_that_is_passed_by_its_worker() -> None:
    there = ready()
    columns = "id, version, patch_id, number, worker_org_id, opened_at, outcome, settled_at, retester_id, note"
    chosen = "%s, 1, patch_id, 2, worker_org_id, opened_at, 'passed', opened_at, %s, ''"

    with pytest.raises(IntegrityError, match=RULE):
        sql(
            f"INSERT INTO repairs_cycle ({columns}, retester_org_id) SELECT {chosen}, worker_org_id FROM repairs_cycle",
            key(there.swath),
            key(there.mate),
        )


@pytest.mark.parametrize("outcome", ["passed", "failed"])
def test_a_bulk_write_passes_nothing_in_the_name_of_the_contractor(outcome: str) -> None:
    there = ready()
    cycle = Cycle(
        patch=there.patch,
        number=2,
        worker_org=there.scene.contractor,
        opened_at=there.scene.clock,
        outcome=outcome,
        settled_at=there.scene.clock,
        retester=there.mate,
        retester_org=there.scene.contractor,
    )

    with pytest.raises(IntegrityError, match=RULE), transaction.atomic():
        Cycle.objects.bulk_create([cycle])
    open_one = Cycle.objects.get(patch=there.patch)
    open_one.outcome, open_one.settled_at = outcome, there.scene.clock
    open_one.retester, open_one.retester_org = there.mate, there.scene.contractor
    with pytest.raises(IntegrityError, match=RULE), transaction.atomic():
        Cycle.objects.bulk_update([open_one], ["outcome", "settled_at", "retester", "retester_org"])
    with pytest.raises(IntegrityError), transaction.atomic():
        Cycle.objects.bulk_create(
            [open_one],
            update_conflicts=True,
            unique_fields=["id"],
            update_fields=["outcome", "settled_at", "retester", "retester_org"],
        )
    assert state(there.patch) == PatchState.READY
