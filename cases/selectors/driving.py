"""How things stand, as plain values: for whoever drives the house through its services.

Nothing here is a row: what is read cannot be written by accident.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from cases.models import (
    Alert,
    Case,
    CaseStage,
    CheckItem,
    Countersign,
    Hold,
    Lab,
    Question,
    Received,
    Skill,
    Station,
    Thing,
    Timer,
    WorkSpan,
)
from cases.selectors.design_known import known_of
from cases.selectors.rows import read


@dataclass
class StageStand:
    """A stage of a case as it stands; ``spec`` is what the route template says of it."""

    pk: int
    key: str
    name: str
    state: str
    version: int
    attempt: int
    kind: str
    skill: str
    minutes: float
    ready_at: datetime | None
    ended_at: datetime | None
    spec: dict[str, Any]


@dataclass(frozen=True)
class CheckStand:
    """A check of a stage that is asked for; ``spec`` as the check was planned."""

    pk: int
    number: int
    key: str
    state: str
    spec: dict[str, Any]


@dataclass(frozen=True)
class CaseStand:
    """What is needed of a case besides its stages."""

    number: str
    state: str
    version: int
    leaves_at: datetime | None
    design: dict[str, Any]
    pour_by: datetime | None
    taken_at: datetime | None


@dataclass(frozen=True)
class QuestionStand:
    """A question that is not answered; ``answers`` as (key, what it needs)."""

    pk: int
    number: int
    reception_may: bool
    answers: tuple[tuple[str, tuple[str, ...]], ...]


def lab_is_there() -> bool:
    """Tell whether a laboratory was set up or anything logged in this database."""
    return Lab.objects.exists() or Case.objects.exists()


def case_stand(case: int) -> CaseStand:
    """Return how a case stands."""
    row = Case.objects.select_related("design").get(pk=case)
    return CaseStand(
        row.number,
        row.state,
        row.version,
        row.leaves_at,
        row.design.data if row.design else {},
        row.pour_by,
        row.taken_at,
    )


def last_did_not_seat(case: int) -> bool:
    """Tell whether the house knows that this patient's last piece did not seat."""
    return bool(known_of(Case.objects.get(pk=case)).facts.get("last_did_not_seat"))


def stages_of(case: int) -> dict[str, StageStand]:
    """Return the stages of a case by key, in order; dropped ones are left out."""
    rows = (
        CaseStage.objects.filter(case=case)
        .exclude(state="dropped")
        .order_by("position", "pk")
        .values_list(
            "pk", "key", "name", "state", "version", "attempt", "kind", "skill", "minutes",
            "ready_at", "ended_at", "spec",
        )
    )  # fmt: skip
    return {row[1]: StageStand(*row) for row in rows}


def moved(case: int, stages: dict[str, StageStand]) -> None:
    """Bring ``stages`` (of the same design) up to date in place."""
    columns = ("key", "state", "version", "attempt", "ready_at", "ended_at")
    rows = read(CaseStage, columns, case_id=case)
    for key, state, version, attempt, ready_at, ended_at in rows:
        stage = stages.get(key)
        if stage is not None:
            stage.state, stage.version, stage.attempt = state, version, attempt
            stage.ready_at, stage.ended_at = ready_at, ended_at


def checks_of(stage: int) -> list[CheckStand]:
    """Return the checks of a stage in order."""
    columns = ("id", "number", "key", "state", "spec")
    rows = read(CheckItem, columns, stage_id=stage, order=("position", "id"))
    return [CheckStand(*row) for row in rows if row[3] != "dropped"]


def stops(case: int) -> list[tuple[int, str, tuple[str, ...]]]:
    """Return the open holds of a case as (pk, reason, stages; none: all of them)."""
    columns = ("id", "reason", "stages")
    rows = read(Hold, columns, case_id=case, released_at=None, order=("opened_at", "id"))
    return [(pk, reason, tuple(stages)) for pk, reason, stages in rows]


def open_questions(case: int) -> list[QuestionStand]:
    """Return the questions of a case that wait for an answer."""
    rows = Question.objects.filter(case=case, answered_at=None, withdrawn_at=None)
    return [
        QuestionStand(
            row.pk,
            row.number,
            row.reception_may,
            tuple((one["key"], tuple(one["needs"])) for one in row.answers),
        )
        for row in rows
    ]


def unsettled_answers(case: int) -> list[int]:
    """Return the answered questions of a case with which something is left to do."""
    rows = Question.objects.filter(case=case, answered_at__isnull=False, settled_at=None)
    return list(rows.exclude(awaits="").values_list("pk", flat=True))


def expected_items(case: int) -> list[tuple[int, str, date | None]]:
    """Return what follows later as (pk, item, day it is expected on)."""
    rows = Received.objects.filter(case=case, state="expected")
    return list(rows.values_list("pk", "item", "expected_on"))


def free_labels(kind: str) -> list[str]:
    """Return the engraved numbers of the shop's things of a kind that no case has."""
    rows = Thing.objects.filter(kind=kind, case=None).exclude(state="gone")
    return list(
        rows.exclude(occupations__freed_at__isnull=True, occupations__isnull=False)
        .order_by("pk")
        .values_list("label", flat=True)
    )


def casts_of(case: int) -> list[tuple[int, str]]:
    """Return the casts of a case in use as (pk, label)."""
    rows = Thing.objects.filter(case=case, kind="cast", state="in-use").order_by("pk")
    return list(rows.values_list("pk", "label"))


def countersigns_open(stage: int) -> list[int]:
    """Return the requests of a stage that nobody signed yet."""
    rows = Countersign.objects.filter(stage=stage, signed_at=None)
    return list(rows.values_list("pk", flat=True))


def open_span(stage: int) -> int | None:
    """Return the span of hands that are on a stage."""
    rows = WorkSpan.objects.filter(run__stage=stage).order_by("-pk")
    return rows.values_list("pk", flat=True).first()


def open_alerts() -> list[int]:
    """Return the alarms that nobody has heard, oldest first."""
    rows = Alert.objects.filter(acknowledged_at=None)
    return list(rows.order_by("raised_at", "pk").values_list("pk", flat=True))


def next_due() -> datetime | None:
    """Return when the next timer is due."""
    rows = Timer.objects.filter(state="pending").order_by("due_at")
    return rows.values_list("due_at", flat=True).first()


def stations() -> dict[str, tuple[int, str]]:
    """Return primary key and name of each station by key."""
    return {key: (pk, name) for pk, key, name in Station.objects.values_list("pk", "key", "name")}


def skills() -> dict[str, int]:
    """Return the skills by key."""
    return dict(Skill.objects.values_list("key", "pk"))
