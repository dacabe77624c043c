"""Organisations, people and their appointments: who may act, for whom, where and when."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from accounts.rows import Row


class Role(models.TextChoices):
    CREW = "crew", _("Inspection crew")
    LEAD = "lead", _("Lead inspector")
    CONTRACTOR = "contractor", _("Painting contractor")
    OWNER = "owner", _("Asset owner")
    OBSERVER = "observer", _("Observer")
    ADMIN = "admin", _("Administrator")


class Organisation(Row):
    facts = ()
    record_path = "self"

    name = models.CharField(max_length=120, unique=True)

    def __str__(self) -> str:
        return self.name


class People(BaseUserManager["Person"]):
    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(email=(username or "").lower())


class Person(Row, AbstractBaseUser):  # type: ignore[django-manager-missing]
    """Someone who signs in. Email is kept in lower case."""

    record_path = "organisation"
    private = ("email", "name", "password", "last_login")
    facts = ("organisation",)

    class Units(models.TextChoices):
        SI = "si", _("metres, µm, volts, °C")
        US = "us", _("feet, mil, kilovolts, °F")

    class Language(models.TextChoices):
        ENGLISH = "en", "English"
        SPANISH = "es", "Español"

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    units = models.CharField(max_length=2, choices=Units, default=Units.SI)
    language = models.CharField(max_length=8, choices=Language, blank=True)  # none chosen: as the browser asks
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="people")
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects = People()
    is_staff = False
    is_superuser = False

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(email=Lower("email")), name="person_email_lower"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.email = self.email.lower()
        super().save(*args, **kwargs)


class AppointmentQuerySet(models.QuerySet["Appointment"]):
    def in_force(self, at: datetime) -> AppointmentQuerySet:
        return self.filter(Q(until=None) | Q(until__gt=at), since__lte=at)


class Appointment(Row):
    """A person acts for an organisation in a role on one asset, or (no asset) on every asset the organisation owns."""

    record_path = "organisation"
    facts = ("person", "organisation", "asset", "role", "since")

    person = models.ForeignKey(Person, models.PROTECT, related_name="appointments")
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="appointments")
    asset = models.ForeignKey("accounts.Asset", models.PROTECT, null=True, blank=True, related_name="appointments")
    role = models.CharField(max_length=12, choices=Role)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    objects = AppointmentQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "person", "organisation", "asset", "role",
                condition=Q(until=None, asset__isnull=False), name="appointment_open_once",
            ),
            models.UniqueConstraint(
                "person", "organisation", "role",
                condition=Q(until=None, asset=None), name="appointment_open_once_everywhere",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.person}, {self.get_role_display()}, {self.organisation}"
