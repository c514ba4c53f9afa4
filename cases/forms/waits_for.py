"""Whom a hold waits for: offered by its reason, chosen by whoever stops the work."""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.reasons import HOLD, HOLD_WAITS_FOR, usually_waits_for


class WaitsForField(forms.ChoiceField):
    """Whom it waits for; left open, it is whoever the reason usually waits for.

    The page marks that choice as soon as a reason is chosen (``static/js/usual.js``), until a
    person marks another.
    """

    def __init__(self, **options: Any) -> None:
        options.setdefault(
            "help_text", gettext_lazy("Nothing chosen: whoever the reason usually waits for.")
        )
        super().__init__(required=False, **options)
        usual = {reason.key: usually_waits_for(reason.key) for reason in HOLD.reasons}
        self.widget.attrs |= {"data-usual": json.dumps(usual), "data-usual-of": "reason"}

    def offer(self) -> None:
        """Offer the parties in the reader's language; a list begins with none chosen."""
        parties = [(one.key, _(one.words)) for one in HOLD_WAITS_FOR]
        radios = isinstance(self.widget, forms.RadioSelect)
        self.choices = parties if radios else [("", _("as usual for the reason")), *parties]


def settle(data: dict[str, Any]) -> None:
    """Fill in whom a hold waits for where nobody chose."""
    if data.get("reason") and not data.get("waits_for"):
        data["waits_for"] = usually_waits_for(data["reason"])
