"""Specifications and coatings: what is asked for, and the film it is asked of."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, NoInput, action
from accounts.assets import Asset
from accounts.ids import named_id
from accounts.people import Role
from accounts.wording import say
from inspections.actions.sheets import moment
from inspections.actions.term_parts_given import as_said
from inspections.actions.terms_given import TermsGiven
from inspections.asked_voltage import asked_voltage, stage_thickness
from inspections.coatings import Coating
from inspections.specifications import Specification, SpecificationDraft
from inspections.terms import Terms
from mapping.actions.zones import Why
from mapping.zones import Zone

WORKS_ON_DRAFTS = {Role.LEAD, Role.OWNER}


class IssueSpecification(serializers.Serializer):
    name = serializers.CharField(label=_("Name"), max_length=120, help_text=_('"External lining, C-07".'))
    edition = serializers.CharField(label=_("Edition"), max_length=40, help_text=_('"1", "2026-03".'))
    body = TermsGiven(label=_("What it asks for"), style={"bare": True})
    supersedes = serializers.UUIDField(label=_("Supersedes"), required=False, allow_null=True, default=None)


@action(
    "issue_specification",
    takes=IssueSpecification,
    roles={Role.OWNER},
    on=Asset,
    title=_("Issue a specification"),
    decision=True,
)
def issue_specification(act: Acting, asset: Asset, given: dict[str, Any]) -> Specification:
    """Issue a specification; from then on it does not change, a later edition supersedes it."""
    earlier = _earlier(act, asset, given["supersedes"])
    return _issue(act, asset, given["name"], given["edition"], given["body"]["terms"], earlier)


def _issue(
    act: Acting, asset: Asset, name: str, edition: str, terms: Terms, earlier: Specification | None
) -> Specification:
    if Specification.objects.filter(asset=asset, name=name, edition=edition).exists():
        act.refuse("edition", say('"{name}, edition {edition}" has been issued already.', name=name, edition=edition))
    for stage in terms.stages:
        asked = asked_voltage(terms, stage_thickness(terms, stage))
        if terms.method not in ("visual", "wet_sponge") and not asked.document:
            words = say("At the {stage} no document rules. {why}", stage=stage.name, why=asked.why)
            raise serializers.ValidationError({"body": {"voltage_rules": [words]}})
    return act.insert(
        Specification(
            id=act.id,
            asset=asset,
            name=name,
            edition=edition,
            issued_at=act.now,
            issued_by=act.person,
            supersedes=earlier,
            body=terms.to_json(),
        )
    )


def _earlier(act: Acting, asset: Asset, pk: UUID | None) -> Specification | None:
    if pk is None:
        return None
    earlier = Specification.objects.filter(asset=asset, pk=pk).first()
    if earlier is None:
        act.refuse("supersedes", say("There is no such specification on this asset."))
    return earlier


class DraftSpecification(serializers.Serializer):
    """A specification as far as it is known: anything may be left open, what is given has to be right."""

    name = serializers.CharField(label=_("Name"), max_length=120, help_text=_('"External lining, C-07".'))
    edition = serializers.CharField(
        label=_("Edition"), max_length=40, required=False, allow_blank=True, default="", help_text=_('"1", "2026-03".')
    )
    body = TermsGiven(label=_("What it asks for"), required=False, style={"bare": True})

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "partial": True})

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if not given.get("name", "").strip():
            raise serializers.ValidationError({"name": [say("Give the draft a name, to find it again.")]})
        return {"edition": "", "body": {}, **given}


class BeginDraft(DraftSpecification):
    supersedes = serializers.UUIDField(label=_("Supersedes"), required=False, allow_null=True, default=None)


@action("draft_specification", takes=BeginDraft, roles=WORKS_ON_DRAFTS, on=Asset, title=_("Save the draft"))
def draft_specification(act: Acting, asset: Asset, given: dict[str, Any]) -> SpecificationDraft:
    """Begin the draft of a specification; it binds nobody until the owner issues it."""
    return act.insert(
        SpecificationDraft(
            id=act.id,
            asset=asset,
            supersedes=_earlier(act, asset, given.get("supersedes")),
            name=given["name"],
            edition=given["edition"],
            body=as_said(given["body"]),
            begun_at=act.now,
            begun_by=act.person,
            changed_at=act.now,
            changed_by=act.person,
        )
    )


@action(
    "amend_draft", takes=DraftSpecification, roles=WORKS_ON_DRAFTS, on=SpecificationDraft, title=_("Save the changes")
)
def amend_draft(act: Acting, draft: SpecificationDraft, given: dict[str, Any]) -> SpecificationDraft:
    """Change a draft; what is given takes the place of what was there."""
    _check_open(act, draft)
    return act.amend(
        draft,
        name=given["name"],
        edition=given["edition"],
        body=as_said(given["body"]),
        changed_at=act.now,
        changed_by=act.person,
    )


@action(
    "issue_draft", takes=NoInput, roles={Role.OWNER}, on=SpecificationDraft, title=_("Issue this draft"), decision=True
)
def issue_draft(act: Acting, draft: SpecificationDraft, given: dict[str, Any]) -> Specification:
    """Issue the draft as it stands: from then on it does not change, a later edition supersedes it."""
    _check_open(act, draft)
    complete = draft_as_given(draft)
    complete.is_valid(raise_exception=True)
    found = complete.validated_data
    made = _issue(act, draft.asset, found["name"], found["edition"], found["body"]["terms"], draft.supersedes)
    act.amend(draft, issued=made)
    return made


def draft_as_given(draft: SpecificationDraft) -> IssueSpecification:
    """The draft as the input of an issue, to be asked whether it is complete."""
    given = {"name": draft.name, "edition": draft.edition, "body": draft.body}
    return IssueSpecification(data=given, context={"target": draft})


@action("strike_draft", takes=Why, roles=WORKS_ON_DRAFTS, on=SpecificationDraft, title=_("Strike out the draft"))
def strike_draft(act: Acting, draft: SpecificationDraft, given: dict[str, Any]) -> SpecificationDraft:
    """Strike out a draft that is not needed any more."""
    _check_open(act, draft)
    return act.strike(draft, given["why"])


def _check_open(act: Acting, draft: SpecificationDraft) -> None:
    if draft.issued_id is not None:
        act.refuse(
            "draft",
            say("This draft has been issued as {specification}; begin a new edition.", specification=draft.issued),
        )
    if draft.struck_at is not None:
        act.refuse("draft", say("This draft has been struck out."))


class BeginCoating(serializers.Serializer):
    specification = serializers.UUIDField(label=_("Specification"))
    begun_at = serializers.DateTimeField(
        label=_("Begun"), required=False, help_text=_("When this film was begun; leave empty for now.")
    )


@action("begin_coating", takes=BeginCoating, roles={Role.OWNER, Role.LEAD}, on=Zone, title=_("Begin a coating"))
def begin_coating(act: Acting, zone: Zone, given: dict[str, Any]) -> Coating:
    """Begin the life of one film on a zone; runs, flaws and release hang on it."""
    specification = Specification.objects.filter(asset=zone.asset, pk=given["specification"]).first()
    if specification is None:
        act.refuse("specification", say("There is no such specification on this asset."))
    if Coating.objects.filter(zone=zone, ended_at=None).exists():
        act.refuse("zone", say("This zone has a current coating; end that one first."))
    return act.insert(
        Coating(
            id=act.id,
            zone=zone,
            number=Coating.objects.filter(zone=zone).count() + 1,
            specification=specification,
            begun_at=moment(act, given, "begun_at"),
        )
    )


class BeginCoatings(serializers.Serializer):
    zones = serializers.ListField(
        label=_("Zones"),
        child=serializers.UUIDField(),
        required=False,
        default=list,
        max_length=10_000,
        help_text=_("Leave empty for every zone without a current coating."),
    )
    begun_at = serializers.DateTimeField(
        label=_("Begun"), required=False, help_text=_("When these films were begun; leave empty for now.")
    )


@action(
    "begin_coatings",
    takes=BeginCoatings,
    roles={Role.OWNER, Role.LEAD},
    on=Specification,
    title=_("Begin coatings on many zones"),
)
def begin_coatings(act: Acting, specification: Specification, given: dict[str, Any]) -> Specification:
    """Begin the life of one film on each of these zones by this specification; runs, flaws and release hang on it."""
    bare = {zone.pk: zone for zone in bare_zones(specification.asset)}
    if taken := [str(pk) for pk in given["zones"] if pk not in bare]:
        named = dict(Zone.objects.filter(asset=specification.asset, pk__in=taken).values_list("pk", "name"))
        unknown = say("no zone of this asset")
        told = ", ".join(named.get(UUID(pk), f"{pk} ({unknown})") for pk in taken[:10])
        act.refuse("zones", say("No coating can begin on: {zones}. Choose zones without a current one.", zones=told))
    chosen = [bare[pk] for pk in dict.fromkeys(given["zones"])] or list(bare.values())
    if not chosen:
        act.refuse("zones", say("Every zone of this asset has a current coating."))
    begun_at = moment(act, given, "begun_at")
    for zone in chosen:
        act.insert(
            Coating(
                id=named_id(act.id, str(zone.pk)),
                zone=zone,
                number=zone.coatings.count() + 1,
                specification=specification,
                begun_at=begun_at,
            )
        )
    act.tell("Zones on which a coating has begun: {count}.", count=len(chosen))
    return specification


def bare_zones(asset: Asset) -> QuerySet[Zone]:
    """The asset's zones without a current coating, in their order."""
    current = Coating.objects.filter(zone=OuterRef("pk"), ended_at=None)
    return asset.zones.filter(~Exists(current)).order_by("order", "name")


@action("end_coating", takes=Why, roles={Role.OWNER}, on=Coating, title=_("End this coating"), decision=True)
def end_coating(act: Acting, coating: Coating, given: dict[str, Any]) -> Coating:
    """End a film's life (strip and recoat): what was recorded stays, a new coating can begin."""
    if coating.ended_at is not None:
        act.refuse("why", say("{coating} has ended already.", coating=coating))
    return act.amend(coating, ended_at=act.now, ended_why=given["why"])
