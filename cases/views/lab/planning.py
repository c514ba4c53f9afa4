"""How the planner weighs, and how long it may think."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from cases.forms.lab_plan import PlanSettingsForm
from cases.services.plan import set_plan_settings
from cases.views.form_page import posted
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, page, send


@page(may="settings", methods=("GET", "POST"))
def planning(request: LabRequest) -> HttpResponse:
    """Say how long the planner may think, whether it may plan overtime, and how it weighs."""
    first = {name: getattr(request.lab, name, "") for name in PlanSettingsForm.base_fields}
    form = PlanSettingsForm(request.POST or None, initial=first)
    if posted(form, lambda data: send(request, set_plan_settings, **data)):
        messages.success(request, _("The planner works like that from its next plan on."))
        return redirect("cases:lab-planning")
    return show_step(request, "lab/planning.html", form, step="cases:lab-planning")
