"""What people of a practice see: their own cases, and of those only what is meant for them.

Names of technicians, internal notes, checks and concessions are never fetched here.
Fixed query counts, whatever the number of cases.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q, QuerySet

from cases.models import (
    Case,
    CaseStage,
    File,
    Hold,
    InsertionReport,
    Note,
    Paper,
    Person,
    Practice,
    Promise,
    Question,
)
from cases.selectors.visible import own_practices

HERE = ("open", "packed")
DELIVERY_NOTE = "note"
"""Kind of the paper that goes with the box."""

IN_HAND = ("running", "paused", "countersign", "away")
MOST_REPORTS_ASKED = 12


@dataclass
class Seen:
    """A case as the practice sees it.

    ``where`` is the public sentence of the stage furthest on (empty before the first has
    begun), ``holds`` what stops it, ``questions`` those that wait for an answer, ``moved_from`` the
    day that was promised before the present one.
    """

    case: Case
    where: str = ""
    holds: list[Hold] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    reported: bool = False
    moved_from: date | None = None


@dataclass
class SeenCase(Seen):
    """Everything on the practice's page of one case."""

    answered: list[Question] = field(default_factory=list)
    photographs: list[File] = field(default_factory=list)
    promises: list[Promise] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    reports: list[InsertionReport] = field(default_factory=list)
    paper: Paper | None = None


def practices_of(person: Person) -> list[Practice]:
    """Return the practices of a dentist or a receptionist."""
    return list(own_practices(person))


def own_cases(person: Person) -> QuerySet[Case]:
    """Return the cases of the own practices, whatever other role the person has in the lab."""
    return Case.objects.filter(practice__in=own_practices(person)).select_related(
        "practice", "prescription__dentist", "design"
    )


def here_cases(person: Person) -> QuerySet[Case]:
    """Return the own cases that are in the laboratory, the next to leave first."""
    return own_cases(person).filter(state__in=HERE).order_by("leaves_at", "pk")


def closed_cases(person: Person) -> QuerySet[Case]:
    """Return the own cases that were sent or cancelled, the latest first."""
    return own_cases(person).filter(state__in=("sent", "cancelled")).order_by("-closed_at", "-pk")


def open_questions(person: Person) -> list[Question]:
    """Return what the laboratory asks of the person's practices, the oldest first."""
    return list(
        _open(Question.objects.filter(case__in=here_cases(person).order_by().values("pk")))
        .select_related("case__practice", "case__prescription__dentist", "case__design")
        .order_by("asked_at", "pk")
    )


def unreported(person: Person) -> list[Case]:
    """Return the latest sent cases of which nobody has said how they seated."""
    sent = own_cases(person).filter(state="sent", reports__isnull=True)
    return list(sent.order_by("-closed_at", "-pk")[:MOST_REPORTS_ASKED])


def _open(questions: QuerySet[Question]) -> QuerySet[Question]:
    return questions.filter(answered_at__isnull=True, withdrawn_at__isnull=True)


def furthest(stages: Iterable[CaseStage]) -> str:
    """Return the public sentence of the stage furthest on: in hand, else done."""
    in_hand, done = "", ""
    for stage in sorted(stages, key=lambda one: one.position):
        said = str(stage.spec.get("public_words") or "")
        if said and stage.state in IN_HAND:
            in_hand = said
        elif said and stage.state == "done":
            done = said
    return in_hand or done


def see(cases: Iterable[Case]) -> list[Seen]:
    """Return cases as the practice sees them (five queries)."""
    rows = list(cases)
    seen = {case.pk: Seen(case) for case in rows}
    here = [case.pk for case in rows if case.state in HERE]
    stages: dict[int, list[CaseStage]] = {}
    begun = CaseStage.objects.filter(case__in=here, state__in=(*IN_HAND, "done"))
    for stage in begun.only("case_id", "position", "state", "spec"):
        stages.setdefault(stage.case_id, []).append(stage)
    for pk, its in stages.items():
        seen[pk].where = furthest(its)
    for hold in Hold.objects.filter(case__in=here, released_at__isnull=True).select_related(
        "question"
    ):
        seen[hold.case_id].holds.append(hold)
    for question in _open(Question.objects.filter(case__in=here)):
        seen[question.case_id].questions.append(question)
    promised: dict[int, date] = {}
    given = Promise.objects.filter(case__in=here).order_by("given_at", "pk")
    for pk, day in given.values_list("case_id", "ship_on"):
        # The same day again, for another reason, moves nothing.
        if promised.get(pk) != day:
            seen[pk].moved_from = promised.get(pk)
        promised[pk] = day
    told = InsertionReport.objects.filter(case__in=[case.pk for case in rows])
    for pk in told.values_list("case_id", flat=True):
        seen[pk].reported = True
    return [seen[case.pk] for case in rows]


def visible_photographs(case: Case) -> QuerySet[File]:
    """Return the photographs of a case that the laboratory shows to the practice."""
    return case.files.filter(visible_to_practice=True, content_type__startswith="image/")


def delivery_note(case: Case) -> Paper | None:
    """Return the delivery note of a sent case as it was printed last, where there is one."""
    if case.state != "sent":
        return None
    papers = Paper.objects.filter(kind=DELIVERY_NOTE).select_related("file")
    of_case = Q(case=case) | Q(shipment__contents__case=case)
    return papers.filter(of_case).order_by("-pk").first()


def case_for_practice(case: Case) -> SeenCase:
    """Return the page of one case that ``own_cases`` fetched, by a fixed number of queries."""
    one = see([case])[0]
    questions = case.questions.filter(answered_at__isnull=False)
    notes = case.notes.filter(visible_to_practice=True)
    return SeenCase(
        **vars(one),
        answered=list(questions.order_by("-answered_at", "-pk")),
        photographs=list(visible_photographs(case)),
        promises=list(case.promises.all()),
        notes=list(notes.order_by("-at", "-pk")),
        reports=list(case.reports.order_by("-at", "-pk").select_related("by")),
        paper=delivery_note(case),
    )
