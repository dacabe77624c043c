"""What the specification asks for, in short: its rules as the record holds them."""

from __future__ import annotations

from reportlab.platypus import Flowable

from inspections.flaws import FlawKind
from inspections.sweep import SPEED_SOURCE
from inspections.terms import METHODS, THICKNESS_BASES, Terms
from repairs.counting import limit_of
from repairs.dossier.layout import LEAD, NOTE, Paper, marked, pairs, says, section, table
from repairs.dossier.lettering import markup_lines
from repairs.dossier.reader import NOTHING, Reader
from repairs.picture import ZonePicture


def specification_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Its name and who issued it, then rules, coat stages and repair coats."""
    terms, paper_asked = picture.terms, picture.specification
    story: list[Flowable] = [
        section("Specification"),
        says(
            f"{paper_asked}, issued by {paper_asked.issued_by.name}, {reader.moment(paper_asked.issued_at)}. It does not change "
            f"once issued. Where documents disagree, in this order: {', '.join(terms.precedence)}.",
            LEAD,
        ),
        pairs(_rules(terms, reader), paper.measure),
        *table(
            ["coat stage", "nominal", "least", "most", "coverage asked"],
            [
                [
                    stage.name,
                    reader.film(stage.dft_nominal),
                    reader.film(stage.dft_minimum),
                    reader.film(stage.dft_maximum),
                    stage.coverage_asked,
                ]
                for stage in terms.stages
            ],
            [2, 1, 1, 1, 3],
            paper.measure,
        ),
    ]
    if terms.repair_coats:
        story += table(
            ["repair coat", "product", "wait after it", "wet film"],
            [
                [
                    f"{number}. {coat.name}",
                    coat.product,
                    f"at least {coat.minimum_wait_h:g} h"
                    + (f", at most {coat.maximum_wait_h:g} h" if coat.maximum_wait_h is not None else ""),
                    f"{reader.film(coat.wet_minimum)} to {reader.film(coat.wet_maximum)}"
                    if coat.wet_minimum is not None or coat.wet_maximum is not None
                    else NOTHING,
                ]
                for number, coat in enumerate(terms.repair_coats, 1)
            ],
            [2, 2, 2, 1.4],
            paper.measure,
        )
    if terms.notes:
        story.append(marked(f"<b>Notes:</b> {markup_lines(terms.notes)}"))
    return [*story, says(f"Speed of the sweep: {SPEED_SOURCE}, unless the specification says otherwise.", NOTE)]


def _rules(terms: Terms, reader: Reader) -> list[tuple[str, object]]:
    limit = limit_of(terms)
    kinds = (
        ", ".join(str(FlawKind(kind).label) for kind in terms.counting_kinds)
        if terms.counting_kinds is not None
        else "all but false indication, destructive test spot, burned by test"
    )
    return [
        ("substrate", terms.substrate),
        ("film family", terms.film_family),
        ("method, medium", f"{METHODS[terms.method]}, {terms.medium}"),
        (
            "voltage",
            f"{reader.volts(terms.stated_volts)} ± {terms.voltage_tolerance_percent:g} % by {terms.voltage_document}",
        ),
        ("thickness basis", THICKNESS_BASES[terms.thickness_basis]),
        (
            "check of the output",
            f"every {terms.check_interval_min:g} min, ± {terms.check_tolerance_percent:g} %",
        ),
        ("speed limit", reader.speed(terms.speed_limit)),
        ("electrode overlap", reader.length(terms.electrode_overlap)),
        ("flaws allowed", f"{limit.words()}, {limit.integer_rule}" if limit else "no limit stated"),
        ("kinds that count", kinds),
        (
            "thickness",
            f"SSPC-PA 2 level {terms.thickness_level} (from memory)" if terms.thickness_level else "not judged here",
        ),
        ("patch", f"{terms.patch_shape}, {reader.length(terms.patch_overlap)} beyond the flaw on each side"),
        ("margin as left", reader.length(terms.as_left_margin)),
        ("primer", f"within {terms.primer_within_h:g} h of preparation" if terms.primer_within_h is not None else ""),
        ("cure before retest", f"{terms.cure_before_retest_h:g} h"),
        ("repair cycles", f"at most {terms.cycle_limit}" if terms.cycle_limit is not None else "no limit stated"),
        (
            "retest by the contractor",
            "with a witness" if terms.own_quality_control_may_retest else "not allowed",
        ),
    ]
