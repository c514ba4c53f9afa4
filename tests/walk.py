"""Take a case through its whole route by the services, as the bench would."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from cases.models import Case, CaseStage, Occupied, Thing
from cases.services.design import set_design
from cases.services.files import Stored, attach_file
from cases.services.record import Refusal
from cases.services.stage import ONE_TAP, finish_stage, stage_came_back, start_stage
from cases.services.things import NAMED
from tests.factories import DESIGN, Shop, answers


def free_things() -> dict[str, str]:
    """Return the number of one free flask, articulator and clamp."""
    found = {}
    for kind in NAMED:
        taken = Occupied.objects.filter(freed_at__isnull=True).values("thing")
        thing = Thing.objects.filter(kind=kind, state="in-use").exclude(pk__in=taken).first()
        found[kind] = thing.label if thing else ""
    return found


@dataclass
class Clock:
    """The instant of a walk; moves on as work is done."""

    now: datetime


def photograph(shop: Shop, case: Case, stage: CaseStage, now: datetime, who: str) -> int:
    """Attach a photograph before a point of no return; returns its primary key."""
    stored = Stored("0" * 64, 100, f"00/{'0' * 64}.jpg")
    outcome = attach_file(
        shop.envelope(who, now=now),
        case=case.pk,
        kind=f"before-{stage.key}",
        stored=vars(stored),
    )
    return int(outcome.result["file"])


def add_photos(shop: Shop, stage: CaseStage, now: datetime, who: str) -> None:
    """Photograph every check of a running stage that asks for it."""
    from cases.services.check import add_check_photo

    for item in stage.checks.exclude(state="dropped"):
        if item.spec["photo"]:
            file = photograph(shop, stage.case, stage, now, who)
            add_check_photo(
                shop.envelope(who, now=now), item=item.pk, version=stage.version, file=file
            )


def do_stage(shop: Shop, stage: CaseStage, clock: Clock, *, who: str = "mara") -> CaseStage:
    """Start, check and finish one stage, waiting for it where it is not ready yet."""
    if stage.ready_at is not None:
        clock.now = max(clock.now, stage.ready_at)
    if stage.kind not in ONE_TAP:
        photo = None
        if stage.spec.get("photo_before"):
            photo = photograph(shop, stage.case, stage, clock.now, who)
        _start(shop, stage, clock, who, photo)
        stage.refresh_from_db()
        if stage.key == "survey":
            draw(shop, stage.case, clock, who=who)
            stage.refresh_from_db()
        add_photos(shop, stage, clock.now, who)
        clock.now += timedelta(minutes=max(1, round(stage.minutes)))
    outcome = finish_stage(
        shop.envelope(who, now=clock.now),
        stage=stage.pk,
        version=stage.version,
        checks=answers(stage),
        things_used=free_things(),
    )
    assert outcome.result["finished"], (stage.key, outcome.result)
    stage.refresh_from_db()
    if stage.state == "away":
        clock.now += timedelta(days=1)
        stage_came_back(shop.envelope(who, now=clock.now), stage=stage.pk, version=stage.version)
        stage.refresh_from_db()
    return stage


def _start(shop: Shop, stage: CaseStage, clock: Clock, who: str, photo: int | None) -> None:
    """Start a stage; while the plaster on its cast sets, wait for it."""
    body = {
        "stage": stage.pk,
        "version": stage.version,
        "things_used": free_things(),
        "photo": photo,
    }
    try:
        start_stage(shop.envelope(who, now=clock.now), **body)
    except Refusal as refusal:
        if refusal.code != "cast-setting":
            raise
        clock.now = refusal.detail["until"]
        start_stage(shop.envelope(who, now=clock.now), **body)


def draw(shop: Shop, case: Case, clock: Clock, *, who: str = "mara") -> None:
    """Store the usual small design."""
    case.refresh_from_db()
    set_design(shop.envelope(who, now=clock.now), case=case.pk, version=case.version, data=DESIGN)


def next_stage(case: Case) -> CaseStage | None:
    """Return the planned stage of ``case`` that may begin first."""
    return (
        case.stages.filter(state="planned", ready_at__isnull=False)
        .select_related("case")
        .order_by("ready_at", "position")
        .first()
    )


def walk(shop: Shop, case: Case, clock: Clock, *, until: str = "") -> list[str]:
    """Do stage after stage, up to and including ``until`` (all when empty); returns the keys.

    A stage that a second pair of eyes must do goes to the other technician.
    """
    done = []
    while (stage := next_stage(case)) is not None:
        who = "oren" if stage.spec.get("other_than") else "mara"
        do_stage(shop, stage, clock, who=who)
        done.append(stage.key)
        if stage.key == until:
            break
    return done
