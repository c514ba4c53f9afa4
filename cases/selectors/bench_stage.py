"""Everything that the bench shows of one stage of one case. Fixed query counts."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Q

from cases.domain.labour import Attended
from cases.domain.route import nearest_open
from cases.models import (
    Case,
    CaseEdge,
    CaseStage,
    CheckItem,
    CheckPhoto,
    CheckResult,
    Concession,
    Countersign,
    Hold,
    Mishap,
    Note,
    Occupied,
    Person,
    Question,
    Thing,
    WorkSpan,
)
from cases.selectors.labour import attended_minutes
from cases.selectors.visible import visible_cases

LAST_NOTES = 4
OVER = frozenset({"done", "skipped", "dropped"})
SHOP_THINGS = ("flask", "articulator", "clamp")
"""Kinds that carry an engraved number and are taken by it."""


@dataclass
class StageView:
    """One stage with what belongs to it, loaded."""

    case: Case
    stage: CaseStage
    stages: list[CaseStage] = field(default_factory=list)
    edges: list[CaseEdge] = field(default_factory=list)
    checks: list[CheckItem] = field(default_factory=list)
    kept: dict[str, dict[str, float]] = field(default_factory=dict)
    photos: dict[int, list[CheckPhoto]] = field(default_factory=dict)
    concessions: dict[int, Concession] = field(default_factory=dict)
    holds: list[Hold] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    answers: list[Question] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    mishaps: list[Mishap] = field(default_factory=list)
    things: list[Thing] = field(default_factory=list)
    occupied: list[Occupied] = field(default_factory=list)
    spans: list[WorkSpan] = field(default_factory=list)
    minutes: dict[int, Attended] = field(default_factory=dict)
    countersign: Countersign | None = None
    drawn: frozenset[int] = frozenset()
    """The versions of the design that somebody drew."""
    passed_before: dict[int, CheckResult] = field(default_factory=dict)
    """The entry with which an open check passed, asked from an earlier version, by its key."""

    def made_from(self, item: CheckItem) -> int | None:
        """The version of the design that a check is made from; None where it is the present one."""
        present = self.case.design.version if self.case.design else 0
        earlier = item.design_version in self.drawn and item.design_version != present
        return item.design_version if earlier else None

    @property
    def newer_draft(self) -> int | None:
        """The number of a draft begun after the design that the bench works to; else None."""
        present = self.case.design.version if self.case.design else 0
        newest = max(self.drawn, default=0)
        return newest if newest > present else None

    @property
    def hold(self) -> Hold | None:
        """The first open hold that stops this stage."""
        key = self.stage.key
        return next((one for one in self.holds if not one.stages or key in one.stages), None)

    def did_work(self, person: Person) -> bool:
        """Tell whether ``person`` had hands on the present attempt."""
        return self.stage.worker_id == person.pk or any(
            span.person_id == person.pk for span in self.spans
        )

    @property
    def before(self) -> list[CaseStage]:
        """The stages right before this one, in order."""
        keys = {edge.before for edge in self.edges if edge.after == self.stage.key}
        return [one for one in self.stages if one.key in keys and one.state != "dropped"]

    @property
    def open_before(self) -> list[CaseStage]:
        """The nearest open stages before this one, also behind what was left standing."""
        still_open = {one.key for one in self.stages if one.state not in OVER}
        pairs = ((edge.before, edge.after) for edge in self.edges)
        keys = nearest_open(pairs, still_open, self.stage.key)
        return [one for one in self.stages if one.key in keys]

    @property
    def after(self) -> list[CaseStage]:
        """The stages right after this one, in order."""
        keys = {edge.after for edge in self.edges if edge.before == self.stage.key}
        return [one for one in self.stages if one.key in keys and one.state != "dropped"]

    @property
    def things_to_take(self) -> list[str]:
        """Kinds of shop things that this stage takes by number and the case has not yet."""
        have = {row.thing.kind for row in self.occupied}
        kinds = dict.fromkeys(one["thing"] for one in self.stage.spec.get("holds", ()))
        return [kind for kind in kinds if kind in SHOP_THINGS and kind not in have]

    @property
    def photo_first(self) -> str:
        """Why a photograph is asked before this stage begins; empty when there is one."""
        why = str(self.stage.spec.get("photo_before", ""))
        if not why or self._photographed_before:
            return ""
        return why

    _photographed_before: bool = False


def find_stage(person: Person, pk: int, *, door: str) -> CaseStage | None:
    """Return a stage of a case that ``person`` may see."""
    return (
        CaseStage.objects.filter(pk=pk, case__in=visible_cases(person, door=door))
        .exclude(state="dropped")
        .select_related("case__design", "case__practice", "worker", "assignee")
        .first()
    )


def find_check(person: Person, pk: int, *, door: str) -> CheckItem | None:
    """Return a check of a case that ``person`` may see."""
    return (
        CheckItem.objects.filter(pk=pk, case__in=visible_cases(person, door=door))
        .exclude(state="dropped")
        .select_related("stage__case")
        .first()
    )


def stage_view(stage: CaseStage, now: datetime) -> StageView:
    """Return everything about ``stage`` that its page shows."""
    case = stage.case
    view = StageView(case, stage)
    view.stages = list(case.stages.select_related("worker"))
    view.edges = list(case.edges.all())
    _load_checks(view)
    view.holds = list(case.holds.filter(released_at__isnull=True).select_related("question"))
    asked = list(case.questions.filter(withdrawn_at__isnull=True))
    view.questions = [one for one in asked if one.answered_at is None]
    view.answers = [one for one in asked if one.unsettled]
    view.notes = list(case.notes.select_related("by", "to_person").order_by("-pk")[:LAST_NOTES])
    view.mishaps = list(Mishap.objects.filter(stage__case=case).select_related("stage", "by"))
    view.things = list(case.things.filter(state="in-use"))
    view.occupied = list(
        case.occupations.filter(freed_at__isnull=True).select_related("thing").order_by("pk")
    )
    view.spans = list(
        WorkSpan.objects.filter(run__stage=stage, run__attempt=stage.attempt)
        .select_related("person")
        .prefetch_related("time_corrections")
        .order_by("pk")
    )
    view.minutes = attended_minutes(view.spans, now)
    view.countersign = (
        stage.countersigns.filter(signed_at__isnull=True).select_related("asked_by").first()
    )
    return view


def _load_checks(view: StageView) -> None:
    """Load the stage's checks, the case's kept values, photographs and concessions."""
    stage = view.stage
    view.checks = list(stage.checks.exclude(state="dropped"))
    drawn = view.case.designs.filter(data__provisional=False)
    view.drawn = frozenset(drawn.values_list("version", flat=True))
    # The columns alone: a case has a hundred checks, and each bears its whole wording.
    entered = view.case.checks.exclude(state__in=["open", "dropped"])
    view.kept = {
        key: stored["values"]
        for key, stored in entered.values_list("key", "values")
        if stored.get("values")
    }
    if len(view.drawn) > 1:
        asked = {item.pk: item.design_version for item in view.checks if item.state == "open"}
        passed = CheckResult.objects.filter(item__in=asked, state="passed", design_version__gt=0)
        view.passed_before = {
            row.item_id: row
            for row in passed.select_related("by").order_by("pk")
            if row.design_version < asked[row.item_id]
        }
    before = {row.pk: row.attempt for row in view.before}
    pictures = CheckPhoto.objects.filter(
        Q(item__stage=stage, attempt=stage.attempt) | Q(item__stage__in=before)
    ).select_related("file", "item")
    for picture in pictures:
        if picture.item.stage_id == stage.pk:
            view.photos.setdefault(picture.item_id, []).append(picture)
        elif picture.attempt == before[picture.item.stage_id]:
            view._photographed_before = True
    conceded = Concession.objects.filter(item__stage=stage, attempt=stage.attempt)
    view.concessions = {row.item_id: row for row in conceded.select_related("by").order_by("pk")}


def colleagues(person: Person) -> list[Person]:
    """Return who else works at the bench and may accept or sign: no students."""
    others = Person.objects.filter(active=True, is_technician=True, is_student=False)
    return list(others.exclude(pk=person.pk).exclude(pin_hash=""))


def technicians(person: Person) -> list[Person]:
    """Return who else works at the bench."""
    return list(Person.objects.filter(active=True, is_technician=True).exclude(pk=person.pk))


def stage_to_open(case: Case, person: Person) -> CaseStage | None:
    """Return the stage at which ``person`` would take this case in hand.

    What runs in the person's hands first, then what was put down, what may begin (with the
    person's skill first), what is away, and else the first that is not ended.
    """
    skills = {*person.skills.values_list("skill__key", flat=True), ""}

    def rank(stage: CaseStage) -> tuple[int, int]:
        if stage.state == "running":
            order = 0 if stage.worker_id == person.pk else 4
        elif stage.state == "paused":
            order = 1 if stage.assignee_id in {person.pk, None} else 4
        elif stage.state == "planned" and stage.ready_at is not None:
            order = 2 if stage.skill in skills else 5
        else:
            order = {"countersign": 3, "away": 3}.get(stage.state, 6)
        return order, stage.position

    open_stages = case.stages.exclude(state__in=["done", "skipped", "dropped"])
    return min(open_stages, key=rank, default=None)


def case_in_flask(label: str) -> Case | None:
    """Return the case that is in the flask with this engraved number now."""
    found = (
        Occupied.objects.filter(
            thing__kind="flask", thing__label__iexact=label, freed_at__isnull=True
        )
        .select_related("case")
        .first()
    )
    return found.case if found else None
