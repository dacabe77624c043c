"""A world for the API: an asset with at least one row of everything, somebody in each role, and a second, foreign world."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from django.conf import settings
from django.db import transaction
from rest_framework.test import APIClient

from accounts.people import Organisation, Person, Role
from accounts.rows import Row
from accounts.tokens import Token
from inspections.answers import Answer
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.qualifications import Qualification
from inspections.questions import key_of
from inspections.rule_library import VoltageRule
from inspections.rule_schema import shipped_bodies
from inspections.runs import BasisAnswer, Reinstatement
from repairs.release import Release
from tests.factories import LONG_AGO, AppointmentFactory, EvidenceFactory, PersonFactory, record_of
from tests.scenes import Scene, equipment, pipe_scene

ALWAYS = datetime(1, 1, 2, tzinfo=UTC)
NOWHERE = "018f3a00-0000-7000-8000-000000000000"


@dataclass(frozen=True)
class World:
    """`rows` holds one row of each kind; `people` hold their role on every asset of the owner and on the owner's record."""

    scene: Scene
    rows: dict[type[Row], Row]
    people: dict[Role, Person]
    everything: Person
    """Holds every role there is, since ever; as a contractor for the one that patches are issued to."""


def build_world() -> World:
    scene = pipe_scene()
    owner = scene.asset.organisation
    people = {role: PersonFactory(organisation=owner) for role in Role}
    for role, person in people.items():
        AppointmentFactory(person=person, role=role)
    everything = PersonFactory(organisation=owner)
    for role in set(Role) - {Role.CONTRACTOR}:
        AppointmentFactory(person=everything, role=role, since=ALWAYS)
    painter = {"organisation": scene.contractor, "asset": scene.asset}
    AppointmentFactory(person=everything, role=Role.CONTRACTOR, since=ALWAYS, **painter)
    return World(scene, _rows(scene, owner), people, everything)


def _rows(scene: Scene, owner: Organisation) -> dict[type[Row], Row]:
    run = scene.open_run()
    event = scene.do("report_event", scene.crew, run, kind="battery")
    check = scene.check(run)
    swath = scene.sweep(run, "whole zone")
    flaw = scene.flaw(run, "1+004.00 @ 3:00")
    again = scene.flaw(run, "1+012.00 @ 6:00", kind="indication")
    classified = scene.do("classify_flaw", scene.crew, again, kind="crater")
    (patch, *_) = scene.issue(flaw)
    step = scene.step(patch, "prepared")
    exclusion = scene.do(
        "draw_exclusion", scene.crew, scene.zone, place="1+018.00 to 1+019.00", reason="under a saddle"
    )
    scene.do("decide_exclusion", scene.owner, exclusion, accepted=True)
    detector, electrode = equipment(owner)
    briefing = scene.do("hold_briefing", scene.crew, scene.asset, people=["Ines Holt"], gone_through=True)
    person = PersonFactory(organisation=owner)
    rows: list[Row] = [
        scene.asset, scene.zone, scene.specification, scene.coating, scene.sheet, run, event, check, swath, flaw, classified,
        patch, step, exclusion, detector, electrode, owner,
        scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="GW 7", at="1+006.00"),
        scene.do("add_feature", scene.crew, scene.zone, kind="weld", name="W-7", place="1+006.00, all around"),
        scene.do("record_permit", scene.crew, scene.coating, number="HW-1", gas_reading="0 % LEL", tester="A. Moss",
                 expires_at="2031-01-01T00:00:00Z"),
        scene.do("record_atmosphere", scene.crew, scene.coating, air=20, humidity=50, steel=[18, 22]),
        scene.do("record_disturbance", scene.crew, scene.coating, place="1+016.00 to 1+017.00", kind="grind"),
        scene.do("record_spot", scene.crew, scene.sheet, place="1+002.00 @ 12:00", readings=[500, 510, 520]),
        scene.do("concede", scene.owner, scene.coating, patch=str(patch.pk), reason="Reached at the next outage."),
        scene.do("draft_specification", scene.owner, scene.asset, name="Next edition"),
        _stored(VoltageRule(organisation=owner, number=1, body=shipped_bodies()["rule-of-thumb"], added_at=LONG_AGO,
                            added_by=scene.owner)),
        run.return_proofs.get(),
        scene.do("touch_concrete", scene.crew, run, said="kerb", distance="4 m", volts=2500, alarm=True),
        detector.certificates.get(),
        person, briefing, briefing.attendees.get(),
        _stored(Qualification(person=person, scheme="Coating inspector", level="level 2", number="CI-7", issued=LONG_AGO.date(),
                              recorded_at=LONG_AGO, by=scene.lead)),
        AppointmentFactory(person=PersonFactory(organisation=owner)),
        EvidenceFactory(record=record_of(scene.asset)),
        _stored(Reinstatement(run=run, swaths=[], causes=[], decision="stands", grounds="owner", why="Seen.",
                              by=scene.owner, at=LONG_AGO)),
        _stored(Answer(coating=scene.coating, run=run, code="battery", key=key_of("battery", [run.pk]), asked="", verdict="explained",
                       why="Changed at noon.", by=scene.lead, at=LONG_AGO)),
        _stored(GaugeCheck(sheet=scene.sheet, gauge=detector, shim=250.0, shim_said="250 µm", measured=251.0,
                           measured_said="251 µm", tolerance=5.0, tolerance_said="5 µm", outcome="good", at=LONG_AGO,
                           by=scene.crew)),
        _stored(SpotRuling(coating=scene.coating, spots=[], doubts=[], decision="counts", why="Seen.", grounds="Shim worn.",
                           by=scene.owner, at=LONG_AGO)),
        _stored(BasisAnswer(run=run, questions=[], why="Seen.", by=scene.owner, at=LONG_AGO)),
        _stored(Release(coating=scene.coating, gates=[], who={}, head_seq=1, head_hash="0" * 64, owner=scene.owner, at=LONG_AGO)),
    ]  # fmt: skip
    return {type(row): row for row in rows}


def _stored(row: Row) -> Row:
    row.save(force_insert=True)
    return row


@pytest.fixture(scope="module")
def worlds(
    django_db_setup: None, django_db_blocker: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[World, World]]:
    """Two worlds for all tests of a module; what each test writes is rolled back after it."""
    before, settings.MEDIA_ROOT = settings.MEDIA_ROOT, tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), transaction.atomic():
        yield build_world(), build_world()
        transaction.set_rollback(True)
    settings.MEDIA_ROOT = before


@pytest.fixture
def own(worlds: tuple[World, World], db: None) -> World:
    return worlds[0]


@pytest.fixture
def foreign(worlds: tuple[World, World], db: None) -> World:
    return worlds[1]


ClientOf = Callable[..., APIClient]


@pytest.fixture
def client_of(db: None) -> ClientOf:
    """A client that sends a token of the person."""

    def make(person: Person, *, may_decide: bool = True) -> APIClient:
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=authorization(person, may_decide=may_decide))
        return client

    return make


def authorization(person: Person, *, may_decide: bool = True) -> str:
    _, text = Token.objects.create(user=person, name="tablet", may_decide=may_decide)
    return f"Token {text}"
