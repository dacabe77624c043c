"""Loads the app's actions and worksheets into their registries."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class MappingConfig(AppConfig):
    name = "mapping"

    def ready(self) -> None:
        import_module("mapping.actions")
        import_module("mapping.worksheets")
