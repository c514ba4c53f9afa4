"""Entries about how the planner weighs: shapes only, the service decides."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy


class PlanSettingsForm(forms.Form):
    """How long the planner may think, whether it may plan overtime, and how it weighs cases."""

    plan_seconds = forms.IntegerField(
        label=gettext_lazy("Seconds that a plan may be improved for"),
        min_value=0,
        max_value=600,
        help_text=gettext_lazy(
            "A plan is there at once; the worker then looks so long for a better one, until "
            "something happens. 0: nothing is searched, and the plan is mended "
            "or made by a rule, whichever is less late."
        ),
    )
    plan_overtime = forms.BooleanField(
        label=gettext_lazy("Overtime may be planned"),
        required=False,
        help_text=gettext_lazy(
            "Of everybody on whose own page nothing else is said. Without it, overtime is only "
            "named as what would save a late case."
        ),
    )
    plan_overtime_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes of overtime after a shift"),
        min_value=1,
        max_value=240,
    )
    rush_weight = forms.FloatField(
        label=gettext_lazy("A day that a rush is late counts as so many days of another case"),
        min_value=1,
        max_value=20,
        help_text=gettext_lazy("1: a rush is a case like any other. Usual is 4."),
    )
    remake_weight = forms.FloatField(
        label=gettext_lazy("A day that a remake is late counts as so many days of another case"),
        min_value=1,
        max_value=20,
        help_text=gettext_lazy("Of a rush that is a remake too, the larger of the two counts."),
    )
