"""The moves of the desk: orders corrected, boxes that follow, remakes, reports, batches."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from cases.models import Alert, Case, CaseStage, Received, Thing, WorkSpan
from cases.services import (
    alarms,
    batch,
    check,
    correct_order,
    intake,
    labour,
    new_impression,
    places,
    received,
    remake,
    report,
)
from tests.factories import answers
from tests.machine.bench_moves import add_photographs
from tests.machine.case_moves import MOST_CASES, any_order, any_reference
from tests.machine.driver import Driver
from tests.machine.registry import BENCH, move


def _impression(m: Driver, kind: str) -> dict[str, Any]:
    taken = m.now + timedelta(minutes=m.pick.choice([-5, -5, -5, 60]))
    return {
        "kind": kind,
        "form": "impression",
        "material": "alginate",
        "taken_at": taken.isoformat(),
        "tray": "stock",
    }


@move(1)
def correct(m: Driver) -> None:
    """Correct an order, or its reference."""
    case = m.case()
    if case is None:
        return
    later = (m.now + timedelta(days=m.pick.choice([-2, 25]))).date().isoformat()
    changes: dict[str, Any] = m.pick.choice(
        [
            {"polish": m.pick.choice(["none", "all-outer"])},
            {"bite": m.pick.choice(["by-hand", "rim"])},
            {"try_in": m.pick.random() < 0.5},
            {"appointment_on": later},
            {"items": []},
            {},
        ]
    )
    m.send(
        correct_order.correct_order,
        m.who("noor", "mara"),
        case=case.pk,
        version=m.version(case),
        changes=changes,
        reason=m.words("the practice rang"),
        patient_ref="" if changes else any_reference(m),
    )


@move(1)
def ask_for_change(m: Driver) -> None:
    """The practice changes its mind on the telephone."""
    case = m.case()
    if case is not None:
        m.send(
            correct_order.ask_for_change,
            m.who("noor"),
            case=case.pk,
            version=m.version(case),
            change=m.words("one more clasp"),
            rang=m.words("Remy"),
        )


@move(1)
def impression_anew(m: Driver) -> None:
    """A new impression takes the place of the first."""
    case = m.case()
    if case is None:
        return
    kinds = m.pick.choice([["working"], ["working", "opposing"], ["opposing"]])
    m.send(
        new_impression.take_new_impression,
        m.who("noor"),
        case=case.pk,
        version=m.version(case),
        items=[_impression(m, kind) for kind in kinds],
        disinfection=m.pick.choice([{"done": "no"}, {"done": "yes", "by": "practice"}]),
        words=m.words("a pull at 36"),
    )


@move(1)
def make_again(m: Driver) -> None:
    """Make a piece again; now and then without saying why."""
    gone = list(Case.objects.filter(state="sent"))
    case = m.one(gone) if gone and m.pick.random() < 0.5 else m.case()
    if case is None:
        return
    room = Case.objects.count() <= MOST_CASES
    m.send(
        remake.remake_case,
        m.who("noor"),
        case=case.pk,
        version=m.version(case),
        reason=m.words("wrong-bite") if room else "",
        origin="not-known",
        start=m.pick.choice(["new-impression", "kept-master", "kept-wax-index"]),
        appointment_on=(m.now + timedelta(days=m.pick.choice([2, 30]))).date().isoformat(),
    )


@move(2)
def it_came(m: Driver) -> None:
    """What was to follow later has come, or something has that was here."""
    expected = list(Received.objects.filter(state="expected", case__state="open"))
    rows = expected if expected and m.pick.random() < 0.8 else list(Received.objects.all())
    if not expected and m.pick.random() < 0.7:
        return
    row = m.one(rows)
    m.send(
        received.later_item_came,
        m.who("noor"),
        received=row.pk if row else 0,
        material="alginate",
        taken_at=_impression(m, "")["taken_at"],
    )


@move(1)
def tell_how_it_seated(m: Driver) -> None:
    """The dentist reports a piece; now and then one that never left."""
    gone = list(Case.objects.filter(state="sent"))
    case = m.one(gone) if gone and m.pick.random() < 0.9 else m.case()
    if case is not None:
        m.send(
            report.insert_report,
            m.who("lind", "lind", "vega"),
            door="portal",
            case=case.pk,
            retention=m.pick.choice(["good", "loose", "splendid"]),
            chairside_minutes=m.pick.choice([None, 5]),
        )


@move(1)
def log_from_anybody(m: Driver) -> None:
    """Log an order whose practice and dentist nobody knew."""
    unknown = m.pick.random() < 0.5
    room = Case.objects.count() < MOST_CASES
    m.send(
        intake.log_intake,
        m.who("noor"),
        practice=None if unknown or not room else m.shop.practice.pk,
        new_practice={"name": m.words("Mill Lane")} if unknown and room else None,
        new_dentist={"name": m.words("Dr Arne")},
        patient_ref=any_reference(m),
        order=any_order(m),
    )


@move(1)
def keep_own_thing(m: Driver) -> None:
    """Note where a thing of a case lies."""
    case = m.case()
    if case is not None:
        m.send(
            places.keep_thing,
            m.who("noor", "mara"),
            case=case.pk,
            kind=m.pick.choice(["cast", "tooth-card", "cup"]),
            label=m.one([*case.things.values_list("label", flat=True), ""]),
            place=m.words("shelf 4"),
        )


@move(2)
def hear_all(m: Driver) -> None:
    """Stop several alarms at once; now and then those that were stopped."""
    heard = m.pick.random() < 0.2
    rows = Alert.objects.filter(acknowledged_at__isnull=not heard)
    if not rows and m.pick.random() < 0.8:
        return
    m.send(
        alarms.acknowledge_many,
        m.who("mara", "noor"),
        alerts=list(rows.order_by("pk").values_list("pk", flat=True)),
    )


@move(2)
def confirm_minutes(m: Driver) -> None:
    """Say that minutes are right which the program ended."""
    asked = list(WorkSpan.objects.filter(to_check=True))
    if not asked and m.pick.random() < 0.7:
        return
    row = m.one(asked) if asked and m.pick.random() < 0.9 else WorkSpan.objects.first()
    names = {person.pk: name for name, person in m.shop.people.items()}
    who = names[row.person_id] if row else "mara"
    m.send(labour.confirm_time, m.who(who), span=row.pk if row else 0)


def _together(state: str) -> list[CaseStage]:
    """Return stages of one kind in this state, at different cases where there are such."""
    rows = CaseStage.objects.filter(state=state, case__state="open").order_by("pk")
    if state == "planned":
        rows = rows.filter(ready_at__isnull=False, kind="attended")
    by_key: dict[str, list[CaseStage]] = {}
    for row in rows:
        by_key.setdefault(row.key, []).append(row)
    return max(by_key.values(), key=len, default=[])


@move(2)
def several_at_once(m: Driver) -> None:
    """Begin or pass on the same stage of several cases, with the checks of each entered."""
    running = _together("running")
    finishing = len(running) > 1 and m.pick.random() < 0.8
    rows = running if finishing else _together("planned")
    if finishing:
        for row in rows:
            add_photographs(m, row, "mara")
            entries = answers(row)
            if entries and m.pick.random() < 0.9:
                m.send(
                    check.enter_checks,
                    "mara",
                    stage=row.pk,
                    version=row.version,
                    checks=entries,
                )
                row.refresh_from_db()
        m.pass_time(10)
    else:
        m.now = max([m.now, *(row.ready_at for row in rows if row.ready_at)])
    free = list(Thing.objects.filter(kind="flask", state="in-use").order_by("pk"))
    stages = [
        {
            "stage": row.pk,
            "version": row.version - (m.pick.random() < 0.03),
            "things_used": {"flask": flask.label, "articulator": str(place + 1)},
        }
        for place, (row, flask) in enumerate(zip(rows, free, strict=False))
    ]
    verb = batch.finish_many if finishing or m.pick.random() < 0.1 else batch.start_many
    m.send(verb, m.who(*BENCH[:2]), stages=stages)
