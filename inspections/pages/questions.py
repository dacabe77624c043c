"""Questions about runs and readings: the list of a coating, the ones of a run, and the page that asks one of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.access import roles_on
from accounts.acting import any_may, find
from accounts.forms import act_on_page, check_may
from accounts.people import Person, Role
from accounts.wording import say
from inspections.actions.answering import SayAnswer, not_theirs
from inspections.answers import Answer
from inspections.asking import Asked, asked_of, not_asked_any_more
from inspections.coatings import Coating
from inspections.pages.doing import safe, told
from inspections.question_words import tell_to
from inspections.questions import arithmetic_of, sentence_of, source_of
from inspections.runs import Run


class QuestionRow(NamedTuple):
    """A question in the reader's words."""

    asked: Asked
    title: str
    sentence: str
    arithmetic: str
    source: str
    url: str
    theirs: bool

    @property
    def run(self) -> Run | None:
        return self.asked.run

    @property
    def holds(self) -> bool:
        return self.asked.question.on_ground

    @property
    def answers(self) -> tuple[Answer, ...]:
        return self.asked.answers


def question_rows(coating: Coating, asked: Iterable[Asked], person: Person) -> list[QuestionRow]:
    """The questions as this person is shown them, the open ones first."""
    tell = tell_to(person.units, coating.zone.asset.zone_info)
    held = roles_on(person, coating)
    asks = any_may(held, "answer_question")
    return [
        QuestionRow(
            each,
            say(each.question.kind.title),
            sentence_of(each.question, tell),
            arithmetic_of(each.question, tell),
            source_of(each.question),
            reverse("question", args=[coating.pk, each.question.key]),
            asks and not not_theirs(each, held, held.get(Role.CONTRACTOR)),
        )
        for each in sorted(asked, key=lambda each: not each.is_open)
    ]


def rows_of_run(run: Run, person: Person) -> list[QuestionRow]:
    """The questions that are asked of one run."""
    coating = run.sheet.coating
    asked = [each for each in asked_of([coating])[coating.pk] if each.question.run == run.pk]
    return question_rows(coating, asked, person)


@login_required
@require_safe
def questions(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Every question about a coating's runs and readings, with what was said to it."""
    person = cast(Person, request.user)
    coating = find(person, Coating, pk)
    asked = asked_of([coating])[coating.pk]
    zone = coating.zone
    return render(
        request,
        "inspections/questions.html",
        {
            "coating": coating,
            "zone": zone,
            "asset": zone.asset,
            "questions": question_rows(coating, asked, person),
            "still": sum(each.is_open for each in asked),
            "gone": not_asked_any_more(coating, asked),
            "here": request.get_full_path(),
        },
    )


@login_required
def question(request: HttpRequest, pk: UUID, key: str) -> HttpResponse:
    """One question with its figures and source, what each answer leads to, and the form."""
    person = cast(Person, request.user)
    coating = find(person, Coating, pk)
    asked = next((each for each in asked_of([coating])[coating.pk] if each.question.key == key), None)
    if asked is None:
        raise Http404(say("This question is not asked, or not any more."))
    zone = coating.zone
    check_may(person, "answer_question", coating)
    held = roles_on(person, coating)
    if why := not_theirs(asked, held, held.get(Role.CONTRACTOR)):
        raise PermissionDenied(why)
    (row,) = question_rows(coating, [asked], person)
    to = safe(request, request.GET.get("to", reverse("questions", args=[coating.pk])))
    return act_on_page(
        request,
        "answer_question",
        coating,
        template="inspections/question.html",
        takes=SayAnswer,
        known={"key": key},
        context={"row": row, "coating": coating, "zone": zone, "asset": zone.asset},
        success=lambda done: told(say("Answer"), done),
        to=to,
        cancel=to,
    )
