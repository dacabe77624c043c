"""The page of any registered action: its form on its row, performed on a press, then back to where it was asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.http import url_has_allowed_host_and_scheme

from accounts.acting import REGISTRY, Done, find
from accounts.forms import act_on_page
from accounts.people import Person
from accounts.wording import noted, say
from inspections.pages.before import before_in_place
from inspections.pages.offers import offers
from mapping.pages import tables, zones

# Actions that are asked for on a page of their own.
OWN_PAGES: dict[str, Callable[[HttpRequest, UUID], HttpResponse]] = {
    "add_zone": zones.add_zone,
    "import_zones": tables.import_zones,
    "import_joints": tables.import_joints,
}


@login_required
def do(request: HttpRequest, action: str, pk: UUID) -> HttpResponse:
    """`/do/<action>/<id>/?to=<where to go then>`; further query values fill the form."""
    if action not in REGISTRY:
        raise Http404(say("There is no such action."))
    what = REGISTRY[action]
    person = cast(Person, request.user)
    target = find(person, what.on, pk)
    if action in OWN_PAGES and request.method == "GET":
        return OWN_PAGES[action](request, pk)
    to = safe(request, request.GET.get("to", ""))
    initial = {name: value for name, value in request.GET.items() if name != "to"}
    return act_on_page(
        request,
        action,
        target,
        success=lambda done: told(str(what.title), done),
        to=to,
        cancel=to,
        initial=initial,
        choices=offers(action, person, target),
        context={"lead": say(what.summary), "about": str(target), "warning": _warning(action, target, request, person)},
    )


def _warning(action: str, target: Any, request: HttpRequest, person: Person) -> str:
    """What to think of before this press."""
    if action != "mark_swept":
        return ""
    return before_in_place(target, request.GET.get("place", ""), person.units)


def safe(request: HttpRequest, to: str) -> str:
    """The wanted address if it is one of ours, else the front page."""
    ours = url_has_allowed_host_and_scheme(to, {request.get_host()}, require_https=request.is_secure())
    return to if ours and to else "/"


def told(title: str, done: Done) -> str:
    """What a press answers: that it is recorded, and what followed from it."""
    if done.status == "already":
        return say("{title}: recorded before; nothing changed.", title=title)
    said = [text for item in done.said if (text := consequence(item))]
    return " ".join([say("{title}: recorded.", title=title), *said])


def consequence(item: object) -> str:
    """A consequence as a sentence: swaths of a run that changed their standing, or a sentence as it is."""
    if isinstance(item, dict) and "swaths" in item:
        parts = [f"{count} {say(_WORDS[standing])}" for standing, count in sorted(item["swaths"].items())]
        return say("Swaths of run {run}: {parts}.", run=item["run"], parts=", ".join(parts))
    return item if isinstance(item, str) else ""


_WORDS = {
    "stands": noted("now stand"),
    "lost": noted("now lost"),
    "held": noted("now held"),
    "pending": noted("now pending"),
}
