"""The app's entry in Django's registry."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class CasesConfig(AppConfig):
    """The one app."""

    name = "cases"
    verbose_name = "Cases"

    def ready(self) -> None:
        """Register the checks; they need the registry, so not at import."""
        import_module("labflow.checks")
