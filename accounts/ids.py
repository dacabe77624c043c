"""Row and operation ids: UUIDv7 for what is new, UUIDv5 for what a file names."""

from __future__ import annotations

from uuid import UUID, uuid5

from uuid_utils.compat import uuid7


def new_id() -> UUID:
    """A time-ordered UUID (RFC 9562, version 7)."""
    return uuid7()


def named_id(within: UUID, *names: str) -> UUID:
    """The UUIDv5 of what `names` say inside `within`: the same row of a file gets the same id every time."""
    return uuid5(within, "\x1f".join(names))
