"""Tables of an asset's record: who may act, the files that were handed in, and every entry as it is hashed."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from accounts.evidence import Evidence
from accounts.people import Appointment
from accounts.record import Entry
from accounts.wording import noted
from repairs.exports.scope import Column, Scope, Table
from repairs.exports.where import ID


def _people(scope: Scope) -> QuerySet[Any]:
    """Whoever is or was appointed on the asset, alone or with all of its owner's assets."""
    here = Q(asset=scope.asset) | Q(asset=None, organisation=scope.asset.organisation_id)
    return Appointment.objects.filter(here).order_by("person__name", "role", "since", "pk")


PEOPLE = Table(
    "people",
    noted("Who holds which role on the asset, for whom and since when. Email addresses are not given out."),
    (
        Column("name", noted("Name of the person."), "person__name"),
        Column("role", noted("What the person may do."), "role"),
        Column("organisation", noted("For whom."), "organisation__name"),
        Column(
            "everywhere", noted("Whether on every asset of that organisation."), "asset", lambda asset: asset is None
        ),
        Column("since", noted("Since when."), "since"),
        Column("until", noted("Until when; empty while it lasts."), "until"),
        ID,
    ),
    _people,
    of_asset_only=True,
)
FILES = Table(
    "files",
    noted("Files that were handed in: what they are called and their sha256. The files themselves stay in the record."),
    (
        Column("name", noted("Name of the file."), "name"),
        Column("type", noted("Media type."), "media_type"),
        Column("size (bytes)", noted("Its size."), "size"),
        Column("taken at", noted("When a photo was taken."), "taken_at"),
        Column("received at", noted("When it arrived."), "received_at"),
        Column("sha256", noted("Its sha256."), "sha256"),
        Column("taken away at", noted("When its content was taken away; the hash stays."), "redacted_at"),
        Column("taken away why", noted("Why."), "redacted_why"),
        ID,
    ),
    lambda scope: Evidence.objects.filter(record=scope.asset.pk).order_by("received_at", "pk"),
    of_asset_only=True,
)
ENTRIES = Table(
    "record",
    noted(
        "Every entry of the record in order. Its sha256 is that of the text barespot.1, a line break, the sha256 before it, "
        "a line break, and the body."
    ),
    (
        Column("entry", noted("Its number."), "seq"),
        Column("what", noted("What was done."), "what"),
        Column("by", noted("Who did it."), "actor__name"),
        Column("organisation", noted("For whom."), "organisation__name"),
        Column("device at", noted("When it was pressed, by the device's clock."), "device_at"),
        Column("server at", noted("When it was recorded."), "server_at"),
        Column("operation", noted("Identity of the operation."), "operation"),
        Column("previous sha256", noted("The sha256 of the entry before."), "previous"),
        Column("sha256", noted("The sha256 of this entry."), "digest"),
        Column("body", noted("All of the entry as it is hashed, as canonical JSON."), "body"),
    ),
    lambda scope: Entry.objects.filter(record=scope.asset.pk).order_by("seq"),
    of_asset_only=True,
)
TABLES = (PEOPLE, FILES, ENTRIES)
