"""Where is everything: every open case on one page."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any, cast

from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.casenumber import NotACaseNumber, WrongCheckCharacter, parse
from cases.models import Case, Person
from cases.selectors.open_cases import (
    NOBODY,
    ORDERS,
    SHOWN,
    Asked,
    Counts,
    count_open,
    narrow,
    practice_filter,
    rows_of,
    stage_choices,
    who_choices,
)
from cases.selectors.visible import visible_cases
from cases.views.desk.row_words import row_words
from cases.views.page import LabRequest, page, show

A_PAGE = 60
Choices = list[tuple[str, str]]


def _day_ends(now: datetime) -> datetime:
    """Return the next midnight on the lab's wall."""
    tomorrow = timezone.localdate(now) + timedelta(days=1)
    return timezone.make_aware(datetime.combine(tomorrow, time(0)))


def heading(counts: Counts) -> str:
    """Return the findings of the house in one or two sentences."""
    if not counts.total:
        return _("No case is in the lab.")
    said = [ngettext("One case in the lab.", "%(n)s cases in the lab.", counts.total)]
    findings = []
    if counts.late:
        findings.append(ngettext("one is late", "%(late)s are late", counts.late))
    if counts.today:
        findings.append(ngettext("one leaves today", "%(today)s leave today", counts.today))
    if counts.waiting:
        findings.append(
            ngettext("one waits for an answer", "%(waiting)s wait for an answer", counts.waiting)
        )
    if findings:
        text = ", ".join(findings)
        said.append(text[:1].upper() + text[1:] + ".")
    elif counts.total > 1:
        said.append(_("None is late, none waits for an answer."))
    words = {
        "n": counts.total,
        "late": counts.late,
        "today": counts.today,
        "waiting": counts.waiting,
    }
    return " ".join(part % words for part in said)


def _choices() -> dict[str, Choices]:
    shown = {
        "late": _("only what is late"),
        "today": _("only what leaves today"),
        "held": _("only what is on hold"),
        "asked": _("only what waits for the practice"),
        "rush": _("only what is in a rush"),
        "undated": _("only what has no day yet"),
    }
    orders = {
        "leaves": _("what leaves soonest"),
        "newest": _("what came in last"),
        "practice": _("practice by practice"),
    }
    return {
        "stage": [("", _("every stage")), *((key, _(name)) for key, name in stage_choices())],
        "who": [("", _("anyone")), *who_choices(), (NOBODY, _("nobody yet"))],
        "practice": [("", _("every practice")), *practice_filter()],
        "show": [("", _("late or not")), *((key, shown[key]) for key in SHOWN)],
        "order": [(key, orders[key]) for key in ORDERS],
    }


def _asked(request: LabRequest, choices: dict[str, Choices]) -> Asked:
    """Return what the address asks for; what the page does not offer narrows nothing."""
    entries = {
        name: request.GET[name]
        for name, offered in choices.items()
        if request.GET.get(name) in {value for value, _words in offered}
    }
    return Asked(words=request.GET.get("q", "").strip()[:80], **entries)


def _by_number(cases: Any, words: str) -> tuple[Case | None, str]:
    """Return the case of a whole number, or the sentence that says why there is none."""
    if not any(character.isdigit() for character in words):
        return None, ""
    try:
        number = str(parse(words))
    except WrongCheckCharacter as error:
        return None, str(error)
    except NotACaseNumber:
        return None, ""  # a reference or a name: looked for as such
    return cases.filter(number=number).only("number").first(), ""


def _case_url(number: str) -> str:
    try:
        return reverse("cases:case", args=[number])
    except NoReverseMatch:
        return ""


@page(may="see-cases")
def desk(request: LabRequest) -> HttpResponse:
    """Show the open cases, or those that a search and the sentence ask for."""
    person = cast(Person, request.visitor.person)  # the door has seen to it
    cases = visible_cases(person, door=request.visitor.door)
    choices = _choices()
    asked = _asked(request, choices)
    mistyped = ""
    if asked.words:
        found, mistyped = _by_number(cases, asked.words)
        if found is not None and not request.htmx:
            return HttpResponseRedirect(_case_url(found.number))
    day_ends = _day_ends(request.now)
    wanted = narrow(cases, asked, now=request.now, day_ends=day_ends)
    paged = Paginator(wanted.values_list("pk", flat=True), A_PAGE).get_page(request.GET.get("page"))
    rows = [row_words(row, request.now) for row in rows_of(paged.object_list)]
    counts = count_open(cases, now=request.now, day_ends=day_ends)
    context = {
        "heading": heading(counts),
        "counts": counts,
        "asked": asked,
        "choices": choices,
        "mistyped": mistyped,
        "page": paged,
        "rows": rows,
        "may_log": request.visitor.may("log-cases"),
        "may_assign": request.visitor.may("assign"),
    }
    return show(request, "desk/desk.html", context)
