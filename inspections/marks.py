"""What a doubtful test leaves on the flaws it found: "may be made by the test", "unconfirmed"."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from accounts.wording import noted
from inspections.coatings import Coating
from inspections.flaws import Flaw
from inspections.runs import Run
from inspections.standing import FoundFlaw, marks_on_flaws
from inspections.tested import checks_of, facts_of

MARKS = {
    "may be made by the test": noted("may be made by the test"),
    "unconfirmed": noted("unconfirmed"),
}


def marks_of(coating: Coating) -> dict[UUID, tuple[str, ...]]:
    """What a doubtful test leaves on the flaws it found: "may be made by the test", "unconfirmed"; by flaw."""
    marks: dict[UUID, tuple[str, ...]] = {}
    runs = Run.objects.filter(sheet__coating=coating).select_related(
        "instrument", "sheet__coating__zone__asset", "sheet__coating__specification"
    )
    for run in runs.prefetch_related(
        "verifications", "return_proofs", "touch_tests", "instrument__certificates", "flaws"
    ):
        marks |= marks_in(run, run.flaws.all())
    return marks


def marks_in(run: Run, flaws: Iterable[Flaw]) -> dict[UUID, tuple[str, ...]]:
    """The marks of these flaws of a run, by flaw; flaws without one are left out."""
    found = [FoundFlaw(flaw.pk, flaw.sheet_seq, flaw.wet_run_reached is not False) for flaw in flaws]
    said = marks_on_flaws(facts_of(run), checks_of(run), found)
    return {pk: marks for pk, marks in said.items() if marks}  # type: ignore[misc]
