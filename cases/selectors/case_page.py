"""Everything that stands on the page of one case, by a fixed number of queries."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Prefetch, Q, QuerySet

from cases.domain.labour import Attended, Span, attended
from cases.models import (
    Case,
    CaseStage,
    CheckItem,
    CheckResult,
    Concession,
    Countersign,
    Dentist,
    File,
    Hold,
    InsertionReport,
    Note,
    Occupied,
    Paper,
    Promise,
    Question,
    Received,
    StageRun,
    Thing,
    TimeCorrection,
    WorkSpan,
)

IN_HAND = frozenset({"running", "paused", "countersign", "away"})
OVER = frozenset({"done", "skipped"})


@dataclass(frozen=True)
class StageWork:
    """A stage with what was done on it: minutes of all attempts and who gave them."""

    stage: CaseStage
    minutes: float
    people: tuple[str, ...]


@dataclass(frozen=True)
class PersonWork:
    """A person's minutes on the case; ``again`` are those of a second or later attempt."""

    name: str
    minutes: float
    again: float
    stages: tuple[str, ...]


@dataclass(frozen=True)
class Blemish:
    """A check that failed once: its entries that failed, how it stands, what was conceded."""

    item: CheckItem
    failed: tuple[CheckResult, ...]
    concessions: tuple[Concession, ...]


@dataclass(frozen=True)
class CasePage:
    """The rows of one case page. ``stages`` are in order, without those that were dropped."""

    case: Case
    dentist: Dentist | None
    stages: list[CaseStage]
    names: dict[str, str]
    holds: list[Hold]
    questions: list[Question]
    countersigns: list[Countersign]
    blemishes: list[Blemish]
    files: list[File]
    things: list[Thing]
    occupied: list[Occupied]
    received: list[Received]
    promises: list[Promise]
    notes: list[Note]
    remakes: list[Case]
    papers: list[Paper]
    reports: list[InsertionReport]
    works: dict[int, StageWork] = field(default_factory=dict)
    people: list[PersonWork] = field(default_factory=list)

    @property
    def open_questions(self) -> list[Question]:
        """Questions that nobody has answered or taken back."""
        return [q for q in self.questions if not q.answered_at and not q.withdrawn_at]

    @property
    def closed_questions(self) -> list[Question]:
        """Questions that are answered or taken back."""
        return [q for q in self.questions if q.answered_at or q.withdrawn_at]

    @property
    def in_hand(self) -> list[CaseStage]:
        """Stages that have begun and are not over."""
        return [stage for stage in self.stages if stage.state in IN_HAND]

    def ready(self, now: datetime) -> list[CaseStage]:
        """Stages that may begin at ``now``."""
        return [s for s in self._next() if s.ready_at is None or s.ready_at <= now]

    def waiting(self, now: datetime) -> list[CaseStage]:
        """Stages whose predecessors are over while a wait still runs."""
        return [s for s in self._next() if s.ready_at is not None and s.ready_at > now]

    def _next(self) -> list[CaseStage]:
        first = self.stages[:1]
        planned = [stage for stage in self.stages if stage.state == "planned"]
        return [stage for stage in planned if stage.ready_at is not None or stage in first]

    @property
    def later(self) -> list[CaseStage]:
        """Planned stages with an open one before them."""
        soon = self._next()
        return [s for s in self.stages if s.state == "planned" and s not in soon]

    @property
    def over(self) -> list[CaseStage]:
        """Stages that are done or skipped."""
        return [stage for stage in self.stages if stage.state in OVER]


def with_face(cases: QuerySet[Case]) -> QuerySet[Case]:
    """Fetch with each case what its face, its heading and its links need."""
    return cases.select_related(
        "practice", "prescription__dentist", "design", "template", "twin__design",
        "remake_of__design",
    )  # fmt: skip


def case_page(case: Case, *, now: datetime) -> CasePage:
    """Return the page of a case that ``with_face`` fetched."""
    rows = list(case.stages.select_related("assignee", "worker").order_by("position", "pk"))
    stages = [row for row in rows if row.state != "dropped"]
    works, people = _labour(case, rows, now)
    return CasePage(
        case=case,
        dentist=case.prescription.dentist,
        stages=stages,
        names={row.key: row.name for row in rows},
        holds=list(case.holds.filter(released_at__isnull=True).select_related("by", "question")),
        questions=list(case.questions.select_related("asked_by", "answered_by")),
        countersigns=list(
            Countersign.objects.filter(stage__case=case, signed_at__isnull=True).select_related(
                "stage", "asked_by"
            )
        ),
        blemishes=_blemishes(case),
        files=list(case.files.exclude(kind="paper").select_related("by").order_by("-at", "-pk")),
        things=list(case.things.all()),
        occupied=list(case.occupations.filter(freed_at__isnull=True).select_related("thing")),
        received=list(case.received.all()),
        promises=list(case.promises.select_related("by").order_by("-given_at", "-pk")),
        notes=list(case.notes.select_related("by", "to_person").order_by("-at", "-pk")),
        remakes=list(case.remakes.select_related("design").order_by("pk")),
        papers=list(case.papers.order_by("-at", "-pk")),
        reports=list(case.reports.select_related("by").order_by("-at", "-pk")),
        works=works,
        people=people,
    )


def _blemishes(case: Case) -> list[Blemish]:
    """Return the checks that failed or were accepted once; they stay on the page for ever."""
    results = CheckResult.objects.filter(state="failed").select_related("by")
    items = (
        case.checks.filter(Q(results__state="failed") | Q(concessions__isnull=False))
        .distinct()
        .select_related("stage")
        .prefetch_related(
            Prefetch("results", queryset=results, to_attr="failed_results"),
            Prefetch(
                "concessions",
                queryset=Concession.objects.select_related("by"),
                to_attr="conceded",
            ),
        )
    )
    return [
        Blemish(item, tuple(item.failed_results), tuple(item.conceded))
        for item in sorted(items, key=lambda one: (one.stage.position, one.position))
    ]


def _spans(case: Case) -> list[WorkSpan]:
    """Return the hands on this case with each run and its stage."""
    return list(
        WorkSpan.objects.filter(run__stage__case=case)
        .select_related("run__stage", "person")
        .order_by("began_at", "pk")
    )


def _minutes(spans: list[WorkSpan], now: datetime) -> dict[int, Attended]:
    """Return what each span counts, shared with whatever else the person had in hand."""
    begin = min((span.began_at for span in spans), default=now)
    end = max((span.ended_at or now for span in spans), default=now)
    beside = WorkSpan.objects.filter(
        Q(ended_at__isnull=True) | Q(ended_at__gt=begin),
        person__in={span.person_id for span in spans},
        began_at__lt=end,
    ).values_list("pk", "person_id", "began_at", "ended_at")
    own = [span.pk for span in spans]
    corrected = dict(
        TimeCorrection.objects.filter(span__in=own).order_by("pk").values_list("span", "minutes")
    )
    # A span of no length lies beside nothing, but it is there.
    raw = {span.pk: (span.pk, span.person_id, span.began_at, span.ended_at) for span in spans}
    raw |= {row[0]: row for row in beside}
    return attended([Span(*row, corrected.get(row[0])) for row in raw.values()], now)


def _labour(
    case: Case, stages: list[CaseStage], now: datetime
) -> tuple[dict[int, StageWork], list[PersonWork]]:
    spans = _spans(case)
    minutes = _minutes(spans, now)
    by_stage: dict[int, list[WorkSpan]] = {}
    by_person: dict[str, list[WorkSpan]] = {}
    for span in spans:
        by_stage.setdefault(span.run.stage_id, []).append(span)
        by_person.setdefault(span.person.name, []).append(span)
    works = {
        stage.pk: StageWork(
            stage,
            sum(minutes[span.pk].minutes for span in by_stage.get(stage.pk, ())),
            tuple(dict.fromkeys(span.person.name for span in by_stage.get(stage.pk, ()))),
        )
        for stage in stages
    }
    people = [
        PersonWork(
            name,
            sum(minutes[span.pk].minutes for span in own),
            sum(minutes[span.pk].minutes for span in own if _is_rework(span.run)),
            tuple(dict.fromkeys(span.run.stage.name for span in own)),
        )
        for name, own in by_person.items()
    ]
    return works, sorted(people, key=lambda one: -one.minutes)


def _is_rework(run: StageRun) -> bool:
    return run.attempt > 1
