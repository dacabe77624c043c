"""Loads the app's actions into the registry, and keeps and proves what this app derives."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"

    def ready(self) -> None:
        import_module("repairs.actions")
        import_module("repairs.worksheets")
        from accounts.acting import after_every_change
        from accounts.verify import register_derivation
        from repairs.tallies import differences, touch

        after_every_change(touch)
        register_derivation("tallies", differences)
