"""Reads of organisations, people, appointments, assets, evidence and records; and who one is oneself."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.urls import path
from django.utils import timezone
from django_filters import ChoiceFilter, UUIDFilter
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.access import assets_of, organisations_of
from accounts.assets import Asset
from accounts.evidence import Evidence
from accounts.paging import MOST, PAGE, whole_number
from accounts.people import Appointment, Organisation, Person, Role
from accounts.record import Entry, Record
from accounts.schema import PARTS, problems
from accounts.serving import RowRead, Rows, urls_of
from accounts.tokens import Token

LAST_SEQ = 2**63 - 1


class OrganisationRead(RowRead):
    class Meta:
        model = Organisation
        fields = ("id", "version", "name")


class PersonRowRead(RowRead):
    """Somebody of an organisation. Email addresses are shown on pages to administrators only."""

    class Meta:
        model = Person
        fields = ("id", "version", "name", "organisation", "is_active")


class AppointmentRead(RowRead):
    """Who acts for whom, where, in which role and since when. Without an asset: on all its organisation owns."""

    class Meta:
        model = Appointment
        fields = ("id", "version", "person", "organisation", "asset", "role", "since", "until")


class AssetRead(RowRead):
    units = {"chainage_start": "Lowest chainage, m."}

    class Meta:
        model = Asset
        fields = (
            "id", "version", "organisation", "name", "kind", "place", "time_zone", "unit_system", "foot",
            "station_equations", "chainage_start", "datum",
        )  # fmt: skip


class EvidenceRead(RowRead):
    """A file's facts. A redacted file keeps its hash and the reason."""

    units = {"size": "Bytes."}

    class Meta:
        model = Evidence
        fields = (
            "id", "version", "record", "name", "media_type", "size", "sha256", "taken_at", "received_at",
            "redacted_at", "redacted_why",
        )  # fmt: skip


class Organisations(Rows):
    """Organisations you belong to or act for."""

    collection = "organisations"
    serializer_class = OrganisationRead


class People(Rows):
    """People of your organisations."""

    collection = "people"
    serializer_class = PersonRowRead


class Appointments(Rows):
    """Appointments of your organisations."""

    collection = "appointments"
    serializer_class = AppointmentRead
    filters = {
        "asset": UUIDFilter(field_name="asset", help_text="Id of the asset."),
        "person": UUIDFilter(field_name="person", help_text="Id of the person."),
        "role": ChoiceFilter(choices=Role.choices),
    }


class Assets(Rows):
    """Assets you are appointed on."""

    collection = "assets"
    serializer_class = AssetRead
    filters = {"organisation": UUIDFilter(field_name="organisation", help_text="Id of the owner.")}


class EvidenceFiles(Rows):
    """Files kept by their hash: photos, certificates, data sheets, imported sheets."""

    collection = "evidence"
    serializer_class = EvidenceRead
    filters = {"record": UUIDFilter(field_name="record", help_text="Id of the asset or organisation.")}


COLLECTIONS: tuple[type[Rows], ...] = (Organisations, People, Appointments, Assets, EvidenceFiles)


class HeadRead(serializers.Serializer):
    """Where a record's chain stands. A record nothing was written to has number 0 and no digest."""

    record = serializers.UUIDField(source="pk", help_text="The id of its asset or organisation.")
    seq = serializers.IntegerField(source="head_seq")
    digest = serializers.CharField(source="head_hash", allow_blank=True)


class EntryRead(serializers.ModelSerializer):
    """One entry. Its digest is sha256 of "barespot.1", a line break, `previous`, a line break, and `body` as it stands."""

    class Meta:
        model = Entry
        fields = (
            "seq", "operation", "what", "actor", "organisation", "device_at", "server_at", "body", "previous", "digest",
        )  # fmt: skip
        read_only_fields = fields


class EntriesRead(serializers.Serializer):
    """A page of the change feed."""

    head = HeadRead()
    entries = EntryRead(many=True)
    more = serializers.BooleanField(help_text="Whether entries follow: ask again after the last number of this page.")


class OwnRoleRead(serializers.ModelSerializer):
    """A role one holds: on one asset, or without one on all its organisation owns."""

    class Meta:
        model = Appointment
        fields = ("role", "organisation", "asset", "since", "until")
        read_only_fields = fields


class MeRead(serializers.Serializer):
    """Whom this session or token stands for, and what they may be."""

    id = serializers.UUIDField()
    name = serializers.CharField()
    email = serializers.EmailField()
    units = serializers.ChoiceField(choices=Person.Units.choices)
    organisation = serializers.UUIDField(source="organisation_id")
    may_decide = serializers.BooleanField(help_text="Whether decisions are taken from this session or token.")
    roles = OwnRoleRead(many=True)


class MeView(APIView):
    @extend_schema(
        operation_id="read_me", tags=[PARTS["accounts"]], responses={200: MeRead, **problems(401)}, summary="Who am I"
    )
    def get(self, request: Request) -> Response:
        """Whom this session or token stands for, with the roles in force now."""
        person = cast(Person, request.user)
        person.roles = person.appointments.in_force(timezone.now()).order_by("since", "pk")  # type: ignore[attr-defined]
        person.may_decide = request.auth is None or cast(Token, request.auth).may_decide  # type: ignore[attr-defined]
        return Response(MeRead(person).data)


class HeadView(APIView):
    @extend_schema(
        operation_id="read_record", tags=[PARTS["accounts"]], responses={200: HeadRead, **problems(401, 404)}
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """Where the record of an asset or organisation stands."""
        return Response(HeadRead(record_for(cast(Person, request.user), pk)).data)


class EntriesView(APIView):
    @extend_schema(
        operation_id="list_entries",
        tags=[PARTS["accounts"]],
        parameters=[
            OpenApiParameter(
                "after",
                {"type": "integer", "minimum": 0, "maximum": LAST_SEQ},
                description="The last number you hold; 0 for all.",
            ),
            OpenApiParameter("limit", {"type": "integer", "minimum": 1, "maximum": MOST, "default": PAGE}),
        ],
        responses={200: OpenApiResponse(EntriesRead), **problems(400, 401, 404)},
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """The change feed: entries of the record of an asset or organisation in their order."""
        record = record_for(cast(Person, request.user), pk)
        after = whole_number(request, "after", least=0, most=LAST_SEQ, default=0)
        limit = whole_number(request, "limit", least=1, most=MOST, default=PAGE)
        found = list(Entry.objects.filter(record=record.pk, seq__gt=after).order_by("seq")[: limit + 1])
        entries = EntryRead(found[:limit], many=True).data
        return Response({"head": HeadRead(record).data, "entries": entries, "more": len(found) > limit})


def record_for(person: Person, pk: UUID) -> Record:
    """The record of an asset or organisation this person may see. Raises NotFound, the same for absent and foreign."""
    if not (assets_of(person).filter(pk=pk).exists() or organisations_of(person).filter(pk=pk).exists()):
        raise NotFound("There is no such record.")
    return Record.objects.filter(pk=pk).first() or Record(pk=pk)


urlpatterns = [
    *urls_of(*COLLECTIONS),
    path("me/", MeView.as_view(), name="api_me"),
    path("records/<uuid:pk>/", HeadView.as_view(), name="api_record"),
    path("records/<uuid:pk>/entries/", EntriesView.as_view(), name="api_entries"),
]
