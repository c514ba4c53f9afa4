"""One object for every part of an address, by the names that the tables of rights use."""

from __future__ import annotations

import io
from datetime import date, timedelta
from typing import Any

from django.core import signing

from cases.domain.cure.feed import Sample
from cases.domain.cure.program import LONG, as_json
from cases.models import (
    Absence,
    Bath,
    BathFeed,
    ClosedDay,
    Countersign,
    CureProgram,
    Dentist,
    Hold,
    Load,
    LoadFlask,
    Paper,
    PickUp,
    Received,
    Resin,
    ShipmentCase,
    Skill,
    StageRun,
    Station,
    Tablet,
    Thing,
    WorkSpan,
)
from cases.services.accounts import invite
from cases.services.answer import answer_question
from cases.services.dispatch import ask_pick_up
from cases.services.feed_in import take_in
from cases.services.feeds import bind_file
from cases.services.hold import ask_practice
from cases.services.lag import calibrate, take_in_run
from cases.services.numbering import next_in
from cases.services.planner import mend
from cases.services.record import Recorder
from tests.bath_records import of_a_record
from tests.factories import make_case, rows
from tests.lag_runs import CONFIRMED, run_csv
from tests.power_cuts import of_a_cut
from tests.rights.scene import Scene
from tests.walk import Clock, walk


def _further(scene: Scene) -> dict[str, Any]:
    """Make what the scene's own story does not bring about."""
    shop, trim = scene.shop, scene.case("held").stages.get(key="trim")
    run = StageRun.objects.filter(stage=trim).first()

    def make(record: Recorder) -> dict[str, Any]:
        return {
            "countersign": record.create(
                Countersign, stage=trim, run=run, asked_by=shop.people["teo"], asked_at=scene.now
            ),
            "absence": record.create(
                Absence, person=shop.people["mara"], first_on=date(2026, 12, 28),
                last_on=date(2026, 12, 30),
            ),
            "closed day": record.create(ClosedDay, day=date(2026, 12, 25), words="Christmas"),
            "later": record.create(
                Received, case=scene.cases["bench"], item="bite", form="", state="later"
            ),
            "load": _load(scene, record),
            "bare bath": record.create(Bath, name="Little bath", capacity=2),
        }  # fmt: skip

    return rows(make)


def _load(scene: Scene, record: Recorder) -> Load:
    """Make a load with one flask that is being gathered, of a resin with one program."""
    case = scene.cases["bench"]
    resin = record.create(Resin, name="Test resin", source="leaflet")
    program = record.create(
        CureProgram, resin=resin, name="Overnight", version=1, document=as_json(LONG),
        saved_at=scene.now,
    )  # fmt: skip
    load = record.create(
        Load, number=next_in("load"), bath=Bath.objects.order_by("pk")[0], program=program,
        made_at=scene.now,
    )  # fmt: skip
    record.create(
        LoadFlask, load=load, case=case, stage=case.stages.get(key="cure"), attempt=1,
        thickest_mm=4.0, added_at=scene.now,
    )  # fmt: skip
    return load


def _fed(scene: Scene) -> dict[str, Any]:
    """Give the first bath a feed that told something a moment ago, and a lag from a run."""
    bath = Bath.objects.order_by("pk")[0]
    made = bind_file(scene.by("pavo"), bath=bath.pk, file_name="bath-1.csv", probe="A")
    feed = BathFeed.objects.get(pk=made.result["feed"])
    take_in(feed, [Sample(scene.now - timedelta(seconds=40), 73.9)])
    table = run_csv(lag=14.0)
    unread, read = take_in_run(io.BytesIO(table)), take_in_run(io.BytesIO(table + b"\n"))
    calibrate(scene.by("pavo"), bath=bath.pk, sha256=read, **CONFIRMED)
    return {"feed": feed.pk, "run hash": unread}


def _answered(scene: Scene) -> int:
    """Have a question answered with which something is left to do; return its key."""
    made = ask_practice(scene.by("mara"), case=scene.case("bench").pk, number=18)
    key: int = made.result["question"]
    answer_question(scene.by("noor"), question=key, answer="old-piece", rang="Remy")
    return key


def _ready_to_pour(scene: Scene) -> None:
    """Unpack a case, so that a stage stands ready that is done for several cases at once."""
    clock = Clock(scene.now - timedelta(hours=1))
    case = make_case(scene.shop, now=clock.now, ref="Q-1204")
    walk(scene.shop, case, clock, until="receive")


def _drawn(scene: Scene) -> str:
    """Take a case as far as its design is finished; return its number."""
    clock = Clock(scene.now - timedelta(days=2))
    case = make_case(
        scene.shop, now=clock.now, ref="Q-1205", ordered_on=clock.now.date(),
    )  # fmt: skip
    walk(scene.shop, case, clock, until="survey")
    return case.number


def named(scene: Scene) -> dict[str, Any]:
    """Return what may stand in an address, by name."""
    shop = scene.shop
    case, asked, held = scene.case("bench"), scene.case("asked"), scene.case("held")
    further = _further(scene)
    _ready_to_pour(scene)
    answered = _answered(scene)
    survey = case.stages.get(key="survey")
    span = WorkSpan.objects.filter(person=shop.people["mara"], ended_at__isnull=False).first()
    pick_up = ask_pick_up(
        scene.by("noor"), practice=shop.practice.pk, day="2026-12-11", words="An old piece"
    )
    _, invitation = invite(scene.by("pavo"), person=shop.people["remy"].pk)
    photograph = scene.files["shown"]
    kept = {"sha256": photograph.sha256, "size": photograph.size, "path": photograph.path,
            "content_type": photograph.content_type}  # fmt: skip
    assert scene.box is not None
    assert span is not None
    mend(scene.now)
    return {
        "case": case.number,
        "asked case": asked.number,
        "held case": held.number,
        "sent case": scene.case("sent").number,
        "other case": scene.case("other").number,
        "drawn case": _drawn(scene),
        "design version": 1,
        "drawn version": 2,
        "stage": survey.pk,
        "held stage": held.stages.get(key="trim").pk,
        "check": survey.checks.exclude(state="dropped").first().pk,
        "cast": case.things.filter(kind="cast").first().pk,
        "span": span.pk,
        "countersign": further["countersign"].pk,
        "batch": "pour",
        "hold": Hold.objects.get(case=held).pk,
        "received": further["later"].pk,
        "load": further["load"].number,
        "planned stage": case.stages.get(key="wax").pk,
        "cool stage": case.stages.get(key="cool").pk,
        # Before the record: its load is out by then, and is decided about by itself.
        **of_a_cut(shop, asked, held, scene.now),
        **of_a_record(shop, held, scene.now),
        "answered question": answered,
        "question": asked.questions.get(number=3).pk,
        "question for the dentist": asked.questions.get(number=10).pk,
        "other question": scene.case("other").questions.get(number=10).pk,
        "question number": 10,
        "shown photograph": scene.files["shown"].pk,
        "inside photograph": scene.files["inside"].pk,
        "other photograph": scene.files["other"].pk,
        "paper token": signing.Signer(salt="cases.desk.papers").sign_object(kept),
        "practice": shop.practice.pk,
        "box": scene.box.number,
        "boxed": ShipmentCase.objects.get(case=scene.cases["sent"]).case_id,
        "pick-up": PickUp.objects.get(pk=pick_up.result["pick_up"]).pk,
        "paper": Paper.objects.get().pk,
        "technician": shop.people["mara"].pk,
        "receptionist": shop.people["remy"].pk,
        "prescriber": Dentist.objects.get(pk=shop.dentist.pk).pk,
        "absence": further["absence"].pk,
        "skill": Skill.objects.first().pk,  # type: ignore[union-attr]
        "closed day": further["closed day"].pk,
        "station": Station.objects.first().pk,  # type: ignore[union-attr]
        "bath": Bath.objects.first().pk,  # type: ignore[union-attr]
        "bare bath": further["bare bath"].pk,
        **_fed(scene),
        "resin": further["load"].program.resin_id,
        "program": further["load"].program_id,
        "flask": Thing.objects.filter(kind="flask").first().pk,  # type: ignore[union-attr]
        "tablet": Tablet.objects.get().pk,
        "invitation": invitation,
        "route version": 1,
        "stage key": "wax",
        "check number": 12,
        "nobody": "bm9ib2R5",
        "nothing": "no-token",
    }
