"""The document of a whole asset: what is true of it, then every zone in a chapter of its own, then what proves it."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from datetime import datetime
from functools import partial
from typing import IO

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, PageBreak

from accounts.assets import Asset
from accounts.record import Head
from accounts.wording import say
from inspections.coatings import Coating
from inspections.runs import Run
from inspections.sweep import SPEED_SOURCE
from mapping.assembly import draw_asset
from mapping.elevation import AssetDrawing
from mapping.elevation_paint import Box, paint_asset
from mapping.zones import Zone
from repairs.dossier import StillMoving, closing, findings_of, inventory, overview, proofs_of, standing_of, summary
from repairs.dossier.book import Chapter, ContentsLine, Standing, below, write
from repairs.dossier.layout import LEAD, Heading, Paper, chapter, item, paper_of, part, says, section
from repairs.dossier.lettering import FONTS, printable
from repairs.dossier.overview import Overview
from repairs.dossier.papers import papers_of
from repairs.dossier.reader import Reader, capital
from repairs.dossier.specification import specification_of
from repairs.exports.scope import Scope
from repairs.pages.assets import state_of
from repairs.pages.figures import figures_of
from repairs.picture import ZonePicture, pictures_of, with_what_is_shown, zone_picture
from repairs.seen import part_of

TRIES = 5
_UNDER_COVER, _ALONE = 0.48, 0.86
"""Shares of a page that the drawing of the asset may take: below the cover's words, or on a page of its own."""
_MUCH = 1.25


def asset_dossier(asset: Asset, reader: Reader, printed_at: datetime) -> IO[bytes]:
    """The asset's document in a temporary file, which is gone once closed.

    The same record, reader, language and moment give the same bytes. What is read while somebody records is read again, so
    that all of it rests on the head that is printed. Raises StillMoving when that never comes to rest.
    """
    scope = Scope(asset)
    for _ in range(TRIES):
        head = scope.head()
        file = tempfile.TemporaryFile()  # noqa: SIM115 (handed on open)
        _write(_overview(asset, reader, head, printed_at), reader, file)
        if scope.head() == head:
            file.seek(0)
            return file
        file.close()
    raise StillMoving(
        say("The record of {asset} grew while it was read, {times} times over.", asset=asset, times=TRIES)
    )


def _overview(asset: Asset, reader: Reader, head: Head, printed_at: datetime) -> Overview:
    """The zones of the asset, each with its current coating, or its last, at the finished system."""
    zones = list(asset.zones.all())
    for zone in zones:
        zone.asset = asset
    coatings: dict[object, Coating] = {}
    for coating in with_what_is_shown(Coating.objects.filter(zone__asset=asset)).order_by("number"):
        before = coatings.get(coating.zone_id)
        if before is None or before.ended_at is not None or coating.ended_at is None:
            coatings[coating.zone_id] = coating
    wanted = [coatings[zone.pk] for zone in zones if zone.pk in coatings]
    pictures = {picture.zone.pk: picture for picture in pictures_of(wanted, printed_at, reader.spoken)}
    return Overview(asset, tuple(zones), pictures, head, printed_at)


def _write(seen: Overview, reader: Reader, file: IO[bytes]) -> None:
    paper, asset = paper_of(reader.units), seen.asset
    standing = Standing(
        title=say("Document of {asset}", asset=asset.name),
        above=(asset.name, say("whole asset, {count} zones", count=len(seen.zones))),
        below=say("record at entry {seq}, sha256 {digest}", seq=seen.head.seq, digest=seen.head.digest),
    )
    drawn = _drawn(seen, paper)
    first = [
        *overview.zones_of(seen, reader, paper),
        *overview.charts_of(seen, reader, paper),
        *inventory.setting_out(seen, reader, paper),
        *inventory.landmarks_of(asset, paper),
        *_specifications(seen, reader, paper),
    ]
    chapters = [
        Chapter(
            partial(
                _zone, zone, seen.pictures[zone.pk].coating if zone.pk in seen.pictures else None, seen, reader, paper
            )
        )
        for zone in seen.zones
    ]
    last = _last(seen, reader, paper)
    story = [
        *overview.cover(seen, reader),
        *drawn,
        PageBreak(),
        *_contents(seen, [*drawn, *first], last),
        PageBreak(),
        *first,
        *chapters,
        Chapter(lambda: (standing, last)),
    ]
    write(story, paper, standing, file)


def _contents(seen: Overview, first: Sequence[Flowable], last: Sequence[Flowable]) -> list[Flowable]:
    """Sections and zones, each with its page, to be pressed."""

    def lines(story: Sequence[Flowable]) -> list[Flowable]:
        return [
            ContentsLine(each.words, "", each.key) for each in story if isinstance(each, Heading) and each.level == 0
        ]

    zones: list[Flowable] = [
        ContentsLine(zone.name, picture.sentence if picture else say("No coating has begun."), _key(zone))
        for zone, picture in seen.lines()
    ]
    return [section(say("Contents")), *lines(first), *zones, *lines(last)]


def _key(zone: Zone) -> str:
    return f"zone {zone.pk}"


class Drawn(Flowable):
    """An asset's drawing in a box of this height."""

    def __init__(self, drawing: AssetDrawing, height: float) -> None:
        super().__init__()
        self.drawing, self.height = drawing, height

    def wrap(self, width: float, _room: float) -> tuple[float, float]:
        self.width = width
        return width, self.height

    def draw(self) -> None:
        paint_asset(self.canv, self.drawing, Box(0, self.height, self.width, self.height), FONTS)


def _drawn(seen: Overview, paper: Paper) -> list[Flowable]:
    """The asset as one sees it; on a page of its own where it comes out much larger there."""
    if not seen.zones:
        return []
    parts = []
    for zone, picture in seen.lines():
        made = part_of(zone, picture, *state_of(picture))
        parts.append(made._replace(name=printable(made.name)))
    drawing = draw_asset(parts)
    small, large = (
        paint_asset(Canvas(None), drawing, Box(0, 0, paper.measure, share * paper.room), FONTS)
        for share in (_UNDER_COVER, _ALONE)
    )
    return [
        section(say("The asset as one sees it")),
        says(
            say(
                "Each zone filled as far as it is tested, dotted by its open flaws; the tables that follow say the same."
            ),
            LEAD,
        ),
        Drawn(drawing, large if large > _MUCH * small else small),
    ]


def _specifications(seen: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    """Each specification that rules a zone, once, and the zones it rules."""
    ruled: dict[object, list[ZonePicture]] = {}
    for picture in seen.pictures.values():
        ruled.setdefault(picture.specification.pk, []).append(picture)
    story: list[Flowable] = [section(say("Specifications"))]
    if not ruled:
        return [*story, says(say("No specification rules a zone yet."))]
    for pk, pictures in ruled.items():
        _, *told = specification_of(pictures[0], reader, paper)
        names = ", ".join(picture.zone.name for picture in pictures)
        story += [
            part(str(pictures[0].specification), f"specification {pk}"),
            says(say("It rules: {zones}.", zones=names)),
            *told,
        ]
    return story


def _zone(
    zone: Zone, coating: Coating | None, seen: Overview, reader: Reader, paper: Paper
) -> tuple[Standing, list[Flowable]]:
    """A zone's chapter; the same as its dossier but for what the document says once for all zones."""
    asset, head, key = seen.asset, seen.head, _key(zone)
    if coating is None:
        standing = Standing(
            title=zone.name,
            above=(f"{asset.name} · {zone.name}", say("no coating has begun")),
            below=say("record at entry {seq}, sha256 {digest}", seq=head.seq, digest=head.digest),
        )
        limits = f"{capital(zone.surface.limits_text())}."
        return standing, [chapter(zone.name, key), says(limits), says(say("No coating has begun on this zone."))]
    picture = zone_picture(coating, at=seen.printed_at, spoken=reader.spoken)
    papers = papers_of(coating)
    told = [
        *summary.state_of(picture, reader, paper),
        *findings_of(picture, papers, reader, paper),
        *proofs_of(picture, papers, reader, paper),
        *closing.computed(picture, reader, paper),
    ]
    return standing_of(picture, head), [chapter(zone.name, key), *below(told, key)]


def _last(seen: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    """What proves the zones together: instruments, people, the record; then cautions and limits."""
    asset = seen.asset
    methods = set(Run.objects.filter(sheet__coating__zone__asset=asset).order_by().values_list("method", flat=True))
    methods |= {picture.terms.method for picture in seen.pictures.values()}
    return [
        *inventory.instruments_of(asset, reader, paper),
        *inventory.people_of(asset, reader, paper),
        *inventory.record_of(seen, reader, paper),
        *closing.cautions_of(methods),
        *_limits(seen, reader),
        *closing.about(seen.head),
    ]


def _limits(seen: Overview, reader: Reader) -> list[Flowable]:
    """What this document does not say, and which of its rules were written down from memory."""
    sources = {figure.source for picture in seen.pictures.values() for figure in figures_of(picture, reader.units)}
    sources |= {picture.thickness.source for picture in seen.pictures.values() if picture.thickness}
    sources.add(SPEED_SOURCE)
    notes = dict.fromkeys(zone.surface.distance_note for zone in seen.zones if zone.surface.distance_note)
    return [
        section(say("Limits")),
        item(
            say(
                "A test finds flaws where it was made, with the voltage that was set, on the day it was made. What was not swept, "
                "or swept without proof, may hold flaws; later work may have made new ones."
            )
        ),
        item(
            say(
                "Voltages, windows and limits are those of the specification that is named. Where it, the product data sheet or "
                "local codes ask for more, they rule."
            )
        ),
        item(say("Densities and intervals describe what was swept; they are never the reason for a release.")),
        *[item(note) for note in notes],
        *[
            item(say("Written down from memory, without the standard at hand: {source}", source=source))
            for source in sorted(sources)
            if "from memory" in source
        ],
    ]
