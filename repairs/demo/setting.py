"""Who and what there is before the story begins: firms, people, the main, its specification, instruments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.core.files.uploadedfile import SimpleUploadedFile

from accounts import record
from accounts.acting import perform
from accounts.assets import Asset
from accounts.beginning import begin_with
from accounts.ids import new_id
from accounts.people import Appointment, Organisation, Person, Role
from accounts.rows import Row
from inspections.coatings import Coating
from inspections.instruments import Electrode, Instrument
from inspections.specifications import Specification
from inspections.terms import FINISHED, HolidayLimit, RepairCoat, Stage, Terms
from mapping.zones import Zone
from repairs.demo.files import WRITTEN_FOR, shifted

PASSWORD = "bare-spot-on-the-main"
OWNER, INSPECTOR, PAINTER = "Hallow Valley Water", "Kestrel Point Inspection", "Brae Field Painting"
CROSSING = 13
"""The section with a thicker lining under the railway, by a specification of its own."""
MAIN, TIME_ZONE = "Hallow North main", "Europe/Oslo"
SECTIONS, LENGTH, DIAMETER, LANES = 16, 150.0, 1.219, 9
FIXTURES = settings.BASE_DIR / "fixtures"


class SignIn(NamedTuple):
    """One of the demo's people."""

    key: str
    name: str
    role: Role
    firm: str
    does: str

    @property
    def email(self) -> str:
        return f"{self.key}@example.test"


PEOPLE = (
    SignIn("crew", "Tomas Brandt", Role.CREW, INSPECTOR, "sweeps, records, retests"),
    SignIn("crew2", "Ada Winslow", Role.CREW, INSPECTOR, "the other half of the crew"),
    SignIn("lead", "Ines Halloran", Role.LEAD, INSPECTOR, "reviews and issues"),
    SignIn("contractor", "Rafe Okoye", Role.CONTRACTOR, PAINTER, "repairs and hands over"),
    SignIn("owner", "Marit Solheim", Role.OWNER, OWNER, "decides and releases"),
    SignIn("observer", "Piet Lindqvist", Role.OBSERVER, OWNER, "reads"),
)
ADMIN = SignIn("admin", "Wren Ashdown", Role.ADMIN, OWNER, "organisations, people, appointments")
TERMS = Terms(
    substrate="steel",
    film_family="pipeline",
    stages=(Stage(FINISHED, 500.0, 400.0, 700.0),),
    method="high_voltage_dc",
    stated_volts=2500,
    voltage_tolerance_percent=5.0,
    voltage_document="Hallow Valley Water HV-C-07, clause 8.2",
    check_interval_min=240.0,
    check_tolerance_percent=5.0,
    holiday_limit=HolidayLimit("3", "200"),
    repair_coats=(
        RepairCoat("primer", "Ferrobond P", 4.0, 48.0, 60.0, 120.0),
        RepairCoat("topcoat", "Ferrobond T", 12.0, None, 400.0, 600.0),
    ),
    thickness_rule="SSPC-PA 2",
    thickness_level=3,
    patch_overlap=0.1,
    as_left_margin=0.1,
    primer_within_h=4.0,
    cure_before_retest_h=24.0,
    cycle_limit=3,
    permit_asked=True,
    sweeper_qualification="a coating inspector of level 1 or above",
    qualifications=("Coating inspector",),
    notes="Invented for the demo. No figure in it is advice for a real main.",
)


@dataclass
class Setting:
    """What the story works with. `days` is how far the written days are moved."""

    now: datetime
    days: int
    zone: ZoneInfo
    people: dict[str, Person] = field(default_factory=dict)
    firms: dict[str, Organisation] = field(default_factory=dict)
    zones: list[Zone] = field(default_factory=list)
    coatings: dict[int, Coating] = field(default_factory=dict)
    asset: Asset = field(init=False)
    detector: Instrument = field(init=False)
    hygrometer: Instrument = field(init=False)
    voltmeter: Instrument = field(init=False)
    brush: Electrode = field(init=False)

    @classmethod
    def at(cls, now: datetime) -> Setting:
        zone = ZoneInfo(TIME_ZONE)
        return cls(now, (now.astimezone(zone).date() - WRITTEN_FOR).days, zone)

    def when(self, written: str) -> datetime:
        """The moment of a day and time as written, such as "2025-06-03 14:30", moved with the story."""
        return datetime.fromisoformat(written).replace(tzinfo=self.zone) + timedelta(days=self.days)

    def do(self, name: str, who: str, target: Row, /, at: str | datetime | None = None, **given: Any) -> Any:
        """Perform an action for one of the people, at a moment of the story; what it made."""
        device_at = self.when(at) if isinstance(at, str) else at
        return perform(name, self.people[who], target.pk, given, device_at=device_at).made

    def mark(self, zone: Zone, kind: str, name: str, said: str) -> None:
        """Add a landmark of a zone."""
        given = {"kind": kind, "name": name, "zone": str(zone.pk), "at": said}
        perform("add_landmark", self.people["lead"], self.asset.pk, given)

    def upload(self, name: str) -> SimpleUploadedFile:
        """A file of the fixtures with its days moved."""
        return SimpleUploadedFile(name, shifted((FIXTURES / name).read_bytes(), name, self.days))

    def bring(self, name: str, section: int, who: str = "crew") -> Any:
        """Import a field sheet."""
        return self.do("import_sheet", who, self.coatings[section], file=self.upload(name))


def set_up(now: datetime) -> Setting:
    """Firms, people, the main with its zones and landmarks, the specification, instruments."""
    there = Setting.at(now)
    _people(there)
    _main(there)
    _instruments(there)
    return there


def _people(there: Setting) -> None:
    begun = begin_with(organisation=OWNER, name=ADMIN.name, email=ADMIN.email, password=PASSWORD)
    there.people["admin"] = begun.person
    there.firms[OWNER] = begun.organisation
    for name in (INSPECTOR, PAINTER):
        there.firms[name] = there.do("create_organisation", "admin", begun.organisation, name=name)
    hashed = make_password(PASSWORD)
    for person in PEOPLE:
        made = there.do("invite_person", "admin", there.firms[person.firm], name=person.name, email=person.email)
        made.password = hashed
        made.save(update_fields=["password"])
        there.people[person.key] = made
    there.asset = there.do(
        "create_asset",
        "admin",
        begun.organisation,
        name=MAIN,
        kind="buried water transmission main",
        place="Hallow Valley, 2.4 km north of the pumping station",
        time_zone=TIME_ZONE,
        datum="chainage 0 at the flange of the pumping station, rising northwards",
    )
    appoint_all(there)


def elsewhere(there: Setting, **given: Any) -> Setting:
    """The same people and instruments on another asset of the owner."""
    other = replace(there, zones=[], coatings={})
    other.detector, other.brush = there.detector, there.brush
    other.asset = there.do("create_asset", "admin", there.firms[OWNER], time_zone=TIME_ZONE, **given)
    appoint_all(other)
    return other


def begin(there: Setting, zone: Zone, specification: Specification, at: str) -> None:
    """Begin the coating of a zone; the story knows it by the zone's place in lists."""
    given = {"specification": str(specification.pk), "begun_at": there.when(at).isoformat()}
    there.coatings[zone.order] = there.do("begin_coating", "lead", zone, **given)


def appoint_all(there: Setting) -> None:
    """Appointed since spring: the action appoints from now on, and the story began weeks ago.

    The owner is one of every asset, once; the others are appointed to each.
    """
    since = datetime.combine(WRITTEN_FOR - timedelta(days=60 - there.days), time(8), there.zone)
    for person in PEOPLE:
        everywhere = person.role == Role.OWNER
        if everywhere and there.people[person.key].appointments.exists():
            continue
        appointed = Appointment(
            person=there.people[person.key],
            organisation=there.firms[person.firm],
            asset=None if everywhere else there.asset,
            role=person.role,
            since=since,
        )
        appointed.save(force_insert=True)
        _record(there, appointed.organisation, [appointed])


def _record(there: Setting, organisation: Organisation, rows: Sequence[Row]) -> None:
    (locked,) = record.lock([organisation.pk])
    given = {"target": str(organisation.pk)}
    record.append(
        locked,
        operation=new_id(),
        request_digest=record.sha256(record.canonical({"what": "load_demo", "input": given})),
        what="load_demo",
        actor=there.people["admin"],
        organisation=there.firms[OWNER],
        device_at=there.now,
        server_at=there.now,
        clock_offset_s=None,
        given=given,
        rows=rows,
        consequences=[],
    )


def _main(there: Setting) -> None:
    there.do("import_joints", "lead", there.asset, file=there.upload("joints.csv"))
    specification: Specification = there.do(
        "issue_specification", "owner", there.asset, name="External lining, HV-C-07", edition="3", body=TERMS.to_json()
    )
    for number in range(1, SECTIONS + 1):
        surface = {"diameter": DIAMETER, "start": (number - 1) * LENGTH, "end": number * LENGTH}
        zone = there.do(
            "add_zone",
            "lead",
            there.asset,
            name=f"Section {number:02d}",
            order=number,
            surface_kind="pipe",
            surface=surface,
        )
        there.zones.append(zone)
        if number < SECTIONS and number != CROSSING:
            begin(there, zone, specification, "2025-05-20 07:00")


def _instruments(there: Setting) -> None:
    firm = there.firms[INSPECTOR]
    today = there.now.astimezone(there.zone).date()
    for kind, name, serial, due_in, volts in (
        ("detector", "Detector, red case", "HV-2041", 214, (500, 30000)),
        ("detector", "Detector, blue case", "HV-1877", 9, (500, 15000)),
        ("detector", "Wet sponge unit", "WS-77", 131, (5, 100)),
        ("crest voltmeter", "Crest voltmeter", "CV-118", 120, None),
        ("gauge", "Film gauge", "DFT-310", 75, None),
        ("hygrometer", "Hygrometer", "HY-52", 160, None),
    ):
        limits: dict[str, Any] = {"volts_min": volts[0], "volts_max": volts[1]} if volts else {}
        made = there.do("register_instrument", "lead", firm, kind=kind, name=name, serial=serial, **limits)
        there.do(
            "register_certificate",
            "lead",
            made,
            number=f"K-{serial}-{today.year}",
            issued=(today + timedelta(days=due_in - 365)).isoformat(),
            due=(today + timedelta(days=due_in)).isoformat(),
            as_found="in tolerance",
        )
        if serial == "HV-2041":
            there.detector = made
        elif serial == "CV-118":
            there.voltmeter = made
        elif serial == "HY-52":
            there.hygrometer = made
    there.brush = there.do("register_electrode", "lead", firm, name="Brush 450", kind="wire brush", width="450 mm")
    for name, kind, width in (
        ("Ring spring 1220", "rolling spring", "3.85 m"),
        ("Sponge 300", "wet sponge", "300 mm"),
        ("Brush 900", "wire brush", "900 mm"),
    ):
        there.do("register_electrode", "lead", firm, name=name, kind=kind, width=width)
