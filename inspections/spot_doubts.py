"""What speaks against each thickness spot: its gauge's checks and certificates, less what somebody decided. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple, TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q

from accounts.wording import noted
from inspections.arithmetic import Line, Name
from inspections.coatings import Coating, Spot
from inspections.gauge_standing import Checked, Doubt, Held, doubts
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.instruments import Certificate

AnyRow = TypeVar("AnyRow")


class Weighed(NamedTuple):
    """The doubts nobody has decided on, those that were put aside, and why it was decided that the spot is out."""

    doubts: tuple[Doubt, ...] = ()
    settled: tuple[Doubt, ...] = ()
    left_out: Line | None = None


SOUND = Weighed()


@dataclass(frozen=True)
class GaugePast:
    """Checks and certificates that are not struck out, by gauge; decisions on spots, by coating, in order of time."""

    checks: Mapping[UUID, Sequence[GaugeCheck]]
    papers: Mapping[UUID, Sequence[Certificate]]
    rulings: Mapping[UUID, Sequence[SpotRuling]]

    def weigh(self, spot: Spot, zone: ZoneInfo) -> Weighed:
        """What speaks against a spot; its day is that of the asset's calendar. A spot that names no gauge is not in doubt."""
        if spot.gauge_id is None or spot.gauge is None:
            return SOUND
        at = spot.at.astimezone(zone)
        found = doubts(
            str(spot.gauge),
            at,
            at.date(),
            [checked_of(row, zone) for row in self.checks.get(spot.gauge_id, ())],
            [Held(paper.issued, paper.due) for paper in self.papers.get(spot.gauge_id, ())],
        )
        if not found:
            return SOUND
        last: dict[str, SpotRuling] = {}
        for ruling in self.rulings.get(spot.coating_id, ()):
            if str(spot.pk) in ruling.spots:
                last.update(dict.fromkeys(ruling.doubts, ruling))
        ruled = [last[doubt.key] for doubt in found if doubt.key in last]
        for ruling in ruled:
            if ruling.decision == SpotRuling.Decision.OUT:
                names = (Name("name", ruling.by.name), Name("why", ruling.why))
                return Weighed((), found, Line(_DECIDED, (), names))
        open_ones = tuple(doubt for doubt in found if doubt.key not in last)
        return Weighed(open_ones, tuple(doubt for doubt in found if doubt.key in last))


_DECIDED = noted("{name} decided that it does not count: {why}")


def checked_of(row: GaugeCheck, zone: ZoneInfo) -> Checked:
    """A check as far as judging spots goes, on the asset's clock."""
    at = row.at.astimezone(zone)
    return Checked(str(row.pk), at, row.outcome, row.shim, row.measured, row.tolerance)  # type: ignore[arg-type]


NOTHING_KNOWN = GaugePast({}, {}, {})


def past_of(gauges: Iterable[UUID], coatings: Iterable[UUID], at: datetime | None = None) -> GaugePast:
    """What is known of these gauges and decided on these coatings, or was at a moment; no query without a gauge."""
    known = set(gauges)
    if not known:
        return NOTHING_KNOWN
    stands = Q(struck_at=None) if at is None else Q(struck_at=None) | Q(struck_at__gt=at)
    happened = stands if at is None else stands & Q(at__lte=at)
    checks = GaugeCheck.objects.filter(happened, gauge__in=known).order_by("at", "pk")
    papers = Certificate.objects.filter(stands, instrument__in=known).order_by("issued", "pk")
    rulings = SpotRuling.objects.filter(happened, coating__in=list(coatings)).select_related("by").order_by("at", "pk")
    return GaugePast(_by(checks, "gauge_id"), _by(papers, "instrument_id"), _by(rulings, "coating_id"))


def weighed(coating: Coating, spots: Sequence[Spot]) -> dict[UUID, Weighed]:
    """What speaks against each of these spots of a coating."""
    past = past_of([spot.gauge_id for spot in spots if spot.gauge_id], [coating.pk])
    return {spot.pk: past.weigh(spot, coating.zone.asset.zone_info) for spot in spots}


def _by(rows: Iterable[AnyRow], name: str) -> dict[UUID, list[AnyRow]]:
    found: dict[UUID, list[AnyRow]] = defaultdict(list)
    for row in rows:
        found[getattr(row, name)].append(row)
    return found
