"""Pages of organisations: people, appointments, and the assets they own."""

from __future__ import annotations

from smtplib import SMTPException
from typing import Any, NamedTuple, cast
from uuid import UUID
from zoneinfo import available_timezones

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe
from rest_framework.exceptions import PermissionDenied

from accounts.access import visible
from accounts.acting import Done, find, may
from accounts.assets import Asset
from accounts.forms import act_on_page, form_of, see_other
from accounts.people import Appointment, Organisation, Person
from accounts.signing_in import invitation_link, send_invitation
from accounts.wording import say

PLACES = {name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "SystemV/"))}


class Member(NamedTuple):
    """A person of an organisation as its page lists them."""

    person: Person
    appointments: list[Appointment]
    invited: bool


def _me(request: HttpRequest) -> Person:
    return cast(Person, request.user)


@login_required
@require_safe
def organisations(request: HttpRequest) -> HttpResponse:
    mine = visible(_me(request), Organisation).order_by("name")
    if len(mine) == 1:
        return redirect("organisation", pk=mine[0].pk)
    own = _me(request).organisation
    form = form_of("create_organisation", _me(request), own, url=reverse("create_organisation", kwargs={"pk": own.pk}))
    return render(request, "accounts/organisations.html", {"organisations": mine, "form": form})


@login_required
@require_safe
@never_cache
def organisation(request: HttpRequest, pk: UUID) -> HttpResponse:
    me, shown = _me(request), find(_me(request), Organisation, pk)
    administers = may(me, "invite_person", shown)
    invite, appoint_all = (reverse(name, kwargs={"pk": pk}) for name in ("invite_person", "appoint_everywhere"))
    assets = visible(me, Asset).filter(organisation=shown).order_by("name")
    return render(
        request,
        "accounts/organisation.html",
        {
            "organisation": shown,
            "members": _members(shown),
            "administers": administers,
            "here": request.get_full_path(),
            "may_create_asset": may(me, "create_asset", shown),
            "assets": assets,
            "invite_form": form_of("invite_person", me, shown, url=invite),
            "appoint_form": form_of("appoint_everywhere", me, shown, url=appoint_all, choices=_who(me)),
        },
    )


def _members(organisation: Organisation) -> list[Member]:
    held: dict[UUID, list[Appointment]] = {}
    for appointment in _open().filter(organisation=organisation).select_related("asset", "person__organisation"):
        held.setdefault(appointment.person_id, []).append(appointment)
    people = list(organisation.people.all())
    others = {each.person for appointments in held.values() for each in appointments} - set(people)
    everyone = sorted([*people, *others], key=lambda person: person.name.casefold())
    return [Member(person, held.get(person.pk, []), not person.has_usable_password()) for person in everyone]


def _open() -> QuerySet[Appointment]:
    """In force, or still to begin."""
    ahead = Q(until=None) | Q(until__gt=timezone.now())
    return Appointment.objects.filter(ahead).order_by("role", "since")


def _crumbs(organisation: Organisation) -> list[tuple[str, str]]:
    return [
        (say("Organisations"), reverse("organisations")),
        (organisation.name, reverse("organisation", kwargs={"pk": organisation.pk})),
    ]


def _act(request: HttpRequest, name: str, pk: UUID, **details: Any) -> HttpResponse:
    """One action on an organisation, on a page of its own, that leads back to the organisation."""
    shown = find(_me(request), Organisation, pk)
    back = reverse("organisation", kwargs={"pk": pk})
    details = {"to": back, "cancel": back, **details}
    return act_on_page(request, name, shown, context={"crumbs": _crumbs(shown)}, **details)


@login_required
def create_organisation(request: HttpRequest, pk: UUID) -> HttpResponse:
    def to(done: Done) -> str:
        return reverse("organisation", kwargs={"pk": done.made.pk}) if done.made else reverse("organisations")

    return _act(request, "create_organisation", pk, success=say("Added. Invite its people next."), to=to)


@login_required
def invite_person(request: HttpRequest, pk: UUID) -> HttpResponse:
    def success(done: Done) -> str:
        return _invite(request, done.made) if done.made else say("Invited already.")

    return _act(request, "invite_person", pk, success=success)


def _invite(request: HttpRequest, person: Person) -> str:
    """Send the invitation; what to tell the administrator."""
    try:
        send_invitation(request, person, _me(request))
        told = say("{person} is invited, and a mail is on its way.", person=person.name)
    except (OSError, SMTPException):
        told = say("{person} is invited, but no mail could be sent.", person=person.name)
    link = request.build_absolute_uri(invitation_link(person))
    return say(
        "{told} This link sets the password once; pass it on if the mail does not arrive: {link}", told=told, link=link
    )


@login_required
@require_POST
def invite_again(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Send the invitation of somebody who has not set a password yet once more."""
    person = find(_me(request), Person, pk)
    if not may(_me(request), "invite_person", person.organisation):
        raise PermissionDenied(say('"Invite" is done by: administrator.'))
    if person.has_usable_password():
        messages.warning(request, say("{name} has set a password already and can sign in.", name=person.name))
    else:
        messages.success(request, _invite(request, person))
    return see_other(reverse("organisation", kwargs={"pk": person.organisation_id}))


@login_required
def amend_person(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = find(_me(request), Person, pk)
    back = reverse("organisation", kwargs={"pk": person.organisation_id})
    return act_on_page(
        request,
        "amend_person",
        person,
        initial={"name": person.name, "email": person.email},
        success=say("Corrected. They sign in with the address shown here."),
        to=back,
        cancel=back,
        context={"crumbs": _crumbs(person.organisation), "lead": person.name},
    )


@login_required
def amend_organisation(request: HttpRequest, pk: UUID) -> HttpResponse:
    shown = find(_me(request), Organisation, pk)
    return _act(request, "amend_organisation", pk, success=say("Corrected."), initial={"name": shown.name})


@login_required
def amend_asset(request: HttpRequest, pk: UUID) -> HttpResponse:
    asset = find(_me(request), Asset, pk)
    back = reverse("asset", kwargs={"pk": pk})
    return act_on_page(
        request,
        "amend_asset",
        asset,
        initial={name: getattr(asset, name) for name in ("name", "kind", "place", "datum")},
        success=say("Corrected."),
        to=back,
        cancel=back,
        context={"crumbs": [(asset.name, back)]},
    )


@login_required
def appoint_everywhere(request: HttpRequest, pk: UUID) -> HttpResponse:
    told = say("Appointed on all assets of this organisation.")
    return _act(request, "appoint_everywhere", pk, success=told, choices=_who(_me(request)))


@login_required
def create_asset(request: HttpRequest, pk: UUID) -> HttpResponse:
    def to(done: Done) -> str:
        return reverse("asset", kwargs={"pk": done.made.pk}) if done.made else reverse("assets")

    return _act(
        request,
        "create_asset",
        pk,
        success=say("The asset is there. Add its first zone, and appoint the crew."),
        to=to,
        choices={"time_zone": [(name, name) for name in ("UTC", *sorted(PLACES))]},
    )


@login_required
@require_safe
def asset_people(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Who holds which role on an asset, and for whom."""
    me, asset = _me(request), find(_me(request), Asset, pk)
    everywhere = _open().filter(asset=None, organisation=asset.organisation_id)
    here = _open().filter(asset=asset)
    shown = {
        "asset": asset,
        "here": here.select_related("person", "organisation"),
        "everywhere": everywhere.select_related("person", "organisation"),
        "may_end": may(me, "appoint", asset),
        "may_amend": may(me, "amend_asset", asset),
        "form": form_of("appoint", me, asset, url=reverse("appoint", kwargs={"pk": pk}), choices=_who(me)),
    }
    return render(request, "accounts/asset_people.html", shown)


def _who(me: Person) -> dict[str, list[tuple[str, str]]]:
    """The people and organisations to choose from when somebody is appointed."""
    people = visible(me, Person).filter(is_active=True).select_related("organisation").order_by("name")
    return {
        "email": [(each.email, f"{each.name}, {each.organisation} ({each.email})") for each in people],
        "organisation": [(str(each.pk), each.name) for each in visible(me, Organisation).order_by("name")],
    }


@login_required
def appoint(request: HttpRequest, pk: UUID) -> HttpResponse:
    asset = find(_me(request), Asset, pk)
    back = reverse("asset_people", kwargs={"pk": pk})
    return act_on_page(
        request,
        "appoint",
        asset,
        success="Appointed.",
        to=back,
        cancel=back,
        choices=_who(_me(request)),
        context={"crumbs": [(asset.name, reverse("asset", kwargs={"pk": pk})), (say("People"), back)]},
    )


@login_required
def end_appointment(request: HttpRequest, pk: UUID) -> HttpResponse:
    appointment = find(_me(request), Appointment, pk)
    back = reverse("organisation", kwargs={"pk": appointment.organisation_id})
    if appointment.asset_id is not None and visible(_me(request), Asset).filter(pk=appointment.asset_id).exists():
        back = reverse("asset_people", kwargs={"pk": appointment.asset_id})
    return act_on_page(
        request,
        "end_appointment",
        appointment,
        success=say("The appointment has ended; what was done under it stays."),
        to=back,
        cancel=back,
        context={"crumbs": _crumbs(appointment.organisation), "lead": str(appointment)},
    )
