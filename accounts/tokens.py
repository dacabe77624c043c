"""API tokens: hashed, named, and allowed to decide only when made so."""

from __future__ import annotations

from typing import Any

from django.db import models
from knox.auth import TokenAuthentication as KnoxAuthentication
from knox.models import AbstractAuthToken
from rest_framework.exceptions import AuthenticationFailed

from accounts.languages import speak_to
from accounts.wording import say


class Token(AbstractAuthToken):
    """One token of a person; the text is shown once and only its hash is kept."""

    name = models.CharField(max_length=80)
    may_decide = models.BooleanField(default=False)


class TokenAuthentication(KnoxAuthentication):
    """`Authorization: Token <text>`; kept outside the record, like sessions."""

    def authenticate_credentials(self, token: bytes) -> Any:
        if not token.isalnum():  # asked of ASCII only; anything else would be a fault further on
            raise AuthenticationFailed(say("Invalid token."))
        person, found = super().authenticate_credentials(token)
        speak_to(person)
        return person, found
