"""The first pages: what is true and what stands in the way, the figures, the gates and the release."""

from __future__ import annotations

from datetime import datetime

from reportlab.platypus import Flowable

from accounts.wording import noted, say, say_many
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
from repairs.dossier.reader import NOTHING, Reader, capital
from repairs.picture import ZonePicture
from repairs.state import FlawStatus, PatchState

NEVER = noted(
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
_GATE_SIGNS = {"green": noted("✓ passed"), "red": noted("▼ not passed"), "waits": noted("◇ waits")}
_ITS_TURN = {
    "crew": noted("It is the turn of the crew{since}. {why}"),
    "contractor": noted("It is the turn of the contractor{since}. {why}"),
    "owner": noted("It is the turn of the owner{since}. {why}"),
    "lead": noted("It is the turn of the lead inspector{since}. {why}"),
}
_TURN_OF = {
    "crew": noted("turn of the crew"),
    "contractor": noted("turn of the contractor"),
    "owner": noted("turn of the owner"),
    "lead": noted("turn of the lead inspector"),
}


def front(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper, printed_at: datetime) -> list[Flowable]:
    """Title, verdict, figures: one page in most cases."""
    zone, asset = picture.zone, picture.zone.asset
    place = f", {asset.place}" if asset.place else ""
    story: list[Flowable] = [
        says(say("Dossier of a zone"), OVERLINE),
        says(zone.name, TITLE),
        says(
            say(
                "{asset}: {kind}{place}. Owner: {owner}.",
                asset=asset.name,
                kind=asset.kind,
                place=place,
                owner=asset.organisation.name,
            )
        ),
        *state_of(picture, reader, paper),
        marked(f"<b>{markup(say(NEVER))}</b>", CAUTION),
        says(
            say(
                "Printed {moment} for {reader}, from the record of {asset} at entry {seq}, sha256 {digest}. All times are "
                "those of {clock}. A later print with the same entry and sha256 rests on the same record.",
                moment=reader.moment_in_full(printed_at),
                reader=reader.name,
                asset=asset.name,
                seq=papers.head.seq,
                digest=papers.head.digest or NOTHING,
                clock=reader.clock.key,
            ),
            NOTE,
        ),
    ]
    return story


def state_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """What it is, the verdict, whose turn it is, and the figures."""
    zone, ended = picture.zone, picture.coating.ended_at
    story: list[Flowable] = [
        says(
            say(
                "{coating}, begun {moment}{ended}. Specification: {specification}. {limits}, {face}.",
                coating=picture.coating,
                moment=reader.moment(picture.coating.begun_at),
                ended=say(", ended {moment}: {why}", moment=reader.moment(ended), why=picture.coating.ended_why)
                if ended
                else "",
                specification=picture.specification,
                limits=capital(zone.surface.limits_text()),
                face=say("inside face") if zone.face == "inside" else say("outside face"),
            )
        ),
        says(picture.sentence, VERDICT),
    ]
    if picture.turn:
        since = say(", since {moment}", moment=reader.moment(picture.turn.since)) if picture.turn.since else ""
        story.append(says(say(_ITS_TURN[picture.turn.whose], since=since, why=picture.turn.why)))
    return [*story, *_ground(picture, reader, paper), *_counting(picture, reader)]


def _ground(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    excluded = sum(each.area_m2 for each in picture.excluded)
    why = "; ".join(f"{each.reason}: {reader.area(each.area_m2)}" for each in picture.excluded)
    words = f" ({why})" if why else ""
    undecided = (
        say_many(
            " {count} exclusion waits for the owner and is counted as ordinary ground.",
            " {count} exclusions wait for the owner and are counted as ordinary ground.",
            len(picture.undecided),
        )
        if picture.undecided
        else ""
    )
    seen = [picture.found] + ([picture.left] if picture.left else [])
    rows = [
        [say("tested: standing swaths"), *[f"{reader.area(each.tested_m2)}, {each.words}" for each in seen]],
        [say("held: waits for a decision"), *[reader.area(each.held_m2) for each in seen]],
        [say("pending: waits for the next check"), *[reader.area(each.pending_m2) for each in seen]],
        [say("lost: swept, not proven"), *[reader.area(each.lost_m2) for each in seen]],
        [say("gap: reached by no swath"), *[reader.area(each.gap_m2) for each in seen]],
        [say("together: testable"), *[reader.area(each.testable_m2) for each in seen]],
    ]
    return [
        says(
            say(
                "The true area is {true}. Excluded and accepted are {excluded}{why}. Testable is the rest, {testable}.",
                true=reader.area(picture.true_m2),
                excluded=reader.area(excluded),
                why=words,
                testable=reader.area(picture.testable_m2),
            )
            + undecided,
            LEAD,
        ),
        *table(
            [say("ground at the stage: {stage}", stage=picture.stage.name), *[say(each.seen) for each in seen]],
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
        story.append(says(say("Nothing is tested, so there is no density and no verdict on the contract line.")))
    else:
        low, high = (times * bound for bound in found.interval_per_m2)
        story.append(
            says(
                say_many(
                    "Density as found: {density:.2f} flaws per {per}, 95 % interval {low:.2f} to {high:.2f}; {count} flaw "
                    "counted on {area} tested ({source}).",
                    "Density as found: {density:.2f} flaws per {per}, 95 % interval {low:.2f} to {high:.2f}; {count} flaws "
                    "counted on {area} tested ({source}).",
                    found.count,
                    density=times * found.per_m2,
                    per=per,
                    low=low,
                    high=high,
                    area=reader.area(found.area_m2),
                    source=say(found.source),
                )
            )
        )
    if picture.contract is None:
        story.append(says(say("The specification states no limit for flaws.")))
    else:
        line = picture.contract
        verdict = {"kept": say("✓ kept"), "exceeded": say("▼ exceeded"), None: say("no verdict")}[line.verdict]
        arithmetic = capital(line.arithmetic).rstrip(".")
        story.append(says(say("Contract line: {verdict}. {arithmetic}.", verdict=verdict, arithmetic=arithmetic)))
    if picture.decision is not None:
        shows = capital(picture.decision.sentence)
        story.append(says(say("What the sample shows, never a reason for release: {shows}", shows=shows)))
    if picture.open_per_100_m2 is not None:
        share = picture.open_per_100_m2 * (0.9290304 if us else 1.0)
        story.append(
            says(
                say_many(
                    "Open as left: {count} flaw, {share:.2f} per {per} of testable area.",
                    "Open as left: {count} flaws, {share:.2f} per {per} of testable area.",
                    picture.open_flaws,
                    share=share,
                    per=per,
                )
            )
        )
    flaws = [
        f"{SIGNS[status]} {number} {status.label}" for status, number in picture.flaws_by_status().items() if number
    ]
    patches = [f"{number} {PatchState(state).label}" for state, number in picture.patches_by_state().items() if number]
    story.append(
        says(
            say(
                "Flaws: {flaws}. Patches: {patches}. Thickness: {thickness}.",
                flaws=", ".join(flaws) or say("none reported"),
                patches=", ".join(patches) or say("none issued"),
                thickness=say(picture.thickness.verdict) if picture.thickness else say("not asked for"),
            )
        )
    )
    return story


def gates_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Every gate with what it found and who stands behind it."""
    rows = []
    for gate in picture.gates:
        proof = "; ".join(f"{row.what}: {row.who}, {reader.moment(row.when)}" for row in gate.evidence)
        turn = say(_TURN_OF[gate.whose]) if gate.whose else ""
        rows.append(
            [gate.name, say(_GATE_SIGNS[gate.state]), gate.sentence, "; ".join(filter(None, [turn, proof])) or NOTHING]
        )
    shut = sum(gate.state != "green" for gate in picture.gates)
    words = (
        say_many("{count} gate is not passed.", "{count} gates are not passed.", shut)
        if shut
        else say("Every gate is passed.")
    )
    rule = say("A gate passes only with a name and a date behind it, or by a concession of the owner.")
    heads = [say("gate"), say("state"), say("what was found"), say("who stands behind it")]
    return [
        section(say("Gates")),
        says(f"{words} {rule}", LEAD),
        *table(heads, rows, [95, 66, 190, 160], paper.measure),
    ]


def release_of(picture: ZonePicture, papers: Papers, reader: Reader) -> list[Flowable]:
    """Every release with its conditions, and its withdrawal."""
    story: list[Flowable] = [section(say("Release"))]
    if not papers.releases:
        return [*story, says(say("The zone has not been released."))]
    for number, row in enumerate(papers.releases, 1):
        withdrawn = say(" Withdrawn {moment}.", moment=reader.moment(row.withdrawn_at)) if row.withdrawn_at else ""
        story += [
            part(say("Release {number}", number=number), f"release {number}", struck=row.withdrawn_at is not None),
            says(
                say(
                    "Released {moment} by {person}, with the record at entry {seq}, sha256 {digest}.{withdrawn}",
                    moment=reader.moment(row.at),
                    person=row.owner.name,
                    seq=row.head_seq,
                    digest=row.head_hash,
                    withdrawn=withdrawn,
                )
            ),
        ]
        if row.conditions:
            story.append(marked(say("<b>Conditions:</b> {conditions}", conditions=markup_lines(row.conditions))))
        else:
            story.append(says(say("Without conditions.")))
        if row.withdrawn_at and row.withdrawn_by:
            story.append(
                marked(
                    say(
                        "<b>Withdrawn by {person}:</b> {why}",
                        person=markup(row.withdrawn_by.name),
                        why=markup_lines(row.withdrawn_why or ""),
                    )
                )
            )
    if picture.release and picture.release.undermined:
        story.append(says(say("What the standing release rested on does not hold any more:")))
        story += [item(f"{gate.name}: {gate.sentence}") for gate in picture.release.undermined]
    return story
