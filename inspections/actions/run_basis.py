"""Answering what has come to light about the thickness readings under a run."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.people import Role
from accounts.wording import say
from inspections.run_basis import basis_questions
from inspections.runs import BasisAnswer, Run
from mapping.actions.zones import Why


class AnswerBasis(serializers.Serializer):
    why = serializers.CharField(
        max_length=1000,
        label=_("What is done about it, and why"),
        help_text=_("Such as: measured again with another gauge, 505 µm; the voltage set lies in the band for it."),
    )


@action(
    "answer_basis",
    takes=AnswerBasis,
    roles={Role.LEAD, Role.OWNER},
    on=Run,
    title=_("Answer for the readings"),
    decision=True,
)
def answer_basis(act: Acting, run: Run, given: dict[str, Any]) -> BasisAnswer:
    """Say what is done about a run whose thickness readings are in question since; what comes to light later asks anew."""
    asked = basis_questions([run]).get(run.pk, ())
    if not asked:
        act.refuse("why", say("The readings under {run} are not in question.", run=run))
    keys = sorted(key for question in asked for key in question.keys)
    return act.insert(BasisAnswer(id=act.id, run=run, questions=keys, why=given["why"], by=act.person, at=act.now))


@action(
    "strike_basis_answer",
    takes=Why,
    roles={Role.LEAD, Role.OWNER},
    on=BasisAnswer,
    title=_("Strike out the answer"),
    decision=True,
)
def strike_basis_answer(act: Acting, answer: BasisAnswer, given: dict[str, Any]) -> BasisAnswer:
    """Take back an answer; the readings are in question again."""
    if answer.by_id != act.person.pk and Role.OWNER not in act.roles:
        act.refuse("why", say("Who answered takes it back, or the owner."))
    return act.strike(answer, given["why"])
