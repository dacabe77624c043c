"""Tables of film thickness: spots and their readings, checks of gauges, decisions on spots in doubt, answers for runs."""

from __future__ import annotations

from collections.abc import Iterator

from accounts.units import FILM, read, to_si
from accounts.wording import noted
from inspections.coatings import Spot
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.runs import BasisAnswer
from repairs.exports.scope import Column, Line, Table
from repairs.exports.tested import AT, BY, IN_RUN, RUN_ZONE, decided, rows_of, under
from repairs.exports.where import ID, SAID, STRUCK, X, Y


def _reading_lines(line: Line) -> Iterator[Line]:
    """One line a reading: its number, the figure in µm, and the words it was given in."""
    *before, _, _, readings, pk = line
    for number, said in enumerate(readings or (), 1):  # type: ignore[arg-type]
        figure, unit = read(said, FILM)
        yield (*before, number, float(to_si(figure, unit or FILM.si)), said, pk)


def _nothing() -> None:
    """Filled in line by line."""


_SPOT = (
    *under("coating"),
    Column("stage", noted("Coat stage that was measured."), "stage"),
    SAID,
    X,
    Y,
    AT,
)
SPOTS = Table(
    "spots",
    noted("Thickness spots: the mean of their readings."),
    (
        *_SPOT,
        Column(
            "area measurement",
            noted("Its name, the same for spots that belong together; empty: five in the order they were taken."),
            "area",
        ),
        Column("shift", noted("When the film was put on there: a day or a shift."), "shift"),
        Column("taken for", noted("For an area measurement, or to bound a failed one."), "purpose"),
        Column("readings", noted("How many."), "readings", len),
        Column("unit", noted("The unit the readings were given in."), "unit"),
        Column(
            "unit confirmed",
            noted("Whether somebody said that the unit is right, though it looked wrong."),
            "unit_confirmed",
        ),
        Column("mean (µm)", noted("Mean of the readings, less the correction."), "mean"),
        Column("correction (µm)", noted("Subtracted from each reading for the surface profile."), "correction"),
        Column("correction as given", noted("In words; empty where it is the specification's."), "correction_said"),
        Column("gauge", noted("The gauge."), "gauge__name"),
        Column("serial", noted("Its serial number."), "gauge__serial"),
        Column("sheet", noted("Letters of the field sheet."), "sheet__letter"),
        Column("by", noted("Who recorded it."), "sheet__person__name"),
        *STRUCK,
        ID,
    ),
    rows_of(Spot, "coating__zone", "at"),
)
READINGS = Table(
    "readings",
    noted("Single readings of the thickness spots, one to a line."),
    (
        *_SPOT,
        Column("struck out", noted("When the spot was struck out; empty while it counts."), "struck_at"),
        Column("no", noted("Number of the reading in its spot."), (), _nothing),
        Column("reading (µm)", noted("The reading."), (), _nothing),
        Column("as given", noted("With the unit it was given in."), "readings"),
        Column("spot id", noted("Identity of the spot."), "pk"),
    ),
    rows_of(Spot, "coating__zone", "at"),
    _reading_lines,
)
GAUGE_CHECKS = Table(
    "gauge checks",
    noted("Checks of thickness gauges on shims and zero plates."),
    (
        *under("sheet__coating"),
        Column("sheet", noted("Letters of the field sheet."), "sheet__letter"),
        Column("gauge", noted("The gauge."), "gauge__name"),
        Column("serial", noted("Its serial number."), "gauge__serial"),
        Column("plate", noted("The shim or plate, as it is marked."), "plate"),
        Column("shim (µm)", noted("Its thickness; 0 for the zero plate."), "shim"),
        Column("measured (µm)", noted("What the gauge showed."), "measured"),
        Column("tolerance (µm)", noted("Of gauge and shim together."), "tolerance"),
        Column(
            "as given",
            noted("Shim, reading and tolerance with their units."),
            ("shim_said", "measured_said", "tolerance_said"),
            lambda *said: " / ".join(said),
        ),
        Column("outcome", noted("low, good or high."), "outcome"),
        Column("note", noted("A remark."), "note"),
        AT,
        BY,
        *STRUCK,
        ID,
    ),
    rows_of(GaugeCheck, "sheet__coating__zone", "at"),
)
SPOT_RULINGS = Table(
    "spot decisions",
    noted("Decisions on thickness spots that a check or certificate of their gauge left in doubt."),
    (
        *under("coating"),
        *decided(noted("counts, or does not count."), "spots", noted("Identities of the spots it is about.")),
    ),
    rows_of(SpotRuling, "coating__zone", "at"),
)
BASIS_ANSWERS = Table(
    "answers for readings",
    noted("What was decided of runs whose thickness readings are in question since."),
    (*IN_RUN, Column("why", noted("What is done about it, and why."), "why"), BY, AT, *STRUCK, ID),
    rows_of(BasisAnswer, RUN_ZONE, "at"),
)
TABLES = (SPOTS, READINGS, GAUGE_CHECKS, SPOT_RULINGS, BASIS_ANSWERS)
