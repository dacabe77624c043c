"""Actions of the painting contractor on a patch: record a step, hand over for retest, strike a step out.

Steps are observations: outside a window, late or on a settled cycle they are recorded and flagged, never refused.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied

from accounts.acting import FAR_AHEAD, Acting, action
from accounts.people import Role
from accounts.units import FilmField
from accounts.wording import say
from inspections.terms import Terms
from repairs import timing
from repairs.release import Release
from repairs.state import PatchState, open_cycle, work_state
from repairs.windows import StepDone
from repairs.work import Cycle, Patch, Step

RECORDED_KINDS = [(kind.value, kind.label) for kind in Step.Kind if kind != Step.Kind.HANDED_OVER]


class RecordStep(serializers.Serializer):
    kind = serializers.ChoiceField(choices=RECORDED_KINDS, label=_("What was done"))
    coat = serializers.IntegerField(
        required=False,
        allow_null=True,
        min_value=1,
        label=_("Coat"),
        help_text=_("Number of the repair coat; 1 is the first."),
    )
    at = serializers.DateTimeField(required=False, allow_null=True, label=_("When"), help_text=_("Left empty: now."))
    product = serializers.CharField(required=False, allow_blank=True, max_length=120, label=_("Product"))
    batch = serializers.CharField(required=False, allow_blank=True, max_length=80, label=_("Batch"))
    mixed_at = serializers.DateTimeField(required=False, allow_null=True, label=_("Mixed at"))
    wet = FilmField(
        required=False, allow_null=True, min_value=0, page_unit="µm", page_unit_us="mil", label=_("Wet film")
    )
    dry = FilmField(
        required=False, allow_null=True, min_value=0, page_unit="µm", page_unit_us="mil", label=_("Dry film")
    )
    note = serializers.CharField(required=False, allow_blank=True, max_length=200, label=_("Note"))


class HandOver(serializers.Serializer):
    note = serializers.CharField(required=False, allow_blank=True, max_length=200, label=_("Note"))


class StrikeStep(serializers.Serializer):
    why = serializers.CharField(max_length=400, label=_("Why it is struck out"))


@action("record_step", takes=RecordStep, roles={Role.CONTRACTOR}, on=Patch, title=_("Record a step"))
def record_step(act: Acting, patch: Patch, given: dict[str, Any]) -> Step:
    """Record one step of the repair: prepared, coated or cured. The first step opens the cycle."""
    _may_work(act, patch)
    if patch.struck_at is not None:
        act.refuse("kind", say("{patch} has been struck out: there is nothing to repair.", patch=patch))
    terms = patch.coating.terms
    at = given.get("at") or act.device_at
    _check_possible(act, terms, given, at)
    cycle = _cycle_at(act, patch, at)
    _flag(act, patch, cycle, terms, given, at)
    wet, dry = given.get("wet"), given.get("dry")
    step = act.insert(
        Step(
            id=act.id,
            cycle=cycle,
            kind=given["kind"],
            coat=given.get("coat"),
            at=at,
            by=act.person,
            organisation=act.organisation,
            product=given.get("product", ""),
            batch=given.get("batch", ""),
            mixed_at=given.get("mixed_at"),
            wet=wet.value if wet else None,
            dry=dry.value if dry else None,
            note=given.get("note", ""),
        )
    )
    (mine,) = timing.done([step])
    if _outside(terms, cycle, mine):
        act.tell(lazy(_outside, str)(terms, cycle, mine))
    return step


@action("hand_over", takes=HandOver, roles={Role.CONTRACTOR}, on=Patch, title=_("Hand over for retest"))
def hand_over(act: Acting, patch: Patch, given: dict[str, Any]) -> Step:
    """Hand the patch over for retest, once every repair coat and its cure are recorded."""
    _may_work(act, patch)
    now = work_state(patch)
    cycle = open_cycle(patch)
    if cycle is None or now != PatchState.BEGUN:
        act.refuse(
            "note",
            say("{patch} cannot be handed over: it is {state}.", patch=patch, state=PatchState(now).label),
        )
    terms = patch.coating.terms
    steps = list(cycle.steps.filter(struck_at=None))
    missing = _missing(act, terms, steps)
    if missing:
        act.refuse(
            "note",
            say("{patch} cannot be handed over yet. Not recorded: {missing}.", patch=patch, missing=", ".join(missing)),
        )
    ready = timing.retest_from(terms, steps)
    if ready is not None and ready > act.device_at:
        act.tell(
            "Handed over before the cure asked for is over; retest from {ready}.",
            ready=ready.isoformat(timespec="minutes"),
        )
    return act.insert(
        Step(
            id=act.id,
            cycle=cycle,
            kind=Step.Kind.HANDED_OVER,
            at=act.device_at,
            by=act.person,
            organisation=act.organisation,
            note=given.get("note", ""),
        )
    )


@action("strike_step", takes=StrikeStep, roles={Role.CONTRACTOR, Role.LEAD}, on=Step, title=_("Strike out"))
def strike_step(act: Acting, step: Step, given: dict[str, Any]) -> Step:
    """Strike a step out: its own recorder on the same day while the cycle is open, else the lead inspector."""
    cycle = step.cycle
    if Role.LEAD not in act.roles:
        if step.by_id != act.person.pk:
            raise PermissionDenied(
                say("This step was recorded by somebody else: the lead inspector may strike it out.")
            )
        zone = cycle.patch.coating.zone.asset.zone_info
        if step.at.astimezone(zone).date() != act.now.astimezone(zone).date():
            raise PermissionDenied(say("This step is not of today: the lead inspector may strike it out."))
        if cycle.outcome is not None:
            raise PermissionDenied(say("The cycle of this step is settled: the lead inspector may strike it out."))
    act.strike(step, given["why"])
    if cycle.outcome is None and not cycle.steps.filter(struck_at=None).exists() and not _follows_failure(cycle):
        # The step had opened the cycle, so the cycle goes with it and what was before holds again.
        act.amend(
            cycle, outcome=Cycle.Outcome.ABANDONED, settled_at=act.now, note="opened by a step that was struck out"
        )
    return step


def _may_work(act: Acting, patch: Patch) -> None:
    if act.organisation.pk != patch.contractor_id:
        raise PermissionDenied(
            say(
                "{patch} is issued to {contractor}; you act for {organisation}.",
                patch=patch,
                contractor=patch.contractor,
                organisation=act.organisation,
            )
        )


def _check_possible(act: Acting, terms: Terms, given: dict[str, Any], at: datetime) -> None:
    """Refuse what cannot be: a time to come, a coat the specification does not have."""
    latest = act.now + FAR_AHEAD
    for name, time in (("at", at), ("mixed_at", given.get("mixed_at"))):
        if time is not None and time > latest:
            act.refuse(
                name, say("{time} lies in the future; up to now is allowed.", time=time.isoformat(timespec="minutes"))
            )
    coat, coats = given.get("coat"), len(terms.repair_coats)
    if given["kind"] == Step.Kind.COATED:
        if coat is None:
            act.refuse("coat", say("Say which repair coat was applied: 1 is the first."))
        elif coat > coats:
            allowed = say("1 to {coats} are allowed", coats=coats) if coats else say("it has none")
            act.refuse("coat", say("Coat {coat} is not in the specification: {allowed}.", coat=coat, allowed=allowed))
        if (mixed := given.get("mixed_at")) is not None and mixed > at:
            act.refuse("mixed_at", say("Mixed after it was applied: give a time up to that of the coat."))
    elif coat is not None:
        act.refuse("coat", say("A coat number goes with the kind coated only."))


def _cycle_at(act: Acting, patch: Patch, at: datetime) -> Cycle:
    """The cycle that was open at that time; a new one where there is none. One given up without work stays empty."""
    work = Step.objects.filter(cycle=OuterRef("pk"), struck_at=None)
    cycles = list(patch.cycles.annotate(worked=Exists(work)).order_by("number"))
    for cycle in cycles:
        empty = cycle.outcome == Cycle.Outcome.ABANDONED and not cycle.worked
        if not empty and (cycle.settled_at is None or at <= cycle.settled_at):
            return cycle
    number = cycles[-1].number + 1 if cycles else 1
    return act.insert(Cycle(patch=patch, number=number, worker_org=patch.contractor, opened_at=at))


def _outside(terms: Terms, cycle: Cycle, mine: StepDone) -> str:
    """In words, that the step was done outside its window or its turn; empty when it was not."""
    words = timing.warnings(terms, cycle.steps.filter(struck_at=None)).get(mine)
    return f"{words}." if words else ""


def _flag(act: Acting, patch: Patch, cycle: Cycle, terms: Terms, given: dict[str, Any], at: datetime) -> None:
    if cycle.outcome is not None:
        act.tell(
            "Recorded after {cycle} was settled ({outcome}).",
            cycle=cycle,
            outcome=Cycle.Outcome(cycle.outcome).label,
        )
        if cycle.retester_id == act.person.pk:
            act.tell("Recorded by the person who retested this cycle.")
    if at < patch.issued_at:
        act.tell("Done before {patch} was issued.", patch=patch)
    if Release.objects.filter(coating=patch.coating, withdrawn_at=None).exists():
        act.tell("Recorded while the zone is released.")
    if patch.coating.ended_at is not None:
        act.tell("{coating} has ended.", coating=patch.coating)
    coat = given.get("coat")
    product = given.get("product", "")
    if coat and product and product != (asked := terms.repair_coats[coat - 1].product):
        act.tell("Product {product}; the specification asks for {asked}.", product=product, asked=asked)


def _missing(act: Acting, terms: Terms, steps: list[Step]) -> list[str]:
    applied = {step.coat for step in steps if step.kind == Step.Kind.COATED}
    missing = [
        say("coat {n} ({coat})", n=n, coat=coat.name)
        for n, coat in enumerate(terms.repair_coats, 1)
        if n not in applied
    ]
    if not any(step.kind == Step.Kind.CURED for step in steps):
        missing.append(say("cured"))
    if not missing and (due := timing.next_of(terms, steps, act.now)) and due.kind != Step.Kind.HANDED_OVER:
        # Prepared again after the last coat: the work begins anew.
        missing.append(say("{due} after the surface was prepared again", due=due.words))
    return missing


def _follows_failure(cycle: Cycle) -> bool:
    return Cycle.objects.filter(patch=cycle.patch, number=cycle.number - 1, outcome=Cycle.Outcome.FAILED).exists()
