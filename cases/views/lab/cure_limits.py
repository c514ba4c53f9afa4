"""The limits of the cure: what each changes, where it comes from, and why it was changed."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.forms import BoundField
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.cure.settings import CURE_LIMITS, Changed, CureLimit, Part, usable
from cases.forms.cure_limits import CureLimitsForm
from cases.models import CureLimitsChange
from cases.selectors.cure_limits import limit_changes
from cases.services.cure_limits import change_cure_limits
from cases.views.form_page import posted
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, page, send

PARTS: tuple[tuple[Part, str], ...] = (
    ("verdict", gettext_noop("What the record of a bath is judged by")),
    ("estimate", gettext_noop("What a load is estimated by before it goes in")),
)
"""The headings of the page, with the limits under each."""


@dataclass(frozen=True)
class LimitShown:
    """One limit: its entry, what it changes, its source, and whether the lab changed it."""

    field: BoundField
    limit: CureLimit
    changes: str
    source: str
    usual: str
    changed: bool


@dataclass(frozen=True)
class ChangeShown:
    """One change of the past: of each limit its words, the old value and the new one."""

    row: CureLimitsChange
    lines: list[tuple[str, str, str]]


def _shown(limit: CureLimit, form: CureLimitsForm, changed: Changed) -> LimitShown:
    return LimitShown(
        form[limit.name],
        limit,
        _(limit.changes),
        _(limit.source),
        limit.said(limit.value),
        limit.name in changed,
    )


def _past(row: CureLimitsChange) -> ChangeShown:
    lines = []
    for key, after in row.after.items():
        limit = CURE_LIMITS.get(key)
        say = limit.said if limit else "{:g}".format
        lines.append((_(limit.words) if limit else key, say(row.before[key]), say(after)))
    return ChangeShown(row, lines)


@page(may="settings", methods=("GET", "POST"))
def limits(request: LabRequest) -> HttpResponse:
    """Show the limits of the cure with their sources and past changes; change some of them."""
    changed = usable(request.lab.cure_limits) if request.lab else {}
    form = CureLimitsForm(request.POST if request.method == "POST" else None, changed=changed)
    if request.method == "POST":
        done = posted(
            form,
            lambda data: send(
                request, change_cure_limits, values=form.values(), reason=data["reason"]
            ),
        )
        if done:
            messages.success(
                request, _("The limits are saved. What is judged from now on goes by them.")
            )
            return redirect("cases:cure-limits")
    return show_step(
        request,
        "lab/cure_limits.html",
        form,
        step="cases:cure-limits",
        parts=[
            (
                part,
                _(words),
                [_shown(one, form, changed) for one in CURE_LIMITS.values() if one.part == part],
            )
            for part, words in PARTS
        ],
        count=len(changed),
        past=[_past(row) for row in limit_changes()],
    )
