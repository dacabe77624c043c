"""The one place that scopes what a person sees and which roles they hold. What you may not see answers 404."""

from __future__ import annotations

from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from django.db import models
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from accounts.assets import Asset
from accounts.people import Appointment, Organisation, Person, Role
from accounts.record import Record
from accounts.rows import Row

AnyRow = TypeVar("AnyRow", bound=Row)
STANDS_FOR = {Role.LEAD: (Role.LEAD, Role.CREW)}


def owner_model(model: type[Row]) -> type[models.Model]:
    """Asset, Organisation or Record: what the model's record_path ends in."""
    if model.record_path == "self":
        return model
    current: type[models.Model] = model
    for step in model.record_path.split("__"):
        current = current._meta.get_field(step).related_model  # type: ignore[assignment]
    return current


def record_id(row: Row) -> UUID:
    """Id of the record (asset or organisation) the row belongs to."""
    current: Any = row
    if row.record_path != "self":
        *steps, last = row.record_path.split("__")
        for step in steps:
            current = getattr(current, step)
        return getattr(current, f"{last}_id")
    return current.pk


def assets_of(person: Person, at: datetime | None = None) -> QuerySet[Asset]:
    mine = Appointment.objects.in_force(at or timezone.now()).filter(person=person)
    return Asset.objects.filter(
        Q(Exists(mine.filter(asset=OuterRef("pk"))))
        | Q(Exists(mine.filter(asset=None, organisation=OuterRef("organisation"))))
    )


def organisations_of(person: Person, at: datetime | None = None) -> QuerySet[Organisation]:
    mine = Appointment.objects.in_force(at or timezone.now()).filter(person=person, organisation=OuterRef("pk"))
    return Organisation.objects.filter(Q(pk=person.organisation_id) | Q(Exists(mine)))


def visible(person: Person, model: type[AnyRow], at: datetime | None = None) -> QuerySet[AnyRow]:
    """The rows of `model` this person may see (at that time); everything else does not exist for them."""
    rows = model._default_manager.all()
    if not person.is_active:
        return rows.none()
    end = owner_model(model)
    path = "pk" if model.record_path == "self" else model.record_path
    if end is Asset:
        return rows.filter(**{f"{path}__in": assets_of(person, at).values("pk")})
    if end is Organisation:
        return rows.filter(**{f"{path}__in": organisations_of(person, at).values("pk")})
    assert end is Record
    mine = Q(**{f"{path}__in": assets_of(person, at).values("pk")})
    return rows.filter(mine | Q(**{f"{path}__in": organisations_of(person, at).values("pk")}))


def roles_on(person: Person, target: Row, at: datetime | None = None) -> dict[Role, Organisation]:
    """The person's roles on what the row belongs to, each with the organisation they act for. A lead is crew too."""
    mine = Appointment.objects.in_force(at or timezone.now()).filter(person=person).select_related("organisation")
    pk = record_id(target)
    end = owner_model(type(target))
    asset = Asset.objects.filter(pk=pk).first() if end in (Asset, Record) else None
    if asset is not None:
        held = mine.filter(Q(asset=asset) | Q(asset=None, organisation=asset.organisation_id))
    else:
        # On an organisation's own record, its owners and administrators act only with an appointment over everything.
        held = mine.filter(organisation=pk).filter(Q(asset=None) | ~Q(role__in=[Role.OWNER, Role.ADMIN]))
    roles: dict[Role, Organisation] = {}
    for appointment in held.order_by("since", "pk"):
        for role in STANDS_FOR.get(Role(appointment.role), (Role(appointment.role),)):
            roles.setdefault(role, appointment.organisation)
    return roles
