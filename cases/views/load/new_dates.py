"""New dates after a decision about a cure: what the plan says, and the way to promise them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib import messages
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.models import Case
from cases.selectors.new_dates import NewDate, NewDates, new_dates
from cases.views.page import LabRequest
from cases.views.plan.words import at_words


@dataclass(frozen=True)
class DateLine:
    """One case as the page shows it, with the address of its promise filled in beforehand."""

    found: NewDate
    promise: str


@dataclass(frozen=True)
class DatesView:
    """The part of a page about new dates; ``waits`` while the plan is being mended."""

    words: str
    waits: bool
    lines: list[DateLine]
    may_promise: bool


def dates_view(request: LabRequest, cases: Iterable[Case], reason: str) -> DatesView | None:
    """Return the part about new dates for cases in the lab, or None where there are none.

    Parameters
    ----------
    reason
        Why the day moves, as the promise form has it beforehand.
    """
    found = new_dates((case for case in cases if case.state == "open"), request.now)
    if not found.rows:
        return None
    return DatesView(
        _words(request, found),
        not found.known and not found.old,
        [DateLine(row, _address(row, reason)) for row in found.rows],
        request.visitor.may("log-cases"),
    )


def _words(request: LabRequest, found: NewDates) -> str:
    if found.made_at is None:
        return _("There is no plan yet that could tell a new day.")
    made = at_words(found.made_at, request.now)
    if found.known:
        return _("By the plan of %(made)s.") % {"made": made}
    if found.old:
        return _(
            "The planner stands still: its plan of %(made)s knows nothing of this decision. "
            "Restart the worker, or reckon the day yourself."
        ) % {"made": made}
    return _(
        "The plan of %(made)s knows nothing of this decision: it is being mended. The new days "
        "stand here in a moment."
    ) % {"made": made}


def _address(row: NewDate, reason: str) -> str:
    told = {"ship_on": row.ship_on.isoformat()} if row.ship_on and row.late else {}
    query = urlencode({**told, "reason": reason})
    return f"{reverse('cases:case-promise', args=[row.case.number])}?{query}"


def say_told(request: LabRequest, numbers: list[str]) -> None:
    """Say on the next page which practices were written to, and that they wait for a day."""
    if not numbers:
        return
    words = ngettext(
        "The practice was told of one case: %(numbers)s. Give it a new date.",
        "The practices were told of %(n)s cases: %(numbers)s. Give them new dates.",
        len(numbers),
    )
    messages.warning(request, words % {"n": len(numbers), "numbers": ", ".join(numbers)})
