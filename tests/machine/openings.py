"""How some runs begin: far on in a route, or with a scene that chance alone seldom brings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from cases.models import (
    Alert,
    BenchSession,
    Case,
    CaseStage,
    CheckItem,
    Countersign,
    Tablet,
    Timer,
    WorkSpan,
)
from cases.selectors.dispatch import ready_to_pack
from cases.services import (
    alarms,
    batch,
    check,
    countersign,
    dispatch,
    labour,
    report,
    stage,
    tablets,
)
from cases.services.record import VERBS
from cases.services.secrets import fingerprint
from tests.factories import NOW, Shop, answers, make_case
from tests.machine.bench_moves import add_photographs, photograph
from tests.machine.cut_moves import the_power_goes
from tests.machine.dough_moves import dough_is_packed
from tests.machine.driver import Driver
from tests.machine.feed_moves import bath_is_fed
from tests.machine.load_moves import goes_through_the_bath
from tests.machine.remedy_moves import remedies_are_reckoned
from tests.machine.van_moves import an_entry
from tests.walk import Clock, free_things, next_stage, walk

Scene = Callable[[Driver], None]
AWAY_WITHIN = 4
"""So many stages after the cast is trimmed, the rim of an order with one is at the practice."""


def _start(m: Driver, who: str) -> CaseStage:
    """Start the next stage of the one case and return it running."""
    row = next_stage(Case.objects.get())
    if row is None or row.ready_at is None:
        raise AssertionError("the case has no next stage")
    m.now = max(m.now, row.ready_at)
    photo = photograph(m, row, who) if row.spec["photo_before"] else None
    m.send(
        stage.start_stage,
        who,
        stage=row.pk,
        version=row.version,
        things_used=free_things(),
        photo=photo,
    )
    row.refresh_from_db()
    return row


def _do(m: Driver, who: str) -> CaseStage:
    """Do the next stage of the one case, all checks passed."""
    row = _start(m, who)
    add_photographs(m, row, who)
    m.pass_time(max(1, row.minutes))
    m.send(stage.finish_stage, who, stage=row.pk, version=row.version, checks=answers(row))
    row.refresh_from_db()
    return row


def _boxed(m: Driver) -> tuple[int, Case]:
    """Pack the case that lies in water; return its box and the case."""
    case = ready_to_pack().get()
    entry = an_entry(m, case) | {
        "checks": answers(case.stages.get(key="pack-out")),
        "soak": "the van was due",
    }
    day = m.now.date().isoformat()
    result = m.send(
        dispatch.pack, "noor", practice=case.practice_id, cases=[entry], ship_on=day
    )  # fmt: skip
    return int(result["shipment"]), case


def box_leaves(m: Driver) -> None:
    """A box leaves too early, then in time; the dentist reports twice, once of another's case."""
    box, case = _boxed(m)
    m.send(dispatch.mark_sent, "noor", shipment=box)
    m.pass_time(15)
    m.send(dispatch.mark_sent, "noor", shipment=box)
    for who in ("vega", "lind"):
        m.send(report.insert_report, who, door="portal", case=case.pk, retention="good")
    _fetched(m, case)


def _fetched(m: Driver, case: Case) -> None:
    """Something is fetched from the practice, and ticked off once, not twice."""
    day = m.now.date().isoformat()
    asked = m.send(
        dispatch.ask_pick_up, "noor", practice=case.practice_id, day=day, words="impression"
    )  # fmt: skip
    for _ in range(2):
        m.send(dispatch.pick_up_done, "noor", pick_up=asked["pick_up"])


def box_is_emptied(m: Driver) -> None:
    """A case is taken out of its box, at the second try with a reason."""
    box, case = _boxed(m)
    for why in ("", "wrong box"):
        m.send(dispatch.unpack, "noor", shipment=box, case=case.pk, reason=why)


def piece_comes_back(m: Driver) -> None:
    """The rim goes to the practice and comes back once, not twice."""
    for _ in range(AWAY_WITHIN):
        row = _do(m, "mara")
        if row.state == "away":
            break
    for _ in range(2):
        m.pass_time(60)
        version = CaseStage.objects.get(pk=row.pk).version
        m.send(stage.stage_came_back, "noor", stage=row.pk, version=version)


def student_is_countersigned(m: Driver) -> None:
    """A student's work before a point of no return: signed by a colleague, not by themselves."""
    _do(m, "teo")
    request = Countersign.objects.get(signed_at=None)
    for who in ("teo", "oren"):
        m.send(countersign.countersign, who, request=request.pk, agreed=True)


def failure_is_conceded(m: Driver) -> None:
    """Every check of a stage fails; a colleague accepts what may be accepted, not the worker."""
    row = _start(m, "mara")
    entries = [entry | {"yes": False} for entry in answers(row)]
    m.send(check.enter_checks, "mara", stage=row.pk, version=row.version, checks=entries)
    for item in CheckItem.objects.filter(stage=row, state="failed").order_by("pk")[:6]:
        for who in ("mara", "oren"):
            version = CaseStage.objects.get(pk=row.pk).version
            m.send(
                check.concede, who, item=item.pk, version=version, reason="dentist-agreed"
            )  # fmt: skip


def two_at_once(m: Driver) -> None:
    """Two cases are taken in hand together, put back, taken again and passed on together, first
    without their checks."""
    rows = [row for case in Case.objects.all() if (row := next_stage(case))]
    m.now = max([m.now, *(row.ready_at for row in rows if row.ready_at)])
    m.send(batch.start_many, "mara", stages=_versions(rows))
    for _ in range(2):
        m.send(batch.undo_many, "mara", stages=_versions(rows))
    m.send(batch.start_many, "mara", stages=_versions(rows))
    m.send(batch.finish_many, "mara", stages=_versions(rows))
    for row in rows:
        row.refresh_from_db()
        add_photographs(m, row, "mara")
        m.send(check.enter_checks, "mara", stage=row.pk, version=row.version, checks=answers(row))
    m.send(batch.finish_many, "mara", stages=_versions(rows))


def _versions(rows: list[CaseStage]) -> list[dict[str, int]]:
    for row in rows:
        row.refresh_from_db()
    return [{"stage": row.pk, "version": row.version} for row in rows]


def tablet_locks(m: Driver) -> None:
    """Nobody touches a tablet: its work is put down, goes on, is put down by a tap and ends."""
    tablet, mara = Tablet.objects.get().pk, m.shop.people["mara"]
    pin = {"person": mara.pk, "right": True, "against": fingerprint(mara.pin_hash)}
    m.send(VERBS["bench.open"], None, door="bench", at_tablet=tablet, **pin)
    _start(m, "mara")
    session = BenchSession.objects.get(closed_at=None)
    for minutes in (1, 20, 1):
        m.pass_time(minutes)
        m.send(tablets.lock_idle, None, door="clock", session=session.pk)
    asked = WorkSpan.objects.get(to_check=True)
    for _ in range(2):
        m.send(labour.went_on, "mara", spans=[asked.pk])
    m.send(VERBS["bench.open"], None, door="bench", at_tablet=tablet, **pin)
    m.send(tablets.close_bench, "mara", door="bench", at_tablet=tablet, how="change")
    m.pass_time(9)
    asked = WorkSpan.objects.get(to_check=True)
    for until in (m.now + timedelta(hours=1), m.now):
        m.send(labour.stopped_at, "mara", span=asked.pk, until=until.isoformat())


def alarms_are_heard(m: Driver) -> None:
    """Nobody touches two cases for a day; one alarm is heard by itself, the others together."""
    m.pass_time(24 * 60)
    for timer in Timer.objects.filter(state="pending", due_at__lte=m.now).order_by("pk"):
        m.send(alarms.fire_timer, None, door="clock", timer=timer.pk)
    rung = list(Alert.objects.order_by("pk").values_list("pk", flat=True))
    for _ in range(2):
        m.send(alarms.acknowledge, "mara", alert=rung[0])
    for _ in range(2):
        m.send(alarms.acknowledge_many, "noor", alerts=rung)


def nothing(m: Driver) -> None:
    """Leave all to chance."""


@dataclass(frozen=True)
class Opening:
    """How far a case has come when the run begins, and the scene that is played then."""

    until: str = ""
    scene: Scene = nothing
    bite: str = "by-hand"
    cases: int = 1

    def prepare(self, shop: Shop) -> None:
        """Log the cases and take them so far."""
        clock = Clock(NOW)
        for number in range(1, self.cases + 1):
            case = make_case(shop, ref=f"Q-{number:04d}", bite=self.bite)
            if self.until:
                walk(shop, case, clock, until=self.until)


OPENINGS = (
    Opening(scene=alarms_are_heard, cases=2),
    Opening("trim", piece_comes_back, bite="rim"),
    Opening("soak", box_leaves),
    Opening(scene=two_at_once, cases=2),
    Opening("teeth", failure_is_conceded),
    Opening("deflask"),
    Opening("boil-out", student_is_countersigned),
    Opening("soak", box_is_emptied),
    Opening("block-out", failure_is_conceded),
    Opening("finish"),
    Opening("clamp"),
    Opening(scene=tablet_locks),
    Opening("clamp", goes_through_the_bath),
    Opening("clamp", bath_is_fed),
    Opening("clamp", the_power_goes),
    Opening("separate", dough_is_packed),
    Opening("clamp", remedies_are_reckoned),
)
"""Every fourth run begins with one of these, in turn, so that late stages are met."""
