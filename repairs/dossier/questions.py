"""Every question that was asked about runs and readings, with what was said to it and by whom."""

from __future__ import annotations

from reportlab.platypus import Flowable

from accounts.wording import say, say_many
from inspections.answers import Answer
from inspections.asking import Asked
from inspections.question_words import tell_to
from inspections.questions import arithmetic_of, sentence_of, source_of
from repairs.dossier.layout import LEAD, NOTE, Paper, says, section, table
from repairs.dossier.papers import Papers
from repairs.dossier.reader import NOTHING, Reader, capital


def questions_of(papers: Papers, reader: Reader, paper: Paper) -> list[Flowable]:
    """The questions of one coating: open ones first, then those that are answered, then answers to what is gone."""
    story: list[Flowable] = [section(say("Questions"))]
    if not papers.asked and not papers.answers_left:
        return [*story, says(say("Nothing recorded here gave rise to a question."))]
    still = [each for each in papers.asked if each.is_open]
    story.append(
        says(
            say_many("{count} question waits for an answer.", "{count} questions wait for an answer.", len(still))
            if still
            else say("Every question is answered."),
            LEAD,
        )
    )
    rows = [_row(each, reader) for each in sorted(papers.asked, key=lambda each: not each.is_open)]
    rows += [
        (*_about(answer.run), answer.asked or answer.title, _said(answer, reader)) for answer in papers.answers_left
    ]
    story += table([say("run"), say("question"), say("answer")], rows, [44, 262, 205], paper.measure)
    kinds = dict.fromkeys(source_of(each.question) for each in papers.asked)
    return [*story, *(says(source, NOTE) for source in kinds)]


def _row(asked: Asked, reader: Reader) -> tuple[str, str, str]:
    tell = tell_to(reader.units, reader.clock)
    question = f"{sentence_of(asked.question, tell)} {arithmetic_of(asked.question, tell)}".strip()
    said = " ".join(_said(answer, reader) for answer in asked.answers)
    if asked.is_open:
        said = f"{say('▼ open')}. {said}".strip()
    return (*_about(asked.run), question, said)


def _about(run: object) -> tuple[str]:
    return (getattr(run, "label", NOTHING),)


def _said(answer: Answer, reader: Reader) -> str:
    why = capital(answer.why)
    return f"{answer.by.name}, {reader.moment(answer.at)}: {answer.get_verdict_display()}. {why}{'' if why.endswith('.') else '.'}"
