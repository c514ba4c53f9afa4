"""The moves at the baths: gather flasks, ask, put them in, take them out, open before time."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from cases.domain.cure.program import LONG, as_json, read_program
from cases.domain.cure.samples import resampled
from cases.models import Bath, BathRecord, CaseStage, CureProgram, Load, Resin
from cases.selectors.concerned import concerned, cured_in
from cases.services import bath_decision, bath_record, load, load_longer, load_run, resins
from cases.services.bath_raw import take_in_file
from cases.services.record import Recorder
from tests.factories import NOW, rows
from tests.machine.driver import Driver
from tests.machine.registry import move

WALL = ZoneInfo("Europe/Vienna")


def a_program() -> CureProgram:
    """Return the lab's program, made when there is none yet."""
    found = CureProgram.objects.order_by("pk").first()
    if found is not None:
        return found

    def make(record: Recorder) -> dict[str, Any]:
        resin = Resin.objects.filter(active=True).first() or record.create(
            Resin, name="Machine resin", source="leaflet", resumable=True
        )
        # Longer than the route asks: who comes too early is refused, or says why.
        document = as_json(replace(LONG, bench_rest_minutes=45))
        return {
            "program": record.create(
                CureProgram, resin=resin, name="Overnight", version=1, document=document,
                saved_at=NOW,
            )
        }  # fmt: skip

    made: CureProgram = rows(make)["program"]
    return made


def _its_record(m: Driver, row: Load, *decisions: str) -> None:
    """The record of a bath is kept, at the second try, and decided upon."""
    began = (row.starts_at or m.now).astimezone(WALL)
    program = read_program(row.program.document)
    lines = [
        f"{began + timedelta(minutes=minute):%Y-%m-%d %H:%M},{celsius}"
        for minute, celsius in resampled(program.points(), 5)
    ]
    raw = take_in_file(io.BytesIO("\n".join(["time,bath °C", *lines]).encode()))
    choice = {"form": "iso", "columns": [0], "column": 1, "unit": "C"}
    kept = None
    for sha256 in ("0" * 64, raw):
        kept = m.send(
            bath_record.keep_bath_record, "mara", load=row.number, sha256=sha256, choice=choice,
            probe_at="bath",
        )  # fmt: skip
    if kept is None:
        raise AssertionError("the record was not kept")
    for decision in decisions:
        m.send(
            bath_decision.decide_bath_record, "oren", row=kept["record"], decision=decision,
            words="looked at it",
        )  # fmt: skip


@move(1)
def decide_on_a_record(m: Driver) -> None:
    """Decide what is done about some record, now and then for other cases than go back."""
    row = m.one(list(BathRecord.objects.select_related("load").order_by("pk")))
    goes = [case.pk for case in concerned(cured_in(row.load)).shut] if row else []
    m.send(
        bath_decision.decide_bath_record, m.who("oren", "pavo"), row=row.pk if row else 0,
        decision=m.pick.choice(["repeat", "scrap", "accept", "inspect"]),
        words=m.words("looked at it"), goes_back=m.pick.choice([None, goes, goes, [0]]),
        tell=m.pick.choice([True, False]),
    )  # fmt: skip


@move(1)
def gather(m: Driver) -> None:
    """Begin a load, or one for a bath that is not there."""
    bath = m.one(list(Bath.objects.order_by("pk")))
    m.send(
        load.make_load, m.who("mara"), bath=bath.pk if bath else 0,
        program=m.pick.choice([0, *CureProgram.objects.values_list("pk", flat=True)]),
    )  # fmt: skip


@move(2)
def turn_to_a_load(m: Driver) -> None:
    """Do something with some load, sensible or not."""
    row = m.one(list(Load.objects.order_by("pk")))
    known = {"load": row.number if row else 0, "version": row.version if row else 1}
    case = m.case()
    flask = row.flasks.order_by("pk").first() if row else None
    verbs: list[tuple[Any, dict[str, Any]]] = [
        (load.add_flask, {"label": case.number if case else "", "thickest_mm": 4.0}),
        (load.remove_flask, {"flask": flask.pk if flask else 0}),
        (load.estimate, {}),
        (
            load_run.start_load,
            {
                "words": m.words("the gauge is broken"),
                "rest_words": m.pick.choice(["", "it is late"]),
            },
        ),
        (load_longer.hold_longer, {"minutes": m.pick.choice([0, 20]), "words": m.words("slow")}),
        (load_run.take_out, {}),
        (load.cancel_load, {}),
    ]
    verb, body = m.pick.choice(verbs)
    m.send(verb, m.who("oren"), **known, **body)


@move(1)
def before_its_time(m: Driver) -> None:
    """Shorten the wait before some cooling, now and then without saying why."""
    row = m.one(list(CaseStage.objects.filter(key__in=["cool", "deflask"]).order_by("pk")))
    m.send(
        load_run.shorten_wait, m.who("pavo"), stage=row.pk if row else 0,
        version=row.version if row else 1, words=m.words("the practice waits"),
    )  # fmt: skip


def goes_through_the_bath(m: Driver) -> None:
    """A flask is gathered, taken out, gathered again, cured, taken out, and cured anew."""
    program = a_program()
    case = m.case()
    bath = Bath.objects.order_by("pk").first()
    if case is None or bath is None:
        raise AssertionError("the lab has no bath or no case")
    clamp = case.stages.get(key="cure")
    if clamp.may_from is not None:
        m.now = max(m.now, clamp.may_from) + timedelta(minutes=1)
    for _ in range(2):
        m.send(load.make_load, "mara", bath=bath.pk, program=program.pk)
    spare, row = Load.objects.order_by("pk")
    m.send(load.cancel_load, "mara", load=spare.number, version=spare.version)
    # Whoever works at the baths does not take their programs out of use.
    m.send(resins.retire_program, "mara", program=program.pk)
    for verb, body in (
        (load.add_flask, {"label": case.number, "thickest_mm": 4.0}),
        (load.remove_flask, None),
        (load.add_flask, {"label": case.number, "thickest_mm": 4.0}),
        (load.estimate, {}),
        (load_run.start_load, {}),
        (load_run.start_load, {"rest_words": "it is late"}),
        (load_longer.hold_longer, {"minutes": 0, "words": "the heater is slow"}),
        (load_longer.hold_longer, {"minutes": 20, "words": "the heater is slow"}),
        (load_run.take_out, {}),
    ):
        row.refresh_from_db()
        known = {"load": row.number, "version": row.version}
        if body is None:
            body = {"flask": row.flasks.get(left_at=None).pk}
        m.send(verb, "mara", **known, **body)
    row.refresh_from_db()
    m.now = max(m.now, row.ends_at or m.now)
    m.send(load_run.take_out, "mara", load=row.number, version=row.version)
    _its_record(m, row, "extend", "inspect")
    hot = case.stages.get(key="deflask")
    for words in ("", "the practice waits"):
        m.send(load_run.shorten_wait, "oren", stage=hot.pk, version=hot.version, words=words)
    _its_record(m, row, "repeat")
    if case.stages.get(key="cure").state != "planned":
        raise AssertionError("the cure that is to be repeated is not to do again")
