"""Everything that was struck out on a coating and its zone: one line through, by whom, when and why. Nothing is deleted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, NamedTuple

from inspections.coatings import Atmosphere, Coating, Disturbance, Permit, Spot
from inspections.flaws import Classification, Flaw
from inspections.runs import CheckEvent, Reinstatement, ReturnProof, Run, Swath, TouchTest, Verification
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
        TouchTest, "run__sheet__coating", ("run__sheet",), lambda row: f"Touch of bare concrete of {row.run}: {row.said}"
    ),
    _Kind(ReturnProof, "run__sheet__coating", ("run__sheet",), lambda row: f"Proof of the return of {row.run}: {row.said}"),
    _Kind(
        Verification, "run__sheet__coating", ("run__sheet",),
        lambda row: f"Check of {row.run}: {row.measured} V measured, {row.expected} V expected, {row.outcome}",
    ),
    _Kind(CheckEvent, "run__sheet__coating", ("run__sheet",), lambda row: f"Event of {row.run}: {row.get_kind_display()}"),
    _Kind(Swath, "run__sheet__coating", ("run__sheet",), lambda row: f"Swath of {row.run}: {row.said}"),
    _Kind(
        Reinstatement, "run__sheet__coating", ("run__sheet",),
        lambda row: f"Decision on ground of {row.run}: {row.get_decision_display()}, {row.why}",
    ),
    _Kind(Flaw, "sheet__coating", ("sheet",), lambda flaw: f"Flaw {flaw.tag} at {flaw.said}"),
    _Kind(
        Classification, "flaw__sheet__coating", ("flaw__sheet",),
        lambda row: f"Word on flaw {row.flaw.tag}: {row.get_kind_display()}",
    ),
    _Kind(Permit, "coating", (), lambda permit: capital(str(permit))),
    _Kind(Atmosphere, "coating", (), lambda row: f"Air and steel: air {row.air:g} °C"),
    _Kind(Disturbance, "coating", (), lambda row: f"Later work: {row.get_kind_display()}, {row.said}"),
    _Kind(Spot, "coating", (), lambda spot: f"Thickness spot at {spot.said}: {', '.join(map(str, spot.readings))}"),
    _Kind(Patch, "coating", (), lambda patch: f"{patch} at {patch.said}"),
    _Kind(
        PatchFlaw, "patch__coating", ("patch", "flaw__sheet"), lambda row: f"Flaw {row.flaw.tag} as part of {row.patch}"
    ),
    _Kind(
        Step, "cycle__patch__coating", ("cycle__patch",), lambda row: f"Step of {row.cycle}: {row.get_kind_display()}"
    ),
    _Kind(
        Concession, "coating", ("patch",),
        lambda row: f"Concession of {row.patch or f'the gate {row.gate}'}: {row.reason}",
    ),
    _Kind(Exclusion, "zone__coatings", (), lambda row: f"Exclusion of {row.said}: {row.reason}"),
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
