"""Signing in: closed sign-up, invitations by the password-reset link, and what counts as a recent sign-in.

People are made by an administrator's invitation only; sessions, passwords and second factors stay outside the record.
"""

from __future__ import annotations

import time
from contextlib import nullcontext
from typing import Any, cast

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.authentication import get_authentication_records
from allauth.account.forms import LoginForm, default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.core.mail import send_mail
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext_lazy as _

from accounts.languages import spoken_to
from accounts.people import Person
from accounts.wording import say

TYPED = "typed"


class ClosedSignUp(DefaultAccountAdapter):
    """Nobody signs up: an administrator invites."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": _("This email address and password do not belong together. Check both."),
        "too_many_login_attempts": _("Too many attempts. Wait five minutes, then try again."),
        "incorrect_password": _("This is not your password."),
        "incorrect_code": _("This code is not right, or its time is over. Type the one shown now."),
        "account_inactive": _("This account has been closed. Ask your administrator."),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        """A recent sign-in is enough to change a second factor too."""
        return not signed_in_recently(self.request)

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Mails speak the language of whoever reads them; an unknown address gets the browser's."""
        person = context.get("user")
        with spoken_to(person) if person else nullcontext():
            super().send_mail(template_prefix, email, context)

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("settings")


class SignIn(LoginForm):
    """The sign-in form in our words."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = ""
        if "remember" in self.fields:
            self.fields["remember"].label = say("Stay signed in on this device")
        for field in self.fields.values():
            field.widget.attrs.pop("placeholder", None)


def signed_in_recently(request: HttpRequest) -> bool:
    """Whether the person proved who they are within ACCOUNT_REAUTHENTICATION_TIMEOUT (decisions ask this)."""
    records = get_authentication_records(request, cast(Person, request.user))
    return bool(records) and time.time() - records[-1]["at"] < settings.ACCOUNT_REAUTHENTICATION_TIMEOUT


def ask_to_sign_in_again(request: HttpRequest) -> HttpResponse:
    """Keep what was typed on this path in the session, and send the person to confirm who they are."""
    typed = request.POST.copy()
    typed.pop("csrfmiddlewaretoken", None)
    request.session[TYPED] = {"path": request.path, "body": typed.urlencode()}
    return redirect(f"{reverse('account_reauthenticate')}?{urlencode({'next': request.get_full_path()})}")


def typed_before(request: HttpRequest) -> QueryDict | None:
    """What was typed on this path before signing in again, given out once."""
    kept = request.session.get(TYPED)
    if not kept or kept["path"] != request.path:
        return None
    del request.session[TYPED]
    return QueryDict(kept["body"])


def invitation_link(person: Person) -> str:
    """The path where an invited person sets a password; it works once, and for PASSWORD_RESET_TIMEOUT."""
    key = default_token_generator.make_token(person)
    return reverse("account_reset_password_from_key", kwargs={"uidb36": user_pk_to_url_str(person), "key": key})


def send_invitation(request: HttpRequest, person: Person, invited_by: Person) -> str:
    """Mail the invitation and return its link, so that an administrator without a mail server can pass it on."""
    link = request.build_absolute_uri(invitation_link(person))
    shown = {"person": person, "invited_by": invited_by, "link": link, "days": settings.PASSWORD_RESET_TIMEOUT // 86400}
    with spoken_to(person):
        send_mail(
            settings.ACCOUNT_EMAIL_SUBJECT_PREFIX + say("{person} invites you", person=invited_by.name),
            render_to_string("account/email/invitation_message.txt", shown),
            settings.DEFAULT_FROM_EMAIL,
            [person.email],
            html_message=render_to_string("account/email/invitation_message.html", shown),
        )
    return link
