"""What was decided on lost or held ground of a zone: by whom, on what evidence, and why; for the zone's page."""

from __future__ import annotations

from typing import NamedTuple

from accounts.wording import say_many
from inspections.coatings import Coating
from inspections.runs import Reinstatement


class RulingShown(NamedTuple):
    """One decision with how much of its run it is about."""

    row: Reinstatement
    ground: str


def rulings_shown(coating: Coating) -> list[RulingShown]:
    """Decisions on ground that are not struck out, the latest first."""
    rows = Reinstatement.objects.filter(run__sheet__coating=coating, run__struck_at=None, struck_at=None)
    return [
        RulingShown(row, say_many("{count} swath", "{count} swaths", len(row.swaths)))
        for row in rows.select_related("run__sheet", "by", "evidence").order_by("-at", "-pk")
    ]
