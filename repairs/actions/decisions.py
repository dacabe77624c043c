"""The owner's decisions on a coating, all made online: concessions, release, and withdrawal."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts import record
from accounts.acting import Acting, action
from accounts.languages import kept_in_english
from accounts.people import Role
from accounts.record import Record
from accounts.wording import say
from inspections.coatings import Coating
from repairs import gates
from repairs.picture import zone_picture
from repairs.release import Concession, Release
from repairs.work import Patch


class Concede(serializers.Serializer):
    patch = serializers.UUIDField(required=False, allow_null=True, label=_("Patch"))
    gate = serializers.ChoiceField(choices=gates.CODES, required=False, allow_blank=True, label=_("Gate"))
    reason = serializers.CharField(max_length=1000, label=_("Reason"))


class StrikeConcession(serializers.Serializer):
    why = serializers.CharField(max_length=400, label=_("Why it is struck out"))


class ReleaseZone(serializers.Serializer):
    conditions = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=2000,
        label=_("Conditions"),
        help_text=_("Left empty: released without conditions."),
    )


class WithdrawRelease(serializers.Serializer):
    why = serializers.CharField(max_length=1000, label=_("Why the release is withdrawn"))


@action("concede", takes=Concede, roles={Role.OWNER}, on=Coating, title=_("Concede"), decision=True)
def concede(act: Acting, coating: Coating, given: dict[str, Any]) -> Concession:
    """Live with a patch as it is, or with a gate that is not green, and say why."""
    if coating.ended_at is not None:
        act.refuse(
            "reason",
            say(
                "{coating} has ended ({ended_why}): there is nothing left to decide on it.",
                coating=coating,
                ended_why=coating.ended_why,
            ),
        )
    gate, patch = given.get("gate", ""), None
    if bool(given.get("patch")) == bool(gate):
        act.refuse("patch", say("Name one thing: a patch, or a gate."))
    if given.get("patch"):
        patch = Patch.objects.filter(pk=given["patch"], coating=coating, struck_at=None).first()
        if patch is None:
            act.refuse("patch", say("This is no standing patch of this coating."))
    if Concession.objects.filter(coating=coating, patch=patch, gate=gate, struck_at=None).exists():
        act.refuse("patch" if patch else "gate", say("This has been conceded already."))
    return act.insert(
        Concession(
            id=act.id, coating=coating, patch=patch, gate=gate, reason=given["reason"], owner=act.person, at=act.now
        )
    )


@action(
    "strike_concession", takes=StrikeConcession, roles={Role.OWNER}, on=Concession, title=_("Take back"), decision=True
)
def strike_concession(act: Acting, concession: Concession, given: dict[str, Any]) -> Concession:
    """Take a concession back: the patch or gate is judged as it is again."""
    return act.strike(concession, given["why"])


@action("release_zone", takes=ReleaseZone, roles={Role.OWNER}, on=Coating, title=_("Release"), decision=True)
def release_zone(act: Acting, coating: Coating, given: dict[str, Any]) -> Release:
    """Release the zone into service; possible only while every gate is green. The gates are kept as they stood."""
    if coating.ended_at is not None:
        act.refuse(
            "conditions",
            say(
                "{coating} has ended ({ended_why}): release the coating that followed it.",
                coating=coating,
                ended_why=coating.ended_why,
            ),
        )
    if coating.releases.filter(withdrawn_at=None).exists():
        act.refuse("conditions", say("The zone is released already."))
    judged = zone_picture(coating, at=act.now).gates
    if not gates.may_release(list(judged)):
        shut = [f"{gate.name}: {gate.sentence}" for gate in judged if gate.state != "green"]
        act.refuse("conditions", say("Not every gate is green. {shut}", shut=" ".join(shut)))
    with kept_in_english():
        kept = [_snapshot(gate) for gate in zone_picture(coating, at=act.now).gates]
    head = Record.objects.get(pk=coating.zone.asset_id).head
    return act.insert(
        Release(
            id=act.id,
            coating=coating,
            gates=kept,
            who={gate.code: [row.who for row in gate.evidence] for gate in judged},
            conditions=given.get("conditions", ""),
            head_seq=head.seq,
            head_hash=head.digest,
            owner=act.person,
            at=act.now,
        )
    )


@action(
    "withdraw_release",
    takes=WithdrawRelease,
    roles={Role.OWNER},
    on=Coating,
    title=_("Withdraw the release"),
    decision=True,
)
def withdraw_release(act: Acting, coating: Coating, given: dict[str, Any]) -> Release:
    """Withdraw the release that stands; it stays in the record with the reason."""
    release = coating.releases.filter(withdrawn_at=None).first()
    if release is None:
        act.refuse("why", say("The zone is not released."))
    return act.amend(release, withdrawn_at=act.now, withdrawn_by=act.person, withdrawn_why=given["why"])


def _snapshot(gate: gates.Gate) -> dict[str, Any]:
    return {
        "code": gate.code,
        "name": gate.name,
        "state": gate.state,
        "sentence": gate.sentence,
        "evidence": [{"when": record.plain(row.when), "what": row.what} for row in gate.evidence],
    }
