"""Puts the guards of the record back after every migration, and gives the computation its catalogue of words."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate, pre_migrate


class AccountsConfig(AppConfig):
    name = "accounts"

    def ready(self) -> None:
        from django.utils.translation import gettext, ngettext

        from accounts import actions, guards, languages, wording  # noqa: F401  (importing the actions registers them)

        wording.speak(gettext, ngettext, languages.day_words, languages.moment_words)

        # Both signals come once an app; this app's are sent when no (pre) or every (post) migration of the run is done.
        pre_migrate.connect(lift_guards, sender=self)
        post_migrate.connect(put_guards, sender=self)
        checks.register(guards.check_guards, checks.Tags.database)


def lift_guards(using: str, plan: list[Any], **kwargs: Any) -> None:
    """Triggers name columns, and a column named by a trigger can be neither dropped nor altered."""
    from accounts import guards

    if plan:
        guards.remove(using)


def put_guards(using: str, **kwargs: Any) -> None:
    from accounts import guards

    guards.install(using)
