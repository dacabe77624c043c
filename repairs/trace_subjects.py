"""What can be traced forward: an instrument, electrode, certificate, batch of paint or person, and who may ask about it.

Whoever sees the record it belongs to may ask, and whoever sees work that rests on it: an owner asks about the detector of
the inspection firm. What comes out is only ever what the person sees; foreign and absent look the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, NamedTuple
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet
from rest_framework.exceptions import NotFound

from accounts.access import assets_of, visible
from accounts.people import Appointment, Person
from accounts.rows import Row
from accounts.wording import noted, say
from inspections.coatings import Atmosphere, Spot
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.runs import Run, Verification
from repairs.work import Cycle, Step

Kind = Literal["instrument", "electrode", "certificate", "batch", "person"]
MODELS: dict[Kind, type[Row]] = {
    "instrument": Instrument,
    "electrode": Electrode,
    "certificate": Certificate,
    "batch": Step,
    "person": Person,
}
# In which part it has a share in what was done; the order in which they are listed and may be chosen.
PARTS: dict[str, str] = {
    "detector": noted("swept with it"),
    "electrode": noted("swept with it"),
    "voltmeter": noted("checked with it"),
    "gauge": noted("measured with it"),
    "air": noted("measured air or steel with it"),
    "under": noted("swept under its readings of air and steel"),
    "basis": noted("rests on its readings"),
    "sweeper": noted("sweeper"),
    "recorder": noted("recorder"),
    "run witness": noted("witness of the run"),
    "reader": noted("read the thickness"),
    "briefer": noted("held the briefing of who swept"),
    "gas tester": noted("tested the gas for its permit"),
    "papers": noted("recorded the qualification of who swept or recorded"),
    "decision": noted("decided on its ground"),
    "retest": noted("passed by a retest swept so"),
    "batch": noted("coated with it"),
    "worker": noted("worked on it"),
    "retester": noted("retester"),
    "witness": noted("witness of the retest"),
    "release": noted("released"),
}
PERSONS_PARTS = (
    "sweeper",
    "recorder",
    "run witness",
    "reader",
    "briefer",
    "gas tester",
    "papers",
    "decision",
    "worker",
    "retester",
    "witness",
)

Leg = Literal["run", "check", "swept", "spot", "air", "decision", "cycle", "release"]


class Found(NamedTuple):
    """One thing that rests on what was asked about.

    part: in which part it has a share (see PARTS); of swept ground its standing. on: the run of a check,
    of swept ground, of a decision and of a retest; of everything else its own id. area in m2, overlaps counted twice.
    """

    leg: Leg
    part: str
    id: UUID
    on: UUID
    coating: UUID
    at: datetime
    number: int
    area: float


@dataclass(frozen=True)
class Subject:
    """What is traced. `parts`: those of a person that are asked about; all that there are for everything else."""

    kind: Kind
    row: Row
    parts: frozenset[str] = frozenset(PARTS)

    @property
    def name(self) -> str:
        """As it is named in a sentence."""
        row: Any = self.row
        if self.kind == "instrument":
            kind = str(row.get_kind_display())
            return str(row) if kind.casefold() in row.name.casefold() else f"{kind} {row}"
        if self.kind == "certificate":
            return say("certificate {number} of {instrument}", number=row.number, instrument=row.instrument)
        if self.kind == "electrode":
            return say("electrode {name}", name=row.name)
        if self.kind == "batch":
            return say("batch {batch} of {product}", batch=row.batch or "–", product=row.product or "–")
        return str(row)


def find_subject(person: Person, kind: Kind, pk: UUID | str, parts: frozenset[str] = frozenset(PARTS)) -> Subject:
    """What is asked about. Raises NotFound, the same for what is absent and what is foreign."""
    rows: QuerySet[Any] = _ASKED[kind](person)
    if kind == "certificate":
        rows = rows.select_related("instrument")
    try:
        return Subject(kind, rows.get(pk=UUID(str(pk))), parts)
    except (MODELS[kind].DoesNotExist, ValueError):  # type: ignore[attr-defined]
        raise NotFound(say("There is no such {thing}.", thing=say(str(MODELS[kind]._meta.verbose_name)))) from None


def _instruments(person: Person, name: str = "pk") -> Q:
    """Used in work that the person sees; `name` is the column that holds the instrument's key."""
    key = OuterRef(name)
    return (
        Q(Exists(visible(person, Run).filter(instrument=key)))
        | Q(Exists(visible(person, Verification).filter(voltmeter=key)))
        | Q(Exists(visible(person, Spot).filter(gauge=key)))
        | Q(Exists(visible(person, Atmosphere).filter(Q(hygrometer=key) | Q(thermometer=key))))
    )


def _or_seen(person: Person, model: type[Row], used: Q) -> QuerySet[Any]:
    if not person.is_active:
        return model._default_manager.none()
    return model._default_manager.filter(Q(pk__in=visible(person, model).values("pk")) | used)


def _people(person: Person) -> QuerySet[Any]:
    key = OuterRef("pk")
    runs, cycles = visible(person, Run), visible(person, Cycle)
    used = (
        Q(Exists(runs.filter(Q(swept_by=key) | Q(recorder=key) | Q(witness=key))))
        | Q(Exists(visible(person, Spot).filter(sheet__person=key)))
        | Q(Exists(visible(person, Step).filter(by=key)))
        | Q(Exists(cycles.filter(Q(retester=key) | Q(witness=key))))
        # Whoever is appointed on an asset is named on its page of people, also before any work.
        | Q(Exists(Appointment.objects.filter(person=key, asset__in=assets_of(person).values("pk"))))
    )
    return _or_seen(person, Person, used)


_ASKED: dict[Kind, Any] = {
    "instrument": lambda person: _or_seen(person, Instrument, _instruments(person)),
    "electrode": lambda person: _or_seen(
        person, Electrode, Q(Exists(visible(person, Run).filter(electrode=OuterRef("pk"))))
    ),
    "certificate": lambda person: _or_seen(person, Certificate, _instruments(person, "instrument")),
    "batch": lambda person: visible(person, Step),
    "person": _people,
}
