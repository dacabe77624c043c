"""The briefings of an asset: today's on top, holding one with every point on the page, and acknowledging it by name."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.acting import find, may
from accounts.assets import Asset
from accounts.forms import act_on_page
from accounts.people import Person
from accounts.wording import say
from inspections.briefings import Attendee, Briefing
from inspections.cautions import cautions
from inspections.pages.doing import told
from inspections.standing import Method
from inspections.vocabulary import HIGH_VOLTAGE, METHODS

A_PAGE = 20


def briefed_today(asset: Asset) -> list[Attendee]:
    """Who took part in a high-voltage briefing of the asset's day that it is now."""
    clock = asset.zone_info
    midnight = timezone.now().astimezone(clock).replace(hour=0, minute=0, second=0, microsecond=0)
    rows = Attendee.objects.filter(
        briefing__asset=asset,
        briefing__method__in=HIGH_VOLTAGE,
        briefing__at__gte=midnight,
        briefing__struck_at=None,
        struck_at=None,
    )
    return list(rows.select_related("briefing__by", "person").order_by("at", "pk"))


@login_required
@require_safe
def briefings(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The briefings of an asset, the newest first, with who took part."""
    person = cast(Person, request.user)
    asset = find(person, Asset, pk)
    people = Prefetch("attendees", Attendee.objects.select_related("by", "person", "struck_by").order_by("at", "pk"))
    rows = Briefing.objects.filter(asset=asset).select_related("by", "struck_by").prefetch_related(people)
    page = Paginator(rows.order_by("-at", "-pk"), A_PAGE).get_page(request.GET.get("page"))
    today = timezone.now().astimezone(asset.zone_info).date()
    listed = []
    for row in page:
        row.asset = asset
        mine = any(
            each.person_id == person.pk and each.by_id == person.pk and not each.is_struck
            for each in row.attendees.all()
        )
        listed.append((row, row.day == today and not row.is_struck, mine))
    return render(
        request,
        "inspections/briefings.html",
        {
            "asset": asset,
            "briefings": listed,
            "page": page,
            "held_today": any(is_today for _, is_today, _ in listed),
            "may_hold": may(person, "hold_briefing", asset),
            "may_join": may(person, "join_briefing", asset),
            "here": request.get_full_path(),
        },
    )


@login_required
def hold_briefing(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Every point of the method on the page, then who took part."""
    person = cast(Person, request.user)
    asset = find(person, Asset, pk)
    method = request.GET.get("method", "high_voltage_dc")
    method = method if method in METHODS else "high_voltage_dc"
    back = reverse("briefings", args=[asset.pk])
    return act_on_page(
        request,
        "hold_briefing",
        asset,
        template="inspections/hold_briefing.html",
        initial={"method": method, "people": [person.name]},
        hidden=("method",),
        context={
            "asset": asset,
            "method": method,
            "methods": [(key, say(words)) for key, words in METHODS.items()],
            "cautions": cautions(cast(Method, method)),
        },
        success=lambda done: told(say("Briefing"), done),
        to=back,
        cancel=back,
    )


@login_required
def join_briefing(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The points of a briefing as they stood, to be acknowledged by one's own name."""
    briefing = find(cast(Person, request.user), Briefing, pk)
    back = reverse("briefings", args=[briefing.asset_id])
    return act_on_page(
        request,
        "join_briefing",
        briefing,
        template="inspections/join_briefing.html",
        context={"asset": briefing.asset, "briefing": briefing, "points": [say(point) for point in briefing.points]},
        success=lambda done: told(say("I was briefed"), done),
        to=back,
        cancel=back,
    )
