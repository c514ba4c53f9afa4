"""The app's entry in Django's registry."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate
from django.utils.translation import gettext, ngettext

from cases.domain.planning.compiled import engine
from cases.domain.words import speak_through


def install_guard(*, using: str, **kwargs: Any) -> None:
    """Put the triggers of the append-only record back after every migrate."""
    from django.db import connections

    import_module("cases.models.guard").install(connections[using])


class CasesConfig(AppConfig):
    """The one app."""

    name = "cases"
    verbose_name = "Cases"

    def ready(self) -> None:
        """Register the checks and the guard; they need the registry, so not at import.

        The trade knows no framework: its sentences are said through Django's translator, and it
        is told whether compiled code is wanted.
        """
        speak_through(gettext, ngettext)
        engine.use(settings.COMPILED)
        import_module("labflow.checks")
        guard = import_module("cases.models.guard")
        connection_created.connect(guard.provide, dispatch_uid="record-guard-function")
        post_migrate.connect(install_guard, sender=self, dispatch_uid="record-guard-triggers")
