"""Quick guides: two printed pages for each role, with the site's own names, symbols and cautions. Read by anybody."""

from __future__ import annotations

from typing import NamedTuple, cast

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.people import Appointment, Person, Role
from accounts.wording import noted, say
from inspections.cautions import cautions
from mapping.symbols import DOUBTS, GROUND, STATUSES
from mapping.wire import legend_of

ABOUT = {
    Role.CREW: noted("Sweep, prove the detector, mark the ground, report flaws, retest repairs."),
    Role.LEAD: noted("Set the work up, look at what was found, issue patches, settle doubts."),
    Role.CONTRACTOR: noted("Put patches right inside their windows and hand them over."),
    Role.OWNER: noted("Decide on doubts and exclusions, concede, release, withdraw."),
    Role.OBSERVER: noted("Read everything, change nothing, check the proof."),
    Role.ADMIN: noted("Organisations, people and who may do what."),
}


class Guide(NamedTuple):
    """One line of the list of guides."""

    title: str
    about: str
    url: str
    mine: bool


@require_safe
def guides(request: HttpRequest) -> HttpResponse:
    """All guides, the reader's own roles first."""
    held = _held(request)
    roles = sorted(Role, key=lambda role: role not in held)
    listed = [Guide(str(role.label), _about(role), reverse("guide", args=[role.value]), role in held) for role in roles]
    return render(request, "repairs/guides.html", {"guides": listed})


@require_safe
def guide(request: HttpRequest, role: str) -> HttpResponse:
    """One role's guide: its job on the first page; symbols, cautions and ways out on the second."""
    if role not in Role.values:
        raise Http404
    context = {
        "role": Role(role),
        "about": _about(Role(role)),
        "statuses": legend_of((*STATUSES, *DOUBTS)),
        "ground": legend_of((*GROUND, "excluded", "untested", "untested-point")),
        "high_voltage": cautions("high_voltage_pulsed"),  # those of continuous detectors, and one more
        "sponge": cautions("wet_sponge"),
    }
    return render(request, f"repairs/guides/{role}.html", context)


def _about(role: Role) -> str:
    return say(ABOUT[role])


def _held(request: HttpRequest) -> set[Role]:
    if not request.user.is_authenticated:
        return set()
    person = cast(Person, request.user)
    held = Appointment.objects.in_force(timezone.now()).filter(person=person).values_list("role", flat=True)
    return {Role(role) for role in held}
