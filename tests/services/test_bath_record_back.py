"""A record decided upon: repeated goes back to the cure, scrapped to the packing."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import pytest

from cases.domain.route_edges import CLAMP_MAX_MIN
from cases.models import (
    BathRecord,
    Case,
    CaseEdge,
    Event,
    Load,
    LoadFlask,
    Note,
    SendBack,
    Timer,
)
from cases.services.bath_decision import decide_bath_record
from cases.services.bath_raw import take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.close_case import cancel_case
from cases.services.load_run import take_out
from cases.services.record import Envelope, Outcome, Refusal
from cases.services.send_back import send_back
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.bath_records import WALL
from tests.factories import make_shop, rows
from tests.services.test_load import Bench, stage_of
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db

WHY = "It never got to 74. Oren"


class Judged:
    """A load whose bath only got to 60 °C, by a record that was kept.

    Parameters
    ----------
    out
        The flasks have left the bath and have cooled.
    """

    def __init__(self, *, cases: int = 2, out: bool = True) -> None:
        self.bench = Bench(make_shop(), cases=cases)
        self.cases = self.bench.cases
        self.load = self.bench.started()
        assert self.load.starts_at is not None
        assert self.load.ends_at is not None
        self.now = self.load.starts_at + timedelta(hours=4)
        if out:
            self.now = self.load.ends_at
            take_out(self.envelope("mara"), load=self.load.number, version=self.load.version)
            self.now += timedelta(hours=2)
        self.row = self.read()

    def envelope(self, who: str = "oren") -> Envelope:
        return self.bench.shop.envelope(who, now=self.now)

    def read(self) -> BathRecord:
        began = self.load.starts_at.astimezone(WALL)  # type: ignore[union-attr]
        minutes = range(0, round((self.now - began).total_seconds() / 60), 5)
        lines = [
            f"{began + timedelta(minutes=minute):%Y-%m-%d %H:%M},{min(60.0, 23 + minute)}"
            for minute in minutes
        ]
        raw = take_in_file(io.BytesIO("\n".join(["time,bath °C", *lines]).encode()))
        kept = keep_bath_record(
            self.envelope(), load=self.load.number, sha256=raw, probe_at="bath",
            choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
        )  # fmt: skip
        return BathRecord.objects.get(pk=kept.result["record"])

    def decide(self, decision: str, *, who: str = "oren", **more: Any) -> Outcome:
        body = {"row": self.row.pk, "decision": decision, "words": WHY, **more}
        return decide_bath_record(self.envelope(who), **body)

    def open_flask(self, case: Case) -> None:
        stage = stage_of(case, "deflask")
        start_stage(self.envelope("mara"), stage=stage.pk, version=stage.version)


@pytest.fixture
def judged() -> Judged:
    return Judged()


def states(case: Case, *keys: str) -> list[tuple[str, int]]:
    found = [stage_of(case, key) for key in keys]
    return [(stage.state, stage.attempt) for stage in found]


def test_repeated_cure_sends_each_case_back_to_it(judged: Judged) -> None:
    done = judged.decide("repeat").result

    assert done["back"] == [case.number for case in judged.cases]
    for case in judged.cases:
        assert states(case, "clamp", "cure", "cool") == [
            ("done", 1),
            ("planned", 2),
            ("planned", 2),
        ]
        assert stage_of(case, "cure").ready_at <= judged.now
        back = SendBack.objects.get(case=case)
        assert (back.to_stage, back.reason, back.words, back.at) == (
            "cure", "cure-record", WHY, judged.now
        )  # fmt: skip
        assert (
            Event.objects.get(kind="load.record-decided", case=case).facts["decision"] == "repeat"
        )
    assert verify_record() == []


def test_scrapped_resin_sends_each_case_back_to_the_packing(judged: Judged) -> None:
    judged.decide("scrap")

    for case in judged.cases:
        assert states(case, "separate", "pack", "clamp", "cure") == [
            ("done", 1), ("planned", 2), ("planned", 2), ("planned", 2)
        ]  # fmt: skip
    assert verify_record() == []


@pytest.mark.parametrize("decision", ["accept", "inspect"])
def test_other_decisions_move_nothing_and_stand_in_each_history(
    judged: Judged, decision: str
) -> None:
    done = judged.decide(decision).result

    assert done["back"] == []
    assert not SendBack.objects.exists()
    assert {state for case in judged.cases for state in states(case, "cure")} == {("done", 1)}
    told = Note.objects.filter(text=WHY).order_by("case").values_list("case", flat=True)
    assert list(told) == sorted(case.pk for case in judged.cases)


def test_piece_that_is_out_of_its_flask_stays_and_its_history_says_so(judged: Judged) -> None:
    first, second = judged.cases
    judged.open_flask(first)

    done = judged.decide("repeat").result

    assert done["back"] == [second.number]
    assert states(first, "cure", "deflask") == [("done", 1), ("running", 1)]
    assert Event.objects.get(kind="load.record-came-late").case == first
    assert Note.objects.filter(case=first, text=WHY).exists()
    assert verify_record() == []


@pytest.mark.parametrize("state", ["packed", "sent"])
def test_finished_piece_stays_and_its_history_says_so(judged: Judged, state: str) -> None:
    first, second = judged.cases
    judged.open_flask(first)
    rows(lambda record: {"c": record.change(Case.objects.get(pk=first.pk), state=state)})

    done = judged.decide("scrap").result

    assert done["back"] == [second.number]
    assert states(first, "pack") == [("done", 1)]
    assert Event.objects.get(kind="load.record-came-late").case == first


def test_cancelled_case_is_not_touched(judged: Judged) -> None:
    first, second = judged.cases
    first.refresh_from_db()
    cancel_case(judged.envelope("noor"), case=first.pk, version=first.version, reason="not needed")

    assert judged.decide("repeat").result["back"] == [second.number]
    assert not Event.objects.filter(kind__startswith="load.record-", case=first).exists()


@pytest.mark.parametrize(("decision", "again"), [("repeat", "cure"), ("scrap", "pack")])
def test_load_that_is_in_its_bath_ends_with_the_decision(decision: str, again: str) -> None:
    judged = Judged(out=False)

    judged.decide(decision)

    load = Load.objects.get(pk=judged.load.pk)
    assert (load.state, load.ends_at) == ("over", judged.now)
    assert not LoadFlask.objects.filter(load=load, left_at=None).exists()
    assert not Timer.objects.filter(load=load, state="pending").exists()
    assert [states(case, again) for case in judged.cases] == [[("planned", 2)]] * 2
    assert verify_record() == []


def test_flask_that_is_cured_again_has_no_dough_that_could_age(judged: Judged) -> None:
    judged.decide("repeat")

    for case in judged.cases:
        assert stage_of(case, "cure").latest_at is None
        assert CaseEdge.objects.get(case=case, after="cure").max_wait is None
    judged.bench.now = judged.now
    again = judged.bench.started()
    assert again.state == "running"
    assert verify_record() == []


def test_flask_that_is_packed_anew_has_its_limit_again(judged: Judged) -> None:
    case = judged.cases[0]
    judged.decide("repeat")
    cure = stage_of(case, "cure")
    send_back(
        judged.envelope(), stage=cure.pk, version=cure.version, to="pack", reason="mould-not-ready"
    )

    walk(judged.bench.shop, case, Clock(judged.now), until="clamp")

    clamped = stage_of(case, "clamp").ended_at
    assert clamped is not None
    assert stage_of(case, "cure").latest_at == clamped + timedelta(minutes=CLAMP_MAX_MIN)


def test_second_record_of_a_load_moves_no_case_that_has_left_it(judged: Judged) -> None:
    judged.decide("repeat")
    judged.row = judged.read()

    assert judged.decide("scrap").result["back"] == []
    assert states(judged.cases[0], "pack") == [("done", 1)]


def test_case_that_is_in_a_later_load_is_not_moved_by_the_record_of_the_first(
    judged: Judged,
) -> None:
    judged.decide("repeat")
    judged.bench.now = judged.now
    judged.bench.started()
    judged.row = judged.read()

    assert judged.decide("repeat").result["back"] == []
    assert [states(case, "cure") for case in judged.cases] == [[("done", 2)]] * 2


def test_other_cases_than_the_page_said_are_refused_and_nothing_moves(judged: Judged) -> None:
    said = [case.pk for case in judged.cases]
    judged.open_flask(judged.cases[0])

    with pytest.raises(Refusal) as refused:
        judged.decide("scrap", goes_back=said)

    assert (refused.value.code, refused.value.field) == ("moved-on", "decision")
    judged.row.refresh_from_db()
    assert judged.row.decision == ""
    assert not SendBack.objects.exists()
    assert judged.decide("scrap", goes_back=said[1:]).result["back"] == [judged.cases[1].number]


def test_practices_are_told_only_where_it_is_wished_and_the_date_is_lost(judged: Judged) -> None:
    late, in_time = judged.cases
    soon = judged.now + timedelta(hours=6)
    rows(lambda record: {
        "a": record.change(Case.objects.get(pk=late.pk), leaves_at=soon),
        "b": record.change(Case.objects.get(pk=in_time.pk), leaves_at=soon + timedelta(days=20)),
    })  # fmt: skip

    told = judged.decide("repeat", tell=True).result["told"]

    assert told == [late.number]
    note = Note.objects.get(visible_to_practice=True)
    assert (note.case, note.text) == (
        late, "The work was delayed: a part of it is done again. A new date follows."
    )  # fmt: skip
    assert WHY not in note.text


def test_nobody_is_told_unless_it_is_wished(judged: Judged) -> None:
    assert judged.decide("repeat").result["told"] == []
    assert not Note.objects.filter(visible_to_practice=True).exists()


def test_student_moves_nothing(judged: Judged) -> None:
    with pytest.raises(Refusal) as refused:
        judged.decide("repeat", who="teo")

    assert refused.value.code == "may-not-decide"
    assert not SendBack.objects.exists()
