"""The questions about a coating's runs and readings, and the answers to them, as the API tells them."""

from __future__ import annotations

from datetime import datetime
from math import inf
from typing import Any, cast
from uuid import UUID

from django.urls import path
from django_filters import ChoiceFilter
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.acting import find
from accounts.people import Person
from accounts.schema import PARTS, problems
from accounts.serving import PersonRead, RowRead, Rows
from accounts.wording import say
from inspections.answers import Answer
from inspections.asking import Asked, asked_of
from inspections.coatings import Coating
from inspections.question_words import tell_to
from inspections.questions import KINDS, Figure, arithmetic_of, sentence_of, source_of


class AnswerRead(RowRead):
    by = PersonRead()
    units = {
        "run": "Null where the question hangs on no run.",
        "key": "Of the question: what it is about.",
        "asked": "The question as it stood, in English.",
    }

    class Meta:
        model = Answer
        fields = ("id", "version", "coating", "run", "code", "key", "asked", "verdict", "why", "by", "at")


class Answers(Rows):
    """Answers to questions about runs and readings; of several to one question the last counts."""

    collection = "answers"
    serializer_class = AnswerRead
    select = ("by",)
    filters = {"code": ChoiceFilter(choices=[(code, kind.title) for code, kind in KINDS.items()])}


class QuestionFigureRead(serializers.Serializer):
    """A figure of a question: m², m, m/s, s, V, °C, a moment, a count, words, or readings of film as they were given."""

    name = serializers.CharField()
    measure = serializers.CharField()
    value = serializers.JSONField(allow_null=True, help_text="Null for a speed that nobody has.")


class QuestionRead(serializers.Serializer):
    """A question, and what was said to it."""

    key = serializers.CharField(source="question.key", help_text="Give it with the answer.")
    code = serializers.ChoiceField(source="question.code", choices=list(KINDS))
    title = serializers.SerializerMethodField()
    run = serializers.UUIDField(source="question.run", allow_null=True)
    about = serializers.ListField(
        source="question.about", child=serializers.CharField(), help_text="Ids of the rows it is about."
    )
    since = serializers.DateTimeField(source="question.since")
    sentence = serializers.SerializerMethodField()
    arithmetic = serializers.SerializerMethodField()
    rests_on = serializers.SerializerMethodField()
    figures = serializers.SerializerMethodField()
    holds_ground = serializers.BooleanField(
        source="question.on_ground", help_text="Held until answered; lost if so it was."
    )
    is_open = serializers.BooleanField(help_text="Not answered, or still to be corrected.")
    answers = AnswerRead(many=True)

    def get_title(self, asked: Asked) -> str:
        return say(asked.question.kind.title)

    def get_sentence(self, asked: Asked) -> str:
        return sentence_of(asked.question, self.context["tell"])

    def get_arithmetic(self, asked: Asked) -> str:
        return arithmetic_of(asked.question, self.context["tell"])

    def get_rests_on(self, asked: Asked) -> str:
        return source_of(asked.question)

    @extend_schema_field(QuestionFigureRead(many=True))
    def get_figures(self, asked: Asked) -> list[dict[str, Any]]:
        figures = asked.question.figures.items()
        return [{"name": name, "measure": figure.measure, "value": _value(figure)} for name, figure in figures]


class QuestionsRead(serializers.Serializer):
    """What is asked about a coating now, the longest asked first."""

    coating = serializers.UUIDField()
    questions = QuestionRead(many=True)


class QuestionsView(APIView):
    @extend_schema(
        operation_id="read_coating_questions",
        tags=[PARTS["inspections"]],
        responses={200: QuestionsRead, **problems(401, 404)},
    )
    def get(self, request: Request, pk: UUID) -> Response:
        """Every question about the coating's runs and readings, with what was said to it."""
        coating = find(cast(Person, request.user), Coating, pk)
        tell = tell_to("si", coating.zone.asset.zone_info)
        shown = {"coating": pk, "questions": asked_of([coating])[pk]}
        return Response(QuestionsRead(shown, context={"tell": tell}).data)


def _value(figure: Figure) -> Any:
    """A figure as JSON holds it."""
    if isinstance(figure.value, datetime):
        return figure.value.isoformat()
    if isinstance(figure.value, tuple):
        return list(figure.value)
    return None if figure.value == inf else figure.value


urlpatterns = [path("coatings/<uuid:pk>/questions/", QuestionsView.as_view(), name="api_questions")]
