"""What the practice reads of a case: where it is and when it leaves, in plain words.

Reasons and remarks that people of the laboratory write for each other are not among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.formats import date_format
from django.utils.timezone import localdate
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from cases.domain.insertion import FIELDS
from cases.domain.reasons import ADJUSTMENT
from cases.models import Case, Hold, InsertionReport, Promise, Question
from cases.selectors.portal import Seen
from cases.views.case.where import say_when

HOLD_WORDS: dict[str, str] = {
    "agreement": gettext_noop("We wait for your agreement to the design."),
    "record-or-cast": gettext_noop("We wait for a record, cast or impression from you."),
    "signature": gettext_noop("We wait for your signature or written order."),
    "try-in": gettext_noop("The try-in is with you."),
    "date-moved": gettext_noop("You moved the date; the work rests until then."),
    "on-order": gettext_noop("We wait for teeth or material on order."),
    "impression-unusable": gettext_noop("The impression or cast cannot be used as it is."),
    "equipment": gettext_noop("We wait for equipment to be mended."),
    "cure-in-doubt": gettext_noop("We are judging whether it is fit to go on."),
}
"""Sentence for the practice by reason of the hold list; a reason without one stays inside."""

INSIDE = gettext_noop("The work rests in the laboratory for the moment.")
WAITS_FOR_YOU = gettext_noop("We wait for something from you.")


@dataclass(frozen=True)
class Line:
    """A case in a list: its sentence, when it leaves, and the shape of the tag beside it."""

    seen: Seen
    where: str
    leaves: str
    tag: str = ""
    tag_words: str = ""


def hold_words(hold: Hold) -> str:
    """Say what a hold waits for, without what the laboratory wrote about it."""
    if hold.reason == "design-back":
        return _("You keep the old order: we put the design back to it.")
    if hold.question is not None and hold.waits_for == "laboratory":
        return _("We bring the design in line with your answer.")
    if hold.question is not None:
        if hold.question.answered_at is not None:
            return _("You asked us to ring you about a question; the work waits for that.")
        return _("We wait for your answer.")
    if hold.reason in HOLD_WORDS:
        return _(HOLD_WORDS[hold.reason])
    return _(WAITS_FOR_YOU) if hold.waits_for == "practice" else _(INSIDE)


def where_words(seen: Seen, now: datetime) -> str:
    """Say where a case is, and what it waits for when it is on hold."""
    case = seen.case
    if case.state == "sent":
        return _("It left the laboratory %(when)s.") % {"when": _closed(case, now)}
    if case.state == "cancelled":
        return _("It was closed %(when)s and is not finished.") % {"when": _closed(case, now)}
    if case.state == "packed":
        return _("It is packed and waits for the carrier.")
    where = _(seen.where) if seen.where else _("It has arrived and waits to be unpacked.")
    whole = [hold for hold in seen.holds if not hold.stages]
    stops = list(dict.fromkeys(hold_words(hold) for hold in (whole or seen.holds)))
    if whole:
        return " ".join([_("It is on hold."), *stops])
    if stops:
        return " ".join([where, _("Part of the work waits."), *stops])
    return where


def _closed(case: Case, now: datetime) -> str:
    return say_when(case.closed_at, now) if case.closed_at else ""


def leaves_words(seen: Seen, now: datetime) -> str:
    """Say when a case leaves, or that it is late; for which day it is promised while it waits."""
    case = seen.case
    if case.state not in {"open", "packed"}:
        return ""
    if case.promised_on is None or case.leaves_at is None:
        return _("No day is promised yet; we will tell you.")
    day = date_format(case.promised_on, "l j F")
    if case.leaves_at <= now:
        return _("It should have left on %(day)s and is late.") % {"day": day}
    before = seen.moved_from
    moved = before is not None and before != case.promised_on
    named = {"day": day, "before": date_format(before, "l j F") if before is not None else ""}
    if seen.holds and case.state == "open":
        if moved:
            words = _("It is promised for %(day)s, and not for %(before)s as promised before.")
            return words % named
        return _("It is promised for %(day)s.") % named
    if case.promised_on == localdate(now):
        return _("It leaves today.")
    if moved:
        return _("It leaves on %(day)s, and not on %(before)s as promised before.") % named
    return _("It leaves on %(day)s.") % named


def line(seen: Seen, now: datetime) -> Line:
    """Return a case as it stands in a list."""
    case = seen.case
    tag, words = "", ""
    if case.state in {"open", "packed"} and case.leaves_at and case.leaves_at <= now:
        tag, words = "late", _("late")
    elif seen.questions:
        n = len(seen.questions)
        tag, words = "held", ngettext("a question", "%(n)s questions", n) % {"n": n}
    elif seen.holds and case.state == "open":
        tag, words = "held", _("on hold")
    elif case.state == "sent":
        words = _("reported") if seen.reported else _("not reported")
        tag = "done" if seen.reported else ""
    return Line(seen, where_words(seen, now), leaves_words(seen, now), tag, words)


def promise_lines(promises: Sequence[Promise]) -> list[str]:
    """Say what was promised when, from the first on."""
    said = []
    for place, promise in enumerate(promises):
        parts = {
            "day": date_format(promise.ship_on, "l j F"),
            "given": date_format(promise.given_at, "l j F"),
        }
        first = _("On %(given)s we promised that it leaves on %(day)s.")
        moved = _("On %(given)s we moved it to %(day)s.")
        said.append((moved if place else first) % parts)
    return said


def may_answer(question: Question, capabilities: frozenset[str]) -> bool:
    """Tell whether somebody with these capabilities may answer a question."""
    return ("answer-simple" if question.reception_may else "answer") in capabilities


def wants_words(question: Question) -> str:
    """Say who has to answer what reception may not."""
    dentist = question.case.prescription.dentist
    if dentist is None:
        return _("The dentist has to answer this.")
    return _("%(dentist)s has to answer this.") % {"dentist": dentist.name}


def report_lines(report: InsertionReport) -> list[tuple[str, str]]:
    """Return the fields of a report as (label, answer), in the order they were asked."""
    stored = {
        "retention": report.retention,
        "support": report.seating,
        "occlusion": report.bite,
        "sore_spots": report.sore_spots,
    }
    lines = []
    for field in FIELDS:
        if field.answers:
            answers = {answer.key: answer.words for answer in field.answers}
            lines.append((_(field.words), _(answers[stored[field.key]])))
        else:
            minutes = report.chair_minutes
            said = _("Not reported") if minutes is None else str(minutes)
            lines.append((_(field.words), said))
    if report.adjusted:
        named = ", ".join(_(ADJUSTMENT.get(key).words) for key in report.adjusted)
        lines.append((_("Adjusted"), named))
    if report.words:
        lines.append((_("In words"), report.words))
    return lines
