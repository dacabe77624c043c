"""Tables of the testing: specifications, coatings, sheets, runs with what proves or spoils them, swaths, thickness."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from django.db.models import Model, OuterRef, QuerySet, Subquery
from django.db.models.functions import TruncDate

from accounts.wording import noted
from inspections.answers import Answer
from inspections.coatings import Atmosphere, Coating, Coverage, Disturbance, FieldSheet
from inspections.instruments import Certificate
from inspections.questions import KINDS as QUESTIONS
from inspections.runs import CheckEvent, Reinstatement, ReturnProof, Run, Swath, TouchTest, Verification
from inspections.specifications import Specification
from inspections.vocabulary import METHODS
from repairs.exports.scope import Column, Scope, Table
from repairs.exports.where import ID, SAID, STRUCK

SEQ = Column("order", noted("Place in the sheet's order of recording."), "sheet_seq")
BY = Column("by", noted("Who recorded it."), "by__name")
AT = Column("at", noted("When."), "at")
RUN_ZONE = "run__sheet__coating__zone"


def under(path: str) -> tuple[Column, Column]:
    """Columns zone and coating, by the lookup that leads to the coating ("" for the coating itself)."""
    way = f"{path}__" if path else ""
    return (
        Column("zone", noted("Name of the zone."), f"{way}zone__name"),
        Column("coating", noted("Number of the coating on its zone."), f"{way}number"),
    )


def _along(pieces: list[list[float]]) -> str:
    return "; ".join(f"{low:.3f} to {high:.3f}" for low, high in pieces)


def run_label(path: str) -> Column:
    """The run's label, by the lookup that leads to the run."""
    return Column(
        "run",
        noted("Letter of the field sheet and number of the run."),
        (f"{path}sheet__letter", f"{path}number"),
        lambda letter, number: f"{letter}-{number}",
    )


def rows_of(model: type[Model], zone: str, *order: str) -> Callable[[Scope], QuerySet[Any]]:
    """Asks for the rows of a model in the scope, by the lookup that leads to their zone."""

    def asked(scope: Scope) -> QuerySet[Any]:
        return scope.of_zone(model._default_manager.all(), zone).order_by(*order, "pk")

    return asked


def as_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)


def method_words(code: str) -> str:
    """The method as it is read, in words that are the same in every language."""
    return METHODS[code]


def parted(values: list[float]) -> str:
    return " / ".join(f"{value:g}" for value in values)


IN_RUN = (*under("run__sheet__coating"), run_label("run__"))


def _specifications(scope: Scope) -> QuerySet[Any]:
    rows = Specification.objects.filter(asset=scope.asset)
    if scope.zone is not None:
        rows = rows.filter(pk__in=Coating.objects.filter(zone=scope.zone).values("specification"))
    return rows.order_by("issued_at", "pk")


def _runs(scope: Scope) -> QuerySet[Any]:
    """Each run with the certificate of its instrument in force on the day of opening, by the asset's calendar."""
    held = Certificate.objects.filter(
        instrument=OuterRef("instrument"), struck_at=None, issued__lte=OuterRef("day"), due__gte=OuterRef("day")
    ).order_by("-issued", "-due", "-pk")
    rows = scope.of_zone(Run.objects.all(), "sheet__coating__zone").order_by("opened_at", "pk")
    return rows.annotate(day=TruncDate("opened_at", tzinfo=scope.asset.zone_info)).annotate(
        certificate=Subquery(held.values("number")[:1]), certificate_due=Subquery(held.values("due")[:1])
    )


SPECIFICATIONS = Table(
    "specifications",
    noted("What was asked for; a specification does not change once issued."),
    (
        Column("name", noted("Its name."), "name"),
        Column("edition", noted("Its edition."), "edition"),
        Column("issued at", noted("When it was issued."), "issued_at"),
        Column("issued by", noted("Who issued it."), "issued_by__name"),
        Column("terms", noted("All it asks for, as JSON: lengths in m, films in µm, voltages in V."), "body", as_json),
        ID,
    ),
    _specifications,
)
COATINGS = Table(
    "coatings",
    noted("The life of one film on one zone; a strip and recoat begins the next."),
    (
        *under(""),
        Column("specification", noted("Name of the specification that rules it."), "specification__name"),
        Column("edition", noted("Its edition."), "specification__edition"),
        Column("begun at", noted("When it began."), "begun_at"),
        Column("ended at", noted("When it ended; empty for the current one."), "ended_at"),
        Column("ended why", noted("Why it ended."), "ended_why"),
        ID,
    ),
    rows_of(Coating, "zone", "zone__order", "zone__name", "number"),
)
SHEETS = Table(
    "sheets",
    noted("Field sheets: who recorded. Every run and flaw comes through one."),
    (
        *under("coating"),
        Column("sheet", noted("Its letters, as in the tags of its flaws."), "letter"),
        Column("person", noted("Who took it."), "person__name"),
        Column("organisation", noted("For whom."), "organisation__name"),
        Column("taken at", noted("When it was taken."), "taken_at"),
        Column("handed in at", noted("When it was handed in; empty while it is out or given up."), "handed_in_at"),
        Column("given up why", noted("Why nothing more will come on it."), "given_up_why"),
        Column("source", noted("Name of the file it was read from."), "source__name"),
        ID,
    ),
    rows_of(FieldSheet, "coating__zone", "taken_at"),
)
ATMOSPHERE = Table(
    "atmosphere",
    noted("Air and steel as measured."),
    (
        *under("coating"),
        AT,
        Column("air (°C)", noted("Air temperature."), "air"),
        Column("humidity (%)", noted("Relative humidity, where it was measured."), "humidity"),
        Column("wet bulb (°C)", noted("Wet bulb temperature, where it was measured."), "wet_bulb"),
        Column("steel (°C)", noted("Readings of the steel; the coldest counts."), "steel", parted),
        Column("steel at", noted("Where each of them was read."), "steel_at", " / ".join),
        Column("hygrometer", noted("Serial number of what measured the air."), "hygrometer__serial"),
        Column("thermometer", noted("Serial number of what measured the steel."), "thermometer__serial"),
        BY,
        *STRUCK,
        ID,
    ),
    rows_of(Atmosphere, "coating__zone", "at"),
)


def decided(decision: str, what: str, about: str) -> tuple[Column, ...]:
    """The columns of a decision on evidence: what was decided, and the rows it is about."""
    return (
        Column("decision", decision, "decision"),
        Column("grounds", noted("What it rests on."), "grounds"),
        Column("why", noted("The reason."), "why"),
        Column(what, about, what, "; ".join),
        Column("evidence (sha256)", noted("The file it rests on."), "evidence__sha256"),
        BY,
        AT,
        *STRUCK,
        ID,
    )


RUNS = Table(
    "runs",
    noted("Test runs with their parameters."),
    (
        *under("sheet__coating"),
        run_label(""),
        Column("purpose", noted("survey, retest, audit or visual."), "purpose"),
        Column("stage", noted("Coat stage that was tested."), "stage"),
        Column("method", noted("How it was tested."), "method", method_words),
        Column("instrument", noted("The detector."), "instrument__name"),
        Column("serial", noted("Its serial number."), "instrument__serial"),
        Column("certificate", noted("Its certificate in force on the day of opening."), "certificate"),
        Column("certificate due", noted("When that certificate falls due."), "certificate_due"),
        Column("electrode", noted("The electrode."), "electrode__name"),
        Column("electrode width (m)", noted("What one pass sweeps."), "electrode__width"),
        Column("ruling document", noted("The document that rules the voltage."), "ruling_document"),
        Column("thickness basis", noted("Which thickness the voltage rests on."), "thickness_basis"),
        Column("thickness (µm)", noted("That thickness."), "thickness"),
        Column("thickness as given", noted("With the unit it was given in."), "thickness_said"),
        Column(
            "readings it rests on",
            noted("Identities of the thickness spots its voltage rests on."),
            "basis_spots",
            "; ".join,
        ),
        Column(
            "their gauges", noted("Serial numbers of the gauges these were measured with."), "basis_gauges", "; ".join
        ),
        Column("asked (V)", noted("The voltage the ruling document asks for."), "asked_volts"),
        Column("set (V)", noted("The voltage that was set."), "set_volts"),
        Column("alarm at (Ω)", noted("The resistance at which a wet sponge has to alarm."), "check_ohm"),
        Column("wetted with", noted("What a wet sponge was wetted with."), "medium"),
        Column("lowest allowed (V)", noted("Lower end of the allowed band."), "band_low"),
        Column("highest allowed (V)", noted("Upper end of the allowed band."), "band_high"),
        Column("check interval (min)", noted("Longest time between two checks of the output."), "check_interval_min"),
        Column("check tolerance (V)", noted("Either way from the voltage that was set."), "check_tolerance_volts"),
        Column("surface", noted("State of the surface."), "surface_state"),
        Column("swept by", noted("Who held the electrode."), "sweeper"),
        Column("recorded by", noted("Who recorded."), "recorder__name"),
        Column("witness", noted("Who witnessed it."), "witness__name"),
        Column("permit", noted("Number of the permit."), "permit__number"),
        Column("cautions by", noted("Who had read the cautions."), "cautions_by__name"),
        Column("cautions at", noted("When they were acknowledged."), "cautions_at"),
        Column("opened at", noted("When the run was opened."), "opened_at"),
        Column("closed at", noted("When it was closed; empty while it is open."), "closed_at"),
        *STRUCK,
        ID,
    ),
    _runs,
)
RETURN_PROOFS = Table(
    "return-proofs",
    noted("Proof that the return was connected, for each electrical island."),
    (
        *IN_RUN,
        Column("island", noted("The island, where there are several."), "island"),
        Column("place", noted("Where it was proven."), "said"),
        AT,
        SEQ,
        BY,
        *STRUCK,
        ID,
    ),
    rows_of(ReturnProof, RUN_ZONE, "run__opened_at", "sheet_seq"),
)
TOUCH_TESTS = Table(
    "touch-tests",
    noted("On concrete: touches of bare concrete away from the return, for each electrical island."),
    (
        *IN_RUN,
        Column("island", noted("The island, where there are several."), "island"),
        Column("place", noted("Where it was touched."), "said"),
        Column("distance (m)", noted("How far from the return."), "distance"),
        Column("voltage (V)", noted("The voltage it was touched with."), "volts"),
        Column("alarm", noted("Whether it alarmed; if not, it was too dry."), "alarm"),
        AT,
        SEQ,
        BY,
        *STRUCK,
        ID,
    ),
    rows_of(TouchTest, RUN_ZONE, "run__opened_at", "sheet_seq"),
)
VERIFICATIONS = Table(
    "verifications",
    noted("Checks of the output: work counts only between two good ones."),
    (
        *IN_RUN,
        AT,
        SEQ,
        Column("phase", noted("start, during, event or end."), "phase"),
        Column(
            "expected",
            noted("What the output should be, or the resistance at which a wet sponge has to alarm."),
            "expected",
        ),
        Column("measured", noted("What was measured, crest on load; of a wet sponge the known resistor."), "measured"),
        Column("tolerance", noted("Either way."), "tolerance"),
        Column("unit", noted("V, or Ω for a wet sponge."), "unit"),
        Column("outcome", noted("low, good or high."), "outcome"),
        Column("alarm seen", noted("Whether it alarmed on a known bare spot."), "alarm_seen"),
        Column("time by hand", noted("Whether its time was typed in, not that of the press."), "hand_timed"),
        Column("voltmeter", noted("Serial number of what measured the output."), "voltmeter__serial"),
        BY,
        Column("note", noted("What was noted."), "note"),
        *STRUCK,
        ID,
    ),
    rows_of(Verification, RUN_ZONE, "run__opened_at", "sheet_seq"),
)
EVENTS = Table(
    "events",
    noted("What makes a check of the output due before work goes on."),
    (*IN_RUN, Column("event", noted("What happened."), "kind"), AT, SEQ, BY, *STRUCK, ID),
    rows_of(CheckEvent, RUN_ZONE, "run__opened_at", "sheet_seq"),
)
SWATHS = Table(
    "swaths",
    noted("Ground marked as swept, with how it stands and why."),
    (
        *IN_RUN,
        Column("lane", noted("Its lane, where one was named."), "lane"),
        SAID,
        Column("area (m2)", noted("Its area; swaths may overlap. 0 for a weld, edge, nozzle or bracket."), "area"),
        Column("feature", noted("The weld, edge, nozzle or bracket that was swept."), "feature__name"),
        Column("along (m)", noted("Of a weld or edge: from and to, along it."), "along", _along),
        Column("island", noted("Its electrical island."), "island"),
        Column("started at", noted("When it was begun."), "started_at"),
        Column("ended at", noted("When it was done."), "ended_at"),
        Column("starts after", noted("Place in the order of recording of the press it starts from."), "start_seq"),
        SEQ,
        Column("times by hand", noted("Whether its times were given by hand."), "hand_timed"),
        Column("standing", noted("stands, held, pending or lost, judged from the facts of the run."), "standing"),
        Column("cause", noted("Why it does not stand."), "cause"),
        *STRUCK,
        ID,
    ),
    rows_of(Swath, RUN_ZONE, "run__opened_at", "sheet_seq"),
)
ANSWERS = Table(
    "answers",
    noted(
        "Questions about runs and readings, and what was said to them; of several answers to one question the last counts."
    ),
    (
        *under("coating"),
        Column(
            "run",
            noted("Letter of the field sheet and number of the run; empty where the question hangs on none."),
            ("run__sheet__letter", "run__number"),
            lambda letter, number: f"{letter}-{number}" if letter else None,
        ),
        Column("about", noted("What kind of question it is."), "code", lambda code: QUESTIONS[code].title),
        Column("question", noted("The question as it stood when it was answered."), "asked"),
        Column("answer", noted("explained, to be corrected, or so it was."), "verdict"),
        Column("why", noted("What was said."), "why"),
        BY,
        AT,
        Column("question key", noted("The same for every answer to one question."), "key"),
        ID,
    ),
    rows_of(Answer, "coating__zone", "at"),
)
RULINGS = Table(
    "rulings",
    noted("Decisions on lost or held ground of a run, and on what evidence."),
    (
        *IN_RUN,
        *decided(noted("stands or lost."), "swaths", noted("Identities of the swaths it is about.")),
    ),
    rows_of(Reinstatement, RUN_ZONE, "at"),
)
DISTURBANCES = Table(
    "disturbances",
    noted("Later work that spoils what was tested there."),
    (*under("coating"), Column("kind", noted("What was done."), "kind"), SAID, AT, BY, *STRUCK, ID),
    rows_of(Disturbance, "coating__zone", "at"),
)
COVERAGE = Table(
    "coverage",
    noted("The ground as found by coat stage, stretch by stretch, divided without overlap; the rest is gap."),
    (
        *under("coating"),
        Column("stage", noted("Coat stage."), "stage"),
        Column("stretch", noted("Number of the stretch along the zone."), "stretch"),
        Column("tested (m2)", noted("Swept by swaths that stand."), "found_area"),
        Column("held (m2)", noted("Waits for a decision."), "held_area"),
        Column("pending (m2)", noted("Waits for the next check."), "pending_area"),
        Column("lost (m2)", noted("Swept, not proven."), "lost_area"),
    ),
    rows_of(Coverage, "coating__zone", "coating__zone__order", "coating", "stage", "stretch"),
)
TABLES = (
    SPECIFICATIONS, COATINGS, SHEETS, ATMOSPHERE, RUNS, RETURN_PROOFS, TOUCH_TESTS, VERIFICATIONS, EVENTS, SWATHS,
    ANSWERS, RULINGS, COVERAGE, DISTURBANCES,
)  # fmt: skip
