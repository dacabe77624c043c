"""The owner's board as a page: sentence, whose turn, figures, charts with their tables, assets and zones, the worst first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, cast
from urllib.parse import urlencode
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.acting import find
from accounts.assets import Asset
from accounts.languages import day_words
from accounts.people import Person
from accounts.units import show
from accounts.wording import say, say_many
from mapping.density import Density
from repairs import charts
from repairs.board import board
from repairs.board_rows import SORTS, STATES, Age, Asked, AssetRow, Board, Figures, Step, ZoneRow
from repairs.charts import AreaRow, CountRow, DensityRow, ProgressDay
from repairs.reader_words import said_in

STATE_STYLE = {
    "undermined": ("open", "▼"),
    "crew": ("open", "▼"),
    "lead": ("open", "▼"),
    "contractor": ("work", "◐"),
    "owner": ("held", "◆"),
    "not swept": ("none", "□"),
    "not begun": ("none", "□"),
    "curing": ("wait", "◇"),
    "ready": ("wait", "◆"),
    "released": ("done", "✓"),
}
"""Class and sign of each state, so that colour never stands alone."""


class Drawn(NamedTuple):
    """A chart as SVG, and the heading and rows of the table that says the same."""

    title: str
    svg: SafeString
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    key: str = ""
    swatches: Sequence[tuple[SafeString, str]] = ()


class Line(NamedTuple):
    """One row of the table of assets or zones, ready to print."""

    name: str
    url: str
    more: str
    state: str
    style: str
    sign: str
    sentence: str
    since: Any
    asset: Asset
    areas: Sequence[tuple[str, str]]
    coverage: str
    open_flaws: str
    repairs: str
    found: str
    left: str
    line: str


@login_required
@require_safe
def board_page(request: HttpRequest, pk: UUID | None = None) -> HttpResponse:
    """All assets that a person may see, or one of them; filtered, searched, sorted and paged by the address."""
    person = cast(Person, request.user)
    asset = find(person, Asset, pk) if pk else None
    asked = _asked(request, asset)
    seen = board(person, asked, timezone.now(), said_in(person.units))
    units = Units(person.units)
    kept = {name: value for name, value in (("state", asked.state), ("q", asked.search), ("sort", asked.sort)) if value}
    return render(
        request,
        "repairs/board.html",
        {
            "asset": asset,
            "board": seen,
            "sentence": sentence(seen.total),
            "states": [(state, words, *STATE_STYLE[state], seen.total.states.get(state, 0)) for state, words in STATES.items() if state in seen.total.states],
            "figures": figures(seen.total, units),
            "charts": drawn(seen, units) if seen.total.zones else [],
            "assets": [_asset_line(row, units) for row in seen.assets],
            "zones": [_zone_line(row, units, asset is None) for row in seen.zones],
            "sorts": SORTS.items(),
            "all_states": STATES.items(),
            "address": request.path,
            "kept": urlencode(kept),
            "record_url": reverse("record", args=[asset.pk]) if asset else "",
            "clocked": [*(row.asset for row in seen.assets), *(row.asset for row in seen.zones)],
            "per": units.per,
        },
    )  # fmt: skip


def _asked(request: HttpRequest, asset: Asset | None) -> Asked:
    """What the address asks for; what it misspells is left out."""
    state, sort, page = (request.GET.get(name, "") for name in ("state", "sort", "page"))
    return Asked(
        asset=asset.pk if asset else None,
        state=state if state in STATES else "",
        search=request.GET.get("q", "").replace("\0", "").strip()[:80],
        sort=sort if sort in SORTS else "worst",
        page=int(page) if page.isascii() and page.isdecimal() and len(page) < 7 else 1,
    )


class Units:
    """The reader's units for areas and densities."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.us = name == "us"
        self.area_unit = "ft²" if self.us else "m²"
        self.per = "1000 ft²" if self.us else "100 m²"
        self._m2 = 92.90304 if self.us else 100.0

    def area(self, square: float) -> str:
        return show(square, "area", self.name)

    def plain(self, square: float) -> float:
        return square / 0.09290304 if self.us else square

    def density(self, per_m2: float) -> float:
        return self._m2 * per_m2

    def with_interval(self, found: Density | None) -> str:
        if found is None:
            return "–"
        low, high = (self.density(each) for each in found.interval_per_m2)
        return say("{value:.1f} ({low:.1f} to {high:.1f})", value=self.density(found.per_m2), low=low, high=high)


def sentence(total: Figures) -> str:
    """What is true of all of it, and for whom the rest waits."""
    if not total.zones:
        return _("No zone yet.")
    released = total.states.get("released", 0)
    first = say_many(
        "{done} of {count} zone released.", "{done} of {count} zones released.", total.zones, done=released
    )
    rest = [
        say("{number} {state}", number=number, state=STATES[state])
        for state, number in total.states.items()
        if state != "released"
    ]
    return say("{first} Of the others: {rest}.", first=first, rest="; ".join(rest)) if rest else first


def figures(total: Figures, units: Units) -> list[tuple[str, str, str]]:
    """Name, value and a second line of each tile."""
    areas = total.areas
    share = total.share_left
    per = units.per
    return [
        (_("true area"), units.area(areas["true_area"]), ""),
        (_("excluded, accepted"), units.area(areas["excluded"]), ""),
        (_("testable"), units.area(areas["testable"]), ""),
        (_("tested, as left"), units.area(areas["left_tested"]), "–" if share is None else say("{share:.1f} %", share=int(1000 * share + 1e-9) / 10)),
        (_("tested, as found"), units.area(areas["tested"]), ""),
        (_("pending"), units.area(areas["left_pending"]), _("waits for the next check")),
        (_("held"), units.area(areas["left_held"]), _("waits for a decision")),
        (_("lost"), units.area(areas["left_lost"]), _("swept, but not proven")),
        (_("not swept"), units.area(areas["left_gap"]), _("reached by no swath, or worked on since")),
        (say("flaws per {per}, as found", per=per), *_split(units.with_interval(total.found))),
        (say("open flaws per {per}, as left", per=per), *_split(units.with_interval(total.left))),
        (_("open repairs"), str(total.open_repairs), say_many("{count} flaw open", "{count} flaws open", total.open_flaws)),
        (_("over the contract line"), say_many("{count} zone", "{count} zones", total.over), ""),
    ]  # fmt: skip


def _split(words: str) -> tuple[str, str]:
    value, gap, interval = words.partition(" (")
    return value, say("{interval} (95 %)", interval=interval.rstrip(")")) if gap else ""


def drawn(seen: Board, units: Units) -> list[Drawn]:
    """The charts, each with the table behind it."""
    rows = seen.assets or seen.zones
    return [
        *_density_chart(rows, units),
        _area_chart(rows, units),
        _progress_chart(seen.progress, units),
        _age_chart(seen.ages),
    ]


def _density_chart(rows: Sequence[AssetRow | ZoneRow], units: Units) -> list[Drawn]:
    marked = []
    for row in rows:
        found = row.figures.found if isinstance(row, AssetRow) else row.found
        if found is None:
            continue
        low, high = (units.density(each) for each in found.interval_per_m2)
        allowed = None if row.allowed_per_m2 is None else units.density(row.allowed_per_m2)
        marked.append(DensityRow(_name(row), units.density(found.per_m2), low, high, allowed, _kept(row)))
    if not marked:
        return []
    words = {True: _("kept"), False: _("exceeded"), None: _("no limit stated, or several")}
    table = [
        (row.name, f"{row.value:.1f}", say("{low:.1f} to {high:.1f}", low=row.low, high=row.high),
         "–" if row.allowed is None else f"{row.allowed:.1f}", words[row.kept])
        for row in marked
    ]  # fmt: skip
    head = (_("Where"), say("Flaws per {per}", per=units.per), _("95 % interval"), _("Allowed"), _("Contract line"))
    title = say("Flaws per {per}, as found", per=units.per)
    key = _(
        "Line: 95 % interval. Disc: contract line kept. Triangle: exceeded (of an asset: by one of its zones). "
        "Dashes: what is allowed. The count decides, the interval never does."
    )
    return [Drawn(title, _svg(charts.density_chart(marked, units.per)), head, table, key)]


def _kept(row: AssetRow | ZoneRow) -> bool | None:
    if isinstance(row, ZoneRow):
        return None if row.contract is None or row.contract.verdict is None else row.contract.verdict == "kept"
    return False if row.figures.over else None if row.allowed_per_m2 is None else True


def _name(row: AssetRow | ZoneRow) -> str:
    return row.asset.name if isinstance(row, AssetRow) else row.zone.name


def _area_chart(rows: Sequence[AssetRow | ZoneRow], units: Units) -> Drawn:
    """Ground as left, by what became of it."""
    bars = []
    for row in rows:
        areas = row.figures.areas if isinstance(row, AssetRow) else vars(row.tally) if row.tally else None
        if areas is None:
            continue
        parts = (
            areas[name] for name in ("left_tested", "left_held", "left_pending", "left_lost", "left_gap", "excluded")
        )
        bars.append(AreaRow(_name(row), *(units.plain(part) for part in parts)))
    head = (_("Where"), _("Tested"), _("Held"), _("Pending"), _("Lost"), _("Not swept"), _("Excluded"))
    decimals = 0 if units.us else 1
    table = [(row.name, *(f"{part:.{decimals}f}" for part in row[1:])) for row in bars]
    title = say("Ground as left, {unit}", unit=units.area_unit)
    # the names of the columns are the words of the key
    swatches = [(mark_safe(charts.swatch(style)), words) for style, words in zip(charts.GROUNDS, head[1:], strict=True)]
    return Drawn(title, _svg(charts.area_chart(bars, units.area_unit)), head, table, swatches=swatches)


def _progress_chart(steps: Sequence[Step], units: Units) -> Drawn:
    days = [ProgressDay(step.day, units.plain(step.tested), step.open_flaws) for step in steps]
    head = (_("End of the day"), say("Tested as found, {unit}", unit=units.area_unit), _("Open flaws"))
    table = [(day_words(day.day), f"{day.tested:.{0 if units.us else 1}f}", str(day.open_flaws)) for day in days]
    return Drawn(_("Progress, by what stands today"), _svg(charts.progress_chart(days, units.area_unit)), head, table)


def _age_chart(ages: Sequence[Age]) -> Drawn:
    rows = [CountRow(str(age.words), age.number) for age in ages]
    summary = _("Open repairs by age since the patch was issued; the table says the same.")
    table = [(row.name, str(row.counted)) for row in rows]
    return Drawn(_("Open repairs by age"), _svg(charts.count_chart(rows, summary)), (_("Age"), _("Patches")), table)


def _svg(chart: charts.Chart) -> SafeString:
    return mark_safe(charts.svg(chart))


def _asset_line(row: AssetRow, units: Units) -> Line:
    total = row.figures
    worst = next(iter(total.states), "not begun")
    style, sign = STATE_STYLE[worst]
    share = total.share_left
    return Line(
        name=row.asset.name,
        url=reverse("board_asset", args=[row.asset.pk]),
        more=say("{kind}, {owner}", kind=row.asset.kind, owner=row.asset.organisation.name),
        state="",
        style=style,
        sign=sign,
        sentence=sentence(total),
        since=row.waiting_since,
        asset=row.asset,
        areas=_areas(total.areas, units),
        coverage="–" if share is None else say("{share:.1f} %", share=int(1000 * share + 1e-9) / 10),
        open_flaws=str(total.open_flaws),
        repairs=str(total.open_repairs),
        found=units.with_interval(total.found),
        left=units.with_interval(total.left),
        line=say_many("{count} zone over", "{count} zones over", total.over),
    )


def _zone_line(row: ZoneRow, units: Units, with_asset: bool) -> Line:
    style, sign = STATE_STYLE.get(row.state, ("open", "▼"))
    verdicts = {"kept": _("kept"), "exceeded": _("exceeded")}
    line = "–"
    if row.contract and row.contract.verdict:
        line = say("{verdict}: {count} found, {allowed} allowed", verdict=verdicts[row.contract.verdict], count=row.contract.count, allowed=row.contract.allowed)  # fmt: skip
    return Line(
        name=row.zone.name,
        url=reverse("zone", args=[row.zone.pk]),
        more=row.asset.name if with_asset else "",
        state=str(STATES.get(row.state, row.state)),
        style=style,
        sign=sign,
        sentence=_with_turn(row),
        since=row.since,
        asset=row.asset,
        areas=_areas(vars(row.tally), units) if row.tally else (),
        coverage=row.coverage_words,
        open_flaws=str(row.tally.open_flaws) if row.tally else "",
        repairs=str(row.tally.open_repairs) if row.tally else "",
        found=units.with_interval(row.found),
        left=units.with_interval(row.left),
        line=line,
    )


def _with_turn(row: ZoneRow) -> str:
    """The verdict, and what the one whose turn it is has before them unless the verdict says so already."""
    if row.turn is None or row.turn.why in row.sentence:
        return row.sentence
    return (
        row.turn.why if row.state == "not swept" else say("{verdict} {turn}", verdict=row.sentence, turn=row.turn.why)
    )


def _areas(areas: Any, units: Units) -> list[tuple[str, str]]:
    """True, excluded, testable and what became of it as left, in words; what is nothing is left out after testable."""
    named = (
        (_("true"), "true_area"), (_("excluded"), "excluded"), (_("testable"), "testable"), (_("tested"), "left_tested"),
        (_("pending"), "left_pending"), (_("held"), "left_held"), (_("lost"), "left_lost"), (_("not swept"), "left_gap"),
    )  # fmt: skip
    always = ("true_area", "excluded", "testable", "left_tested")
    return [(words, units.area(areas[name])) for words, name in named if name in always or areas[name] > 0.00005]
