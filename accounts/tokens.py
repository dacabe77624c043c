"""API tokens: hashed, named, and allowed to decide only when made so."""

from __future__ import annotations

from django.db import models
from knox.auth import TokenAuthentication as KnoxAuthentication
from knox.models import AbstractAuthToken


class Token(AbstractAuthToken):
    name = models.CharField(max_length=80)
    may_decide = models.BooleanField(default=False)


class TokenAuthentication(KnoxAuthentication):
    """`Authorization: Token <text>`; kept outside the record, like sessions."""
