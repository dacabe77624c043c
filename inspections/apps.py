"""Loads the app's actions into the registry, and the proof of what this app derives."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        import_module("inspections.actions")
        from accounts.verify import register_derivation
        from inspections.tested import differences

        register_derivation("standing and coverage", differences)
