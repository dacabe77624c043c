"""What the specification asks for, in short: its rules as the record holds them."""

from __future__ import annotations

from reportlab.platypus import Flowable

from accounts.wording import say
from inspections.film_judgement import SOURCES
from inspections.flaws import FlawKind
from inspections.precedence import precedence_words
from inspections.sweep import SPEED_SOURCE
from inspections.terms import Terms
from inspections.terms_words import sensitivity_lines
from inspections.vocabulary import (
    BOUNDS,
    FAMILIES,
    INTEGER_RULES,
    MEDIA,
    METHODS,
    PATCH_SHAPES,
    SUBSTRATES,
    THICKNESS_BASES,
)
from repairs.counting import limit_of
from repairs.dossier.layout import LEAD, NOTE, Paper, marked, pairs, says, section, table
from repairs.dossier.lettering import markup_lines
from repairs.dossier.reader import NOTHING, Reader
from repairs.picture import ZonePicture


def specification_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Its name and who issued it, then rules, coat stages and repair coats."""
    terms, paper_asked = picture.terms, picture.specification
    story: list[Flowable] = [
        section(say("Specification")),
        says(
            say(
                "{specification}, issued by {person}, {moment}. It does not change once issued. Where documents disagree, in "
                "this order: {documents}.",
                specification=paper_asked,
                person=paper_asked.issued_by.name,
                moment=reader.moment(paper_asked.issued_at),
                documents=precedence_words(terms.precedence),
            ),
            LEAD,
        ),
        pairs(_rules(terms, reader), paper.measure),
        *table(
            [say("coat stage"), say("nominal"), say("least"), say("most"), say("coverage asked")],
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
            [say("repair coat"), say("product"), say("wait after it"), say("wet film")],
            [
                [
                    f"{number}. {coat.name}",
                    coat.product,
                    say("at least {hours:g} h", hours=coat.minimum_wait_h)
                    + (
                        say(", at most {hours:g} h", hours=coat.maximum_wait_h)
                        if coat.maximum_wait_h is not None
                        else ""
                    ),
                    say("{low} to {high}", low=reader.film(coat.wet_minimum), high=reader.film(coat.wet_maximum))
                    if coat.wet_minimum is not None or coat.wet_maximum is not None
                    else NOTHING,
                ]
                for number, coat in enumerate(terms.repair_coats, 1)
            ],
            [2, 2, 2, 1.4],
            paper.measure,
        )
    if terms.notes:
        story.append(marked(say("<b>Notes:</b> {notes}", notes=markup_lines(terms.notes))))
    speed = say(
        "Speed of the sweep: {source}, unless the specification says otherwise.",
        source=say(SPEED_SOURCE),
    )
    return [*story, says(speed, NOTE)]


def _rules(terms: Terms, reader: Reader) -> list[tuple[str, object]]:
    limit = limit_of(terms)
    kinds = (
        ", ".join(str(FlawKind(kind).label) for kind in terms.counting_kinds)
        if terms.counting_kinds is not None
        else say("all but false indication, destructive test spot, burned by test")
    )
    return [
        (say("substrate"), say(SUBSTRATES[terms.substrate])),
        (say("film family"), say(FAMILIES[terms.film_family])),
        (say("method, medium"), f"{say(METHODS[terms.method])}, {say(MEDIA[terms.medium])}"),
        (
            say("voltage"),
            _voltage(terms, reader),
        ),
        (say("thickness basis"), say(THICKNESS_BASES[terms.thickness_basis])),
        (
            say("check of the output"),
            say(
                "every {minutes:g} min, ± {percent:g} %",
                minutes=terms.check_interval_min,
                percent=terms.check_tolerance_percent,
            ),
        ),
        *((say("sensitivity"), line.text) for line in sensitivity_lines(terms, reader.units)),
        (say("speed limit"), reader.speed(terms.speed_limit)),
        (say("electrode overlap"), reader.length(terms.electrode_overlap)),
        (
            say("flaws allowed"),
            f"{limit.words()}, {say(INTEGER_RULES[limit.integer_rule])}" if limit else say("no limit stated"),
        ),
        *(((say("demonstrated by bounds"), say(BOUNDS[asked.bounds])),) if (asked := terms.holiday_limit) else ()),
        (say("kinds that count"), kinds),
        (
            say("thickness"),
            standard_words(terms),
        ),
        (
            say("patch"),
            say(
                "{shape}, {overlap} beyond the flaw on each side",
                shape=say(PATCH_SHAPES[terms.patch_shape]),
                overlap=reader.length(terms.patch_overlap),
            ),
        ),
        (say("margin as left"), reader.length(terms.as_left_margin)),
        (
            say("primer"),
            say("within {hours:g} h of preparation", hours=terms.primer_within_h)
            if terms.primer_within_h is not None
            else "",
        ),
        (say("cure before retest"), f"{terms.cure_before_retest_h:g} h"),
        (
            say("repair cycles"),
            say("at most {count}", count=terms.cycle_limit)
            if terms.cycle_limit is not None
            else say("no limit stated"),
        ),
        (
            say("retest by the contractor"),
            say("with a witness") if terms.own_quality_control_may_retest else say("not allowed"),
        ),
    ]


def _voltage(terms: Terms, reader: Reader) -> str:
    """The voltage the specification states, and the documents it copied that give one by thickness."""
    if terms.method == "visual":
        return say("none: visual")
    said = [rule.name for rule in terms.rules]
    if terms.stated_volts is not None:
        stated = say(
            "{volts} ± {percent:g} % by {document}",
            volts=reader.volts(terms.stated_volts),
            percent=terms.voltage_tolerance_percent,
            document=terms.voltage_document,
        )
        return "; ".join([stated, *said])
    if terms.voltage_tolerance_percent is not None:
        said.append(f"± {terms.voltage_tolerance_percent:g} %")
    return "; ".join(said)


def standard_words(terms: Terms) -> str:
    """The standard the film is judged by, with its level and source."""
    if not terms.thickness_rule:
        return say("not judged here")
    source = say(SOURCES[terms.thickness_rule])
    if terms.thickness_level is None:
        return source
    return say("{source}; level {level}", source=source, level=terms.thickness_level)
