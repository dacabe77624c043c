"""The frame of every page, the front page, the person's own settings, and how pages refuse."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe
from rest_framework import exceptions, serializers

from accounts.acting import find
from accounts.forms import Form, act_on_page, build_form, see_other
from accounts.languages import language_of_page
from accounts.people import Appointment, Organisation, Person, Role
from accounts.problems import PROBLEMS, bare, wants_problem
from accounts.signing_in import ask_to_sign_in_again, signed_in_recently, typed_before
from accounts.tokens import Token
from accounts.typed import Reader, given_from_page
from accounts.wording import say

CONTRAST = "contrast"


class Link(NamedTuple):
    """A way in the navigation; a `spare` one stands in the menu of the person where the window is narrow."""

    label: str
    url: str
    current: bool
    spare: bool = False


def shell(request: HttpRequest) -> dict[str, Any]:
    """What every page's frame shows: the person and their units, the navigation, the chosen contrast."""
    user = getattr(request, "user", None)
    frame: dict[str, Any] = {"contrast": request.COOKIES.get(CONTRAST) == "more", "units": "si", **language_of_page()}
    sheets, guides = _link(request, say("Worksheets"), "worksheets"), _link(request, say("Guide"), "guides")
    if user is None or not user.is_authenticated:
        return {**frame, "signed_out": True, "nav": [*([sheets] if settings.WORKSHEETS == "public" else []), guides]}
    person = cast(Person, user)
    ways = ((say("Today"), "today"), (say("Assets"), "assets"), (say("Board"), "board"))
    return {
        **frame,
        "person": person,
        "units": person.units,
        "role_words": SimpleLazyObject(lambda: _role_words(person)),
        "nav": [*(_link(request, *way) for way in ways), sheets._replace(spare=True), guides],
    }


def _link(request: HttpRequest, label: str, name: str) -> Link:
    url = reverse(name)
    return Link(label, url, request.path.startswith(url))


def _role_words(person: Person) -> str:
    held = Appointment.objects.in_force(timezone.now()).filter(person=person).values_list("role", flat=True)
    return ", ".join(str(Role(role).label) for role in sorted(set(held)))


@require_safe
def front(request: HttpRequest) -> HttpResponse:
    """Signed in: today's work. Signed out: what Barespot is; on an empty installation, how to begin."""
    if request.user.is_authenticated:
        return redirect("today")
    return render(request, "accounts/front.html", {"begun": Organisation.objects.exists(), "demo": settings.DEMO})


@require_POST
def contrast(request: HttpRequest) -> HttpResponse:
    """Choose the contrast for this device."""
    to = request.POST.get("next", "/")
    if not url_has_allowed_host_and_scheme(to, {request.get_host()}, require_https=request.is_secure()):
        to = "/"
    answer = see_other(to)
    if request.POST.get("contrast") == "more":
        answer.set_cookie(
            CONTRAST, "more", max_age=365 * 86400, samesite="Lax", secure=settings.PRODUCTION, httponly=True
        )
    else:
        answer.delete_cookie(CONTRAST)
    return answer


class TokenAsked(serializers.Serializer):
    """What a token is for, and whether it may decide."""

    name = serializers.CharField(
        label=_("What is it for?"), max_length=80, help_text=_('For example "tablet in van 2".')
    )
    may_decide = serializers.BooleanField(
        label=_("May decide"),
        default=False,
        help_text=_("Release, accept, concede, withdraw, in your name. Leave off for reading and recording."),
    )


@login_required
@require_safe
@never_cache
def own_settings(request: HttpRequest) -> HttpResponse:
    return render(request, "accounts/settings.html", _settings_context(request))


def _settings_context(request: HttpRequest, form: Form | None = None) -> dict[str, Any]:
    person = cast(Person, request.user)
    return {
        "units_words": Person.Units(person.units).label,
        "language_words": dict(settings.LANGUAGES).get(get_language(), ""),
        "appointed": Appointment.objects.in_force(timezone.now()).filter(person=person).exists(),
        "tokens": Token.objects.filter(user=person).order_by("-created"),
        "has_second_factor": person.authenticator_set.filter(type="totp").exists(),  # type: ignore[attr-defined]
        "token_form": form or _token_form(),
    }


def _token_form(**details: Any) -> Form:
    return build_form(TokenAsked, button=say("Make the token"), reader=Reader(), url=reverse("make_token"), **details)


@login_required
def own_units(request: HttpRequest) -> HttpResponse:
    # The row itself: request.user only stands for it.
    person = find(cast(Person, request.user), Person, cast(Person, request.user).pk)
    return act_on_page(
        request,
        "amend_my_units",
        person,
        success=say("Your figures are shown in these units from now on."),
        to=reverse("settings"),
        initial={"units": person.units},
        cancel=reverse("settings"),
        context={"crumbs": [(say("Settings"), reverse("settings"))]},
    )


@login_required
def own_language(request: HttpRequest) -> HttpResponse:
    person = find(cast(Person, request.user), Person, cast(Person, request.user).pk)
    return act_on_page(
        request,
        "amend_my_language",
        person,
        success="",
        to=reverse("settings"),
        initial={"language": person.language or get_language()},
        cancel=reverse("settings"),
        context={"crumbs": [(say("Settings"), reverse("settings"))]},
    )


@login_required
@never_cache
def make_token(request: HttpRequest) -> HttpResponse:
    """Make an API token; its text is shown on this answer and never again."""
    if request.method != "POST":
        form = _token_form(typed=typed_before(request))
        return render(request, "accounts/settings.html", _settings_context(request, form))
    if not signed_in_recently(request):
        return ask_to_sign_in_again(request)
    asked = TokenAsked(data=given_from_page(TokenAsked(), request.POST, request.FILES, Reader()))
    if not asked.is_valid():
        form = _token_form(typed=request.POST, errors=asked.errors)
        return render(request, "accounts/settings.html", _settings_context(request, form), status=422)
    _, text = Token.objects.create(user=request.user, **asked.validated_data)
    messages.success(request, say("The token is made."))
    return render(request, "accounts/token_made.html", {"text": text, "name": asked.validated_data["name"]})


@login_required
@require_POST
def revoke_token(request: HttpRequest, digest: str) -> HttpResponse:
    token = get_object_or_404(Token, user=request.user, digest=digest)
    token.delete()
    messages.success(request, say('The token "{token}" no longer works.', token=token.name))
    return see_other(reverse("settings"))


@require_safe
def problem_types(request: HttpRequest) -> HttpResponse:
    """What the `type` of a problem answer points at."""
    return render(request, "accounts/problems.html", {"problems": sorted(PROBLEMS.items())})


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponseBase:
    return bare(400) if wants_problem(request) else render(request, "400.html", status=400)


def denied(request: HttpRequest, exception: Exception | None = None) -> HttpResponseBase:
    said = str(exception or "")
    return bare(403, said) if wants_problem(request) else render(request, "403.html", {"said": said}, status=403)


def not_there(request: HttpRequest, exception: Exception | None = None) -> HttpResponseBase:
    """The same words for what is absent and what is not yours to see."""
    if wants_problem(request):
        return bare(404)
    return render(request, "404.html", status=404)


def fault(request: HttpRequest) -> HttpResponseBase:
    """A fault of ours: a page that needs neither the database nor the person."""
    return bare(500) if wants_problem(request) else HttpResponse(render_to_string("500.html"), status=500)


class RefusalsOnPages:
    """Middleware: what actions and finders raise inside a page becomes the 404 and 403 pages, with its message."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponseBase | None:
        if isinstance(exception, exceptions.NotFound):
            return not_there(request, Http404(str(exception.detail)))
        if isinstance(exception, exceptions.PermissionDenied):
            return denied(request, PermissionDenied(str(exception.detail)))
        return None
