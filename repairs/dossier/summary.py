"""The first pages: what is true and what stands in the way, the figures, the gates and the release."""

from __future__ import annotations

from datetime import datetime

from reportlab.platypus import Flowable

from repairs.dossier.layout import (
    CAUTION,
    LEAD,
    NOTE,
    OVERLINE,
    TITLE,
    VERDICT,
    Paper,
    item,
    marked,
    part,
    says,
    section,
    table,
)
from repairs.dossier.lettering import markup, markup_lines
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, capital, count
from repairs.picture import ZonePicture
from repairs.state import FlawStatus, PatchState

NEVER = (
    "Barespot never authorises entry or work. Its figures help a competent person; they replace neither the standard, the "
    "product data sheet, local codes nor licensed practice."
)
SIGNS: dict[FlawStatus, str] = {
    FlawStatus.OPEN: "▼",
    FlawStatus.BEGUN: "◐",
    FlawStatus.READY: "◇",
    FlawStatus.ACCEPTED: "✓",
    FlawStatus.CONCEDED: "⊟",
    FlawStatus.FALSE: "◌",
    FlawStatus.STRUCK: "✕",
}
_GATE_SIGNS = {"green": "✓ passed", "red": "▼ not passed", "waits": "◇ waits"}
_TURNS = {"crew": "the crew", "contractor": "the contractor", "owner": "the owner", "lead": "the lead inspector"}


def front(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper, printed_at: datetime) -> list[Flowable]:
    """Title, verdict, figures: one page in most cases."""
    zone, asset = picture.zone, picture.zone.asset
    place = f", {asset.place}" if asset.place else ""
    story: list[Flowable] = [
        says("Dossier of a zone", OVERLINE),
        says(zone.name, TITLE),
        says(f"{asset.name}: {asset.kind}{place}. Owner: {asset.organisation.name}."),
        *state_of(picture, reader, paper),
        marked(f"<b>{markup(NEVER)}</b>", CAUTION),
        says(
            f"Printed {reader.moment_in_full(printed_at)} for {reader.name}, from the record of {asset.name} at entry "
            f"{papers.head.seq}, sha256 {papers.head.digest or NOTHING}. All times are those of {reader.clock.key}. A later "
            "print with the same entry and sha256 rests on the same record.",
            NOTE,
        ),
    ]
    return story


def state_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """What it is, the verdict, whose turn it is, and the figures."""
    zone, ended = picture.zone, picture.coating.ended_at
    story: list[Flowable] = [
        says(
            f"{picture.coating}, begun {reader.moment(picture.coating.begun_at)}"
            + (f", ended {reader.moment(ended)}: {picture.coating.ended_why}" if ended else "")
            + f". Specification: {picture.specification}. {capital(zone.surface.limits_text())}, {zone.face} face."
        ),
        says(picture.sentence, VERDICT),
    ]
    if picture.turn:
        since = f", since {reader.moment(picture.turn.since)}" if picture.turn.since else ""
        story.append(says(f"It is the turn of {_TURNS[picture.turn.whose]}{since}. {picture.turn.why}"))
    return [*story, *_ground(picture, reader, paper), *_counting(picture, reader)]


def _ground(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    excluded = sum(each.area_m2 for each in picture.excluded)
    why = "; ".join(f"{each.reason}: {reader.area(each.area_m2)}" for each in picture.excluded)
    words = f" ({why})" if why else ""
    undecided = (
        f" {count(len(picture.undecided), 'exclusion waits', 'exclusions wait')} for the owner and {'is' if len(picture.undecided) == 1 else 'are'} "
        "counted as ordinary ground."
        if picture.undecided
        else ""
    )
    seen = [picture.found] + ([picture.left] if picture.left else [])
    rows = [
        ["tested: standing swaths", *[f"{reader.area(each.tested_m2)}, {each.words}" for each in seen]],
        ["held: waits for a decision", *[reader.area(each.held_m2) for each in seen]],
        ["pending: waits for the next check", *[reader.area(each.pending_m2) for each in seen]],
        ["lost: swept, not proven", *[reader.area(each.lost_m2) for each in seen]],
        ["gap: reached by no swath", *[reader.area(each.gap_m2) for each in seen]],
        ["together: testable", *[reader.area(each.testable_m2) for each in seen]],
    ]
    return [
        says(
            f"The true area is {reader.area(picture.true_m2)}. Excluded and accepted are {reader.area(excluded)}{words}. "
            f"Testable is the rest, {reader.area(picture.testable_m2)}.{undecided}",
            LEAD,
        ),
        *table(
            [f"ground at the stage: {picture.stage.name}", *[each.seen for each in seen]],
            rows,
            [2.2, *[1.6] * len(seen)],
            paper.measure,
        ),
    ]


def _counting(picture: ZonePicture, reader: Reader) -> list[Flowable]:
    story: list[Flowable] = []
    us = reader.units == "us"
    per, times = ("1000 ft²", 92.90304) if us else ("100 m²", 100.0)
    found = picture.density_found
    if found is None:
        story.append(says("Nothing is tested, so there is no density and no verdict on the contract line."))
    else:
        low, high = (times * bound for bound in found.interval_per_m2)
        story.append(
            says(
                f"Density as found: {times * found.per_m2:.2f} flaws per {per}, 95 % interval {low:.2f} to {high:.2f}; "
                f"{count(found.count, 'flaw', 'flaws')} counted on {reader.area(found.area_m2)} tested ({found.source})."
            )
        )
    if picture.contract is None:
        story.append(says("The specification states no limit for flaws."))
    else:
        line = picture.contract
        verdict = {"kept": "✓ kept", "exceeded": "▼ exceeded", None: "no verdict"}[line.verdict]
        story.append(says(f"Contract line: {verdict}. {capital(line.arithmetic).rstrip('.')}."))
    if picture.decision is not None:
        story.append(says(f"What the sample shows, never a reason for release: {capital(picture.decision.sentence)}"))
    if picture.open_per_100_m2 is not None:
        share = picture.open_per_100_m2 * (0.9290304 if us else 1.0)
        story.append(
            says(f"Open as left: {count(picture.open_flaws, 'flaw', 'flaws')}, {share:.2f} per {per} of testable area.")
        )
    flaws = [
        f"{SIGNS[status]} {number} {status.label}" for status, number in picture.flaws_by_status().items() if number
    ]
    patches = [f"{number} {PatchState(state).label}" for state, number in picture.patches_by_state().items() if number]
    story.append(
        says(
            f"Flaws: {', '.join(flaws) or 'none reported'}. Patches: {', '.join(patches) or 'none issued'}. "
            f"Thickness: {picture.thickness.verdict if picture.thickness else 'not asked for'}."
        )
    )
    return story


def gates_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Every gate with what it found and who stands behind it."""
    rows = []
    for gate in picture.gates:
        proof = "; ".join(f"{row.what}: {row.who}, {reader.moment(row.when)}" for row in gate.evidence)
        turn = f"turn of {_TURNS[gate.whose]}" if gate.whose else ""
        rows.append(
            [gate.name, _GATE_SIGNS[gate.state], gate.sentence, "; ".join(filter(None, [turn, proof])) or NOTHING]
        )
    shut = sum(gate.state != "green" for gate in picture.gates)
    words = f"{count(shut, 'gate is', 'gates are')} not passed." if shut else "Every gate is passed."
    return [
        section("Gates"),
        says(f"{words} A gate passes only with a name and a date behind it, or by a concession of the owner.", LEAD),
        *table(["gate", "state", "what was found", "who stands behind it"], rows, [95, 66, 190, 160], paper.measure),
    ]


def release_of(picture: ZonePicture, papers: Papers, reader: Reader) -> list[Flowable]:
    """Every release with its conditions, and its withdrawal."""
    story: list[Flowable] = [section("Release")]
    if not papers.releases:
        return [*story, says("The zone has not been released.")]
    for number, row in enumerate(papers.releases, 1):
        withdrawn = f" Withdrawn {reader.moment(row.withdrawn_at)}." if row.withdrawn_at else ""
        story += [
            part(f"Release {number}", f"release {number}", struck=row.withdrawn_at is not None),
            says(
                f"Released {reader.moment(row.at)} by {row.owner.name}, with the record at entry {row.head_seq}, sha256 "
                f"{row.head_hash}.{withdrawn}"
            ),
        ]
        if row.conditions:
            story.append(marked(f"<b>Conditions:</b> {markup_lines(row.conditions)}"))
        else:
            story.append(says("Without conditions."))
        if row.withdrawn_at and row.withdrawn_by:
            story.append(
                marked(f"<b>Withdrawn by {markup(row.withdrawn_by.name)}:</b> {markup_lines(row.withdrawn_why or '')}")
            )
    if picture.release and picture.release.undermined:
        story.append(says("What the standing release rested on does not hold any more:"))
        story += [item(f"{gate.name}: {gate.sentence}") for gate in picture.release.undermined]
    return story
