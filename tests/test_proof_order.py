"""In whatever order a day's recordings arrive, and however often each is sent, the same is known of the ground."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from uuid import UUID

import pytest
import shapely
from django.db import transaction
from shapely.geometry.base import BaseGeometry

from accounts.acting import perform
from accounts.assets import Asset
from accounts.people import Appointment, Organisation, Person, Role
from accounts.verify import verify
from inspections.coatings import Coverage, FieldSheet
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.runs import CheckEvent, Swath
from repairs.picture import zone_picture
from tests.factories import appointed, recorded
from tests.scenes import MORNING, Scene, pipe_scene

pytestmark = pytest.mark.django_db
SAME_SHAPE = 1e-6  # m2
LOOKED_AT = MORNING + timedelta(days=40)
OUTCOMES = (2500, 2500, 2500, 2500, 1500, 3500)
SHAPES = ("found", "held", "pending", "lost")


class Recording(NamedTuple):
    """One operation as a device queues it; it cannot arrive before those it names in `after`."""

    id: UUID
    name: str
    person: Person
    target: UUID
    given: dict[str, Any]
    after: tuple[UUID, ...] = ()


@dataclass
class Day:
    """A day's recordings on the sheets of a zone, made up by chance with explicit places in the order of recording."""

    scene: Scene
    chance: random.Random
    recordings: list[Recording] = field(default_factory=list)

    def add(self, name: str, person: Person, target: UUID, after: tuple[UUID, ...] = (), **given: Any) -> UUID:
        made = UUID(int=self.chance.getrandbits(128), version=4)
        self.recordings.append(Recording(made, name, person, target, given, after))
        return made


@dataclass
class Writer:
    """Fills one sheet: the last place used in its order of recording, and the clock."""

    day: Day
    sheet: FieldSheet
    person: Person
    seq: int = 0
    clock: datetime = MORNING
    flaws: int = 0
    run: UUID | None = None

    def write(self) -> None:
        for _ in range(2):
            self._run()

    def _next(self) -> dict[str, Any]:
        self.seq += 1
        return {"sheet_seq": self.seq, "at": self.clock.isoformat()}

    def _record(self, name: str, strike: str, **given: Any) -> None:
        assert self.run is not None
        made = self.day.add(name, self.person, self.run, (self.run,), **{**self._next(), **given})
        if self.day.chance.random() < 0.12:
            self.day.add(strike, self.day.scene.lead, made, (made,), why="Written down by mistake.")

    def _run(self) -> None:
        scene, chance = self.day.scene, self.day.chance
        self.run = self.day.add(
            "open_run",
            self.person,
            self.sheet.pk,
            (self.run,) if self.run else (),  # a sheet's runs are numbered as they are opened
            instrument=str(scene.detector.pk),
            electrode=str(scene.electrode.pk),
            set_volts=2500,
            sweeper="Ines Holt",
            cautions=True,
            at=self.clock.isoformat(),
        )
        if chance.random() < 0.9:
            self._record("prove_return", "strike_return_proof", said="bare end of the spool")
        self._check("start")
        for _ in range(chance.randint(6, 9)):
            chance.choice((self._sweep, self._sweep, self._sweep, self._check, self._event, self._flaw))()
        if chance.random() < 0.7:
            self._check("end")
        if chance.random() < 0.8:
            self.day.add("close_run", self.person, self.run, (self.run,))
        if chance.random() < 0.1:
            self.day.add("strike_run", scene.lead, self.run, (self.run,), why="Another zone.")

    def _check(self, phase: str = "during") -> None:
        self.clock += timedelta(minutes=self.day.chance.choice((5, 20, 300)))
        measured = self.day.chance.choice(OUTCOMES)
        self._record("verify", "strike_verification", phase=phase, measured=measured, alarm_seen=True)

    def _event(self) -> None:
        kind = self.day.chance.choice(CheckEvent.Kind.values)
        self._record("report_event", "strike_event", kind=kind)

    def _flaw(self) -> None:
        chance = self.day.chance
        self.flaws += 1
        place = f"1+{chance.randint(0, 600) / 10:06.2f} @ {chance.randint(1, 12)}:00"
        self._record("report_flaw", "strike_flaw", place=place, number=self.flaws, kind="pinhole")

    def _sweep(self) -> None:
        chance = self.day.chance
        low, high = sorted(chance.sample(range(601), 2))
        first, last = chance.sample(range(1, 13), 2)
        place = f"1+{low / 10:06.2f} to 1+{high / 10:06.2f}, {first}:00 to {last}:00"
        started, start_seq = self.clock, self.seq
        self.clock += timedelta(seconds=chance.choice((30, 3600, 3600)))
        times = {"started_at": started.isoformat(), "ended_at": self.clock.isoformat()}
        if chance.random() < 0.3:  # edited by hand: the clock places it, not the presses
            earlier = timedelta(minutes=chance.choice((0, 10, 60)))
            times = {
                name: (at - earlier).isoformat() for name, at in (("started_at", started), ("ended_at", self.clock))
            }
            self._record("mark_swept", "strike_swath", place=place, **times)
        else:
            self._record("mark_swept", "strike_swath", place=place, start_seq=start_seq, **times)


class Known(NamedTuple):
    """All that is known afterwards; shapes apart, because they are compared by area."""

    facts: dict[str, Any]
    shapes: dict[tuple[str, int, str], BaseGeometry]


def made_up_day(seed: int) -> Day:
    scene = pipe_scene(end=1060.0)
    mate = appointed(Role.CREW, scene.asset, scene.crew.organisation)
    tables = (Organisation, Person, Asset, Appointment, Instrument, Certificate, Electrode)
    recorded(*[row for table in tables for row in table._base_manager.all()])
    other = scene.do("take_sheet", mate, scene.coating)
    day = Day(scene, random.Random(seed))
    Writer(day, scene.sheet, scene.crew).write()
    Writer(day, other, mate, clock=MORNING + timedelta(minutes=7)).write()
    return day


def arrivals(recordings: list[Recording], chance: random.Random) -> list[Recording]:
    """Any order in which nothing comes before what it is made on; some are sent a second time later."""
    waiting, sent, order = list(recordings), set[UUID](), list[Recording]()
    while waiting:
        able = [each for each in waiting if sent.issuperset(each.after)]
        each = chance.choice(able)
        waiting.remove(each)
        sent.add(each.id)
        order.append(each)
    for each in chance.sample(order, len(order) // 5):
        order.insert(chance.randint(order.index(each) + 1, len(order)), each)
    return order


@contextmanager
def taken_back() -> Iterator[None]:
    """What happens inside leaves no trace, so that each order starts from the same zone."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def send(order: list[Recording]) -> None:
    sent = set[UUID]()
    for each in order:
        done = perform(each.name, each.person, each.target, each.given, operation=each.id, device_at=LOOKED_AT)
        assert done.status == ("already" if each.id in sent else "recorded")
        sent.add(each.id)


def accept_what_is_lost(scene: Scene) -> None:
    """The owner's word on the first run that has lost or held ground; it comes last, for it rules on what is known."""
    doubtful = Swath.objects.filter(standing__in=["lost", "held"], struck_at=None, run__struck_at=None)
    first = doubtful.order_by("run__sheet__letter", "run__number").first()
    if first is not None:
        perform(
            "decide_held", scene.owner, first.run_id, {"decision": "stands", "why": "Swept again beside the owner."}
        )


def known_of(scene: Scene) -> Known:
    picture = zone_picture(scene.coating, at=LOOKED_AT)
    columns = ("run", "standing", "cause", "started_at", "ended_at", "start_seq", "sheet_seq", "hand_timed")
    return Known(
        {
            "swaths": {row["pk"]: row for row in Swath.objects.filter(struck_at=None).values("pk", *columns)},
            "struck": set(Swath.objects.filter(struck_at__isnull=False).values_list("pk", "struck_why")),
            "flaws": {
                flaw.id: (flaw.tag, flaw.status, flaw.counted, flaw.why_not, flaw.marks) for flaw in picture.flaws
            },
            "gates": [(gate.code, gate.state, gate.whose, gate.sentence) for gate in picture.gates],
            "sentence": picture.sentence,
            "contract": picture.contract
            and (picture.contract.verdict, picture.contract.count, picture.contract.allowed),
        },
        {
            (row.stage, row.stretch, name): getattr(row, name)
            for row in Coverage.objects.filter(coating=scene.coating)
            for name in SHAPES
        },
    )


def test_the_made_up_days_hold_every_standing_and_every_kind_of_recording() -> None:
    seen, names = set[str](), set[str]()
    for seed in range(4):
        day = made_up_day(seed)
        send(day.recordings)
        names |= {each.name for each in day.recordings}
        seen |= set(Swath.objects.filter(run__sheet__coating=day.scene.coating).values_list("standing", flat=True))

    assert seen == {"stands", "held", "lost", "pending"}
    assert names == {
        "open_run", "prove_return", "verify", "report_event", "report_flaw", "mark_swept", "close_run",
        "strike_return_proof", "strike_verification", "strike_event", "strike_flaw", "strike_swath", "strike_run",
    }  # fmt: skip


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.once) for seed in (1, 2, 3))])
def test_every_order_of_arrival_leads_to_the_same_standings_coverage_flaws_and_gates(seed: int) -> None:
    day = made_up_day(seed)
    with taken_back():
        send(day.recordings)
        accept_what_is_lost(day.scene)
        first = known_of(day.scene)
        assert list(verify()) == []

    for number in range(3):
        chance = random.Random(f"{seed}, {number}")
        with taken_back():
            send(arrivals(day.recordings, chance))
            accept_what_is_lost(day.scene)
            again = known_of(day.scene)
            assert again.facts == first.facts
            assert again.shapes.keys() == first.shapes.keys()
            for key, shape in again.shapes.items():
                assert shapely.symmetric_difference(shape, first.shapes[key]).area < SAME_SHAPE, key
            assert list(verify()) == []
