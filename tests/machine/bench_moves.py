"""The moves of the bench: work, checks, minutes, the clock, things."""

from __future__ import annotations

from cases.models import Alert, CaseStage, CheckItem, Countersign, Event, Thing, Timer, WorkSpan
from cases.services import (
    alarms,
    assign,
    check,
    countersign,
    design,
    design_back,
    files,
    stage,
    things,
    undo,
)
from tests.factories import DESIGN, answers
from tests.machine.driver import Driver
from tests.machine.registry import BENCH, move


def _ready(m: Driver) -> CaseStage | None:
    """Return a stage that may begin, passing time where that is all it needs."""
    case = m.case()
    if case is None:
        return None
    rows = list(case.stages.filter(state="planned", ready_at__isnull=False))
    row = m.one(rows)
    if row is not None and row.ready_at > m.now and m.pick.random() < 0.9:
        m.now = row.ready_at
    return row


def photograph(m: Driver, row: CaseStage, who: str) -> int | None:
    """Attach a photograph to a stage's case; seldom to a case that is none."""
    stored = {"sha256": "0" * 64, "size": 9, "path": "00/0.jpg", "content_type": "image/jpeg"}
    case = row.case_id if m.pick.random() < 0.97 else 0
    result = m.send(files.attach_file, who, case=case, kind=f"before-{row.key}", stored=stored)
    return result["file"] if result else None


def add_photographs(m: Driver, row: CaseStage, who: str) -> None:
    """Photograph every check of a stage in hand that asks for it and has none yet."""
    for item in row.checks.exclude(state="dropped"):
        if item.spec["photo"] and not item.photos.filter(attempt=row.attempt).exists():
            file = photograph(m, row, who)
            if file:
                m.send(check.add_check_photo, who, item=item.pk, version=m.version(row), file=file)


def _free_things(m: Driver) -> dict[str, str]:
    free = {}
    for kind in ("flask", "articulator", "clamp"):
        rows = list(Thing.objects.filter(kind=kind, state="in-use"))
        chosen = m.one(rows)
        free[kind] = m.words(chosen.label if chosen else "99")
    return free


@move(30)
def work_on(m: Driver) -> None:
    """Take the next stage in hand, or finish the one that is, with its checks."""
    in_hand = list(CaseStage.objects.filter(state="running", case__state="open"))
    if in_hand and m.pick.random() < 0.8:
        _finish(m, m.one(in_hand))
        return
    row = _ready(m)
    if row is None:
        return
    who = m.who(*BENCH)
    if row.kind in stage.ONE_TAP:
        m.send(
            stage.finish_stage,
            who,
            stage=row.pk,
            version=m.version(row),
            checks=answers(row),
            things_used=_free_things(m),
        )
        return
    photo = photograph(m, row, who) if row.spec["photo_before"] else None
    m.send(
        stage.start_stage,
        who,
        stage=row.pk,
        version=m.version(row),
        things_used=_free_things(m),
        photo=photo,
    )


def _finish(m: Driver, row: CaseStage) -> None:
    who = {p.pk: name for name, p in m.shop.people.items()}[row.worker_id]
    if row.key == "survey" and m.pick.random() < 0.9:
        _draw(m, row, who)
        row.refresh_from_db()
    if m.pick.random() < 0.95:
        add_photographs(m, row, who)
    entries = answers(row)
    if entries and m.pick.random() < 0.25:
        m.pick.choice(entries)["yes"] = m.pick.choice([False, None])
    m.pass_time(max(1, row.minutes))
    m.send(stage.finish_stage, who, stage=row.pk, version=m.version(row), checks=entries)


def _draw(m: Driver, row: CaseStage, who: str) -> None:
    data = dict(DESIGN)
    data["method"] = m.pick.choice(["none", "plaster", "wax-then-copy", "copy-then-plaster"])
    data["method_reason"] = m.pick.choice(["", "practice-asked", "good-experience"])
    data["bar"] = m.pick.random() < 0.5
    if m.pick.random() < 0.1:
        data["clasps"] = [{"tooth": 14, "wire_mm": None, "undercut_mm": None, "free_arm_mm": None}]
    row.case.refresh_from_db()
    decided = {
        done.key: m.pick.random() < 0.2
        for done in row.case.stages.filter(state="done")
        if m.pick.random() < 0.9
    }
    m.send(
        design.set_design,
        who,
        case=row.case_id,
        version=m.version(row.case),
        data=data,
        reason=m.words("Practice asked for it"),
        draft=m.pick.random() < 0.1,
        asked_by=m.pick.choice(["lab", "practice"]),
        again=[key for key, once_more in decided.items() if once_more],
        standing={key: "still true" for key, once_more in decided.items() if not once_more},
    )


@move(3)
def put_back(m: Driver) -> None:
    """Put the design back to one of its versions; now and then to one that never was."""
    case = m.case()
    if case is None:
        return
    versions = list(case.designs.order_by("version").values_list("version", flat=True))
    m.send(
        design_back.put_back,
        m.who("noor", "mara"),
        case=case.pk,
        version=m.version(case),
        to=m.pick.choice([*versions, 99]),
        reason=m.words("It is made as it was"),
        again=[],
        standing={
            done.key: "still true"
            for done in case.stages.filter(state="done")
            if m.pick.random() < 0.95
        },
    )


@move(2)
def change_design(m: Driver) -> None:
    """Change the design later on."""
    row = m.stage("running", "planned")
    if row is not None:
        _draw(m, row, m.who("mara", "oren"))


@move(3)
def pause_or_resume(m: Driver) -> None:
    """Put a stage down or take it up again."""
    row = m.stage("running", "paused")
    if row is None:
        return
    m.pass_time(3)
    verb = stage.pause_stage if m.pick.random() < 0.5 else stage.resume_stage
    m.send(verb, m.who(*BENCH), stage=row.pk, version=m.version(row))


@move(3)
def take_back(m: Driver) -> None:
    """Undo what was just done, or try to undo something older."""
    event = Event.objects.filter(kind__startswith="stage.").order_by("-pk").first()
    row = None
    if event is not None and m.pick.random() < 0.8:
        row = CaseStage.objects.filter(case=event.case, key=event.subject).first()
    row = row or m.stage("running", "done")
    if row is None:
        return
    names = {p.pk: name for name, p in m.shop.people.items()}
    who = names.get(event.by_id, "mara") if event else "mara"
    m.send(undo.undo_stage, m.who(who), stage=row.pk, version=m.version(row))


@move(2)
def skip(m: Driver) -> None:
    """Leave a stage out."""
    row = m.stage("planned")
    if row is not None:
        m.send(
            stage.skip_stage,
            m.who(m.pick.choice(["mara", "pavo"])),
            stage=row.pk,
            version=m.version(row),
            reason=m.words("not-ordered"),
        )


@move(4)
def enter_check(m: Driver) -> None:
    """Enter one check without passing the stage on."""
    row = m.stage("running", "paused")
    if row is None:
        return
    entries = answers(row)
    chosen = [m.one(entries)] if entries else [{"item": 0, "yes": True}]
    if m.pick.random() < 0.3:
        chosen[0]["yes"] = False
    m.send(check.enter_checks, m.who(*BENCH), stage=row.pk, version=m.version(row), checks=chosen)


@move(4)
def concede(m: Driver) -> None:
    """Accept a failed check."""
    failed = list(CheckItem.objects.filter(state="failed").select_related("stage"))
    item = m.one(failed) or CheckItem.objects.select_related("stage").first()
    if item is not None:
        m.send(
            check.concede,
            m.who("mara", "oren", "pavo", "teo"),
            item=item.pk,
            version=item.stage.version,
            reason=m.words("dentist-agreed"),
        )


@move(4)
def sign(m: Driver) -> None:
    """Countersign a student's work."""
    request = m.one(list(Countersign.objects.filter(signed_at=None)))
    request = request or Countersign.objects.first()
    if request is not None:
        m.send(
            countersign.countersign,
            m.who("mara", "oren", "teo", "pavo"),
            request=request.pk,
            agreed=m.pick.random() < 0.7,
            words=m.words("Look again"),
        )


@move(2)
def came_back(m: Driver) -> None:
    """A piece comes back from the practice, or one that was never there."""
    away = list(CaseStage.objects.filter(state="away", case__state="open").select_related("case"))
    row = m.one(away) if away and m.pick.random() < 0.9 else m.stage("away")
    if row is not None:
        m.send(stage.stage_came_back, m.who("noor", "mara"), stage=row.pk, version=m.version(row))


@move(2)
def correct_time(m: Driver) -> None:
    """Correct minutes, one's own or somebody's."""
    span = m.one(list(WorkSpan.objects.all()))
    if span is None:
        return
    minutes = m.pick.choice([0, 25, 5000])
    if m.pick.random() < 0.5:
        m.send(
            assign.correct_own_time,
            m.who("mara", "oren"),
            span=span.pk,
            minutes=minutes,
            reason=m.words("forgot-stop"),
        )
    else:
        m.send(
            assign.correct_any_time,
            m.who("pavo"),
            span=span.pk,
            minutes=minutes,
            reason=m.words("forgot-stop"),
        )


@move(5)
def clock(m: Driver) -> None:
    """Let time pass; due timers go off, alarms ring, somebody hears one."""
    m.pass_time(m.pick.choice([1, 20, 90]))
    due = list(Timer.objects.filter(state="pending", due_at__lte=m.now))
    timer = m.one(due if due and m.pick.random() < 0.9 else list(Timer.objects.all()))
    if timer is not None:
        m.send(alarms.fire_timer, None, door="clock", timer=timer.pk)
    alert = m.one(list(Alert.objects.all()))
    if alert is not None and m.pick.random() < 0.4:
        m.send(alarms.acknowledge, m.who("mara"), alert=alert.pk)


@move(2)
def put_thing(m: Driver) -> None:
    """Put a thing somewhere, or lose it."""
    thing = m.one(list(Thing.objects.all()))
    if m.pick.random() < 0.85:
        m.send(things.put_thing, m.who("mara"), thing=thing.pk, place=m.words("shelf 2"))
    else:
        m.send(
            things.thing_gone, m.who("mara"), thing=m.pick.choice([thing.pk, 0]), reason="dropped"
        )
