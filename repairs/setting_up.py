"""From an empty installation to the crew's first sheet: which steps are done, which is next, and whose turn it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from accounts.acting import may
from accounts.assets import Asset
from accounts.people import Appointment, Person, Role
from accounts.wording import say
from inspections.coatings import Coating, FieldSheet
from inspections.instruments import Instrument


class Step(NamedTuple):
    """One step: `says` what is there or what is missing; without `url` it is somebody else's."""

    title: str
    done: bool
    says: str
    whose: str
    url: str = ""
    press: str = ""
    now: bool = False


class Setup(NamedTuple):
    asset: Asset | None
    steps: list[Step]


def setup_of(person: Person, asset: Asset | None) -> Setup | None:
    """The steps for an asset, or for the first one; None once a crew has taken a sheet, or for who only looks on.

    The next step is the first of the missing ones that is the person's own, else the first of all.
    """
    if asset is not None and FieldSheet.objects.filter(coating__zone__asset=asset).exists():
        return None
    if asset is None and not may(person, "create_asset", person.organisation):
        return None
    steps = [_organisation(person, asset), _people(person, asset), _asset(person, asset)]
    steps += [each(person, asset) for each in _ON_ASSET]
    missing = [number for number, step in enumerate(steps) if not step.done]
    current = next((number for number in missing if steps[number].url), missing[0] if missing else None)
    return Setup(asset, [step._replace(now=number == current) for number, step in enumerate(steps)])


def _organisation(person: Person, asset: Asset | None) -> Step:
    firm = asset.organisation if asset else person.organisation
    adds = may(person, "create_organisation", person.organisation)
    return Step(
        say("Organisations"),
        True,
        say(
            "{firm} owns it. Add the inspection firm and the painting contractor where they are firms of their own.",
            firm=firm,
        ),
        say("The administrator's turn."),
        reverse("create_organisation", args=[person.organisation_id]) if adds else "",
        say("Add a firm"),
    )


def _people(person: Person, asset: Asset | None) -> Step:
    firm = asset.organisation if asset else person.organisation
    everybody = Person.objects.filter(
        Q(organisation=firm)
        | Q(appointments__organisation=firm)
        | Q(appointments__asset=asset, appointments__asset__isnull=False)
    ).distinct()
    invited = everybody.count() > 1 or Person.objects.exclude(organisation=firm).exists()
    return Step(
        say("People"),
        invited,
        say("Others have an account.")
        if invited
        else say("You are alone here: invite the crew, the lead inspector and the contractor."),
        say("The administrator's turn."),
        reverse("organisations") if may(person, "invite_person", person.organisation) else "",
        say("Invite"),
    )


def _asset(person: Person, asset: Asset | None) -> Step:
    firm = person.organisation
    return Step(
        say("Asset"),
        asset is not None,
        say("{asset}, {kind}.", asset=asset, kind=asset.kind)
        if asset
        else say("The pipeline, tank or deck that is coated; its time zone and how places on it are spoken."),
        say("The owner's or the administrator's turn."),
        reverse("create_asset", args=[firm.pk]) if asset is None and may(person, "create_asset", firm) else "",
        say("Create it"),
    )


def _appointments(person: Person, asset: Asset | None) -> Step:
    here = Q(asset=None, organisation=asset.organisation_id if asset else person.organisation_id)
    if asset is not None:
        here |= Q(asset=asset)
    held = {
        Role(role) for role in Appointment.objects.in_force(timezone.now()).filter(here).values_list("role", flat=True)
    }
    if Role.LEAD in held:
        held.add(Role.CREW)
    missing = [
        str(role.label).lower() for role in (Role.OWNER, Role.LEAD, Role.CREW, Role.CONTRACTOR) if role not in held
    ]
    return Step(
        say("Appointments"),
        asset is not None and not missing,
        say("Nobody is appointed yet as: {roles}.", roles=", ".join(missing))
        if missing
        else say("Every role is held."),
        say("The administrator's turn."),
        reverse("asset_people", args=[asset.pk]) if asset and may(person, "appoint", asset) else "",
        say("Appoint"),
    )


def _zones(person: Person, asset: Asset | None) -> Step:
    count = asset.zones.count() if asset else 0
    return Step(
        say("Zones"),
        count > 0,
        say("Zones: {count}.", count=count)
        if count
        else say("The stretches, strakes, floors or decks that are tested one by one."),
        say("The lead inspector's or the owner's turn."),
        reverse("asset", args=[asset.pk]) if asset and may(person, "add_zone", asset) else "",
        say("Add zones"),
    )


def _specification(person: Person, asset: Asset | None) -> Step:
    issued = asset is not None and asset.specifications.exists()
    waits = asset is not None and asset.drafts.filter(issued=None, struck_at=None).exists()
    return Step(
        say("Specification"),
        issued,
        say("Issued.")
        if issued
        else say("A draft waits for the owner to issue it.")
        if waits
        else say("What film is asked for, how it is tested and what is allowed."),
        say("The owner's turn.") if waits else say("The lead inspector's or the owner's turn."),
        reverse("specifications", args=[asset.pk]) if asset and may(person, "draft_specification", asset) else "",
        say("Open") if waits or issued else say("Write it"),
    )


def _coating(person: Person, asset: Asset | None) -> Step:
    begun = asset is not None and Coating.objects.filter(zone__asset=asset).exists()
    bare = asset.zones.filter(coatings=None).first() if asset else None
    by = asset.specifications.order_by("issued_at").last() if asset and bare else None
    return Step(
        say("Coating"),
        begun,
        say("Begun.") if begun else say("On each zone the film whose life begins, by which specification."),
        say("The lead inspector's or the owner's turn."),
        reverse("specification", args=[by.pk]) if by and may(person, "begin_coatings", by) else "",
        say("Begin it"),
    )


def _instruments(person: Person, asset: Asset | None) -> Step:
    firms = []
    if asset is not None:
        here = Q(asset=asset) | Q(asset=None, organisation=asset.organisation_id)
        crews = Appointment.objects.in_force(timezone.now()).filter(here, role__in=[Role.CREW, Role.LEAD])
        firms = list(crews.values_list("organisation", flat=True).distinct())
    today = timezone.now().date()
    ready = Instrument.objects.filter(
        organisation__in=firms,
        kind=Instrument.Kind.DETECTOR,
        retired_at=None,
        certificates__struck_at=None,
        certificates__due__gte=today,
        organisation__electrodes__isnull=False,
    ).exists()
    return Step(
        say("Instruments"),
        ready,
        say("A detector with its certificate, and an electrode, are registered.")
        if ready
        else say("The crew's detector with its certificate, and an electrode."),
        say("The lead inspector's turn."),
        reverse("instruments", args=[person.organisation_id])
        if may(person, "register_instrument", person.organisation)
        else "",
        say("Register"),
    )


def _sheet(person: Person, asset: Asset | None) -> Step:
    coating = Coating.objects.filter(zone__asset=asset, ended_at=None).select_related("zone").first() if asset else None
    return Step(
        say("The crew's first sheet"),
        False,
        say("On the zone's page the crew takes a field sheet, opens a run and sweeps."),
        say("The crew's turn."),
        reverse("zone", args=[coating.zone_id]) if coating and may(person, "take_sheet", coating) else "",
        say("Go to the zone"),
    )


_ON_ASSET: tuple[Callable[[Person, Asset | None], Step], ...] = (
    _appointments,
    _zones,
    _specification,
    _coating,
    _instruments,
    _sheet,
)
