"""What the house knows of a patient's case and the rules of the design ask: no one enters it twice.

Taken from answers of the practice, the reason of a remake, the last report on a piece of this
patient, what was measured at wax and finish, and the date; nothing here is a guess, and what nobody
told stays unsaid.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from cases.domain.calendar import NeverOpen
from cases.domain.design import Design as Plan
from cases.domain.insertion import NOT_REPORTED
from cases.domain.promise import earliest_finish
from cases.domain.words import N_
from cases.domain.words import gettext as _
from cases.models import Case, InsertionReport
from cases.selectors.design_agreed import YES, agreed_plans
from cases.selectors.hours import lab_calendar
from cases.selectors.lateness import steps_left

# Minutes at the chair over which a piece counts as one that did not go down by itself, and open
# minutes of half a day. judgement
LONG_AT_THE_CHAIR: Final = 10
HALF_DAY: Final = 240

ASKED_TO_AGREE: Final = 9
# The checks at which wax and acrylic are measured, and which place of the rules a measure is.
WAX_CHECK: Final = 34
FINISH_CHECKS: Final = (45, 59)
THIN_PLACES: Final = {
    "plate": "lower-plate", "palate": "palate", "metal": "over-wire",
    "flange": "flange", "pad": "pad-edge", "join": "tooth-join",
}  # fmt: skip
# Answers of the practice that are facts: number and key of the answer, the fact, its words.
ANSWERS: Final[dict[tuple[int, str], tuple[str, str]]] = {
    (13, "yes"): ("fit_back", N_("The practice wants a cast kept to fit on.")),
    (24, "send-back"): ("cast_goes_home", N_("The practice wants its casts sent back.")),
}
REMADE: Final[dict[str, tuple[str, str]]] = {
    "broken-in-mouth": ("broke_before", N_("It is remade because it broke in the mouth.")),
    "does-not-seat-cast-true": (
        "last_did_not_seat", N_("It is remade because it did not seat."),
    ),
    "does-not-seat-cast-not-true": (
        "last_did_not_seat", N_("It is remade because it did not seat."),
    ),
}  # fmt: skip
REPORTED: Final = (
    "last_did_not_seat",
    N_("This patient's last piece did not seat, or took over ten minutes at the chair."),
)


@dataclass
class Known:
    """Facts by the names of ``rule_facts.Facts``, and the sentences that say where from.

    ``agreed_to``: the designs that the practice said yes to. That is a fact of those alone, and
    of what does not alter them.
    """

    facts: dict[str, Any] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    agreed_to: tuple[Plan, ...] = ()

    def learn(self, fact: str, words: str) -> None:
        """Take a fact in, once."""
        self.facts[fact] = True
        if words not in self.words:
            self.words.append(words)


def known_of(case: Case, now: datetime | None = None) -> Known:
    """Return what the house knows (three queries; with ``now`` eight, for the time left; two more
    where the practice agreed to a design)."""
    known = Known()
    rows = case.questions.filter(withdrawn_at__isnull=True)
    every = list(rows.values_list("number", "subject", "answer", "answers", "answered_at"))
    asked = [row[:4] for row in every if row[4] is not None]
    known.facts["answered"] = frozenset((number, subject) for number, subject, *_rest in asked)
    for number, _subject, answer, offered in asked:
        for one in offered:
            if one["words"][:400] == answer and (number, one["key"]) in ANSWERS:
                known.learn(*ANSWERS[number, one["key"]])
    if any(number in YES for number, *_rest in asked):
        known.agreed_to = agreed_plans(case)
    if case.remake_reason in REMADE:
        known.learn(*REMADE[case.remake_reason])
    _measured(case, known)
    if _did_not_seat(case):
        known.learn(*REPORTED)
    if now is not None:
        left = known.facts["half_days_left"] = _half_days_left(case, now)
        waits = any(row[0] == ASKED_TO_AGREE and row[4] is None for row in every)
        # No silence counts as an answer: what is due now and unanswered moves the date.
        known.facts["answer_overdue"] = waits and left is not None and left <= 0
    return known


def _measured(case: Case, known: Known) -> None:
    """Take in how thick wax and acrylic were measured, the latest of each place (one query).

    A check that was conceded was decided where it was measured, and is not asked for again here.
    """
    thin: dict[str, float] = {}
    rows = case.checks.filter(
        number__in=(WAX_CHECK, *FINISH_CHECKS), state__in=("passed", "failed")
    )
    for number, stored in rows.order_by("position", "pk").values_list("number", "values"):
        values = stored.get("values") or {}
        if number in FINISH_CHECKS:
            thin |= {THIN_PLACES[key]: mm for key, mm in values.items() if key in THIN_PLACES}
        elif values.get("thickest"):
            known.facts["thickest_mm"] = values["thickest"]
            known.words.append(
                _("The wax is %(mm)s mm at its thickest.") % {"mm": f"{values['thickest']:g}"}
            )
    if thin:
        known.facts["thickness_mm"] = thin


def _did_not_seat(case: Case) -> bool:
    """Whether the last report that says how a piece of this patient went down says: badly.

    A reference that was blanked names nobody.
    """
    if not case.patient_ref:
        return False
    last = (
        InsertionReport.objects.filter(
            case__practice=case.practice_id, case__patient_ref=case.patient_ref
        )
        .exclude(case=case)
        .exclude(seating=NOT_REPORTED, chair_minutes=None)
        .order_by("-at", "-pk")
        .values_list("seating", "chair_minutes")
        .first()
    )
    return last is not None and (last[0] == "does-not-seat" or (last[1] or 0) > LONG_AT_THE_CHAIR)


def _half_days_left(case: Case, now: datetime) -> float | None:
    """Half days between the earliest end of the work and its leaving, in open hours.

    None where no date was promised, the lab has no hours, or the copy is in the work already and
    has its time there.
    """
    if case.leaves_at is None or case.state != "open":
        return None
    stages = list(case.stages.exclude(state="dropped").defer("spec"))
    if any(stage.key == "copy-mould" for stage in stages):
        return None
    calendar = lab_calendar()
    try:
        ready = earliest_finish(steps_left(stages, case.edges.all(), now), calendar, now)
        left = calendar.open_minutes_between(ready, case.leaves_at)
    except NeverOpen:
        return None
    return round(left / HALF_DAY, 1)
