"""What the lead inspector said to the questions that the story's sheets give rise to."""

from __future__ import annotations

from inspections.answers import Answer
from inspections.asking import asked_of
from inspections.coatings import Coating
from repairs.demo.setting import Setting

WORDS = {
    "air_missing": "Measured at the start of the shift and written on the permit, not on the sheet; the permit is filed.",
}


def answer_all(there: Setting, coating: Coating, at: str) -> None:
    """Answer what is open about a coating, so that it can be released."""
    asked = asked_of([Coating.objects.select_related("zone__asset", "specification").get(pk=coating.pk)])[coating.pk]
    for each in asked:
        if each.is_open:
            given = {"key": each.question.key, "verdict": Answer.Verdict.EXPLAINED, "why": WORDS[each.question.code]}
            there.do("answer_question", "lead", coating, at=at, **given)
