"""Settling the retest of a patch by a swath of a retest run, and giving a cycle up.

Whoever applied a patch never passes it: the action says so in words, and the database refuses it as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied
from shapely import intersects_xy

from accounts import access
from accounts.acting import Acting, action
from accounts.languages import moment_words
from accounts.people import Organisation, Person, Role
from accounts.wording import say
from inspections.flaws import Flaw, FlawKind
from inspections.runs import Run, Swath
from inspections.terms import METHODS
from mapping.coverage import SMALLEST
from repairs import timing
from repairs.spoken import square_metres
from repairs.state import PatchState, open_cycle, work_state
from repairs.work import Cycle, Patch, PatchFlaw, Retest, Step


class SettleRetest(serializers.Serializer):
    private = ("witness",)

    swath = serializers.UUIDField(
        label=_("Retest swath"), help_text=_("A swath of a retest run that covers the patch.")
    )
    outcome = serializers.ChoiceField(choices=[("passed", _("passed")), ("failed", _("failed"))], label=_("Outcome"))
    witness = serializers.EmailField(
        required=False,
        allow_blank=True,
        label=_("Witness"),
        help_text=_("Email; asked for when the worker's own firm retests."),
    )
    note = serializers.CharField(required=False, allow_blank=True, max_length=200, label=_("Note"))


class AbandonCycle(serializers.Serializer):
    why = serializers.CharField(max_length=200, label=_("Why the cycle is given up"))


@action("settle_retest", takes=SettleRetest, roles={Role.CREW, Role.CONTRACTOR}, on=Patch, title=_("Settle the retest"))
def settle_retest(act: Acting, patch: Patch, given: dict[str, Any]) -> Cycle:
    """Say whether the retest passed or failed, by the swath that covers the patch. Failed opens the next cycle."""
    passed = given["outcome"] == Cycle.Outcome.PASSED
    retester_org = retester_organisation(act.person, patch, act.device_at)
    now = work_state(patch)
    if now in (PatchState.TO_DO, PatchState.STRUCK, PatchState.FAILED) or (passed and now == PatchState.ACCEPTED):
        act.refuse("outcome", say("There is no retest to settle: {patch} is {now}.", patch=patch, now=now.label))
    swath = _swath(act, patch, given["swath"], passed)
    witness = _witness_of(act, patch, swath, retester_org, given.get("witness", ""))
    if passed and (beside := _margin_missed(patch, swath)) >= SMALLEST:
        act.tell(
            "{area} beside {patch}, disturbed by the work, was not swept and stays untested.",
            area=lazy(square_metres, str)(beside),
            patch=patch,
        )
    cycle = open_cycle(patch) or _retest_alone(act, patch)
    _flag(act, patch, cycle, now, swath)
    act.amend(
        cycle,
        outcome=given["outcome"],
        settled_at=act.device_at,
        retester=act.person,
        retester_org=retester_org,
        witness=witness,
        note=given.get("note", ""),
    )
    act.insert(Retest(id=act.id, cycle=cycle, swath=swath))
    if not passed:
        _after_failure(act, patch, cycle, swath)
    return cycle


@action("abandon_cycle", takes=AbandonCycle, roles={Role.LEAD}, on=Patch, title=_("Give the cycle up"))
def abandon_cycle(act: Acting, patch: Patch, given: dict[str, Any]) -> Cycle:
    """Give the open cycle up without a retest; the next step opens another."""
    cycle = open_cycle(patch)
    if cycle is None:
        act.refuse("why", say("{patch} has no open cycle.", patch=patch))
    return act.amend(cycle, outcome=Cycle.Outcome.ABANDONED, settled_at=act.device_at, note=given["why"])


def retester_organisation(person: Person, patch: Patch, at: datetime | None = None) -> Organisation:
    """The organisation for which the person may retest the patch; PermissionDenied names who does it instead."""
    if Step.objects.filter(cycle__patch=patch, by=person, struck_at=None).exists():
        raise PermissionDenied(say("You recorded work on {patch}: somebody else has to retest it.", patch=patch))
    held = access.roles_on(person, patch, at)
    if not _is_of_the_firm(person, held, patch):
        if Role.CREW not in held:
            raise PermissionDenied(
                say(
                    "{patch} is retested by the inspection crew, or by {contractor} with a witness.",
                    patch=patch,
                    contractor=patch.contractor,
                )
            )
        return held[Role.CREW]
    if not patch.coating.terms.own_quality_control_may_retest:
        raise PermissionDenied(
            say(
                "{patch} was repaired by {contractor}: the specification asks for another retester, "
                "the inspection crew.",
                patch=patch,
                contractor=patch.contractor,
            )
        )
    return patch.contractor


def _is_of_the_firm(person: Person, held: Mapping[Role, Organisation], patch: Patch) -> bool:
    """Whether the person is of the firm that repairs the patch; an appointment for another firm does not undo that."""
    return patch.contractor_id in {person.organisation_id, *(firm.pk for firm in held.values())}


def _witness_of(act: Acting, patch: Patch, swath: Swath, retester_org: Organisation, email: str) -> Person | None:
    """The witness; one is needed where the firm that repaired the patch retests it, or swept it."""
    if retester_org.pk == patch.contractor_id and not email:
        act.refuse(
            "witness",
            say(
                "{patch} was repaired by your own firm, {contractor}: name the witness.",
                patch=patch,
                contractor=patch.contractor,
            ),
        )
    swept_by = swath.run.recorder
    if swept_by.organisation_id == patch.contractor_id and not email:
        act.refuse(
            "witness",
            say(
                "It was swept by {contractor}, who repaired {patch}: name the witness.",
                contractor=patch.contractor,
                patch=patch,
            ),
        )
    return _witness(act, patch, email) if email else None


def _witness(act: Acting, patch: Patch, email: str) -> Person:
    person = Person.objects.filter(email=email.lower(), is_active=True).first()
    held = access.roles_on(person, patch, act.device_at) if person else {}
    if person is None or not held or _is_of_the_firm(person, held, patch):
        act.refuse(
            "witness",
            say(
                '"{email}" is nobody appointed on this asset by another organisation than {contractor}.',
                email=email,
                contractor=patch.contractor,
            ),
        )
    if person.pk == act.person.pk:
        act.refuse("witness", say("The witness is somebody else than the retester."))
    return person


def _swath(act: Acting, patch: Patch, pk: Any, passed: bool) -> Swath:
    """The retest's swath; refused when it cannot prove the patch."""
    swath = (
        Swath.objects.filter(pk=pk, feature=None, run__sheet__coating=patch.coating_id, run__purpose=Run.Purpose.RETEST)
        .select_related("run__sheet", "run__recorder")
        .first()
    )
    if swath is None:
        act.refuse("swath", say("This is no swath of a retest run on this coating."))
    if swath.struck_at is not None or swath.run.struck_at is not None:
        act.refuse("swath", say("This swath has been struck out."))
    if swath.run.method != patch.coating.terms.method:
        asked = say(METHODS[patch.coating.terms.method])
        act.refuse(
            "swath",
            say("It was swept by {method}; {asked} is specified.", method=say(METHODS[swath.run.method]), asked=asked),
        )
    missed = patch.shape.difference(swath.shape).area
    if passed and missed >= SMALLEST:
        act.refuse(
            "swath",
            say(
                "The swath leaves {area} of {patch} untested; it has to cover all of it.",
                area=square_metres(missed),
                patch=patch,
            ),
        )
    if patch.shape.area - missed < SMALLEST:
        act.refuse("swath", say("The swath does not touch {patch}.", patch=patch))
    work = Step.objects.filter(cycle__patch=patch, struck_at=None).exclude(kind=Step.Kind.HANDED_OVER)
    last = work.order_by("-at").first()
    if last is not None and passed and swath.started_at < last.at:
        at = last.at.astimezone(patch.coating.zone.asset.zone_info)
        act.refuse(
            "swath",
            say(
                "It was swept before the last work on {patch} ({kind}, {at}).",
                patch=patch,
                kind=last.get_kind_display(),
                at=moment_words(at),
            ),
        )
    return swath


def _margin_missed(patch: Patch, swath: Swath) -> float:
    coating = patch.coating
    return coating.zone.surface.with_margin(patch.shape, coating.terms.as_left_margin).difference(swath.shape).area


def _retest_alone(act: Acting, patch: Patch) -> Cycle:
    """A cycle without work: the earlier retest was lost (or is doubted), only the test is done again."""
    last = patch.cycles.order_by("-number").first()
    number = last.number + 1 if last else 1
    return act.insert(Cycle(patch=patch, number=number, worker_org=patch.contractor, opened_at=act.device_at))


def _flag(act: Acting, patch: Patch, cycle: Cycle, now: PatchState, swath: Swath) -> None:
    if now == PatchState.BEGUN:
        act.tell("{patch} had not been handed over for retest.", patch=patch)
    ready = timing.retest_from(patch.coating.terms, cycle.steps.filter(struck_at=None))
    if ready is not None and swath.started_at < ready:
        act.tell("Retested before the cure asked for was over, at {ready}.", ready=ready.isoformat(timespec="minutes"))


def _after_failure(act: Acting, patch: Patch, cycle: Cycle, swath: Swath) -> None:
    """Open the next cycle; what the retest found inside the patch is repaired with it."""
    act.insert(Cycle(patch=patch, number=cycle.number + 1, worker_org=patch.contractor, opened_at=act.device_at))
    failed = patch.cycles.filter(outcome=Cycle.Outcome.FAILED).count()
    limit = patch.coating.terms.cycle_limit
    if limit is not None and failed >= limit:
        act.tell(
            "{patch} has failed {count} times; the specification allows {limit}: the owner decides.",
            patch=patch,
            count=failed,
            limit=limit,
        )
    found = Flaw.objects.filter(run=swath.run_id, struck_at=None, same_as=None).exclude(
        patch_flaws__struck_at=None, patch_flaws__isnull=False
    )
    for flaw in found.prefetch_related("classifications"):
        if flaw.kind != FlawKind.FALSE and _inside(patch, flaw):
            act.insert(PatchFlaw(patch=patch, flaw=flaw))


def _inside(patch: Patch, flaw: Flaw) -> bool:
    return bool(intersects_xy(patch.shape, flaw.x, flaw.y))
