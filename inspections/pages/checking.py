"""The page on which a check is recorded, with its tolerance shown beforehand."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.text import capfirst

from accounts.acting import find
from accounts.forms import act_on_page
from accounts.people import Person
from accounts.units import show
from accounts.wording import say
from inspections.pages.doing import told
from inspections.pages.offers import offers
from inspections.runs import Run, Verification
from inspections.sensitivity import USUAL_SOURCE


@login_required
def check(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Record a check of the output, or of a wet sponge its sensitivity."""
    person = cast(Person, request.user)
    run = find(person, Run, pk)
    action = "verify" if run.sensitivity is None else "check_sensitivity"
    first = not run.verifications.filter(struck_at=None).exists()
    phase = request.GET.get("phase", Verification.Phase.START if first else Verification.Phase.DURING)
    asked = run.sensitivity
    return act_on_page(
        request,
        action,
        run,
        initial={"phase": phase, **({"resistor": asked.ohm} if asked else {})},
        choices=offers(action, person, run),
        hidden=("sheet_seq",),
        context={
            "lead": _tolerance(run, person.units),
            "crumbs": [(str(run), reverse("run", args=[run.pk]))],
        },
        success=_told,
        to=reverse("run", args=[run.pk]),
        cancel=reverse("run", args=[run.pk]),
    )


def _tolerance(run: Run, units: str) -> str:
    asked = run.sensitivity
    if asked is None:
        volts, give = run.set_volts or 0, run.check_tolerance_volts or 0
        return say(
            "Good is {low} to {high} V: {set_volts} V as set, plus or minus {check_tolerance_volts} V.",
            low=volts - give,
            high=volts + give,
            set_volts=volts,
            check_tolerance_volts=give,
        )
    terms = run.sheet.coating.terms
    silent = terms.sensitivity_ohm is None or terms.sensitivity_tolerance_percent is None
    words = say(
        "Put a resistor of {low} to {high} between the wet sponge and the return lead: good is an alarm.",
        low=show(asked.low, "ohms", units),
        high=show(asked.high, "ohms", units),
    )
    return f"{words} ({say(USUAL_SOURCE)})" if silent else words


def _told(done: Any) -> str:
    check = done.made
    outcome = f" {capfirst(check.get_outcome_display())}: {show(check.measured, check.kind)}." if check else ""
    return f"{told(say('Check'), done)}{outcome}"
