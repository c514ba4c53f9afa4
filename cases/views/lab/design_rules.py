"""The rules of the design: what each says, where it comes from, and the limits it judges by."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.contrib import messages
from django.forms import BoundField
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.design_review import RULES
from cases.domain.rule_limits import Changed, usable
from cases.domain.rule_spec import SEVERITY_WORDS, Rule
from cases.forms.rule_limits import LimitsForm, every_limit
from cases.services.record import Refusal
from cases.services.rule_limits import change_rule_limits, limit_field
from cases.views.form_page import posted
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, page, send

FAMILIES: tuple[tuple[str, tuple[str, ...]], ...] = (
    (gettext_noop("Path and tilt"), ("PATH",)),
    (gettext_noop("Block-out"), ("BLK",)),
    (gettext_noop("Clasps"), ("CLP",)),
    (gettext_noop("Support"), ("SUP",)),
    (gettext_noop("Bar and thickness"), ("BAR", "THK")),
    (gettext_noop("Borders"), ("BOR",)),
    (gettext_noop("Denture teeth"), ("TTH",)),
    (gettext_noop("Order and agreement"), ("IMM", "AGR", "ALL")),
)
"""The headings of the page, with the beginnings of the rules under each."""

_PLACE = re.compile(r"%\(\w+\)[.0-9]*[a-z]")


@dataclass(frozen=True)
class LimitShown:
    """One limit: its entry, and whether the lab changed it."""

    field: BoundField
    changed: bool
    usual: str


@dataclass(frozen=True)
class RuleShown:
    """One rule as the page shows it; the facts of a sentence stand as dots."""

    id: str
    severity: str
    grave: bool
    sentence: str
    source: str
    limits: list[LimitShown]


def _shown(rule: Rule, form: LimitsForm, changed: Changed) -> RuleShown:
    limits = [
        LimitShown(
            form[limit_field(rule.id, limit.name)],
            limit.name in changed.get(rule.id, {}),
            f"{limit.value:g}{limit.said_unit}",
        )
        for limit in rule.limits
    ]
    return RuleShown(
        rule.id,
        _(SEVERITY_WORDS[rule.severity]),
        rule.severity in ("cannot", "concession"),
        _PLACE.sub("…", _(rule.words)).replace("….", "…"),
        rule.source,
        limits,
    )


def families(form: LimitsForm, changed: Changed) -> list[tuple[str, str, list[RuleShown]]]:
    """Return the rules under their headings: anchor, words, rules in the bench's order."""
    return [
        (
            begins[0].lower(),
            _(words),
            [_shown(r, form, changed) for r in RULES.values() if r.id.split("-")[0] in begins],
        )
        for words, begins in FAMILIES
    ]


@page(may="settings", methods=("GET", "POST"))
def rules(request: LabRequest) -> HttpResponse:
    """Show every rule with its limits; change limits, or put one back to its usual value."""
    changed = usable(request.lab.rule_limits) if request.lab else {}
    if request.method == "POST" and "usual" in request.POST:
        return _back_to_usual(request)
    form = LimitsForm(request.POST if request.method == "POST" else None, changed=changed)
    if request.method == "POST":
        done = posted(form, lambda _data: send(request, change_rule_limits, values=form.values()))
        if done:
            messages.success(request, _("The limits are saved. The rules judge by them from now."))
            return redirect("cases:design-rules")
    return show_step(
        request,
        "lab/design_rules.html",
        form,
        step="cases:design-rules",
        families=families(form, changed),
        changed=[rule for rule in RULES if rule in changed],
        count=sum(len(ones) for ones in changed.values()),
    )


def _back_to_usual(request: LabRequest) -> HttpResponse:
    known = {limit_field(rule.id, one.name): (rule, one) for rule, one in every_limit()}
    found = known.get(request.POST["usual"])
    values = {found[0].id: {found[1].name: float(found[1].value)}} if found else {}
    try:
        send(request, change_rule_limits, values=values)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, _("The limit is back at its usual value."))
    return redirect("cases:design-rules")
