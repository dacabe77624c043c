"""The landmarks along an asset as a table in the format that “Import a joint list” reads; struck out ones are left out."""

from __future__ import annotations

from collections.abc import Iterator

from accounts.assets import Asset
from mapping.jointfile import KINDS
from mapping.landmarks import Landmark
from repairs.exports.csvfile import MARK, written
from repairs.exports.scope import Line

NAME = "joint-list"
HEADS = ("what", "name", "at", "length")
_LONG = " long"


def along(asset: Asset) -> Iterator[Landmark]:
    """What a joint list can say: landmarks of no zone, in the order of chainage."""
    rows = Landmark.objects.filter(asset=asset, zone=None, struck_at=None, kind__in=KINDS)
    return rows.order_by("x", "kind", "name").iterator()


def joint_list(asset: Asset) -> bytes:
    """The file, as CSV."""
    return written((HEADS, *(_line(row) for row in along(asset))), MARK)


def _line(row: Landmark) -> Line:
    """`0+012.05, 11.90 m long` was put together from two cells when the list was read."""
    at, parted, length = row.said.partition(", ")
    if parted and length.endswith(_LONG):
        return (row.kind, row.name, at, length.removesuffix(_LONG))
    return (row.kind, row.name, row.said, "")
