"""On a run's page: the thickness readings its voltage rests on, what is in question about them, and what was decided."""

from __future__ import annotations

from typing import Any

from accounts.acting import may
from accounts.people import Person
from accounts.units import show
from inspections.run_basis import WHAT_TO_DO, basis_questions
from inspections.runs import Run


def basis_shown(person: Person, run: Run) -> dict[str, Any]:
    """What the page shows of the run's readings."""

    def film(um: float) -> str:
        return show(um, "film", person.units, 1)

    asked = basis_questions([run]).get(run.pk, ())
    return {
        "basis_asked": [question.line.said(film) for question in asked],
        "basis_answers": run.basis_answers.select_related("by", "struck_by").order_by("at"),
        "what_to_do": WHAT_TO_DO,
        "may_answer_basis": bool(asked) and may(person, "answer_basis", run),
    }
