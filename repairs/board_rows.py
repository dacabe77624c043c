"""What the board shows, as data: what is asked of it, states and orders, figures, rows of assets and zones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.core.paginator import Page
from django.utils.translation import gettext_lazy as _

from accounts.assets import Asset
from mapping import coverage, density
from mapping.density import ContractVerdict, Density
from mapping.zones import Zone
from repairs.picture import ReleasePicture, Turn
from repairs.tallies import Tally

STATES: Mapping[str, Any] = {
    "undermined": _("released, but this does not hold any more"),
    "crew": _("waiting for the crew"),
    "lead": _("waiting for the lead inspector"),
    "contractor": _("waiting for the contractor"),
    "owner": _("waiting for the owner"),
    "not swept": _("not swept yet"),
    "not begun": _("no coating has begun"),
    "curing": _("waiting for the cure"),
    "ready": _("ready to release"),
    "released": _("released"),
}
"""Where a zone stands, the worst first."""
SORTS: Mapping[str, Any] = {
    "worst": _("worst first"),
    "name": _("in order of the asset"),
    "waiting": _("waiting longest"),
    "tested": _("least tested"),
    "open": _("most open flaws"),
    "density": _("most flaws per area, as found"),
}
AGES: Sequence[tuple[str, Any, int, int | None]] = (
    ("week", _("up to 7 days"), 0, 7),
    ("month", _("8 to 30 days"), 8, 30),
    ("older", _("over 30 days"), 31, None),
)
"""Age of an open repair in whole days since its patch was issued. Common practice, no source."""
AREAS = ("true_area", "excluded", "testable", "tested", "held", "pending", "lost", "gap",
         "left_tested", "left_held", "left_pending", "left_lost", "left_gap")  # fmt: skip
COUNTS = ("counted", "open_flaws", "open_repairs")


class Asked(NamedTuple):
    """What of the board is wanted: an asset, a state (a key of STATES), words in the zone's name, an order, a page."""

    asset: UUID | None = None
    state: str = ""
    search: str = ""
    sort: str = "worst"
    page: int = 1
    per_page: int = 50


@dataclass(frozen=True)
class Figures:
    """Sums over zones; areas in m2 by the names of a tally's columns, counts, and how many zones stand where."""

    zones: int
    areas: Mapping[str, float]
    counted: int
    open_flaws: int
    open_repairs: int
    over: int
    states: Mapping[str, int]

    @property
    def found(self) -> Density | None:
        return density_of(self.counted, self.areas["tested"])

    @property
    def left(self) -> Density | None:
        return density_of(self.open_flaws, self.areas["testable"])

    @property
    def share_left(self) -> float | None:
        testable = self.areas["testable"]
        return self.areas["left_tested"] / testable if testable > coverage.NOTHING else None


@dataclass(frozen=True)
class AssetRow:
    """One asset with the sums over its zones, and since when somebody's turn has lasted longest."""

    asset: Asset
    figures: Figures
    waiting_since: datetime | None
    allowed_per_m2: float | None


@dataclass(frozen=True)
class ZoneRow:
    """One zone; tally, found, left, contract and turn are None where there is nothing to tell."""

    zone: Zone
    asset: Asset
    tally: Tally | None
    state: str
    sentence: str
    turn: Turn | None
    release: ReleasePicture | None
    found: Density | None
    left: Density | None
    contract: ContractVerdict | None
    allowed_per_m2: float | None
    coverage_words: str

    @property
    def since(self) -> datetime | None:
        """Since when it is so: the turn's beginning, the release, or the last gate that turned green."""
        if self.release and self.state == "released":
            return self.release.at
        if self.turn:
            return self.turn.since
        return self.tally.since if self.tally and self.state == "ready" else None


class Step(NamedTuple):
    """At the end of a day: tested area as found (m2), and open flaws."""

    day: date
    tested: float
    open_flaws: int


class Age(NamedTuple):
    code: str
    words: Any
    number: int


@dataclass(frozen=True)
class Board:
    """Everything the board shows: sums over what is asked for, assets (none when one is asked for), a page of zones.

    late: zones whose figures are still those from before their last changes, because too many changed at once.
    """

    asked: Asked
    at: datetime
    late: int
    total: Figures
    assets: tuple[AssetRow, ...]
    zones: tuple[ZoneRow, ...]
    page: Page[Zone]
    ages: tuple[Age, ...]
    progress: tuple[Step, ...]


def density_of(count: int, area: float) -> Density | None:
    return density.density(count, area) if area > coverage.NOTHING else None
