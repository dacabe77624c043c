"""What the gates look at, as data: ground, patches, what is open, and who stood for each gate and when. No Django."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, NamedTuple

from accounts.wording import noted
from inspections.arithmetic import Line
from inspections.film_judgement import FilmJudgement
from mapping.density import ContractVerdict
from repairs.feature_gate import FeatureCoverage
from repairs.run_gate import OpenPermit

State = Literal["green", "red", "waits"]
Whose = Literal["crew", "contractor", "owner", "lead"]
WHOSE = (noted("crew"), noted("contractor"), noted("owner"), noted("lead"))
Seen = Literal["as found", "as left"]
SEEN = (noted("as found"), noted("as left"))
PatchState = Literal["to do", "begun", "ready for retest", "failed", "accepted", "conceded"]


class Evidence(NamedTuple):
    """Who stood for it, when, and what it was."""

    who: str
    when: datetime
    what: str


class Concession(NamedTuple):
    """The owner's decision to let a gate that is not green pass."""

    who: str
    when: datetime
    because: str


@dataclass(frozen=True)
class StageCoverage:
    """Ground (m2) of one coat stage; the parts together are the testable area.

    required_percent 100 means full coverage: `holes` counts the connected untested parts (held,
    pending, lost or gap) of 1 cm2 or more.
    """

    stage: str
    seen: Seen
    required_percent: float
    testable_m2: float
    stands_m2: float
    held_m2: float
    pending_m2: float
    lost_m2: float
    gap_m2: float
    holes: int


@dataclass(frozen=True)
class PatchFact:
    """A patch by its spoken name (as painted or printed) and its state."""

    name: str
    state: PatchState


@dataclass(frozen=True)
class Facts:
    """All that the gates look at, for one coating.

    Parameters
    ----------
    now : for what depends on time.
    coverage : one row for each coat stage the specification asks coverage for.
    features : one row for each stage and measure that it asks coverage of welds, edges, nozzles or brackets for.
    held_swaths, pending_swaths : how many swaths are held, and pending.
    open_questions : for each question that is not answered, the run it is asked of, or what it is about.
    basis_questions : runs by label whose thickness readings are in question since, with what is in question.
    open_runs, sheets_out : names of test runs not closed and of field sheets not handed in
        (nor given up with a reason).
    permits : of the open runs that stand under one, until when it holds.
    undecided_exclusions, unclassified_flaws : by spoken name or tag.
    loose_flaws : tags of open flaws that count, in no patch, neither false indication nor conceded.
    patches : every patch of the coating.
    contract : the contract line; None when the specification states no limit.
    thickness : judgement of the finished film; None when the specification asks for none.
    files_awaited : evidence announced by a device that has not arrived.
    cured_at : when the last repair is cured; None when nothing has to cure.
    evidence, since, concessions : by gate code. since: when a gate last turned red.
    """

    now: datetime
    coverage: tuple[StageCoverage, ...]
    features: tuple[FeatureCoverage, ...] = ()
    held_swaths: int = 0
    pending_swaths: int = 0
    open_questions: tuple[str, ...] = ()
    basis_questions: tuple[tuple[str, Line], ...] = ()
    open_runs: tuple[str, ...] = ()
    permits: tuple[OpenPermit, ...] = ()
    sheets_out: tuple[str, ...] = ()
    undecided_exclusions: tuple[str, ...] = ()
    unclassified_flaws: tuple[str, ...] = ()
    loose_flaws: tuple[str, ...] = ()
    patches: tuple[PatchFact, ...] = ()
    contract: ContractVerdict | None = None
    thickness: FilmJudgement | None = None
    files_awaited: int = 0
    cured_at: datetime | None = None
    evidence: Mapping[str, tuple[Evidence, ...]] = field(default_factory=dict)
    since: Mapping[str, datetime] = field(default_factory=dict)
    concessions: Mapping[str, Concession] = field(default_factory=dict)
