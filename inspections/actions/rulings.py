"""Evidence and decisions on ground that is lost, held or in question."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.evidence import Evidence, keep
from accounts.people import Role
from accounts.record import Record
from accounts.wording import say
from inspections.causes import causes_in_words
from inspections.runs import Reinstatement, Run, Standing, Swath
from inspections.tested import judge, refresh

MOST_BYTES = 10 * 1024 * 1024
TYPES = {"application/pdf", "image/jpeg", "image/png", "text/csv", "text/plain"}

CHECKS = frozenset({"before_first_check", "check_low", "check_late", "check_missing", "event_unchecked"})
RESTORES: dict[str, frozenset[str]] = {
    Reinstatement.Grounds.LATE_CHECK: CHECKS,
    Reinstatement.Grounds.CERTIFICATE: frozenset({"out_of_calibration"}),
}
"""Which causes each kind of evidence answers; the owner's decision answers every cause."""


class Reinstate(serializers.Serializer):
    swaths = serializers.ListField(
        label=_("Swaths"),
        child=serializers.UUIDField(),
        required=False,
        default=list,
        help_text=_("Leave empty for all of the run."),
    )
    grounds = serializers.ChoiceField(
        choices=[
            (Reinstatement.Grounds.LATE_CHECK, Reinstatement.Grounds.LATE_CHECK.label),
            (Reinstatement.Grounds.CERTIFICATE, Reinstatement.Grounds.CERTIFICATE.label),
        ],
        label=_("Evidence"),
    )
    why = serializers.CharField(
        max_length=1000, label=_("What it shows"), help_text=_("Who read what, when and where.")
    )
    file = serializers.FileField(
        label=_("File"),
        required=False,
        allow_null=True,
        default=None,
        help_text=_("Photo or certificate; up to 10 MB."),
    )


@action("reinstate", takes=Reinstate, roles={Role.LEAD}, on=Run, title=_("Restore by evidence"), decision=True)
def reinstate(act: Acting, run: Run, given: dict[str, Any]) -> Reinstatement:
    """Restore lost ground by evidence: a late check made before any adjustment, or the certificate's as-found value."""
    swaths = _swaths(act, run, given["swaths"], {Standing.LOST})
    return _decide(act, run, swaths, Reinstatement.Decision.STANDS, given["grounds"], given["why"], given["file"])


class DecideHeld(serializers.Serializer):
    swaths = serializers.ListField(
        label=_("Swaths"),
        child=serializers.UUIDField(),
        required=False,
        default=list,
        help_text=_("Leave empty for all of the run."),
    )
    decision = serializers.ChoiceField(label=_("Decision"), choices=Reinstatement.Decision.choices)
    why = serializers.CharField(max_length=1000, label=_("Reason"))


@action("decide_held", takes=DecideHeld, roles={Role.OWNER}, on=Run, title=_("Decide on held ground"), decision=True)
def decide_held(act: Acting, run: Run, given: dict[str, Any]) -> Reinstatement:
    """The owner accepts held or lost ground with a reason, or says that it is lost."""
    swaths = _swaths(act, run, given["swaths"], {Standing.HELD, Standing.LOST})
    return _decide(act, run, swaths, given["decision"], Reinstatement.Grounds.OWNER, given["why"], None)


def _swaths(act: Acting, run: Run, wanted: list[Any], standings: set[Standing]) -> list[Swath]:
    there = list(run.swaths.filter(struck_at=None, standing__in=standings))
    if wanted:
        chosen = [swath for swath in there if swath.pk in set(wanted)]
        if len(chosen) != len(set(wanted)):
            act.refuse(
                "swaths",
                say("Only ground of {run} that is {list} can be chosen.", run=run, list=_either(standings)),
            )
        return chosen
    if not there:
        act.refuse("swaths", say("{run} has no ground that is {list}.", run=run, list=_either(standings)))
    return there


def _either(standings: set[Standing]) -> str:
    return say(" or ").join(sorted(say(str(each.label)) for each in standings))


def _decide(
    act: Acting, run: Run, swaths: list[Swath], decision: str, grounds: str, why: str, file: Any
) -> Reinstatement:
    # Only what is known now is decided: a cause that comes to light later asks for a decision of its own.
    judged = judge(run, run.swaths.filter(struck_at=None).defer("shape"))
    causes = {cause.key: cause for swath in swaths for cause in judged[swath.pk].causes}
    ruled = sorted(key for key, cause in causes.items() if grounds not in RESTORES or cause.code in RESTORES[grounds])
    if not ruled:
        needed = "; ".join(f"{causes_in_words(cause.words)}: {say(cause.restorable_by)}" for cause in causes.values())
        act.refuse("grounds", say("That does not restore this ground. {needed}.", needed=capfirst(needed)))
    row = act.insert(
        Reinstatement(
            id=act.id,
            run=run,
            swaths=sorted(str(swath.pk) for swath in swaths),
            causes=ruled,
            decision=decision,
            grounds=grounds,
            why=why,
            evidence=keep_upload(act, run.sheet.coating.zone.asset_id, file) if file else None,
            by=act.person,
            at=act.now,
        )
    )
    refresh(act, run)
    return row


def keep_upload(act: Acting, record: Any, file: Any) -> Evidence:
    """Keep an uploaded file as evidence of a record; the same bytes are kept once."""
    if file.size > MOST_BYTES:
        act.refuse(
            "file", say("{file} has {size:.1f} MB; up to 10 MB are taken.", file=file.name, size=file.size / 1e6)
        )
    if file.content_type not in TYPES:
        act.refuse(
            "file",
            say(
                "{file} is {content_type}; taken are: {list}.",
                file=file.name,
                content_type=file.content_type,
                list=", ".join(sorted(TYPES)),
            ),
        )
    digest = keep(file.read())
    there = Evidence.objects.filter(record=record, sha256=digest).first()
    return there or act.insert(
        Evidence(
            record=Record.objects.get(pk=record),
            sha256=digest,
            name=file.name,
            media_type=file.content_type,
            size=file.size,
            received_at=timezone.now(),
        )
    )
