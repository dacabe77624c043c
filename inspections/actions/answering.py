"""Answers to questions about runs and readings. There is no other way to say that ground was swept too fast, or was not."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta
from typing import Any

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied

from accounts.acting import Acting, action
from accounts.languages import kept_in_english
from accounts.people import Organisation, Role
from accounts.wording import say
from inspections.actions.sheets import records_in
from inspections.answers import Answer
from inspections.asking import Asked, asked_of
from inspections.coatings import Coating
from inspections.questions import code_of, sentence_of
from inspections.tested import refresh

CAME_LATE = timedelta(minutes=5)
"""What a device said so long ago may be about a question that is gone by now: it is kept, not refused."""


class SayAnswer(serializers.Serializer):
    verdict = serializers.ChoiceField(choices=Answer.Verdict.choices, label=_("What is true"))
    why = serializers.CharField(
        max_length=1000, label=_("How it was"), help_text=_("What happened, and how you know: who saw or read it.")
    )


class AnswerQuestion(SayAnswer):
    key = serializers.CharField(max_length=60, label=_("Question"), help_text=_("Its key, as the question gives it."))


@action(
    "answer_question",
    takes=AnswerQuestion,
    roles={Role.CREW, Role.CONTRACTOR},
    on=Coating,
    title=_("Answer the question"),
)
def answer_question(act: Acting, coating: Coating, given: dict[str, Any]) -> Answer:
    """Answer a question about a run or a reading: it is explained, the record is wrong, or so it was."""
    with kept_in_english():
        asked = next((each for each in asked_of([coating])[coating.pk] if each.question.key == given["key"]), None)
        sentence = sentence_of(asked.question) if asked else ""
    if asked is None:
        return _kept_beside(act, coating, given)
    _check_may_answer(act, asked, given["verdict"])
    answer = act.insert(
        Answer(
            id=act.id,
            coating=coating,
            run=asked.run,
            code=asked.question.code,
            key=given["key"],
            asked=sentence,
            verdict=given["verdict"],
            why=given["why"],
            by=act.person,
            at=act.now,
        )
    )
    act.tell(_("Asked was: {question}"), question=lazy(sentence_of, str)(asked.question))
    if given["verdict"] == Answer.Verdict.CORRECTED:
        act.tell(_("The question stays until the record is corrected: strike out what is wrong and record it anew."))
    if asked.question.on_ground and asked.run is not None:
        refresh(act, asked.run)
    return answer


def not_theirs(asked: Asked, roles: Collection[Role], contractor: Organisation | None) -> str:
    """Why somebody of these roles does not answer this question; "" where they do."""
    if asked.run is None:
        return "" if Role.CREW in roles else say("The inspection crew answers for what it has read.")
    if records_in(asked.run, roles, contractor):
        return ""
    return say("{run} is a run of the inspection crew; the crew answers for it.", run=asked.run)


def _check_may_answer(act: Acting, asked: Asked, verdict: str) -> None:
    if why := not_theirs(asked, act.roles, act.organisation):
        raise PermissionDenied(why)
    if asked.question.on_ground and verdict == Answer.Verdict.EXPLAINED and Role.LEAD not in act.roles:
        act.refuse(
            "verdict",
            say(
                "Ground would stand again by this answer, so a lead inspector gives it. You can say that so it was, or that the "
                "record will be corrected."
            ),
        )


def _kept_beside(act: Acting, coating: Coating, given: dict[str, Any]) -> Answer:
    """An answer to what is not asked: refused on the spot, kept beside the questions where a device brings it late."""
    code = code_of(given["key"])
    if code is None or act.now - act.device_at <= CAME_LATE:
        act.refuse(
            "key",
            say(
                '"{key}" is no question that is asked of {coating} now; take one from its list of questions.',
                key=given["key"],
                coating=coating,
            ),
        )
    before = Answer.objects.filter(coating=coating, key=given["key"]).order_by("at").last()
    act.tell(_("This question is not asked any more; what was said is kept beside the others and changes nothing."))
    return act.insert(
        Answer(
            id=act.id,
            coating=coating,
            run=before.run if before else None,
            code=code,
            key=given["key"],
            asked=before.asked if before else "",
            verdict=given["verdict"],
            why=given["why"],
            by=act.person,
            at=act.now,
        )
    )
