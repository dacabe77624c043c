"""The first pages of an asset's document: what is true of it, every zone in one table, whose turn it is, charts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from reportlab.platypus import Flowable

from accounts.assets import Asset
from accounts.record import Head
from accounts.wording import say, say_many
from mapping.zones import Zone
from repairs.chart_paint import chart_height, paint_chart
from repairs.charts import AreaRow, Chart, DensityRow, area_chart, density_chart
from repairs.dossier.layout import CAUTION, LEAD, NOTE, OVERLINE, TITLE, VERDICT, Paper, marked, says, section, table
from repairs.dossier.lettering import FONTS, markup
from repairs.dossier.reader import NOTHING, Reader, capital
from repairs.dossier.summary import SIGNS
from repairs.picture import ZonePicture
from repairs.state import FlawStatus

MOST_IN_CHART = 14
_BETWEEN = 18.0


@dataclass(frozen=True)
class Overview:
    """What the first pages tell of an asset: its zones in order, each with its picture once a coating has begun."""

    asset: Asset
    zones: tuple[Zone, ...]
    pictures: dict[UUID, ZonePicture]
    head: Head
    printed_at: datetime

    def lines(self) -> Iterator[tuple[Zone, ZonePicture | None]]:
        for zone in self.zones:
            yield zone, self.pictures.get(zone.pk)


def cover(overview: Overview, reader: Reader) -> list[Flowable]:
    """Title, verdict, totals, the caution, and where the record stood."""
    asset, head = overview.asset, overview.head
    place = f", {asset.place}" if asset.place else ""
    return [
        says(say("Document of an asset"), OVERLINE),
        says(asset.name, TITLE),
        says(
            say("{kind}{place}. Owner: {owner}.", kind=capital(asset.kind), place=place, owner=asset.organisation.name)
            + (f" {capital(asset.datum)}." if asset.datum else "")
        ),
        says(_sentence(overview, reader), VERDICT),
        *_totals(overview, reader),
        marked(
            "<b>"
            + markup(
                say(
                    "Barespot never authorises entry or work. Its figures help a competent person; they replace neither the "
                    "standard, the product data sheet, local codes nor licensed practice."
                )
            )
            + "</b>",
            CAUTION,
        ),
        says(
            say(
                "Printed {when} for {name}, from the record of {asset} at entry {seq}, sha256 {digest}. All times are those of "
                "{clock}. A later print with the same entry and sha256 rests on the same record. This document names people, "
                "as contracts ask; the entries of the record hold no names or email addresses but what somebody typed.",
                when=reader.moment_in_full(overview.printed_at),
                name=reader.name,
                asset=asset.name,
                seq=head.seq,
                digest=head.digest or NOTHING,
                clock=reader.clock.key,
            ),
            NOTE,
        ),
    ]


def _sentence(overview: Overview, reader: Reader) -> str:
    """The plain verdict: how much is released, and what stands in the way of the rest."""
    pictures = list(overview.pictures.values())
    if not overview.zones:
        return say("No zone yet: there is nothing to test.")
    released = sum(each.release is not None and not each.release.undermined for each in pictures)
    parts = [
        say_many(
            "{released} of {count} zone is released.",
            "{released} of {count} zones are released.",
            len(overview.zones),
            released=released,
        )
    ]
    untested = sum(each.ground.untested_m2 for each in pictures)
    still_open = sum(each.open_flaws for each in pictures)
    if untested >= 1e-4:
        parts.append(say("{area} not tested as left.", area=reader.area(untested)))
    if still_open:
        parts.append(say_many("{count} flaw open.", "{count} flaws open.", still_open))
    undermined = sum(each.release is not None and bool(each.release.undermined) for each in pictures)
    if undermined:
        parts.append(
            say_many("{count} release does not hold any more.", "{count} releases do not hold any more.", undermined)
        )
    begun = len(overview.zones) - len(pictures)
    if begun:
        parts.append(say_many("On {count} zone no coating has begun.", "On {count} zones no coating has begun.", begun))
    return " ".join(parts)


def _totals(overview: Overview, reader: Reader) -> list[Flowable]:
    pictures = list(overview.pictures.values())
    excluded = sum(each.area_m2 for picture in pictures for each in picture.excluded)
    flaws = {status: sum(each.flaws_by_status()[status] for each in pictures) for status in FlawStatus}
    told = ", ".join(f"{SIGNS[status]} {number} {status.label}" for status, number in flaws.items() if number)
    return [
        says(
            say(
                "The true area of all zones is {true}. Excluded and accepted are {excluded}; testable where a coating has "
                "begun is {testable}. Tested as found: {found}; as left: {left}.",
                true=reader.area(sum(zone.true_area for zone in overview.zones)),
                excluded=reader.area(excluded),
                testable=reader.area(sum(each.testable_m2 for each in pictures)),
                found=reader.area(sum(each.found.tested_m2 for each in pictures)),
                left=reader.area(sum(each.ground.tested_m2 for each in pictures)),
            )
        ),
        says(
            say(
                "Flaws: {flaws}. Patches: {patches}.",
                flaws=told or say("none reported"),
                patches=sum(len(each.patches) for each in pictures) or say("none issued"),
            )
        ),
    ]


def zones_of(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    """Every zone: ground, flaws against the contract line, and whose turn it is."""
    story: list[Flowable] = [section(say("All zones"))]
    if not overview.zones:
        return [*story, says(say("No zone yet."))]
    return [
        *story,
        *_grounds(overview, reader, paper),
        *_densities(overview, reader, paper),
        *_turns(overview, reader, paper),
    ]


def _grounds(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    rows, sums = [], [0.0] * 9
    for zone, picture in overview.lines():
        if picture is None:
            rows.append([zone.name, reader.area(zone.true_area), *[NOTHING] * 8])
            continue
        areas = [
            zone.true_area,
            sum(each.area_m2 for each in picture.excluded),
            picture.testable_m2,
            picture.found.tested_m2,
            picture.ground.tested_m2,
            picture.ground.held_m2,
            picture.ground.pending_m2,
            picture.ground.lost_m2,
            picture.ground.gap_m2,
        ]
        sums = [total + area for total, area in zip(sums, areas, strict=True)]
        rows.append([zone.name, *map(reader.area, areas)])
    rows.append([say("together, where a coating has begun"), *map(reader.area, sums)])
    heads = [
        say("zone"), say("true"), say("excluded"), say("testable"), say("tested as found"), say("tested as left"),
        say("held"), say("pending"), say("lost"), say("gap"),
    ]  # fmt: skip
    return [
        says(
            say(
                "Ground of the finished system. Tested, held, pending, lost and gap do not overlap; as left, together they "
                "are the testable area."
            ),
            LEAD,
        ),
        *table(heads, rows, [79, *[48] * 9], paper.measure),
    ]


def _densities(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    per, times = reader.per
    rows = []
    for zone, picture in overview.lines():
        found = picture.density_found if picture else None
        line = picture.contract if picture else None
        verdict = {"kept": say("✓ kept"), "exceeded": say("▼ exceeded")}.get(
            (line.verdict if line else None) or "", NOTHING
        )
        interval = NOTHING
        if found:
            low, high = (times * bound for bound in found.interval_per_m2)
            interval = say("{low:.2f} to {high:.2f}", low=low, high=high)
        rows.append(
            [
                zone.name,
                str(found.count) if found else NOTHING,
                f"{times * found.per_m2:.2f}" if found else NOTHING,
                interval,
                str(line.allowed) if line and line.allowed is not None else NOTHING,
                verdict,
                str(picture.open_flaws) if picture else NOTHING,
                f"{picture.open_per_100_m2 * times / 100:.2f}"
                if picture and picture.open_per_100_m2 is not None
                else NOTHING,
            ]
        )
    heads = [
        say("zone"), say("counted as found"), say("flaws per {per}", per=per), say("95 % interval"), say("allowed"),
        say("contract line"), say("open as left"), say("open per {per}", per=per),
    ]  # fmt: skip
    return [
        says(
            say(
                "Flaws as found on what is tested, with the exact 95 % interval (Garwood 1936), against what the specification "
                "allows. The plain count is the verdict; the interval never is."
            ),
            LEAD,
        ),
        *table(heads, rows, [90, 55, 62, 80, 48, 66, 50, 60], paper.measure),
    ]


def _turns(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    whose = {
        "crew": say("the crew"), "contractor": say("the contractor"), "owner": say("the owner"),
        "lead": say("the lead inspector"),
    }  # fmt: skip
    rows = []
    for zone, picture in overview.lines():
        if picture is None:
            rows.append([zone.name, say("No coating has begun."), whose["owner"], NOTHING])
            continue
        turn = picture.turn
        rows.append(
            [
                zone.name,
                picture.sentence,
                whose[turn.whose] if turn else NOTHING,
                reader.moment(turn.since) if turn and turn.since else NOTHING,
            ]
        )
    return [
        says(say("What is true of each zone, and whose turn it is."), LEAD),
        *table(
            [say("zone"), say("what is true"), say("whose turn"), say("since")], rows, [90, 261, 80, 80], paper.measure
        ),
    ]


class Charts(Flowable):
    """Two charts side by side."""

    def __init__(self, charts: Sequence[Chart], width: float) -> None:
        super().__init__()
        self.charts, self.width = charts, width
        self.each = (width - _BETWEEN * (len(charts) - 1)) / len(charts)
        self.height = max(chart_height(chart, self.each) for chart in charts)

    def wrap(self, *_room: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        for place, chart in enumerate(self.charts):
            paint_chart(chart, self.canv, place * (self.each + _BETWEEN), self.height, self.each, FONTS)


def charts_of(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    """Density against the contract line, and ground, of the zones with the most flaws per area."""
    per, times = reader.per
    begun = [picture for _, picture in overview.lines() if picture is not None and picture.density_found is not None]
    if not begun:
        return []
    worst = sorted(begun, key=lambda each: -each.density_found.per_m2 if each.density_found else 0.0)[:MOST_IN_CHART]
    densities, areas = [], []
    for picture in worst:
        found, line, decision = picture.density_found, picture.contract, picture.decision
        assert found is not None
        low, high = found.interval_per_m2
        densities.append(
            DensityRow(
                picture.zone.name, times * found.per_m2, times * low, times * high,
                times * decision.limit_per_m2 if decision else None,
                line.verdict == "kept" if line and line.verdict else None,
            )
        )  # fmt: skip
        ground, out, unit = picture.ground, sum(each.area_m2 for each in picture.excluded), reader.area_unit
        parts = (ground.tested_m2, ground.held_m2, ground.pending_m2, ground.lost_m2, ground.gap_m2, out)
        areas.append(AreaRow(picture.zone.name, *[part / unit.m2 for part in parts]))
    charts = [density_chart(densities, per), area_chart(areas, reader.area_unit.name)]
    shown = say_many("{count} zone", "{count} zones", len(worst))
    return [
        section(say("Charts")),
        says(
            say(
                "The {zones} with the most flaws per area, the worst first. Left: flaws as found with their interval; a disc "
                "keeps the contract line, a triangle exceeds it, the dashed line is what is allowed. Right: ground as left. The "
                "tables above say the same of every zone.",
                zones=shown,
            ),
            LEAD,
        ),
        Charts(charts, paper.measure),
    ]
