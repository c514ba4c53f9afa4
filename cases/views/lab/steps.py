"""The settings pages in the order in which a new laboratory goes through them."""

from __future__ import annotations

from typing import Any

from django.forms import BaseForm
from django.http import HttpResponse
from django.utils.translation import gettext_lazy as _

from cases.views.form_page import show_forms
from cases.views.page import LabRequest

STEPS = (
    ("cases:lab-profile", _("Profile")),
    ("cases:people", _("People")),
    ("cases:skills", _("Skills")),
    ("cases:hours", _("Opening hours")),
    ("cases:closed-days", _("Closed days")),
    ("cases:stations", _("Stations")),
    ("cases:baths", _("Baths")),
    ("cases:resins", _("Resins and programs")),
    ("cases:cure-limits", _("Limits of the cure")),
    ("cases:things", _("Flasks, articulators, clamps")),
    ("cases:practices", _("Practices")),
    ("cases:tablets", _("Tablets")),
    ("cases:route", _("Route")),
    ("cases:design-rules", _("Rules of the design")),
    ("cases:lab-planning", _("Planning")),
)


def show_step(
    request: LabRequest,
    template: str,
    form: BaseForm | None = None,
    /,
    *,
    step: str,
    **context: Any,
) -> HttpResponse:
    """Render a settings page with the way back and the next step."""
    names = [name for name, _words in STEPS]
    after = names.index(step) + 1
    following = STEPS[after] if after < len(STEPS) else None
    return show_forms(request, template, form, next_step=following, **context)
