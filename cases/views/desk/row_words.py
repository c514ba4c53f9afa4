"""What a row of the open cases says: stage, with whom, when it leaves, and its marks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from cases.domain.questions import BY_NUMBER
from cases.domain.reasons import HOLD, HOLD_WAITS_FOR
from cases.models import Case, CaseStage, Hold
from cases.selectors.open_cases import IN_HAND, Row

DAY = "D j M"
DAY_AND_TIME = "D j M H:i"
SHORT_REASONS = {
    "answer": gettext_lazy("an answer"),
    "agreement": gettext_lazy("agreement to the design"),
    "record-or-cast": gettext_lazy("a record, cast or impression"),
    "signature": gettext_lazy("signature or written order"),
    "disinfection-unknown": gettext_lazy("disinfected?"),
}
"""Reasons to wait whose words in the list are too long beside whom it waits for."""
MOST_MARKS = 3
"""Marks of a row before the rest is counted: more would be read by nobody. Judgement."""


@dataclass(frozen=True)
class Mark:
    """A state in words with the shape of its tag (see components/_tag.html)."""

    kind: str
    words: str


@dataclass(frozen=True)
class RowWords:
    """One row as the page shows it."""

    case: Case
    stage: str
    beside: str
    person: str
    leaves: str
    marks: list[Mark]


def _main_stage(row: Row) -> CaseStage | None:
    """Return the stage that says where the case is: begun before ready, later before earlier."""
    begun = [stage for stage in row.stages if stage.state in IN_HAND]
    if begun:
        return begun[0]
    return row.stages[0] if row.stages else None


def _who(row: Row, main: CaseStage | None) -> str:
    if main is None:
        return ""
    if main.state == "away":
        return _("the practice")
    person = main.worker if main.state in IN_HAND else main.assignee
    if person is None:
        return ""
    if person.is_student:
        return _("%(name)s (student)") % {"name": person.name}
    return person.name


def _closed_words(case: Case) -> str:
    day = date_format(timezone.localtime(case.closed_at), DAY) if case.closed_at else ""
    if case.state == "sent":
        return _("Sent %(day)s") % {"day": day}
    return _("Cancelled %(day)s") % {"day": day}


def _late(case: Case, now: datetime) -> Mark | None:
    if case.leaves_at is None or case.leaves_at >= now:
        return None
    days = (timezone.localdate(now) - timezone.localdate(case.leaves_at)).days
    if days:
        return Mark("late", ngettext("%(n)s day late", "%(n)s days late", days) % {"n": days})
    since = timezone.localtime(case.leaves_at).strftime("%H:%M")
    return Mark("late", _("missed the van at %(time)s") % {"time": since})


def _pour(row: Row, now: datetime) -> Mark | None:
    """Return how the impression stands while it is not poured yet."""
    due = row.case.pour_by
    waits = any(stage.key in ("receive", "disinfect", "pour", "pick-up") for stage in row.stages)
    if due is None or not waits:
        return None
    at = timezone.localtime(due)
    same_day = at.date() == timezone.localdate(now)
    when = at.strftime("%H:%M") if same_day else date_format(at, DAY_AND_TIME)
    if due < now:
        return Mark("late", _("pour: overdue since %(time)s") % {"time": when})
    return Mark("running", _("pour before %(time)s") % {"time": when})


def hold_words(hold: Hold) -> str:
    """Return whom a hold waits for and what is missing, short enough for a row."""
    who = next(
        (_(reason.words) for reason in HOLD_WAITS_FOR if reason.key == hold.waits_for),
        hold.waits_for,
    )
    question = hold.question
    if question is not None and question.number in BY_NUMBER:
        what = _(BY_NUMBER[question.number].key.replace("-", " ")) + "?"
    else:
        known = (_(reason.words) for reason in HOLD.reasons if reason.key == hold.reason)
        what = str(SHORT_REASONS.get(hold.reason) or next(known, hold.reason))
        what = what[:1].lower() + what[1:]
    return f"{who[:1].lower()}{who[1:]}: {what}"


def _stage_marks(main: CaseStage | None, now: datetime) -> list[Mark]:
    if main is None:
        return []
    if main.state == "countersign":
        return [Mark("", _("waits for a countersign"))]
    if main.state == "paused":
        return [Mark("", _("put down"))]
    if main.state == "planned" and main.ready_at is not None and main.ready_at > now:
        at = timezone.localtime(main.ready_at)
        same_day = at.date() == timezone.localdate(now)
        when = at.strftime("%H:%M") if same_day else date_format(at, DAY_AND_TIME)
        return [Mark("running", _("not before %(time)s") % {"time": when})]
    if main.state == "planned" and main.latest_at is not None and main.latest_at < now:
        return [Mark("late", _("should have begun"))]
    return []


def _marks(row: Row, main: CaseStage | None, now: datetime) -> list[Mark]:
    case = row.case
    found = [mark for mark in (_late(case, now), _pour(row, now)) if mark is not None]
    words = list(dict.fromkeys(hold_words(hold) for hold in row.holds))
    found += [Mark("held", text) for text in words]
    pouring = any(mark.words.startswith("pour") for mark in found)
    if case.state == "open" and not (main is not None and main.key == "pour" and pouring):
        found += _stage_marks(main, now)
    if case.rush:
        found.append(Mark("", _("rush")))
    if case.first_promised_on and case.promised_on and case.promised_on > case.first_promised_on:
        day = date_format(case.first_promised_on, DAY)
        found.append(Mark("", _("first promised %(day)s") % {"day": day}))
    if len(found) > MOST_MARKS:
        rest = len(found) - MOST_MARKS + 1
        more = _("and %(n)s more") % {"n": rest}
        found = [*found[: MOST_MARKS - 1], Mark("", more)]
    return found


def row_words(row: Row, now: datetime) -> RowWords:
    """Return what the page says of one case."""
    case = row.case
    if case.state in ("sent", "cancelled"):
        leaves = date_format(timezone.localtime(case.leaves_at), DAY) if case.leaves_at else ""
        return RowWords(case, _closed_words(case), "", "", leaves, [])
    main = _main_stage(row)
    others = len(row.stages) - 1 if main is not None else 0
    beside = ngettext("and %(n)s other stage", "and %(n)s other stages", others) if others else ""
    if case.state == "packed":
        stage = _("In its box")
    else:
        stage = _(main.name) if main is not None else _("Done")
    return RowWords(
        case,
        stage,
        beside % {"n": others} if beside else "",
        _who(row, main),
        date_format(timezone.localtime(case.leaves_at), DAY_AND_TIME) if case.leaves_at else "",
        _marks(row, main, now),
    )
