"""Actions on organisations, people, appointments and assets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any
from uuid import UUID
from zoneinfo import available_timezones

from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied

from accounts.access import visible
from accounts.acting import Acting, NoInput, action
from accounts.assets import Asset
from accounts.people import Appointment, Organisation, Person, Role
from accounts.stations import StationEquationsField, check_equations
from accounts.wording import say

FAR_OFF = datetime.max.replace(tzinfo=UTC)


class OrganisationGiven(serializers.Serializer):
    name = serializers.CharField(label=_("Name of the organisation"), max_length=120)


@action(
    "create_organisation",
    takes=OrganisationGiven,
    roles={Role.ADMIN},
    on=Organisation,
    title=_("Add organisation"),
)
def create_organisation(act: Acting, beside: Organisation, given: dict[str, Any]) -> Organisation:
    """Adds another organisation (an inspection firm, a contractor); whoever adds it administers it."""
    if Organisation.objects.filter(name__iexact=given["name"]).exists():
        act.refuse("name", say('There is an organisation "{name}" already. Choose another name.', name=given["name"]))
    made = act.insert(Organisation(id=act.id, name=given["name"]))
    act.insert(Appointment(person=act.person, organisation=made, asset=None, role=Role.ADMIN, since=act.now))
    return made


class PersonGiven(serializers.Serializer):
    """Who is invited. Email and name stay out of the record."""

    private = ("email", "name")

    name = serializers.CharField(label=_("Name"), max_length=120)
    email = serializers.EmailField(label=_("Email address"), max_length=254)


@action("invite_person", takes=PersonGiven, roles={Role.ADMIN}, on=Organisation, title=_("Invite"))
def invite_person(act: Acting, organisation: Organisation, given: dict[str, Any]) -> Person:
    """Adds a person to the organisation; they set a password by the link they are sent."""
    email = given["email"].lower()
    if Person.objects.filter(email=email).exists():
        act.refuse("email", say("{email} has an account already. Appoint this person instead.", email=email))
    person = Person(id=act.id, organisation=organisation, name=given["name"], email=email)
    person.set_unusable_password()
    return act.insert(person)


class AppointmentEverywhereGiven(serializers.Serializer):
    """A person by email, and the role."""

    private = ("email",)

    email = serializers.EmailField(
        label=_("Person"),
        max_length=254,
        help_text=_("By the email address they sign in with."),
        style={"tiles": False},
    )
    role = serializers.ChoiceField(label=_("Role"), choices=Role.choices)

    since = serializers.DateTimeField(label=_("From"), required=False, help_text=_("Leave empty for now."))
    until = serializers.DateTimeField(
        label=_("Until"), required=False, allow_null=True, help_text=_("Leave empty where no end is known.")
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if given.get("until") and given["until"] <= given.get("since", self.context["act"].now):
            raise serializers.ValidationError({"until": [say("The end must come after the beginning.")]})
        return given


class AppointmentGiven(AppointmentEverywhereGiven):
    """A person by email, the role, and for whom they act."""

    organisation = serializers.UUIDField(
        label=_("Acts for"), required=False, help_text=_("Left out: the person's own organisation.")
    )


def _employer(asset: Asset, given: Mapping[str, Any]) -> Iterable[UUID]:
    """The organisation on whose record the appointment will lie."""
    try:
        named = [UUID(str(given["organisation"]))] if given.get("organisation") else []
    except ValueError:
        return []
    return named or list(
        Person.objects.filter(email=str(given.get("email", "")).lower()).values_list("organisation", flat=True)
    )


@action(
    "appoint",
    takes=AppointmentGiven,
    roles={Role.ADMIN},
    on=Asset,
    title=_("Appoint on this asset"),
    reaches=_employer,
)
def appoint(act: Acting, asset: Asset, given: dict[str, Any]) -> Appointment:
    """Gives a person a role on this asset."""
    person = _person(act, given["email"])
    organisation = person.organisation
    if "organisation" in given:
        organisation = _organisation(act, given["organisation"])
    return _appoint(act, person, organisation, asset, given)


@action(
    "appoint_everywhere",
    takes=AppointmentEverywhereGiven,
    roles={Role.ADMIN},
    on=Organisation,
    title=_("Appoint on all assets"),
)
def appoint_everywhere(act: Acting, organisation: Organisation, given: dict[str, Any]) -> Appointment:
    """Gives a person a role on every asset the organisation owns, now and later."""
    return _appoint(act, _person(act, given["email"]), organisation, None, given)


def _person(act: Acting, email: str) -> Person:
    person = (
        visible(act.person, Person).filter(email=email.lower(), is_active=True).select_related("organisation").first()
    )
    if person is None:
        act.refuse(
            "email",
            say("{email} is nobody in the organisations you administer or work for. Invite them first.", email=email),
        )
    assert person is not None
    return person


def _organisation(act: Acting, pk: UUID) -> Organisation:
    organisation = visible(act.person, Organisation).filter(pk=pk).first()
    if organisation is None:
        act.refuse("organisation", say("{pk} is no organisation you can see.", pk=pk))
    assert organisation is not None
    return organisation


def _appoint(
    act: Acting, person: Person, organisation: Organisation, asset: Asset | None, given: dict[str, Any]
) -> Appointment:
    role, since, until = Role(given["role"]), given.get("since", act.now), given.get("until")
    same = Appointment.objects.filter(person=person, organisation=organisation, asset=asset, role=role)
    if same.filter(Q(until=None) | Q(until__gt=since)).exclude(since__gte=until or FAR_OFF).exists():
        act.refuse("role", say("{person} is {role} there already.", person=person.name, role=role.label.lower()))
    return act.insert(
        Appointment(
            id=act.id, person=person, organisation=organisation, asset=asset, role=role, since=since, until=until
        )
    )


class EndGiven(serializers.Serializer):
    until = serializers.DateTimeField(label=_("It ends"), required=False, help_text=_("Leave empty for now."))


@action("end_appointment", takes=EndGiven, roles={Role.ADMIN}, on=Appointment, title=_("End appointment"))
def end_appointment(act: Acting, appointment: Appointment, given: dict[str, Any]) -> Appointment:
    """Ends an appointment, now or on a day to come; what was done under it stays."""
    until = given.get("until", act.now)
    if appointment.until is not None and appointment.until <= act.now:
        act.refuse("non_field_errors", say("This appointment has ended already."))
    if until < max(act.now, appointment.since):
        act.refuse("until", say("An appointment does not end before now, nor before it began."))
    if appointment.role == Role.ADMIN and appointment.asset_id is None:
        others = Appointment.objects.in_force(until).filter(
            organisation=appointment.organisation, asset=None, role=Role.ADMIN
        )
        if not others.exclude(pk=appointment.pk).exists():
            act.refuse("non_field_errors", say("This is the last administrator. Appoint another one first."))
    return act.amend(appointment, until=until)


@action("amend_person", takes=PersonGiven, roles={Role.ADMIN}, on=Person, title=_("Correct the person"))
def amend_person(act: Acting, person: Person, given: dict[str, Any]) -> Person:
    """Corrects a person's name or email address; from then on they sign in with that address."""
    email = given["email"].lower()
    if Person.objects.filter(email=email).exclude(pk=person.pk).exists():
        act.refuse("email", say("{email} belongs to another account.", email=email))
    return act.amend(person, name=given["name"], email=email)


@action("close_account", takes=NoInput, roles={Role.ADMIN}, on=Person, title=_("Close the account"))
def close_account(act: Acting, person: Person, given: dict[str, Any]) -> Person:
    """Closes an account: the person signs in no more; what they did stays under their name."""
    if person.pk == act.person.pk:
        act.refuse("person", say("Nobody closes their own account: another administrator does."))
    if not person.is_active:
        act.refuse("person", say("This account is closed already."))
    return act.amend(person, is_active=False)


@action("reopen_account", takes=NoInput, roles={Role.ADMIN}, on=Person, title=_("Open the account again"))
def reopen_account(act: Acting, person: Person, given: dict[str, Any]) -> Person:
    """Opens a closed account again, with the appointments that have not ended."""
    if person.is_active:
        act.refuse("person", say("This account is open."))
    return act.amend(person, is_active=True)


@action(
    "amend_organisation",
    takes=OrganisationGiven,
    roles={Role.ADMIN},
    on=Organisation,
    title=_("Correct the organisation"),
)
def amend_organisation(act: Acting, organisation: Organisation, given: dict[str, Any]) -> Organisation:
    """Corrects an organisation's name."""
    if Organisation.objects.filter(name__iexact=given["name"]).exclude(pk=organisation.pk).exists():
        act.refuse("name", say('There is an organisation "{name}" already. Choose another name.', name=given["name"]))
    return act.amend(organisation, name=given["name"])


class AssetGiven(serializers.Serializer):
    """What is coated, and how places on it are spoken."""

    name = serializers.CharField(
        label=_("Name"), max_length=120, help_text=_('As people call it: "Tank 7", "North main".')
    )
    kind = serializers.CharField(
        label=_("What it is"), max_length=60, help_text=_('In words: "buried water transmission main".')
    )
    place = serializers.CharField(label=_("Place"), max_length=120, required=False, allow_blank=True, default="")
    time_zone = serializers.CharField(
        label=_("Time zone"), max_length=60, help_text=_('Times on pages and documents are shown in it: "Europe/Oslo".')
    )
    unit_system = serializers.ChoiceField(
        label=_("Positions are spoken in"), choices=Asset.UnitSystem.choices, default=Asset.UnitSystem.METRIC
    )
    foot = serializers.ChoiceField(label=_("Which foot"), choices=Asset.Foot.choices, default=Asset.Foot.INTERNATIONAL)
    chainage_start = serializers.FloatField(
        label=_("Lowest chainage"),
        default=0.0,
        help_text=_("In metres, or in feet on an imperial asset; may be negative."),
    )
    station_equations = StationEquationsField(
        label=_("Station equations"),
        required=False,
        default=list,
        help_text=_(
            "Where stationing jumps, one a line, in the order along the asset, as it is spoken there: "
            '"1+225.00 back = 1+250.00 ahead", or in plain metres or feet: "1225.00 back = 1250.00 ahead".'
        ),
    )
    datum = serializers.CharField(
        label=_("Datum"),
        max_length=200,
        required=False,
        allow_blank=True,
        default="",
        help_text=_('Where chainage or azimuth is counted from: "azimuth 0 at the manway, clockwise from above".'),
    )

    def validate_time_zone(self, name: str) -> str:
        if name not in available_timezones():
            raise serializers.ValidationError(
                say(
                    '"{name}" is no time zone. Write a name of the IANA database: Europe/Oslo, America/Denver, UTC.',
                    name=name,
                )
            )
        return name

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        check_equations(given["station_equations"], given["chainage_start"])
        return given


@action("create_asset", takes=AssetGiven, roles={Role.OWNER, Role.ADMIN}, on=Organisation, title=_("Create asset"))
def create_asset(act: Acting, organisation: Organisation, given: dict[str, Any]) -> Asset:
    """Adds an asset the organisation owns."""
    if Asset.objects.filter(organisation=organisation, name=given["name"]).exists():
        act.refuse(
            "name",
            say(
                '{organisation} has an asset "{name}" already. Choose another name.',
                organisation=organisation.name,
                name=given["name"],
            ),
        )
    return act.insert(Asset(id=act.id, organisation=organisation, **given))


class AssetNamed(serializers.Serializer):
    """What may be corrected at any time: it changes no place that was spoken."""

    name = serializers.CharField(label=_("Name"), max_length=120)
    kind = serializers.CharField(label=_("What it is"), max_length=60)
    place = serializers.CharField(label=_("Place"), max_length=120, required=False, allow_blank=True, default="")
    datum = serializers.CharField(label=_("Datum"), max_length=200, required=False, allow_blank=True, default="")


@action("amend_asset", takes=AssetNamed, roles={Role.OWNER, Role.ADMIN}, on=Asset, title=_("Correct the asset"))
def amend_asset(act: Acting, asset: Asset, given: dict[str, Any]) -> Asset:
    """Corrects how an asset is called and described; how places on it are spoken stays."""
    others = Asset.objects.filter(organisation=asset.organisation, name=given["name"]).exclude(pk=asset.pk)
    if others.exists():
        act.refuse("name", say('There is an asset "{name}" already. Choose another name.', name=given["name"]))
    return act.amend(asset, **given)


class UnitsGiven(serializers.Serializer):
    units = serializers.ChoiceField(
        label=_("Show figures in"),
        choices=Person.Units.choices,
        help_text=_("Positions are always spoken in the asset's own system."),
    )


@action("amend_my_units", takes=UnitsGiven, roles=set(Role), on=Person, title=_("Change my units"), own=True)
def amend_my_units(act: Acting, person: Person, given: dict[str, Any]) -> Person:
    """Changes the units a person reads figures in; everybody changes only their own."""
    if person.pk != act.person.pk:
        raise PermissionDenied(say("Units are changed by the person who reads them."))
    return act.amend(person, units=given["units"])


class LanguageGiven(serializers.Serializer):
    language = serializers.ChoiceField(
        label=_("Speak to me in"),
        choices=Person.Language.choices,
        help_text=_("Pages, messages and documents. The record itself is kept in English."),
    )


@action("amend_my_language", takes=LanguageGiven, roles=set(Role), on=Person, title=_("Change my language"), own=True)
def amend_my_language(act: Acting, person: Person, given: dict[str, Any]) -> Person:
    """Changes the language a person reads; everybody changes only their own."""
    if person.pk != act.person.pk:
        raise PermissionDenied(say("The language is changed by the person who reads it."))
    return act.amend(person, language=given["language"])
