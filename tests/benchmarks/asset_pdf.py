"""The document of an asset with five thousand flaws, over ReportLab setting the same table of flaws and nothing else."""

from __future__ import annotations

import io
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import timedelta
from random import Random

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from inspections.flaws import Flaw
from inspections.runs import Run
from repairs.dossier import Reader
from repairs.dossier.asset import asset_dossier
from repairs.dossier.lettering import FONTS
from repairs.picture import zone_picture
from tests.benchmarks.databases import SQLITE, temporary_database
from tests.benchmarks.filling import long_pipe, sweep
from tests.benchmarks.measuring import Line, side_by_side
from tests.scenes import Scene

FLAWS, METRES, SWATHS = 5000, 1000.0, 5000
REPEATS = 3
_COLUMNS = (42.0, 72.0, 200.0, 260.0, 330.0, 430.0, 490.0)
_TOP, _BOTTOM, _LEADING, _SIZE = 780.0, 60.0, 12.0, 7.5


def measure() -> Iterator[Line]:
    with temporary_database(SQLITE):
        scene = long_pipe(METRES)
        find_flaws(scene, sweep(scene, SWATHS), FLAWS)
        at = scene.clock + timedelta(days=1)
        reader = Reader("Noor Falk", "si", scene.asset.zone_info)
        rows = _rows(scene)

        def document() -> bytes:
            with asset_dossier(scene.asset, reader, at) as file:
                return file.read()

        def plain() -> bytes:
            return _plain_table(rows)

        what = f"asset PDF, {FLAWS} flaws / the same table drawn plainly"
        seconds = side_by_side(document, plain, REPEATS)
        yield Line(what, "s", seconds.ours, seconds.floor)
        yield Line(f"{what}, peak memory", "MB", _peak(document), _peak(plain))


def find_flaws(scene: Scene, run: Run, count: int) -> None:
    """Flaws all over the zone, straight into the table."""
    dice, surface = Random(5), scene.zone.surface
    low, _, high, _ = surface.outline.bounds
    rows = []
    for number in range(1, count + 1):
        x, y = dice.uniform(low, high), dice.uniform(0.0, surface.period or surface.across)
        rows.append(
            Flaw(
                sheet=scene.sheet, run=run, number=number, said=surface.print_place(x, y), x=x, y=y, size_x=0.02,
                size_y=0.01, found_at=scene.clock, sheet_seq=1_000_000 + number, by=scene.crew,
            )
        )  # fmt: skip
    Flaw.objects.bulk_create(rows, batch_size=500)


def _rows(scene: Scene) -> list[tuple[str, ...]]:
    """The words of each flaw, ready to be set: the floor reads and computes nothing."""
    return [
        (
            flaw.tag,
            f"{flaw.said} ± {flaw.give_or_take} m",
            f"{1000 * flaw.size_x:.0f} × {1000 * flaw.size_y:.0f} mm",
            str(flaw.kind_label),
            f"{flaw.run_label}, {flaw.found_at:%-d %b %Y %H:%M}",
            str(flaw.status.label),
            "counted" if flaw.counted else flaw.why_not,
        )
        for flaw in zone_picture(scene.coating).flaws
    ]


def _plain_table(rows: list[tuple[str, ...]]) -> bytes:
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=A4, invariant=1)
    y = 0.0
    for row in rows:
        if y < _BOTTOM:
            if y:
                canvas.showPage()
            canvas.setFont(FONTS.regular, _SIZE)
            y = _TOP
        for x, words in zip(_COLUMNS, row, strict=True):
            canvas.drawString(x, y, words)
        canvas.line(_COLUMNS[0], y - 3, 553, y - 3)
        y -= _LEADING
    canvas.showPage()
    canvas.save()
    return held.getvalue()


def _peak(make: Callable[[], object]) -> float:
    """Most memory in use at one time while it is made, MB, over what was in use before."""
    tracemalloc.start()
    before, _ = tracemalloc.get_traced_memory()
    make()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return (peak - before) / 1e6
