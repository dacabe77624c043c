"""Loads the app's actions and worksheets into their registries, and the proof of what this app derives."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        import_module("inspections.actions")
        import_module("inspections.worksheets")
        from accounts.verify import register_derivation
        from inspections.tested import differences

        register_derivation("standing and coverage", differences)
