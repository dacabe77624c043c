"""The owner's board: assets and zones with their figures, whose turn it is and since when, the worst first.

Asked from the tallies in a fixed number of queries, however many zones there are; judged again for the reader's moment,
units and language. Tallies that wait are made before anything is asked; otherwise it reads only.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.core.paginator import Paginator
from django.db.models import (
    Case,
    CharField,
    Count,
    F,
    FilteredRelation,
    IntegerField,
    Min,
    Q,
    QuerySet,
    Sum,
    TextField,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce, Greatest

from accounts.access import visible
from accounts.assets import Asset
from accounts.people import Person
from accounts.wording import say
from inspections.coatings import Coating
from inspections.specifications import Specification
from mapping import coverage, density
from mapping.zones import Zone
from repairs.board_rows import (
    AGES,
    AREAS,
    COUNTS,
    STATES,
    Age,
    Asked,
    AssetRow,
    Board,
    Figures,
    Step,
    ZoneRow,
    density_of,
)
from repairs.counting import limit_of
from repairs.picture import NOT_SWEPT, not_swept, release_of, sentence_of, turn_of
from repairs.release import Release
from repairs.spoken import SI, Spoken
from repairs.tallies import Tally, catch_up, judged


def board(person: Person, asked: Asked, at: datetime, spoken: Spoken = SI) -> Board:
    """The board of what a person may see. The number of queries does not depend on how many zones there are."""
    seen = visible(person, Zone)
    if asked.asset is not None:
        seen = seen.filter(asset=asked.asset)
    late = catch_up(Coating.objects.filter(zone__in=seen))
    everything = _with_state(seen, at)
    rows = _sums(everything)
    by_asset = {row.asset: row for row in rows}
    wanted = everything
    if asked.state:
        wanted = wanted.filter(state=asked.state)
    if asked.search:
        wanted = wanted.filter(name__icontains=asked.search)
    page = Paginator(_sorted(wanted, asked.sort), asked.per_page).get_page(asked.page)
    days, repairs = _kept_days(everything)
    return Board(
        asked=asked,
        at=at,
        late=late,
        total=_added(row.figures for row in rows),
        assets=() if asked.asset is not None else _assets(visible(person, Asset), by_asset),
        zones=_zones(page.object_list, at, spoken),
        page=page,
        ages=_ages(repairs, at),
        progress=_progress(days),
    )


def _with_state(zones: QuerySet[Zone], at: datetime) -> QuerySet[Any]:
    """Zones with their current coating's tally and `state`, a key of STATES."""
    cured = Q(now__tally__cured_at=None) | Q(now__tally__cured_at__lte=at)
    green = Q(now__tally__others_green=True, now__tally__cure_green=True) & cured
    released = Q(now__tally__released=True)
    return zones.annotate(now=FilteredRelation("coatings", condition=Q(coatings__ended_at=None))).annotate(
        state=Case(
            When(now__tally=None, then=Value("not begun")),
            When(released & green, then=Value("released")),
            When(released, then=Value("undermined")),
            When(green, then=Value("ready")),
            When(now__tally__swept=False, then=Value("not swept")),
            When(Q(now__tally__others_green=True) & ~cured, then=Value("curing")),
            default=F("now__tally__whose"),
            output_field=CharField(),
        ),
    )


def _sorted(zones: QuerySet[Any], sort: str) -> QuerySet[Any]:
    tally = "now__tally__"
    in_order = ("asset__name", "asset_id", "order", "name")
    waiting = F(f"{tally}since").asc(nulls_last=True)
    keys: Mapping[str, Sequence[Any]] = {
        "worst": (_rank(), waiting, F(f"{tally}open_flaws").desc(nulls_last=True)),
        "name": (),
        "waiting": (Case(When(state="released", then=1), default=0, output_field=IntegerField()), waiting),
        "tested": ((F(f"{tally}left_tested") / Greatest(F(f"{tally}testable"), Value(1e-9))).asc(nulls_first=True),),
        "open": (F(f"{tally}open_flaws").desc(nulls_last=True),),
        "density": ((F(f"{tally}counted") / Greatest(F(f"{tally}tested"), Value(1e-9))).desc(nulls_last=True),),
    }
    return zones.order_by(*keys.get(sort, keys["worst"]), *in_order)


def _rank() -> Case:
    """Worst first: releases that hold no more, zones over the contract line, then what waits for somebody, and the rest."""
    over = Q(now__tally__over=True) & ~Q(state__in=("undermined", "released", "ready"))
    waits = ("crew", "lead", "contractor", "owner")
    places = {state: place for place, state in enumerate(("not swept", "not begun", "curing", "ready", "released"), 3)}
    return Case(
        When(state="undermined", then=0),
        When(over, then=1),
        When(state__in=waits, then=2),
        *(When(state=state, then=place) for state, place in places.items()),
        default=2,
        output_field=IntegerField(),
    )


class _AssetSums(NamedTuple):
    asset: UUID
    figures: Figures
    since: datetime | None


def _sums(zones: QuerySet[Any]) -> list[_AssetSums]:
    """Sums by asset, in one statement by asset and state."""
    sums = {name: Coalesce(Sum(f"now__tally__{name}"), Value(0)) for name in COUNTS}
    sums |= {name: Coalesce(Sum(f"now__tally__{name}"), Value(0.0)) for name in AREAS}
    rows = (
        zones.order_by()
        .values("asset", "state")
        .annotate(
            zones=Count("pk"),
            over=Count("pk", filter=Q(now__tally__over=True)),
            oldest=Min("now__tally__since"),
            **sums,
        )
    )
    by_asset: dict[UUID, list[Mapping[str, Any]]] = {}
    for row in rows:
        by_asset.setdefault(row["asset"], []).append(row)
    return [
        _AssetSums(
            asset,
            _figures(some),
            min((row["oldest"] for row in some if row["oldest"] and row["state"] not in ("released",)), default=None),
        )
        for asset, some in by_asset.items()
    ]


def _figures(rows: Sequence[Mapping[str, Any]]) -> Figures:
    states: Counter[str] = Counter()
    for row in rows:
        states[row["state"]] += row["zones"]
    return Figures(
        zones=sum(states.values()),
        areas={name: sum(row[name] for row in rows) for name in AREAS},
        over=sum(row["over"] for row in rows),
        states={state: states[state] for state in STATES if states[state]},
        **{name: sum(row[name] for row in rows) for name in COUNTS},
    )


def _added(parts: Iterable[Figures]) -> Figures:
    some = list(parts)
    states: Counter[str] = Counter()
    for each in some:
        states.update(each.states)
    return Figures(
        zones=sum(each.zones for each in some),
        areas={name: sum(each.areas[name] for each in some) for name in AREAS},
        over=sum(each.over for each in some),
        states={state: states[state] for state in STATES if states[state]},
        **{name: sum(getattr(each, name) for each in some) for name in COUNTS},
    )


def _assets(assets: QuerySet[Asset], sums: Mapping[UUID, _AssetSums]) -> tuple[AssetRow, ...]:
    """Every visible asset, the worst first: by releases undone, zones over the line, how long somebody has waited."""
    allowed = _allowed(sums)
    none = _figures(())
    rows = []
    for asset in assets.select_related("organisation").order_by("name", "pk"):
        found = sums.get(asset.pk)
        rows.append(
            AssetRow(asset, found.figures if found else none, found.since if found else None, allowed.get(asset.pk))
        )
    return tuple(sorted(rows, key=_badness))


def _badness(row: AssetRow) -> tuple[Any, ...]:
    states = row.figures.states
    all_done = row.figures.zones > 0 and states.get("released", 0) == row.figures.zones
    since = row.waiting_since.timestamp() if row.waiting_since else float("inf")
    return (-states.get("undermined", 0), -row.figures.over, all_done, since)


def _allowed(sums: Mapping[UUID, _AssetSums]) -> dict[UUID, float]:
    """The limit per m2 of assets whose current coatings have but one."""
    limits: dict[UUID, set[float | None]] = {}
    current = Coating.objects.filter(ended_at=None, zone__asset__in=list(sums))
    for specification in Specification.objects.filter(pk__in=current.values("specification")):
        limit = limit_of(specification.terms)
        limits.setdefault(specification.asset_id, set()).add(float(limit.per_m2) if limit else None)
    return {
        asset: only for asset, found in limits.items() if len(found) == 1 and (only := next(iter(found))) is not None
    }


def _zones(zones: Iterable[Any], at: datetime, spoken: Spoken) -> tuple[ZoneRow, ...]:
    page = list(zones)
    current = Coating.objects.filter(zone__in=[zone.pk for zone in page], ended_at=None)
    coatings = {
        coating.zone_id: coating
        for coating in current.select_related("tally", "specification", "zone__asset").defer(
            "tally__days", "tally__repairs_since"
        )
    }
    releases = {
        release.coating_id: release
        for release in Release.objects.filter(
            coating__in=[coating.pk for coating in coatings.values()], withdrawn_at=None
        ).select_related("owner")
    }
    assets = {asset.pk: asset for asset in Asset.objects.filter(pk__in={zone.asset_id for zone in page})}
    seen: dict[UUID, Specification] = {}
    rows = []
    for zone in page:
        zone.asset = assets[zone.asset_id]
        coating = coatings.get(zone.pk)
        if coating is not None:
            coating.specification = seen.setdefault(coating.specification_id, coating.specification)
        tally = getattr(coating, "tally", None)
        if coating is None or tally is None:
            rows.append(
                _bare(zone, say("No coating has begun.") if coating is None else say("Its figures are not made yet."))
            )
        else:
            rows.append(_zone(zone, coating, tally, releases.get(coating.pk), at, spoken))
    return tuple(rows)


def _bare(zone: Any, said: str) -> ZoneRow:
    return ZoneRow(zone, zone.asset, None, zone.state, said, None, None, None, None, None, None, "")


def _zone(zone: Any, coating: Coating, tally: Tally, released: Release | None, at: datetime, spoken: Spoken) -> ZoneRow:
    green = judged(tally, at, spoken)
    release = release_of(released, green)
    limit = limit_of(coating.terms)
    share = tally.left_tested / tally.testable if tally.testable > coverage.NOTHING else None
    return ZoneRow(
        zone=zone,
        asset=zone.asset,
        tally=tally,
        state=zone.state,
        sentence=sentence_of(zone, tally, tally.open_flaws, green, release, spoken) if tally.swept else say(NOT_SWEPT),
        turn=turn_of(green) if tally.swept else not_swept(coating),
        release=release,
        found=density_of(tally.counted, tally.tested),
        left=density_of(tally.open_flaws, tally.testable),
        contract=density.judge_contract(limit, tally.counted, tally.tested) if limit else None,
        allowed_per_m2=float(limit.per_m2) if limit else None,
        coverage_words=coverage.share_words(share, tally.left_holes == 0),
    )


def _kept_days(zones: QuerySet[Any]) -> tuple[list[list[Any]], list[list[str]]]:
    """What each day added, and since when repairs are open, of all these zones: read from JSON in one go."""
    texts = [Cast(f"now__tally__{name}", TextField()) for name in ("days", "repairs_since")]
    found = list(zones.order_by().filter(now__tally__isnull=False).values_list(*texts))
    days, repairs = (json.loads(f"[{','.join(row[place] for row in found)}]") for place in (0, 1))
    return [day for some in days for day in some], repairs


def _ages(repairs: Sequence[Sequence[str]], at: datetime) -> tuple[Age, ...]:
    """Open repairs by whole days since the patch was issued."""
    counts: Counter[str] = Counter()
    today = at.date()
    for since, number in Counter(day for days in repairs for day in days).items():
        days = max((today - date.fromisoformat(since)).days, 0)
        counts[next(code for code, _, _, most in AGES if most is None or days <= most)] += number
    return tuple(Age(code, words, counts[code]) for code, words, _, _ in AGES)


def _progress(days: Iterable[Sequence[Any]]) -> tuple[Step, ...]:
    """Sums up to the end of each day on which something was done."""
    tested: Counter[str] = Counter()
    balance: Counter[str] = Counter()
    for day, area, found, settled in days:
        tested[day] += area
        balance[day] += found - settled
    steps, area, open_flaws = [], 0.0, 0
    for day in sorted({*tested, *balance}):
        area, open_flaws = area + tested[day], open_flaws + balance[day]
        steps.append(Step(date.fromisoformat(day), max(area, 0.0), open_flaws))
    return tuple(steps)
