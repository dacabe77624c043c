"""Everything that was struck out on a coating and its zone: one line through, by whom, when and why. Nothing is deleted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, NamedTuple

from accounts.wording import say
from inspections.coatings import Atmosphere, Coating, Disturbance, Permit, Spot
from inspections.flaws import Classification, Flaw
from inspections.gauges import GaugeCheck, SpotRuling
from inspections.runs import BasisAnswer, CheckEvent, Reinstatement, ReturnProof, Run, Swath, TouchTest, Verification
from mapping.zones import Exclusion
from repairs.dossier.reader import capital
from repairs.release import Concession
from repairs.work import Patch, PatchFlaw, Step


class StruckOut(NamedTuple):
    """One row that was struck out."""

    what: str
    by: str
    at: datetime
    why: str


class _Kind(NamedTuple):
    model: Any
    coating: str
    with_it: tuple[str, ...]
    words: Callable[[Any], str]


_KINDS = (
    _Kind(Run, "sheet__coating", ("sheet",), lambda run: f"{run}, {run.get_purpose_display()}"),
    _Kind(
        TouchTest, "run__sheet__coating", ("run__sheet",), lambda row: say("Touch of bare concrete of {run}: {place}", run=row.run, place=row.said)
    ),
    _Kind(
        ReturnProof, "run__sheet__coating", ("run__sheet",),
        lambda row: say("Proof of the return of {run}: {place}", run=row.run, place=row.said),
    ),
    _Kind(
        Verification, "run__sheet__coating", ("run__sheet",),
        lambda row: say(
            "Check of {run}: {measured} V measured, {expected} V expected, {outcome}",
            run=row.run, measured=row.measured, expected=row.expected, outcome=row.get_outcome_display(),
        ),
    ),
    _Kind(
        CheckEvent, "run__sheet__coating", ("run__sheet",),
        lambda row: say("Event of {run}: {event}", run=row.run, event=row.get_kind_display()),
    ),
    _Kind(
        Swath, "run__sheet__coating", ("run__sheet",),
        lambda row: say("Swath of {run}: {place}", run=row.run, place=row.said),
    ),
    _Kind(
        Reinstatement, "run__sheet__coating", ("run__sheet",),
        lambda row: say(
            "Decision on ground of {run}: {decision}, {why}",
            run=row.run, decision=row.get_decision_display(), why=row.why,
        ),
    ),
    _Kind(Flaw, "sheet__coating", ("sheet",), lambda flaw: say("Flaw {tag} at {place}", tag=flaw.tag, place=flaw.said)),
    _Kind(
        Classification, "flaw__sheet__coating", ("flaw__sheet",),
        lambda row: say("Word on flaw {tag}: {kind}", tag=row.flaw.tag, kind=row.get_kind_display()),
    ),
    _Kind(Permit, "coating", (), lambda permit: capital(str(permit))),
    _Kind(Atmosphere, "coating", (), lambda row: say("Air and steel: air {air:g} °C", air=row.air)),
    _Kind(
        Disturbance, "coating", (),
        lambda row: say("Later work: {kind}, {place}", kind=row.get_kind_display(), place=row.said),
    ),
    _Kind(
        Spot, "coating", (),
        lambda spot: say(
            "Thickness spot at {place}: {readings}", place=spot.said, readings=", ".join(map(str, spot.readings))
        ),
    ),
    _Kind(
        GaugeCheck, "sheet__coating", ("gauge",),
        lambda row: say("Check of {gauge}: {measured} on {shim}", gauge=row.gauge, measured=row.measured_said, shim=row.shim_said),
    ),
    _Kind(
        SpotRuling, "coating", (),
        lambda row: say("Decision on spots in doubt: {decision}, {why}", decision=row.get_decision_display(), why=row.why),
    ),
    _Kind(
        BasisAnswer, "run__sheet__coating", ("run__sheet",),
        lambda row: say("Answer for the readings under {run}: {why}", run=row.run, why=row.why),
    ),
    _Kind(Patch, "coating", (), lambda patch: say("{patch} at {place}", patch=patch, place=patch.said)),
    _Kind(
        PatchFlaw, "patch__coating", ("patch", "flaw__sheet"),
        lambda row: say("Flaw {tag} as part of {patch}", tag=row.flaw.tag, patch=row.patch),
    ),
    _Kind(
        Step, "cycle__patch__coating", ("cycle__patch",),
        lambda row: say("Step of {cycle}: {kind}", cycle=row.cycle, kind=row.get_kind_display()),
    ),
    _Kind(
        Concession, "coating", ("patch",),
        lambda row: say(
            "Concession of {what}: {reason}", what=row.patch or say("the gate {gate}", gate=row.gate), reason=row.reason
        ),
    ),
    _Kind(
        Exclusion, "zone__coatings", (),
        lambda row: say("Exclusion of {place}: {reason}", place=row.said, reason=row.reason),
    ),
)  # fmt: skip


def struck_out(coating: Coating) -> tuple[StruckOut, ...]:
    """In order of striking out; one query for each kind of row."""
    found = [
        StruckOut(kind.words(row), row.struck_by.name, row.struck_at, row.struck_why)
        for kind in _KINDS
        for row in kind.model.objects.filter(**{kind.coating: coating}, struck_at__isnull=False).select_related(
            "struck_by", *kind.with_it
        )
    ]
    return tuple(sorted(found, key=lambda row: (row.at, row.what)))
