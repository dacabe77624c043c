"""A pipe zone with its people, told through the real actions: swept, flawed, repaired, retested, released.

    scene = pipe_scene()
    run = scene.survey("whole zone", flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.repair(patch)
    scene.retest(patch)

Time runs by itself: every action happens a minute after the one before, sweeps and cures take as long as they should.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from accounts.acting import Done, perform
from accounts.assets import Asset
from accounts.people import Organisation, Person, Role
from accounts.rows import Row
from inspections.coatings import Coating, FieldSheet
from inspections.flaws import Flaw
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.runs import Run, Swath
from inspections.specifications import Specification
from inspections.terms import HolidayLimit, RepairCoat, Stage, Terms
from mapping.positions import Chainage
from mapping.surfaces.pipe import Pipe
from mapping.surfaces.plane import Surface
from mapping.zones import Zone
from repairs.packs import retest_place
from repairs.work import Cycle, Patch
from tests.factories import AssetFactory, OrganisationFactory, appointed

MORNING = datetime(2025, 3, 3, 8, 0, tzinfo=UTC)
WHOLE = "whole zone"
TERMS = Terms(
    substrate="steel",
    film_family="pipeline",
    stages=(Stage("finished system", 500.0, 400.0, 800.0),),
    method="high_voltage_dc",
    stated_volts=2500,
    voltage_tolerance_percent=10.0,
    voltage_document="Marlow Water MW-14, edition 2",
    check_interval_min=240.0,
    check_tolerance_percent=5.0,
    holiday_limit=HolidayLimit("1", "20"),
    repair_coats=(
        RepairCoat("primer", "Ferrobond P", 4.0, 24.0),
        RepairCoat("topcoat", "Ferrobond T", 12.0, None),
    ),
    patch_overlap=0.1,
    as_left_margin=0.1,
    cure_before_retest_h=24.0,
    cycle_limit=2,
)


@dataclass
class Scene:
    """Who and what is there, and a clock."""

    asset: Asset
    zone: Zone
    specification: Specification
    coating: Coating
    owner: Person
    lead: Person
    crew: Person
    painter: Person
    observer: Person
    contractor: Organisation
    sheet: FieldSheet
    detector: Instrument
    electrode: Electrode
    clock: datetime = MORNING
    runs: list[Run] = field(default_factory=list)

    def wait(self, *, hours: float = 0.0, minutes: float = 0.0) -> datetime:
        self.clock += timedelta(hours=hours, minutes=minutes)
        return self.clock

    def perform(self, name: str, person: Person, target: Row, /, **given: Any) -> Done:
        return perform(name, person, target.pk, given, device_at=self.wait(minutes=1))

    def do(self, name: str, person: Person, target: Row, /, **given: Any) -> Any:
        """What the action made."""
        return self.perform(name, person, target, **given).made

    def take_sheet(self, person: Person | None = None) -> FieldSheet:
        self.sheet = self.do("take_sheet", person or self.crew, self.coating)
        return self.sheet

    def open_run(self, purpose: str = "survey", person: Person | None = None, **given: Any) -> Run:
        """An open run whose return is proven and whose first check is good."""
        who = person or self.crew
        detector, electrode = self.detector, self.electrode
        if who.organisation_id != detector.organisation_id:
            detector, electrode = equipment(who.organisation)
        run = self.do(
            "open_run",
            who,
            self.sheet,
            **{
                "purpose": purpose,
                "instrument": str(detector.pk),
                "electrode": str(electrode.pk),
                "set_volts": 2500,
                "sweeper": "Ines Holt",
                "cautions": True,
                **given,
            },
        )
        air = {"air": 15, "humidity": 60, "steel": [14]}
        perform("record_atmosphere", who, self.coating.pk, air, device_at=self.clock)
        self.do("prove_return", who, run, said="bare end of the spool")
        self.check(run, phase="start", person=who)
        self.runs.append(run)
        return run

    def check(
        self, run: Run, measured: int = 2500, phase: str = "during", person: Person | None = None, **given: Any
    ) -> Any:
        reading = {"measured": measured} if run.check_ohm is None else {"resistor": run.check_ohm}
        action = "verify" if run.check_ohm is None else "check_sensitivity"
        return self.do(action, person or self.crew, run, phase=phase, **{"alarm_seen": True, **reading, **given})

    def sweep(self, run: Run, place: str, person: Person | None = None, **given: Any) -> Swath:
        """Mark ground as swept after as many minutes as sweeping it takes."""
        area = self.zone.surface.read_region(place).area
        self.wait(minutes=2 * area / (self.electrode.width * 0.3) / 60)
        return self.do("mark_swept", person or self.crew, run, place=place, **given)

    def flaw(self, run: Run, place: str, kind: str = "pinhole", person: Person | None = None, **given: Any) -> Flaw:
        return self.do("report_flaw", person or self.crew, run, place=place, kind=kind, **given)

    def close(self, run: Run, person: Person | None = None) -> Run:
        self.check(run, phase="end", person=person)
        return self.do("close_run", person or self.crew, run)

    def survey(self, *places: str, flaws: Iterable[str] = ()) -> Run:
        """A closed survey run that swept these places and found pinholes there."""
        run = self.open_run()
        for place in places or (WHOLE,):
            self.sweep(run, place)
        for place in flaws:
            self.flaw(run, place)
        self.close(run)
        return run

    def hand_in(self) -> FieldSheet:
        return self.do("hand_in_sheet", self.crew, self.sheet)

    def issue(self, *flaws: Flaw) -> list[Patch]:
        """Issue the patches of these flaws, or all that are proposed."""
        ids = {"flaws": [str(flaw.pk) for flaw in flaws]} if flaws else {}
        return self.do("issue_patches", self.lead, self.coating, contractor=str(self.contractor.pk), **ids)

    def step(self, patch: Patch, kind: str, coat: int | None = None, **given: Any) -> Any:
        return self.do("record_step", self.painter, patch, kind=kind, **({"coat": coat} if coat else {}), **given)

    def work(self, patch: Patch) -> None:
        """Every step of the repair inside its window, up to cured."""
        self.step(patch, "prepared")
        for number, coat in enumerate(self.coating.terms.repair_coats, 1):
            self.step(patch, "coated", number)
            self.wait(hours=coat.minimum_wait_h)
        self.wait(hours=self.coating.terms.cure_before_retest_h)
        self.step(patch, "cured")

    def repair(self, patch: Patch) -> None:
        """Every step of the repair, handed over for retest."""
        self.work(patch)
        self.do("hand_over", self.painter, patch)

    def retest_swath(self, patch: Patch, person: Person | None = None) -> Swath:
        """A standing swath over the patch and the margin around it, in a retest run of its own that is closed."""
        run = self.open_run("retest", person)
        swath = self.sweep(run, retest_place(self.coating, patch.shape), person)
        self.close(run, person)
        swath.refresh_from_db()
        return swath

    def settle(
        self, patch: Patch, swath: Swath, outcome: str = "passed", person: Person | None = None, **given: Any
    ) -> Cycle:
        return self.do("settle_retest", person or self.crew, patch, swath=str(swath.pk), outcome=outcome, **given)

    def retest(self, patch: Patch, outcome: str = "passed") -> Swath:
        """Retest the patch and settle the cycle; the retest's swath."""
        swath = self.retest_swath(patch)
        self.settle(patch, swath, outcome)
        return swath

    def release(self, conditions: str = "") -> Any:
        return self.do("release_zone", self.owner, self.coating, conditions=conditions)


def equipment(organisation: Organisation) -> tuple[Instrument, Electrode]:
    """A detector in calibration and an electrode 0.5 m wide, of the organisation."""
    detector = Instrument(
        organisation=organisation,
        kind=Instrument.Kind.DETECTOR,
        name="Detector",
        serial=f"D-{Instrument.objects.count() + 1}",
        volts_min=500,
        volts_max=30000,
    )
    detector.save(force_insert=True)
    paper = Certificate(instrument=detector, number="C-1", issued=date(2025, 1, 1), due=date(2030, 1, 1))
    paper.save(force_insert=True)
    electrode = Electrode(
        organisation=organisation, kind="rolling spring", width=0.5, name=f"Spring {Electrode.objects.count() + 1}"
    )
    electrode.save(force_insert=True)
    return detector, electrode


def pipe_scene(start: float = 1000.0, end: float = 1020.0, diameter: float = 1.0, **terms: Any) -> Scene:
    """An asset with one outside pipe zone (62.8 m2), its people, specification and current coating; a sheet is taken.

    Keyword arguments replace terms of the specification.
    """
    pipe = Pipe(start=start, end=end, diameter=diameter, chainage=Chainage(start=min(start, 0.0)))
    return scene_of(pipe, **terms)


def scene_of(surface: Surface, name: str = "Spool 1", **terms: Any) -> Scene:
    """As `pipe_scene`, with one zone of any surface."""
    contractor = OrganisationFactory()
    inspector = OrganisationFactory()
    asset = AssetFactory(
        chainage_start=surface.chainage.start,
        unit_system=surface.chainage.system,
        foot=surface.chainage.foot,
        station_equations=[list(each) for each in surface.chainage.equations],
    )
    owner = appointed(Role.OWNER, asset)
    lead = appointed(Role.LEAD, asset, inspector)
    crew = appointed(Role.CREW, asset, inspector)
    painter = appointed(Role.CONTRACTOR, asset, contractor)
    observer = appointed(Role.OBSERVER, asset)
    given = {"name": name, "surface_kind": surface.kind, "surface": surface.to_json(), "face": surface.face}
    zone = perform("add_zone", owner, asset.pk, given).made
    body = replace(TERMS, **terms).to_json()
    given = {"name": "Lining of the main", "edition": "1", "body": body}
    specification = perform("issue_specification", owner, asset.pk, given).made
    detector, electrode = equipment(inspector)
    given = {"specification": str(specification.pk), "begun_at": MORNING.isoformat()}
    coating = perform("begin_coating", owner, zone.pk, given).made
    sheet = perform("take_sheet", crew, coating.pk, {}, device_at=MORNING).made
    return Scene(
        asset=asset,
        zone=zone,
        specification=specification,
        coating=coating,
        owner=owner,
        lead=lead,
        crew=crew,
        painter=painter,
        observer=observer,
        contractor=contractor,
        sheet=sheet,
        detector=detector,
        electrode=electrode,
    )


def releasable_scene(**terms: Any) -> Scene:
    """A zone swept whole, its one flaw repaired and retested, everything handed in: every gate is green."""
    scene = pipe_scene(**terms)
    scene.survey(flaws=["1+004.00 @ 3:00"])
    (patch,) = scene.issue()
    scene.repair(patch)
    scene.retest(patch)
    scene.hand_in()
    return scene
