"""`manage.py makemessages`: Django's own, which also finds the words marked in the trade."""

from __future__ import annotations

from django.core.management.commands import makemessages


class Command(makemessages.Command):
    """Collect the words for people into the catalogue. Needs GNU gettext."""

    xgettext_options = [*makemessages.Command.xgettext_options, "--keyword=N_"]
