"""Recorded steps and a specification's terms, as the rules for windows take them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from inspections.terms import Terms
from repairs.windows import NextStep, StepDone, WorkRules, breaches, next_step
from repairs.work import Step


def rules_of(terms: Terms) -> WorkRules | None:
    """The waiting times of a patch's work; None where the specification names no repair coat."""
    if not terms.repair_coats:
        return None
    return WorkRules(terms.repair_coats, terms.primer_within_h, terms.cure_before_retest_h)


def done(steps: Iterable[Step]) -> list[StepDone]:
    return [StepDone(step.kind, step.at, step.coat) for step in steps]  # type: ignore[arg-type]


def next_of(terms: Terms, steps: Iterable[Step], now: datetime) -> NextStep | None:
    """What comes next in a cycle with these steps."""
    rules = rules_of(terms)
    return next_step(rules, done(steps), now) if rules else None


def warnings(terms: Terms, steps: Iterable[Step]) -> dict[StepDone, str]:
    """What was done outside its window or its turn, in words."""
    rules = rules_of(terms)
    return {breach.step: breach.words for breach in breaches(rules, done(steps))} if rules else {}


def retest_from(terms: Terms, steps: Iterable[Step]) -> datetime | None:
    """When the cure asked for before the retest is over; None while no coat is on."""
    coated = [step.at for step in steps if step.kind == Step.Kind.COATED]
    return max(coated) + timedelta(hours=terms.cure_before_retest_h) if coated else None
