"""Reads of permits, of briefings with who took part, and of what people are qualified as."""

from __future__ import annotations

from django_filters import UUIDFilter
from rest_framework import serializers

from accounts.serving import PersonRead, RowRead, Rows
from inspections.briefings import Attendee, Briefing
from inspections.coatings import Permit
from inspections.qualifications import Qualification


class PermitRead(RowRead):
    by = PersonRead()

    class Meta:
        model = Permit
        fields = (
            "id", "version", "coating", "number", "kind", "gas_reading", "gas_limits", "tester", "valid_from", "expires_at", "renews",
            "for_run", "recorded_at", "by",
        )  # fmt: skip


class AttendeeRead(RowRead):
    """Somebody who took part; `by` is that person where they acknowledged it themselves, else who named them."""

    person = PersonRead(allow_null=True)
    by = PersonRead()

    class Meta:
        model = Attendee
        fields = ("id", "version", "briefing", "name", "person", "at", "by")


class BriefingRead(RowRead):
    points = serializers.ListField(child=serializers.CharField(), help_text="The cautions as they stood.")
    attendees = AttendeeRead(many=True)
    by = PersonRead()

    class Meta:
        model = Briefing
        fields = ("id", "version", "asset", "method", "points", "at", "by", "attendees")


class QualificationRead(RowRead):
    person = PersonRead()
    by = PersonRead()

    class Meta:
        model = Qualification
        fields = (
            "id", "version", "person", "scheme", "level", "number", "issued", "expires", "evidence", "recorded_at", "by",
        )  # fmt: skip


class Permits(Rows):
    """Permits as they were recorded, renewals among them. Barespot never authorises work."""

    collection = "permits"
    serializer_class = PermitRead
    select = ("by",)


class Briefings(Rows):
    """Briefings of the day with who took part."""

    collection = "briefings"
    serializer_class = BriefingRead
    select = ("by",)
    prefetch = ("attendees__by", "attendees__person", "attendees__struck_by")


class Attendees(Rows):
    """Who took part in briefings."""

    collection = "attendees"
    serializer_class = AttendeeRead
    select = ("by", "person")
    filters = {"briefing": UUIDFilter(field_name="briefing", help_text="Id of the briefing.")}


class Qualifications(Rows):
    """What people of your organisations are qualified as, and until when."""

    collection = "qualifications"
    serializer_class = QualificationRead
    select = ("by", "person")
    filters = {"person": UUIDFilter(field_name="person", help_text="Id of the person.")}
