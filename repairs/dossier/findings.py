"""What was found and put right: flaws, patches with their steps and retests, thickness."""

from __future__ import annotations

from reportlab.platypus import Flowable

from accounts.wording import say, say_many
from inspections.runs import Standing
from inspections.terms import Terms
from repairs.dossier.layout import LEAD, Paper, says, section, table
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader
from repairs.dossier.summary import SIGNS
from repairs.packs import CyclePicture, PatchPicture
from repairs.picture import ZonePicture
from repairs.state import PATCH_TO_FLAW, FlawStatus


def flaws_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Every flaw, struck-out ones with a line through."""
    story: list[Flowable] = [section(say("Flaws"))]
    if not picture.flaws:
        return [*story, says(say("No flaw was reported."))]
    rows, struck = [], set()
    for place, flaw in enumerate(picture.flaws):
        patch = say(", patch {number}", number=flaw.patch_number) if flaw.patch_number is not None else ""
        depth = say(", {depth} deep", depth=reader.film(flaw.depth)) if flaw.depth else ""
        rows.append(
            [
                flaw.tag,
                f"{flaw.said} ± {reader.length(flaw.give_or_take)}",
                reader.size(flaw.size_x, flaw.size_y) + depth,
                "; ".join(map(str, [flaw.kind_label, *map(say, flaw.marks)])),
                f"{flaw.run_label}, {reader.moment(flaw.found_at)}",
                f"{SIGNS[flaw.status]} {flaw.status.label}{patch}",
                say("counted") if flaw.counted else say("no: {why}", why=flaw.why_not),
            ]
        )
        if flaw.status == FlawStatus.STRUCK:
            struck.add(place)
    heads = [
        say("tag"),
        say("place as said"),
        say("size"),
        say("kind"),
        say("found: run, when"),
        say("status"),
        say("counted as found"),
    ]
    told = [
        say_many("{count} flaw was reported,", "{count} flaws were reported,", len(rows)),
        say_many(
            "{count} of them counts as found at the stage {stage}.",
            "{count} of them count as found at the stage {stage}.",
            picture.counted,
            stage=picture.stage.name,
        ),
        say("An indication has not been looked at yet, and counts."),
    ]
    return [
        *story,
        says(" ".join(told), LEAD),
        *table(heads, rows, [28, 122, 52, 58, 100, 85, 66], paper.measure, struck),
    ]


def patches_of(picture: ZonePicture, papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """Patches, then every step and retest in order."""
    story: list[Flowable] = [section(say("Patches"))]
    if not picture.patches:
        return [*story, says(say("No patch stands; none was issued, or all were struck out."))]
    rows = [
        [
            str(patch.number),
            patch.said,
            reader.area(patch.area_m2),
            ", ".join(patch.flaws) or NOTHING,
            say(
                "{contractor}; issued by {person}, {moment}",
                contractor=patch.contractor,
                person=patch.issued_by,
                moment=reader.moment(patch.issued_at),
            ),
            f"{SIGNS[PATCH_TO_FLAW[patch.state]]} {patch.label}"
            + (say(", since {moment}", moment=reader.moment(patch.since)) if patch.since else ""),
        ]
        for patch in picture.patches
    ]
    story += [
        says(
            say_many(
                "{count} patch, {area} together. Whoever applied a patch never passes it.",
                "{count} patches, {area} together. Whoever applied a patch never passes it.",
                len(rows),
                area=reader.area(sum(patch.area_m2 for patch in picture.patches)),
            ),
            LEAD,
        ),
        *table(
            [say("no."), say("place"), say("size"), say("flaws"), say("contractor"), say("state")],
            rows,
            [24, 130, 46, 70, 131, 110],
            paper.measure,
        ),
    ]
    work = [line for patch in picture.patches for line in _work(patch, papers, picture.terms, reader)]
    if not work:
        return [*story, says(say("No work on a patch is recorded."))]
    heads = [
        say("patch, cycle"),
        say("when"),
        say("what"),
        say("by"),
        say("product, batch, film"),
        say("remark"),
    ]
    return [
        *story,
        says(
            say(
                "Steps and retests of each patch, in order. A retest is a swath; the patch stays accepted while it stands."
            )
        ),
        *table(heads, work, [40, 74, 88, 116, 108, 85], paper.measure),
    ]


def _work(patch: PatchPicture, papers: Papers, terms: Terms, reader: Reader) -> list[list[str]]:
    rows = []
    for cycle in patch.cycles:
        name = f"{patch.number}, {cycle.number}"
        for step in cycle.steps:
            films = [
                f"{words} {reader.film(film)}"
                for words, film in ((say("wet"), step.wet), (say("dry"), step.dry))
                if film is not None
            ]
            mixed = say("mixed {moment}", moment=reader.moment(step.mixed_at)) if step.mixed_at else ""
            batch = say("batch {batch}", batch=step.batch) if step.batch else ""
            remark = "; ".join(filter(None, [f"▼ {step.warning}" if step.warning else "", step.note]))
            rows.append(
                [
                    name,
                    reader.moment(step.at),
                    step.words,
                    f"{step.by}, {step.organisation}",
                    ", ".join(filter(None, [step.product, batch, mixed, *films])) or NOTHING,
                    remark or NOTHING,
                ]
            )
        if cycle.outcome:
            rows.append(_retest(name, cycle, papers, reader))
    return rows


def _retest(name: str, cycle: CyclePicture, papers: Papers, reader: Reader) -> list[str]:
    retest = papers.retests.get(cycle.id)
    by = f"{cycle.retester}, {cycle.retester_organisation}" if cycle.retester else NOTHING
    words = {
        "passed": say("✓ retest passed"),
        "failed": say("▼ retest failed"),
        "abandoned": say("given up"),
    }[cycle.outcome or ""]
    return [
        name,
        reader.moment(cycle.settled_at),
        words,
        by + (say("; witness {witness}", witness=cycle.witness) if cycle.witness else ""),
        say(
            "run {run}: {place}; swath {standing}",
            run=retest.run,
            place=retest.said,
            standing=Standing(retest.standing).label,
        )
        if retest
        else NOTHING,
        cycle.note or NOTHING,
    ]
