"""One picture of a zone for every reader: page, board, gates, documents and API. Reads only, in few queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Protocol
from uuid import UUID

from django.utils import timezone

from accounts.assets import Asset
from accounts.languages import day_words
from accounts.wording import noted, say, say_many
from inspections.asking import Asked
from inspections.coatings import Coating
from inspections.film_judgement import FilmJudgement
from inspections.marks import marks_of
from inspections.passes import RepeatedGround, repeated_ground
from inspections.specifications import Specification
from inspections.terms import Stage, Terms
from mapping import density
from mapping.coverage import SMALLEST
from mapping.density import ContractVerdict, Density, DensityDecision
from mapping.zones import Zone
from repairs import gates, ground
from repairs.counting import FlawPicture, Marks, flaws_of, limit_of, sides_of
from repairs.feature_ground import FeaturesPicture, coverage_asked, features_at
from repairs.film import judgement_of
from repairs.gate_facts import Facts, Whose
from repairs.gates import Gate
from repairs.gathered import Gathered, gather, with_what_is_shown
from repairs.ground import ExcludedGround, GroundPicture, TestableGround, UndecidedExclusion
from repairs.packs import PatchPicture, patches_of
from repairs.proof import Seen, facts_of
from repairs.release import Release
from repairs.spoken import SI, Spoken
from repairs.state import FlawStatus, PatchState
from repairs.wound_back import wound_back


@dataclass(frozen=True)
class Turn:
    """Whose turn it is, since when (None when not known), and for what."""

    whose: Whose
    since: datetime | None
    why: str


@dataclass(frozen=True)
class ReleasePicture:
    """The release that stands. undermined lists the gates that are not green any more."""

    id: UUID
    owner: str
    at: datetime
    conditions: str
    head_seq: int
    head_hash: str
    undermined: tuple[Gate, ...]


@dataclass(frozen=True)
class ZonePicture:
    """A zone as it stands at one coat stage. Areas in m2.

    left is None at earlier coat stages, which are judged as found. density_found, contract and decision are None while
    nothing is tested (contract and decision also where the specification states no limit).
    """

    coating: Coating
    zone: Zone
    specification: Specification
    terms: Terms
    stage: Stage
    at: datetime
    true_m2: float
    testable: TestableGround
    found: GroundPicture
    left: GroundPicture | None
    flaws: tuple[FlawPicture, ...]
    counted: int
    density_found: Density | None
    contract: ContractVerdict | None
    decision: DensityDecision | None
    open_flaws: int
    open_per_100_m2: float | None
    patches: tuple[PatchPicture, ...]
    asked: tuple[Asked, ...]
    thickness: FilmJudgement | None
    features: FeaturesPicture
    facts: Facts
    gates: tuple[Gate, ...]
    release: ReleasePicture | None
    turn: Turn | None
    sentence: str

    @cached_property
    def repeated(self) -> RepeatedGround:
        """Ground swept more than once at high voltage at this stage, up to the picture's moment."""
        return repeated_ground(self.coating, self.stage.name, self.at)

    @property
    def testable_m2(self) -> float:
        return self.found.testable_m2

    @property
    def excluded(self) -> tuple[ExcludedGround, ...]:
        return self.testable.excluded

    @property
    def undecided(self) -> tuple[UndecidedExclusion, ...]:
        return self.testable.undecided

    @property
    def ground(self) -> GroundPicture:
        """What release looks at: as left for the finished system, as found at an earlier stage."""
        return self.left or self.found

    @property
    def may_release(self) -> bool:
        return gates.may_release(list(self.gates))

    def flaws_by_status(self) -> dict[FlawStatus, int]:
        return {status: sum(flaw.status == status for flaw in self.flaws) for status in FlawStatus}

    def patches_by_state(self) -> dict[PatchState, int]:
        return {state: sum(patch.state == state for patch in self.patches) for state in PatchState}


def zone_picture(
    coating: Coating, stage: str | None = None, at: datetime | None = None, spoken: Spoken = SI
) -> ZonePicture:
    """The picture of a coating's zone at a coat stage (the finished system unless another is named).

    `at` is the moment for windows and cure dates; `spoken` puts areas, lengths and thickness into the reader's words.
    Raises KeyError for a stage the specification does not have. The number of queries does not depend on the rows.
    """
    found = with_what_is_shown(Coating.objects.filter(pk=coating.pk)).get()
    return _picture(found, gather([found]), stage, at or timezone.now(), spoken, marks_of(found))


def zone_picture_at(coating: Coating, at: datetime, stage: str | None = None, spoken: Spoken = SI) -> ZonePicture:
    """The picture as it stood at an earlier moment: what had happened by then, whenever it was recorded."""
    found = with_what_is_shown(Coating.objects.filter(pk=coating.pk)).get()
    rows, marks = wound_back(found, at)
    return _picture(found, rows, stage, at, spoken, marks)


def asset_pictures(asset: Asset, at: datetime | None = None, spoken: Spoken = SI) -> list[ZonePicture]:
    """The pictures of the current coatings of an asset's zones, in the zones' order."""
    coatings = with_what_is_shown(Coating.objects.filter(zone__asset=asset, ended_at=None))
    return pictures_of(coatings.order_by("zone__order", "zone__name"), at, spoken)


def pictures_of(coatings: Iterable[Coating], at: datetime | None = None, spoken: Spoken = SI) -> list[ZonePicture]:
    """The pictures of these coatings at the finished system; as many queries as for one.

    What a doubtful test leaves on flaws is left out: that is for the page of one zone.
    """
    return pictures_from(gather(coatings), at, spoken)


def pictures_from(rows: Gathered, at: datetime | None = None, spoken: Spoken = SI) -> list[ZonePicture]:
    """The same from rows that are gathered already."""
    now = at or timezone.now()
    return [_picture(coating, rows, None, now, spoken, {}) for coating in rows.coatings.values()]


def _picture(
    coating: Coating, rows: Gathered, stage_name: str | None, at: datetime, spoken: Spoken, marks: Marks
) -> ZonePicture:
    zone, terms = coating.zone, coating.terms
    surface = zone.surface
    final = terms.final_stage
    stage = terms.stage(stage_name) if stage_name else final
    testable = ground.testable_of(zone, rows.exclusions.get(zone.pk, ()))
    covered = rows.coverage.get(coating.pk, ())
    found = {
        each.name: ground.picture_of(
            surface, ground.found_ground(surface, covered, each.name, testable.shape), "as found"
        )
        for each in terms.stages
    }
    left_ground = ground.left_ground(coating, rows, testable.shape, found[final.name].ground)
    left = ground.picture_of(surface, left_ground, "as left")
    asked = [
        (each.name, each.required_coverage_percent, left if each is final else found[each.name])
        for each in terms.stages
        if each.required_coverage_percent > 0
    ]
    here = found[stage.name]
    flaws = flaws_of(coating, rows, stage.name, here.ground.stands, marks)
    counts = _counts(terms, flaws, here)
    patches = patches_of(coating, rows, at)
    thickness = judgement_of(coating, rows, final, here.testable_m2)
    final_contract = counts.contract
    if stage is not final:
        final_flaws = flaws_of(coating, rows, final.name, found[final.name].ground.stands, marks)
        final_contract = _counts(terms, final_flaws, found[final.name]).contract
    marked = coverage_asked(coating, rows)
    facts = facts_of(coating, rows, Seen(at, asked, testable, flaws, patches, final_contract, thickness, marked))
    judged = tuple(gates.gates(facts, spoken))
    open_flaws = sum(flaw.is_open for flaw in flaws)
    (standing,) = rows.releases.get(coating.pk, ()) or (None,)  # the database keeps it to one
    release = release_of(standing, judged)
    swept = any(not run.is_struck for run in rows.runs.get(coating.pk, ()))
    return ZonePicture(
        coating=coating,
        zone=zone,
        specification=coating.specification,
        terms=terms,
        stage=stage,
        at=at,
        true_m2=zone.true_area,
        testable=testable,
        found=here,
        left=left if stage is final else None,
        flaws=flaws,
        counted=counts.counted,
        density_found=counts.density,
        contract=counts.contract,
        decision=counts.decision,
        open_flaws=open_flaws,
        open_per_100_m2=100 * open_flaws / here.testable_m2 if here.testable_m2 > 0 else None,
        patches=patches,
        asked=tuple(rows.asked.get(coating.pk, ())),
        thickness=thickness if stage.name == final.name else judgement_of(coating, rows, stage, here.testable_m2),
        features=features_at(coating, rows, stage.name),
        facts=facts,
        gates=judged,
        release=release,
        turn=turn_of(judged) if swept else not_swept(coating),
        sentence=sentence_of(zone, left, open_flaws, judged, release, spoken) if swept else say(NOT_SWEPT),
    )


@dataclass(frozen=True)
class _Counts:
    counted: int
    density: Density | None
    contract: ContractVerdict | None
    decision: DensityDecision | None


def _counts(terms: Terms, flaws: Sequence[FlawPicture], found: GroundPicture) -> _Counts:
    counted, limit = sum(flaw.counted for flaw in flaws), limit_of(terms)
    return _Counts(
        counted,
        density.density(counted, found.tested_m2),
        density.judge_contract(limit, counted, found.tested_m2) if limit else None,
        density.judge_density(counted, found.tested_m2, limit, found.untested_m2, sides_of(terms)) if limit else None,
    )


def release_of(row: Release | None, judged: Sequence[Gate]) -> ReleasePicture | None:
    """The standing release beside the gates as they are judged now."""
    if row is None:
        return None
    shut = tuple(gate for gate in judged if gate.state != "green")
    return ReleasePicture(row.pk, row.owner.name, row.at, row.conditions, row.head_seq, row.head_hash, shut)


NOT_SWEPT = noted("Not swept yet.")


def not_swept(coating: Coating) -> Turn:
    """Whose turn it is before the first run."""
    return Turn("crew", coating.begun_at, say("Not swept yet: no run has been made."))


def turn_of(judged: Sequence[Gate]) -> Turn | None:
    """The first gate that is not green and waits for somebody."""
    for gate in judged:
        if gate.state != "green" and gate.whose is not None:
            return Turn(gate.whose, gate.since, gate.sentence)
    return None


class Untested(Protocol):
    """What is left to test, in m2: ground as left, or a tally of it."""

    @property
    def gap_m2(self) -> float: ...
    @property
    def lost_m2(self) -> float: ...
    @property
    def held_m2(self) -> float: ...
    @property
    def pending_m2(self) -> float: ...


def sentence_of(
    zone: Zone,
    left: Untested,
    open_flaws: int,
    judged: Sequence[Gate],
    release: ReleasePicture | None,
    spoken: Spoken,
) -> str:
    """The plain verdict a page opens with."""
    stands_in_the_way = _in_the_way(left, open_flaws, judged, spoken)
    if release:
        day = day_words(release.at.astimezone(zone.asset.zone_info))
        released = (
            say("Released with conditions on {day} by {owner}", day=day, owner=release.owner)
            if release.conditions
            else say("Released on {day} by {owner}", day=day, owner=release.owner)
        )
        if not release.undermined:
            return f"{released}."
        return say(
            "{released}, but this does not hold any more. {stands_in_the_way}",
            released=released,
            stands_in_the_way=stands_in_the_way,
        )
    if gates.may_release(list(judged)):
        return say("Ready to release. Every gate is green.")
    return say("Not ready to release. {stands_in_the_way}", stands_in_the_way=stands_in_the_way)


def _in_the_way(left: Untested, open_flaws: int, judged: Sequence[Gate], spoken: Spoken) -> str:
    shut = {gate.code: gate for gate in judged if gate.state != "green"}
    parts = []
    if "coverage" in shut:
        amounts = (
            (left.gap_m2, say("not swept")),
            (left.lost_m2, say("lost")),
            (left.held_m2, say("held")),
            (left.pending_m2, say("pending")),
        )
        parts += [f"{spoken.area(amount)} {words}" for amount, words in amounts if amount >= SMALLEST]
    if open_flaws:
        parts.append(say_many("{count} flaw open", "{count} flaws open", open_flaws))
    if parts:
        sentence = ", ".join(parts)
        return f"{sentence[:1].upper()}{sentence[1:]}."
    return next((gate.sentence for gate in shut.values()), "")
