"""A field sheet's file of ten thousand rows imported, over a bulk insert of the rows it becomes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from random import Random

from django.core.files.uploadedfile import SimpleUploadedFile

from accounts.acting import perform
from accounts.rows import Row
from inspections.coatings import FieldSheet
from inspections.flaws import Classification, Flaw
from inspections.runs import ReturnProof, Run, Swath, Verification
from tests.benchmarks.databases import NO_POSTGRESQL, available, temporary_database, undone
from tests.benchmarks.measuring import Line, Skipped, side_by_side
from tests.scenes import Scene, pipe_scene

ROWS = 10_000
RUNS, SWATHS, FLAWS = 40, 195, 50  # and five more rows a run: itself, the return, two checks, its close
METRES = 2400.0
LANES, LONG = 7, 2.0
REPEATS = 3
HEADING = "what;run;time;no;until;place;measured;alarm;phase;kind;along;sweeper;instrument;electrode;set;cautions"
PATHS = {Run: "sheet", ReturnProof: "run__sheet", Verification: "run__sheet", Swath: "run__sheet", Flaw: "sheet",
         Classification: "flaw__sheet"}  # fmt: skip


def measure() -> Iterator[Line | Skipped]:
    for vendor, is_there in available().items():
        what = f"import of {ROWS} rows / bulk insert, {vendor}"
        if not is_there:
            yield Skipped(what, NO_POSTGRESQL)
            continue
        with temporary_database(vendor):
            scene = pipe_scene(end=1000.0 + METRES)
            content = sheet_text(scene).encode()
            seconds = side_by_side(_import(scene, content), _insert(_rows(scene, content)), REPEATS, warm_up=0)
        yield Line(what, "rows/s", ROWS / seconds.ours, ROWS / seconds.floor)


def _import(scene: Scene, content: bytes) -> Callable[[], object]:
    def bring() -> None:
        with undone():
            _bring(scene, content)

    return bring


def _bring(scene: Scene, content: bytes) -> FieldSheet:
    file = SimpleUploadedFile("sheet K.csv", content)
    made: FieldSheet = perform("import_sheet", scene.crew, scene.coating.pk, {"file": file}).made
    return made


def _rows(scene: Scene, content: bytes) -> list[list[Row]]:
    """What the file becomes, the sheet first, then each kind after the kinds it points to."""
    with undone():
        sheet = _bring(scene, content)
        found = [list(model._default_manager.filter(**{path: sheet})) for model, path in PATHS.items()]
    sheet.source = None  # the file as evidence is no row of the table
    return [[sheet], *found]


def _insert(rows: list[list[Row]]) -> Callable[[], object]:
    def insert() -> None:
        with undone():
            for kind in rows:
                type(kind[0])._default_manager.bulk_create(kind, batch_size=500)

    return insert


def sheet_text(scene: Scene) -> str:
    """Forty runs, two a day, along the lanes of the zone; the flaws at seeded places."""
    dice = Random(10)
    text = ["what;value", f"zone;{scene.zone.name}", "sheet;K", "units;volts kV, size mm"]
    given = {"sweeper": "Ines Holt", "instrument": scene.detector.serial, "electrode": scene.electrode.name}
    for run in range(RUNS):
        opened = datetime(2025, 4, 1, 7) + timedelta(days=run // 2, hours=6 * (run % 2))
        clock, end = f"{opened:%H:%M}", f"{opened + timedelta(minutes=SWATHS + 2):%H:%M}"
        text += [
            "what;value",
            f"date;{opened:%Y-%m-%d}",
            HEADING,
            _line("run", run=str(run + 1), time=clock, set="2.5", cautions="yes", **given),
            _line("return", time=clock, place="bare end of the spool"),
            _line("check", time=clock, measured="2.5", alarm="yes", phase="opening"),
            *_work(scene, run, opened, dice),
            _line("check", time=end, measured="2.5", alarm="yes", phase="closing"),
            _line("close", time=end),
        ]
    return "\n".join(text)


def _work(scene: Scene, run: int, opened: datetime, dice: Random) -> Iterator[str]:
    """A swath a minute, and after about every fourth a flaw."""
    start, chainage = scene.zone.surface.outline.bounds[0], scene.zone.surface.chainage
    for number in range(SWATHS):
        step, lane = divmod(run * SWATHS + number, LANES)
        low = start + step * LONG
        place = f"{chainage.print(low)} to {chainage.print(low + LONG)}, lane {lane + 1} of {LANES}"
        begun, ended = (f"{opened + timedelta(minutes=number + more):%H:%M}" for more in (0, 1))
        yield _line("swept", time=begun, until=ended, place=place)
        flaws, before = (many * FLAWS // SWATHS for many in (number + 1, number))
        if flaws > before:
            place = f"{chainage.print(start + dice.uniform(0.0, METRES))} @ {dice.randrange(1, 13)}:{dice.randrange(60):02d}"
            tag = f"K{run * FLAWS + flaws}"
            yield _line("flaw", time=ended, no=tag, place=place, kind="pinhole", along="8")


def _line(what: str, **cells: str) -> str:
    return ";".join([what, *(cells.get(column, "") for column in HEADING.split(";")[1:])])
