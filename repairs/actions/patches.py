"""Issuing patches from open flaws, and striking them out before work begins."""

from __future__ import annotations

from typing import Any

from django.db.models import Max
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Appointment, Organisation, Role
from accounts.wording import say
from inspections.coatings import Coating
from inspections.flaws import Flaw
from mapping.actions.zones import Why
from repairs.patches import Proposal, merge
from repairs.state import loose_flaws
from repairs.work import Patch, PatchFlaw, Step


class IssuePatches(serializers.Serializer):
    contractor = serializers.UUIDField(label=_("Contractor"), help_text=_("The organisation that repairs them."))
    flaws = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        label=_("Flaws"),
        help_text=_("Every proposed patch that holds one of these flaws is issued whole. Left empty: all proposals."),
    )


@action("issue_patches", takes=IssuePatches, roles={Role.LEAD}, on=Coating, title=_("Issue patches"))
def issue_patches(act: Acting, coating: Coating, given: dict[str, Any]) -> list[Patch]:
    """Give the proposed patches their numbers and hand them to a contractor."""
    if coating.ended_at is not None:
        act.refuse(
            "flaws",
            say(
                "{coating} has ended ({ended_why}): there is nothing to repair.",
                coating=coating,
                ended_why=coating.ended_why,
            ),
        )
    contractor = _contractor(act, coating, given["contractor"])
    proposed = proposals(coating)
    wanted = set(given.get("flaws") or ())
    if wanted:
        offered = {pk for proposal in proposed for pk in proposal.ids}
        if strange := wanted - offered:
            tags = [
                flaw.tag for flaw in Flaw.objects.filter(pk__in=strange, sheet__coating=coating).select_related("sheet")
            ]
            names = ", ".join(sorted(tags)) or say("A flaw of another coating")
            act.refuse(
                "flaws",
                say("{names}: in a patch already, struck out, a repeat of another or a false indication.", names=names),
            )
        proposed = [proposal for proposal in proposed if wanted & set(proposal.ids)]
    if not proposed:
        act.refuse("flaws", say("No open flaw is without a patch: there is nothing to issue."))
    surface = coating.zone.surface
    first = (coating.patches.aggregate(last=Max("number"))["last"] or 0) + 1
    patches = [
        Patch(
            coating=coating,
            number=number,
            shape=proposal.shape,
            area=proposal.area,
            said=surface.describe_region(proposal.shape),
            contractor=contractor,
            issued_by=act.person,
            issued_at=act.device_at,
        )
        for number, proposal in enumerate(proposed, first)
    ]
    act.insert_many(patches)
    act.insert_many(
        [
            PatchFlaw(patch=patch, flaw_id=pk)  # type: ignore[misc]
            for patch, proposal in zip(patches, proposed, strict=True)
            for pk in proposal.ids
        ]
    )
    return patches


@action("strike_patch", takes=Why, roles={Role.LEAD}, on=Patch, title=_("Strike out"))
def strike_patch(act: Acting, patch: Patch, given: dict[str, Any]) -> Patch:
    """Strike a patch out before work on it begins; its flaws are open again."""
    if Step.objects.filter(cycle__patch=patch, struck_at=None).exists():
        act.refuse("why", say("Work on {patch} has begun: it stays. Later flaws make a new patch.", patch=patch))
    act.strike(patch, given["why"])
    for link in patch.patch_flaws.filter(struck_at=None):
        act.strike(link, given["why"])
    return patch


def proposals(coating: Coating) -> list[Proposal]:
    """Patches proposed for the flaws that are in none: their footprints merged, in order along the zone."""
    surface, terms = coating.zone.surface, coating.terms
    footprints = [
        (
            flaw.pk,
            surface.footprint(
                flaw.x, flaw.y, flaw.size_x, flaw.size_y, terms.patch_overlap, round_=terms.patch_shape == "round"
            ),
        )
        for flaw in loose_flaws(coating)
    ]
    return merge(footprints, surface)


def _contractor(act: Acting, coating: Coating, pk: Any) -> Organisation:
    appointed = Organisation.objects.filter(
        pk__in=Appointment.objects.in_force(act.now)
        .filter(role=Role.CONTRACTOR, asset=coating.zone.asset_id)
        .values("organisation")
    )
    found = appointed.filter(pk=pk).first()
    if found is None:
        names = ", ".join(appointed.order_by("name").values_list("name", flat=True)) or say("nobody yet")
        act.refuse(
            "contractor",
            say("No painting contractor appointed on this asset has this id. Appointed: {names}.", names=names),
        )
    return found
