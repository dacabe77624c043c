"""Specifications and coatings: what is asked for, and the film it is asked of."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.people import Role
from inspections.actions.sheets import moment
from inspections.coatings import Coating
from inspections.specifications import Specification
from inspections.terms import terms_from_json
from mapping.actions.zones import Why
from mapping.zones import Zone


class IssueSpecification(serializers.Serializer):
    name = serializers.CharField(max_length=120)
    edition = serializers.CharField(max_length=40)
    body = serializers.JSONField(help_text="The terms: stages, method, stated voltage, checks, limits, repair coats.")
    supersedes = serializers.UUIDField(required=False, allow_null=True, default=None)


@action(
    "issue_specification",
    takes=IssueSpecification,
    roles={Role.OWNER},
    on=Asset,
    title="Issue a specification",
    decision=True,
)
def issue_specification(act: Acting, asset: Asset, given: dict[str, Any]) -> Specification:
    """Issue a specification; from then on it does not change, a later edition supersedes it."""
    try:
        terms = terms_from_json(given["body"])
    except (TypeError, ValueError, KeyError) as problem:
        act.refuse("body", str(problem))
    earlier = None
    if given["supersedes"]:
        earlier = Specification.objects.filter(asset=asset, pk=given["supersedes"]).first()
        if earlier is None:
            act.refuse("supersedes", "There is no such specification on this asset.")
    if Specification.objects.filter(asset=asset, name=given["name"], edition=given["edition"]).exists():
        act.refuse("edition", f'"{given["name"]}, edition {given["edition"]}" has been issued already.')
    return act.insert(
        Specification(
            id=act.id,
            asset=asset,
            name=given["name"],
            edition=given["edition"],
            issued_at=act.now,
            issued_by=act.person,
            supersedes=earlier,
            body=terms.to_json(),
        )
    )


class BeginCoating(serializers.Serializer):
    specification = serializers.UUIDField()
    begun_at = serializers.DateTimeField(required=False, help_text="When this film was begun; leave empty for now.")


@action("begin_coating", takes=BeginCoating, roles={Role.OWNER, Role.LEAD}, on=Zone, title="Begin a coating")
def begin_coating(act: Acting, zone: Zone, given: dict[str, Any]) -> Coating:
    """Begin the life of one film on a zone; runs, flaws and release hang on it."""
    specification = Specification.objects.filter(asset=zone.asset, pk=given["specification"]).first()
    if specification is None:
        act.refuse("specification", "There is no such specification on this asset.")
    if Coating.objects.filter(zone=zone, ended_at=None).exists():
        act.refuse("zone", "This zone has a current coating; end that one first.")
    return act.insert(
        Coating(
            id=act.id,
            zone=zone,
            number=Coating.objects.filter(zone=zone).count() + 1,
            specification=specification,
            begun_at=moment(act, given, "begun_at"),
        )
    )


@action("end_coating", takes=Why, roles={Role.OWNER}, on=Coating, title="End this coating", decision=True)
def end_coating(act: Acting, coating: Coating, given: dict[str, Any]) -> Coating:
    """End a film's life (strip and recoat): what was recorded stays, a new coating can begin."""
    if coating.ended_at is not None:
        act.refuse("why", f"{coating} has ended already.")
    return act.amend(coating, ended_at=act.now, ended_why=given["why"])
