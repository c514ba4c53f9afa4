"""The history of a case in sentences: one for each kind of event, with the words it stands for."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Any

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from cases.domain.reasons import REASON_LISTS, REMAKE_ORIGIN
from cases.domain.toothwords import for_reader, relabel
from cases.models import (
    CheckItem,
    CheckResult,
    Concession,
    Design,
    Event,
    File,
    Hold,
    Mishap,
    Note,
    Paper,
    Promise,
    Question,
    SendBack,
)
from cases.selectors.history import History
from cases.services.bath_decision import DECISIONS
from cases.services.cut import CHOICES
from cases.services.put_down import WHY
from cases.views.case.order_words import FIELD_WORDS

SENTENCES: dict[str, str] = {
    "alert.acknowledged": gettext_noop("%(who)s heard the alarm."),
    "alert.rings-again": gettext_noop("The alarm for “%(stage)s” rings on: it is so again."),
    "alert.stilled": gettext_noop("The alarm for “%(stage)s” fell silent: it is over."),
    "case.cancelled": gettext_noop("%(who)s closed the case: it will not be finished."),
    "case.held": gettext_noop("%(who)s put it on hold: %(reason)s."),
    "case.logged": gettext_noop("%(who)s logged the case."),
    "case.new-impression": gettext_noop(
        "%(who)s logged a new impression. The casts of the old one are void and the work begins "
        "again."
    ),
    "case.packed": gettext_noop("%(who)s packed it."),
    "case.paired": gettext_noop("Tied to its twin %(subject)s: they leave together."),
    "case.promised": gettext_noop("%(who)s promised that it leaves on %(day)s."),
    "case.released": gettext_noop("%(who)s released the hold: %(reason)s."),
    "case.remade": gettext_noop("%(who)s had it made again as %(subject)s: %(reason)s."),
    "case.sent": gettext_noop("%(who)s handed it to the carrier."),
    "case.sent-back": gettext_noop("%(who)s sent it back to “%(to_stage)s”: %(reason)s."),
    "case.unpacked": gettext_noop("%(who)s took it out of its box again."),
    "check.conceded": gettext_noop("%(who)s accepted a failed check (%(check)s): %(reason)s."),
    "check.entered": gettext_noop("%(who)s checked: %(check)s %(verdict)s"),
    "check.photographed": gettext_noop("%(who)s photographed for a check: %(check)s"),
    "design.drafted": gettext_noop("%(who)s kept a draft of the design (%(subject)s)."),
    "design.expected": gettext_noop("The order lets one expect this design until the survey."),
    "design.set": gettext_noop("%(who)s drew the design (%(subject)s)."),
    "dough.closed": gettext_noop("%(who)s closed the flask for the last time."),
    "dough.mixed": gettext_noop("%(who)s mixed the resin."),
    "file.attached": gettext_noop("%(who)s added a photograph."),
    "load.case-held-longer": gettext_noop("%(who)s had its load held longer in the bath."),
    "load.case-placed": gettext_noop("%(who)s put the flask into the bath."),
    "load.cut-came-late": gettext_noop(
        "%(who)s decided after a power cut: %(decision)s. It was out of its flask already and "
        "stays where it is."
    ),
    "load.cut-decided": gettext_noop("%(who)s decided after a power cut: %(decision)s."),
    "load.flask-added": gettext_noop("%(who)s added the flask to a load of the bath."),
    "load.flask-removed": gettext_noop("%(who)s took the flask out of a load again."),
    "load.flask-unmeasured": gettext_noop(
        "%(who)s let the flask into a load although nobody measured its thickest place."
    ),
    "load.rested-long": gettext_noop(
        "%(who)s put the flask in; it had rested longer than it should."
    ),
    "load.rests-in-bath": gettext_noop(
        "The flask rests on in the cold bath until its heat begins."
    ),
    "load.record-came-late": gettext_noop(
        "%(who)s decided about its bath's record: %(decision)s. It was out of its flask already "
        "and stays where it is."
    ),
    "load.record-decided": gettext_noop("%(who)s decided about its bath's record: %(decision)s."),
    "note.written": gettext_noop("%(who)s wrote a note."),
    "order.answered": gettext_noop("The order was changed by the answer of %(who)s: %(fields)s."),
    "order.answered-by-telephone": gettext_noop(
        "The order was changed by the answer of the practice that %(who)s entered: %(fields)s."
    ),
    "order.corrected": gettext_noop("%(who)s corrected the order: %(fields)s."),
    "paper.printed": gettext_noop("%(who)s had a paper printed."),
    "plan.pinned": gettext_noop("%(who)s decided for the plan: “%(stage)s” is for %(to)s."),
    "plan.pinned-from": gettext_noop(
        "%(who)s decided for the plan: “%(stage)s” is for %(to)s, from %(begins)s."
    ),
    "plan.unpinned": gettext_noop("%(who)s left “%(stage)s” to the plan again."),
    "question.answered": gettext_noop("%(who)s entered the answer of the practice."),
    "question.asked": gettext_noop("%(who)s asked the practice."),
    "question.settled": gettext_noop("%(who)s has done with the answer of the practice."),
    "question.withdrawn": gettext_noop("%(who)s took a question back."),
    "received.came": gettext_noop("%(who)s noted that it has come: %(item)s."),
    "report.inserted": gettext_noop("%(who)s reported how it seated."),
    "soak.shortened": gettext_noop("%(who)s shortened the lying in water."),
    "stage.assigned": gettext_noop("%(who)s gave “%(stage)s” to %(to)s."),
    "stage.came-back": gettext_noop("%(who)s noted that it came back: “%(stage)s” is over."),
    "stage.countersigned": gettext_noop("%(who)s countersigned “%(stage)s”."),
    "stage.finish-undone": gettext_noop("%(who)s took the end of “%(stage)s” back."),
    "stage.finished": gettext_noop("%(who)s finished “%(stage)s”."),
    "stage.handed-over": gettext_noop("%(who)s handed “%(stage)s” over to %(to)s."),
    "stage.mishap": gettext_noop("%(who)s reported a mishap at “%(stage)s”."),
    "stage.not-signed": gettext_noop("%(who)s did not sign “%(stage)s”: it is done again."),
    "stage.paused": gettext_noop("%(who)s put “%(stage)s” down."),
    "stage.put-down-by-lock": gettext_noop("“%(stage)s” was put down when the tablet locked."),
    "stage.resumed": gettext_noop("%(who)s took “%(stage)s” up again."),
    "stage.skipped": gettext_noop("%(who)s skipped “%(stage)s”: %(reason)s."),
    "stage.start-undone": gettext_noop("%(who)s took the start of “%(stage)s” back."),
    "stage.went-on": gettext_noop(
        "%(who)s had worked on at “%(stage)s” all the while: it was not put down."
    ),
    "stage.started": gettext_noop("%(who)s began “%(stage)s”."),
    "thing.gone": gettext_noop("%(who)s noted that it is gone: %(subject)s."),
    "thing.handed-on": gettext_noop("The %(subject)s cast of %(from_case)s is used for this case."),
    "thing.put": gettext_noop("%(who)s put it away: %(subject)s, %(place)s."),
    "time.confirmed": gettext_noop("%(who)s confirmed minutes of “%(stage)s”."),
    "time.corrected": gettext_noop("%(who)s corrected minutes of “%(stage)s”: %(reason)s."),
    "timer.fired": gettext_noop("The program rang for “%(stage)s”."),
    "wait.shortened": gettext_noop("%(who)s had “%(stage)s” begin before its time."),
    "work.handed-on": gettext_noop("%(who)s handed somebody's work on to %(to)s."),
}
"""Kind of event → its sentence. A kind without one fails a test."""

AGAIN = {
    "case.sent-back", "case.new-impression", "order.corrected", "stage.finish-undone",
    "stage.start-undone", "stage.not-signed", "stage.went-on", "time.corrected",
}  # fmt: skip
"""Kinds that correct or repeat earlier work: marked by a dashed dot."""

CHECKED = frozenset({"check.entered", "check.conceded", "check.photographed"})

ITEM_WORDS = {
    "working": gettext_noop("arch to work on"),
    "opposing": gettext_noop("opposing arch"),
    "bite": gettext_noop("bite record"),
    "shade-tab": gettext_noop("shade tab"),
    "tray": gettext_noop("tray"),
    "old-piece": gettext_noop("old piece"),
}

REASON_WORDS: dict[str, str] = {
    reason.key: reason.words
    for group in (*(one.reasons for one in REASON_LISTS.values()), REMAKE_ORIGIN)
    for reason in group
}


@dataclass(frozen=True)
class Line:
    """One entry of the history: when, the sentence, the words it stands for, its mark.

    ``folded`` are entries of one submission that say the same kind of thing. ``design`` is the
    version of the design that it was made from or that it made, where that is worth a look.
    """

    at: datetime
    sentence: str
    details: tuple[str, ...] = ()
    mark: str = ""
    folded: tuple[str, ...] = ()
    design: int | None = None


def reason_words(key: str) -> str:
    """Return the words of a reason as the middle of a sentence; unknown keys are own words."""
    words = REASON_WORDS.get(key, key)
    said = _(words) if words else _("no reason was given")
    return said[:1].lower() + said[1:] if key in REASON_WORDS else said


def check_words(item: CheckItem | None, notation: str, milk: Collection[int]) -> str:
    """Return what a check asks, with its subject in the reader's tooth numbering.

    ``milk``: places that are named as the milk tooth that stood there.
    """
    if item is None:
        return _("a check that the design no longer asks for")
    return relabel(str(item.spec.get("words") or item.key), item.subject, notation, milk)


def lines(history: History) -> list[Line]:
    """Return the entries of a page of history; checks that passed together are one entry."""
    found = []
    for _key, group in groupby(history.page.object_list, key=_together):
        events = list(group)
        if len(events) > 1:
            found.append(_folded(events, history))
        else:
            found.append(_line(events[0], history))
    return found


def _together(event: Event) -> tuple[object, ...]:
    """Return a key that checks passed under one submission have in common."""
    if event.kind == "check.entered" and event.facts.get("state") == "passed":
        return (event.submission_id,)
    return (event.pk, event.kind)


def _line(event: Event, history: History) -> Line:
    again = event.kind in AGAIN or event.corrects_id is not None
    return Line(
        event.happened_at,
        sentence(event, history),
        tuple(_details(event, history)),
        "is-correction" if again else "",
        design=_design(event, history),
    )


def _design(event: Event, history: History) -> int | None:
    """Return the version to look at: the one drawn or printed, or under which a check was made.

    A check made under the present version, or before anything was drawn, needs no telling.
    """
    row = history.row(event, "Design")
    if isinstance(row, Design):
        return row.version
    paper = history.row(event, "Paper")
    if isinstance(paper, Paper) and paper.case_id == event.case_id:
        printed: int | None = paper.designs.get(paper.number)
        return printed
    if event.kind in CHECKED:
        then = history.standing(event)
        if then is not None and not then.provisional and then != history.designs[-1]:
            return then.version
    return None


def _folded(events: list[Event], history: History) -> Line:
    first = events[0]
    words = ngettext(
        "%(who)s checked %(n)s thing. It is true.",
        "%(who)s checked %(n)s things. All are true.",
        len(events),
    )
    said = words % {"who": _who(first), "n": len(events)}
    folded = tuple(
        " ".join((_asked(event, history), *_details(event, history))) for event in reversed(events)
    )
    return Line(first.happened_at, said, folded=folded, design=_design(first, history))


def _asked(event: Event, history: History) -> str:
    item = history.checks.get(event.subject)
    return check_words(item, history.notation, history.milk(event))


def _who(event: Event) -> str:
    return event.by.name if event.by else _("The program")


def sentence(event: Event, history: History) -> str:
    """Say in one sentence what happened."""
    facts: dict[str, Any] = event.facts
    to = facts.get("to")
    parts = {
        "who": _who(event),
        "subject": event.subject,
        "stage": history.stages.get(event.subject, event.subject),
        "to_stage": history.stages.get(str(to), str(to)),
        "to": history.people.get(to, _("nobody in particular")) if to else _("whoever has time"),
        "reason": reason_words(str(facts.get("reason") or _released(event))),
        "check": _asked(event, history),
        "verdict": _verdict(str(facts.get("state", ""))),
        "day": _day(facts.get("ship_on")),
        "fields": ", ".join(_(FIELD_WORDS.get(name, name)) for name in facts.get("fields", ())),
        "item": _(ITEM_WORDS.get(event.subject, event.subject)),
        "from_case": facts.get("from_case", ""),
        "place": facts.get("place", ""),
        "decision": _decision(event.kind, str(facts.get("decision", ""))),
        "begins": _instant(facts.get("begins_at")),
    }
    return _(SENTENCES[_kind(event, history)]) % parts


def _kind(event: Event, history: History) -> str:
    """Return the kind whose sentence fits: an expected design was drawn by nobody."""
    if event.kind == "order.corrected" and event.facts.get("answered"):
        by_telephone = event.facts["answered"] == "telephone"
        return "order.answered-by-telephone" if by_telephone else "order.answered"
    if event.kind == "stage.paused" and event.facts.get("why") == WHY["lock"]:
        return "stage.put-down-by-lock"
    if event.kind == "plan.pinned" and event.facts.get("begins_at"):
        return "plan.pinned-from"
    if event.kind == "design.set":
        row = history.row(event, "Design")
        if isinstance(row, Design) and row.data["provisional"]:
            return "design.expected"
        if isinstance(row, Design) and row.data["draft"]:
            return "design.drafted"
    return event.kind


def _released(event: Event) -> str:
    return event.subject if event.kind == "case.released" else ""


def _decision(kind: str, key: str) -> str:
    table = DECISIONS if kind.startswith("load.record-") else CHOICES
    words = _(table[key]) if key in table else ""
    return words[:1].lower() + words[1:]


def _day(text: object) -> str:
    return date_format(date.fromisoformat(str(text)), "l j F") if text else ""


def _instant(text: object) -> str:
    if not text:
        return ""
    return date_format(localtime(datetime.fromisoformat(str(text))), "l j F, H:i")


def _verdict(state: str) -> str:
    words = {"passed": _("It is true."), "failed": _("It failed."), "open": _("It is still open.")}
    return words.get(state, "")


def _details(event: Event, history: History) -> Iterator[str]:
    """Yield the words that the event's rows hold, each a line of its own."""
    for model in history.rows:
        row = history.row(event, model)
        if row is not None:
            yield from (line for line in _row_words(row, event, history) if line)


def _row_words(row: object, event: Event, history: History) -> Iterator[str]:
    if isinstance(row, Note):
        yield (
            _("%(who)s rang: %(text)s") % {"who": row.from_whom, "text": row.text}
            if (row.from_whom)
            else row.text
        )
    elif isinstance(row, Question) and event.kind == "question.answered":
        yield for_reader(row.words, history.notation)
        yield " ".join(part for part in (row.answer, row.answer_note) if part)
    elif isinstance(row, Question) and event.kind == "question.settled":
        yield for_reader(row.words, history.notation)
        yield row.settled_words
    elif isinstance(row, Question) and event.kind == "order.corrected":
        yield for_reader(row.words, history.notation)
    elif isinstance(row, Question):
        yield for_reader(row.words, history.notation)
        yield row.answer_note if event.kind == "question.withdrawn" else ""
    elif isinstance(row, CheckResult | Concession):
        item = history.checks.get(event.subject)
        subject = item.subject if item else ""
        yield relabel(row.sentence, subject, history.notation, history.milk(event))
        yield row.words if isinstance(row, Concession) else ""
    elif isinstance(row, Design):
        yield row.reason
    elif isinstance(row, Hold):
        yield row.words if event.kind == "case.held" else ""
    elif isinstance(row, Mishap | File | SendBack):
        yield row.words
        if isinstance(row, SendBack):
            yield _again(row, history)
    elif isinstance(row, Promise):
        yield row.reason


def _again(row: SendBack, history: History) -> str:
    names = ", ".join(history.stages.get(key, key) for key in row.reopened)
    return _("To be done again: %(names)s.") % {"names": names} if names else ""
