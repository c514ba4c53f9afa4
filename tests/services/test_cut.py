"""After a power cut: one decision for all loads, and everything that waits for it moves at once."""

from __future__ import annotations

import io
import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest

from cases.domain.cure.lag import lagged
from cases.domain.cure.program import SHORT
from cases.models import (
    Alert,
    Bath,
    BathFeed,
    BathSample,
    Case,
    CutLoad,
    Event,
    Load,
    LoadExtension,
    Note,
    PowerCut,
    ProbeCheck,
    Resin,
    SendBack,
    Timer,
)
from cases.selectors.concerned import in_bath_since
from cases.selectors.cuts import Span, loads_then
from cases.services.alarms import fire_due
from cases.services.bath_raw import take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.cut import decide_cut
from cases.services.cut_finding import Finding, finding
from cases.services.load_run import take_out
from cases.services.record import Envelope, Outcome, Refusal
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, make_shop, rows
from tests.services.test_load import Bench, stage_of

pytestmark = pytest.mark.django_db

WHY = "The street was without power. Oren"


class Night:
    """Loads that went into their baths at one instant, and a cut some hours later.

    The long cycle takes half an hour up to 74 °C and is held for eight hours; the power goes
    after three hours and is back after five.
    """

    def __init__(self, *programs: str, cases: int = 1) -> None:
        self.bench = Bench(make_shop(), cases=cases * len(programs))
        all_cases = self.bench.cases
        self.loads: list[Load] = []
        self.cases: list[list[Case]] = []
        for n, program in enumerate(programs):
            if n:
                made = rows(lambda record, n=n: {
                    "bath": record.create(Bath, name=f"Cauldron {n + 1}", capacity=4)
                })  # fmt: skip
                self.bench.made["bath"] = made["bath"]
            self.bench.cases = all_cases[n * cases : (n + 1) * cases]
            self.cases.append(self.bench.cases)
            self.loads.append(self.bench.started(program))
        rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=True)})
        self.began = self.bench.now
        self.off = self.began + timedelta(hours=3)
        self.on = self.began + timedelta(hours=5)
        self.now = self.on + timedelta(minutes=10)

    def span(self, **changes: Any) -> Span:
        return Span(**({"off_at": self.off, "on_at": self.on, "now": self.now} | changes))

    def found(self, n: int = 0, celsius: float | None = 46.0, **changes: Any) -> Finding:
        return finding(self.again(n), self.span(**changes), celsius)

    def again(self, n: int = 0) -> Load:
        return Load.objects.select_related("bath", "program__resin").get(pk=self.loads[n].pk)

    def entry(self, n: int, decision: str, **more: Any) -> dict[str, Any]:
        row = self.again(n)
        stage = finding(row, self.span(), 46.0).stage
        told = {"load": row.number, "version": row.version, "stage": stage, "found_c": 46.0}
        return {**told, "decision": decision, **more}

    def body(self, *decisions: str, **more: Any) -> dict[str, Any]:
        return {
            "loads": [self.entry(n, decision, **more) for n, decision in enumerate(decisions)],
            "words": WHY,
            "off_at": self.off.isoformat(),
            "on_at": self.on.isoformat(),
        }

    def envelope(self, who: str = "oren") -> Envelope:
        return self.bench.shop.envelope(who, now=self.now)

    def decide(self, *decisions: str, who: str = "oren", **changes: Any) -> Outcome:
        return decide_cut(self.envelope(who), **(self.body(*decisions) | changes))

    def take_out(self, n: int = 0) -> datetime:
        row = self.again(n)
        assert row.ends_at
        take_out(
            self.bench.shop.envelope("mara", now=row.ends_at), load=row.number, version=row.version
        )
        self.now = row.ends_at + timedelta(minutes=5)
        return row.ends_at


@pytest.fixture
def night() -> Night:
    return Night("long", cases=2)


def code_of(run: Any) -> str:
    with pytest.raises(Refusal) as refused:
        run()
    return refused.value.code


# --- what happened ---------------------------------------------------------------------------


def test_what_a_person_saw_advises_to_hold_the_stage_longer(night: Night) -> None:
    found = night.found()

    # 480 less the 154 equivalent minutes before the cut and what a bath at 46 °C gives.
    assert (found.source, found.choice, found.stage) == ("seen", "longer", 0)
    assert found.minutes == pytest.approx(324, abs=4)
    assert found.offers == ("as-is", "longer", "repeat", "again", "scrap")
    assert "if the maker's instructions allow it" in found.words


def test_without_a_temperature_nothing_is_credited_after_the_power_went(night: Night) -> None:
    cold, warm = night.found(celsius=None).minutes, night.found(celsius=70.0).minutes

    assert cold == pytest.approx(326, abs=2)
    assert cold
    assert warm
    assert warm < cold - 30


def test_live_temperatures_count_before_what_was_seen(night: Night) -> None:
    load = night.loads[0]
    # The power was away, but the bath stood in its own heat: it never fell below 73 °C.
    heats = [(m, min(74.0, 23 + 1.7 * m)) for m in range(310)]
    BathSample.objects.bulk_create(
        BathSample(bath=load.bath, slot=m, at=night.began + timedelta(minutes=m), celsius=c)
        for m, c in heats
    )

    found = night.found(celsius=20.0)
    pavo = night.bench.shop.people["pavo"]
    rows(lambda record: {
        "f": record.create(
            BathFeed, bath=load.bath, kind="file", file_name="a.csv", probe="A",
            made_at=night.began, made_by=pavo,
        ),
        "p": record.create(
            ProbeCheck, bath=load.bath, probe="A", checked_on=NOW.date(), reads_high_k=2.0,
            against="reference thermometer", by=pavo, at=NOW,
        ),
    })  # fmt: skip
    corrected = night.found(celsius=20.0)
    # A check of a later day says nothing of this load.
    rows(lambda record: {
        "late": record.create(
            ProbeCheck, bath=load.bath, probe="A", reads_high_k=0.0,
            checked_on=night.began.date() + timedelta(days=1), against="reference thermometer",
            by=pavo, at=NOW,
        )
    })  # fmt: skip
    later = night.found(celsius=20.0)

    assert (found.source, found.choice) == ("live", "longer")
    assert found.minutes == pytest.approx(480 - 280, abs=5)
    # A probe that reads 2 K high leaves 0.78 of the dose.
    assert corrected.minutes == pytest.approx(480 - 0.78 * 280, abs=8)
    assert later.minutes == corrected.minutes


def test_record_that_was_read_counts_before_what_was_seen(night: Night) -> None:
    wall = night.bench.shop.lab.zone
    assert wall == "Europe/Vienna"
    lines = ["time,temperature C"]
    for minute in range(0, 310, 2):
        at = night.began + timedelta(minutes=minute, hours=1)
        heat = min(74.0, 23 + 1.7 * minute) if minute < 180 else 30.0
        lines.append(f"{at:%Y-%m-%dT%H:%M}:00,{heat:.1f}")
    sha256 = take_in_file(io.BytesIO("\n".join(lines).encode()))
    keep_bath_record(
        night.envelope("mara"), load=night.loads[0].number, sha256=sha256, probe_at="bath",
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
    )  # fmt: skip

    found = night.found(celsius=74.0)

    assert (found.source, found.record) == ("record", night.again().records.get())
    assert found.minutes == pytest.approx(326, abs=4)


@pytest.mark.parametrize(("degrees", "said"), [(0.0, "complete"), (-6.0, "repeat")])
def test_probe_in_a_dummy_flask_is_judged_alike_after_a_cut_and_by_its_record(
    degrees: float, said: str
) -> None:
    """A flask lags behind its bath: its boil is shorter than the bath's, and none the worse."""
    night = Night("short")
    rows(lambda record: {"b": record.change(night.loads[0].bath, lag_minutes=15.0)})
    night.take_out()
    lines = ["time,temperature C"]
    for minute, heat in lagged(SHORT.points(), 15.0):
        at = night.began + timedelta(minutes=minute, hours=1)
        lines.append(f"{at:%Y-%m-%dT%H:%M}:00,{heat + degrees:.2f}")
    keep_bath_record(
        night.envelope("mara"), load=night.loads[0].number, probe_at="dummy",
        sha256=take_in_file(io.BytesIO("\n".join(lines).encode())),
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
    )  # fmt: skip
    off = night.began + timedelta(minutes=100)

    found = night.found(off_at=off, on_at=off + timedelta(minutes=1))

    kept = night.again().records.get().verdict
    assert (found.source, kept["verdict"], kept["lag_minutes"]) == ("record", said, 15.0)
    complete = {stage["state"] == "complete" for stage in found.stages}
    assert complete == {stage["verdict"] == "complete" for stage in kept["stages"]}
    assert found.choice == ("as-is" if said == "complete" else "")


def test_a_cure_of_the_night_before_makes_nothing_up(night: Night) -> None:
    """A logger that never stops wrote a whole cure into the same file: it is another load's."""
    lines = ["time,temperature C"]
    for minute in range(-700, 310, 2):
        at = night.began + timedelta(minutes=minute, hours=1)
        heat = min(74.0, 23 + 1.7 * minute) if 0 <= minute < 180 else 30.0
        lines.append(f"{at:%Y-%m-%dT%H:%M}:00,{74.0 if minute < -180 else heat:.1f}")
    keep_bath_record(
        night.envelope("mara"), load=night.loads[0].number, probe_at="bath",
        sha256=take_in_file(io.BytesIO("\n".join(lines).encode())),
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
    )  # fmt: skip

    found = night.found(celsius=74.0)

    assert (found.source, found.choice) == ("record", "longer")
    assert found.minutes == pytest.approx(326, abs=4)


def test_nobody_knows_when_the_power_went(night: Night) -> None:
    found = night.found(off_at=None)

    assert (found.source, found.choice, found.minutes) == ("nothing", "", None)


@pytest.mark.parametrize(
    ("off", "on", "source", "choice"),
    [(-3, -1, "before", "as-is"), (-1, 2, "unheated", "repeat"), (9, 10, "after", "as-is")],
)
def test_cut_beside_the_heating_is_plain(
    night: Night, off: float, on: float, source: str, choice: str
) -> None:
    off_at, on_at = (night.began + timedelta(hours=h) for h in (off, on))

    found = night.found(off_at=off_at, on_at=on_at, now=on_at + timedelta(minutes=5))

    assert (found.source, found.choice) == (source, choice)


def test_boil_that_was_cut_is_done_again_whole() -> None:
    night = Night("short")
    night.off = night.began + timedelta(minutes=200)
    night.on = night.off + timedelta(minutes=30)
    night.now = night.on

    found = night.found()

    assert (found.choice, found.stage, found.minutes) == ("repeat", 1, 60)
    assert found.offers == ("as-is", "repeat", "again", "scrap")


def test_maker_who_says_nothing_of_resuming_leaves_three_ways(night: Night) -> None:
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=False)})

    found = night.found()

    assert (found.choice, found.minutes) == ("", None)
    assert found.offers == ("as-is", "again", "scrap")
    assert "lacks about 323 min at 74 °C" in found.words
    assert code_of(lambda: night.decide("longer")) == "no-extension"
    assert code_of(lambda: night.decide("repeat")) == "not-offered"


# --- which loads -----------------------------------------------------------------------------


def test_loads_in_a_bath_then_are_found_also_once_they_are_out() -> None:
    night = Night("long", "long")
    out_at = night.take_out(0)

    then = loads_then(night.span())
    later = loads_then(Span(out_at + timedelta(minutes=1), None, out_at + timedelta(hours=1)))

    assert [row.number for row in then] == [row.number for row in night.loads]
    assert [row.number for row in later] == [night.loads[1].number]
    assert [one.case for one in in_bath_since(night.again(0), night.span().since)] == night.cases[0]
    before = Span(night.began - timedelta(hours=2), night.began - timedelta(hours=1), night.now)
    assert loads_then(before) == []


# --- the decision ----------------------------------------------------------------------------


def test_one_decision_moves_every_load_and_case_in_one_submission() -> None:
    night = Night("long", "long", "long")

    result = night.decide("longer", "as-is", "scrap").result

    longer, as_is, scrapped = (night.again(n) for n in range(3))
    more = CutLoad.objects.get(load=longer).says["minutes"]
    assert longer.ends_at == night.now + timedelta(minutes=more)
    assert stage_of(night.cases[0][0], "cool").may_from == longer.ends_at
    assert LoadExtension.objects.get().cut_id == result["cut"]
    assert as_is.ends_at == night.loads[1].ends_at
    assert (scrapped.state, scrapped.open_from) == ("over", night.now + timedelta(minutes=45))
    assert not Timer.objects.filter(load=scrapped, state="pending").exists()
    assert [stage_of(night.cases[2][0], key).state for key in ("pack", "clamp", "cure")] == [
        "planned"
    ] * 3
    assert stage_of(night.cases[2][0], "separate").state == "done"
    cut = PowerCut.objects.get()
    assert (cut.words, cut.by.name, cut.loads.count()) == (WHY, "Oren", 3)
    told = Event.objects.filter(kind="load.cut-decided").values_list("case", flat=True)
    assert set(told) == {group[0].pk for group in night.cases}
    inside = Note.objects.filter(text=WHY, visible_to_practice=False)
    assert set(inside.values_list("case", flat=True)) == set(told)
    assert (
        Event.objects.filter(kind__startswith="cut.").values("submission").distinct().count() == 1
    )
    assert verify_record() == []


def test_what_was_said_is_kept_with_the_decision(night: Night) -> None:
    night.decide("longer", loads=[night.entry(0, "longer", minutes=400, hot_at="")])

    row = CutLoad.objects.get()
    assert (row.decision, row.hold_minutes, row.hot_at) == ("longer", 400, night.now)
    assert row.says["choice"] == "longer"
    assert row.says["model_version"]
    assert (row.says["source"], row.found_c) == ("seen", 46.0)


def test_stage_is_done_again_whole_from_when_the_bath_is_hot(night: Night) -> None:
    hot = night.now + timedelta(minutes=25)

    night.decide("repeat", loads=[night.entry(0, "repeat", minutes=1, hot_at=hot.isoformat())])

    assert night.again().ends_at == hot + timedelta(minutes=480)


def test_scrapped_load_falls_silent_and_frees_its_bath(night: Night) -> None:
    load = night.loads[0]
    assert load.ends_at
    night.now = load.ends_at + timedelta(minutes=10)
    fire_due(night.now)

    night.decide("scrap")

    assert not Alert.objects.filter(timer__load=load, acknowledged_at=None).exists()
    assert not night.again().flasks.filter(left_at=None).exists()
    back = SendBack.objects.order_by("case")
    assert [(one.case, one.to_stage, one.reason) for one in back] == [
        (case, "pack", "cure-cut") for case in night.cases[0]
    ]
    pack = stage_of(night.cases[0][0], "pack")
    shown = night.bench.shop.envelope("mara", now=night.now)
    assert pack.attempt == 2
    assert code_of(lambda: start_stage(shown, stage=pack.pk, version=pack.version)) in {
        "photograph-first"
    }


def test_load_that_is_out_is_cured_anew_or_left(night: Night) -> None:
    ends = night.take_out()

    found = night.found()
    assert (found.choice, found.offers) == ("", ("as-is", "again", "scrap"))
    # The page folds a stage that says only what is said of its load.
    assert [one["words"] for one in found.stages].count(found.words) == 1
    assert "The load is out of its bath" in found.words
    night.decide("again")

    cure = stage_of(night.cases[0][0], "cure")
    assert (cure.state, cure.attempt) == ("planned", 2)
    assert stage_of(night.cases[0][0], "clamp").state == "done"
    assert (night.again().state, night.again().ends_at) == ("over", ends)
    assert verify_record() == []


@pytest.mark.parametrize("resumable", [True, False])
def test_cure_is_repeated_of_a_load_that_is_in_its_bath_yet(night: Night, resumable: bool) -> None:
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=resumable)})

    night.decide("again")

    assert night.again().state == "over"
    for case in night.cases[0]:
        cure = stage_of(case, "cure")
        assert (cure.state, cure.attempt) == ("planned", 2)
        assert stage_of(case, "clamp").state == "done"
    row = CutLoad.objects.get()
    assert (row.decision, row.hold_minutes) == ("repeat", None)
    assert not Timer.objects.filter(load=night.again(), state="pending", kind="take-out").exists()
    facts = [event.facts for event in Event.objects.filter(kind="load.cut-decided")]
    assert {one["decision"] for one in facts} == {"again"}
    assert verify_record() == []


def test_piece_that_is_out_of_its_flask_stays_where_it_is(night: Night) -> None:
    night.take_out()
    first, second = night.cases[0]
    deflask = stage_of(first, "deflask")
    night.now += timedelta(hours=2)
    start_stage(night.envelope("mara"), stage=deflask.pk, version=deflask.version)

    night.decide("scrap")

    assert stage_of(first, "pack").state == "done"
    assert stage_of(second, "pack").state == "planned"
    assert Event.objects.get(kind="load.cut-came-late").case == first
    assert verify_record() == []


def test_practices_are_told_only_where_the_date_cannot_be_kept(night: Night) -> None:
    late, in_time = night.cases[0]
    soon = night.now + timedelta(hours=6)
    rows(lambda record: {
        "a": record.change(Case.objects.get(pk=late.pk), leaves_at=soon),
        "b": record.change(Case.objects.get(pk=in_time.pk), leaves_at=soon + timedelta(days=20)),
    })  # fmt: skip

    result = night.decide("scrap").result

    assert result["told"] == [late.number]
    note = Note.objects.get(visible_to_practice=True)
    assert (note.case, note.text) == (
        late, "The work was delayed by a power cut. A new date follows."
    )  # fmt: skip


@pytest.mark.parametrize(("decision", "tell"), [("scrap", False), ("as-is", True)])
def test_nobody_is_told_what_is_not_wished_or_not_so(
    night: Night, decision: str, tell: bool
) -> None:
    for case in night.cases[0]:
        rows(lambda record, case=case: {
            "a": record.change(Case.objects.get(pk=case.pk), leaves_at=night.now)
        })  # fmt: skip

    assert night.decide(decision, tell=tell).result["told"] == []
    assert not Note.objects.filter(visible_to_practice=True).exists()


def test_same_cut_is_decided_once(night: Night) -> None:
    same = uuid.uuid4()
    envelope = Envelope(
        "web", night.now, person_id=night.bench.shop.people["oren"].pk, submission_id=same
    )
    body = night.body("longer")
    first = decide_cut(envelope, **body)

    again = decide_cut(envelope, **body)
    stale = code_of(lambda: decide_cut(night.envelope("mara"), **body))
    anew = code_of(lambda: night.decide("as-is"))

    assert again.repeated
    assert again.result == first.result
    assert (stale, anew) == ("load-changed", "decided")
    assert PowerCut.objects.count() == 1


def test_second_cut_of_one_night_is_decided_too(night: Night) -> None:
    night.decide("longer")
    night.off, night.on = night.now + timedelta(hours=1), night.now + timedelta(hours=2)
    night.now = night.on

    found = night.found()
    assert found.source == "nothing"
    night.decide("as-is")

    assert PowerCut.objects.count() == 2


def test_decision_is_for_all_loads_or_none() -> None:
    night = Night("long", "long")

    missing = code_of(lambda: night.decide("as-is", loads=[night.entry(0, "as-is")]))
    one_bad = code_of(
        lambda: night.decide(
            "", loads=[night.entry(0, "longer"), night.entry(1, "longer", minutes=0)]
        )
    )

    assert (missing, one_bad) == ("other-loads", "bad-minutes")
    assert not PowerCut.objects.exists()
    assert not LoadExtension.objects.exists()
    assert [night.again(n).version for n in (0, 1)] == [row.version for row in night.loads]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"words": " "}, "no-reason"),
        ({"off_at": "", "on_at": ""}, "no-time"),
        ({"off_at": "at night"}, "no-time"),
        ({"on_at": (NOW + timedelta(days=90)).isoformat()}, "bad-time"),
        ({"off_at": (NOW - timedelta(days=9)).isoformat()}, "bad-time"),
    ],
)
def test_bad_entries_decide_nothing(night: Night, changes: dict[str, Any], code: str) -> None:
    assert code_of(lambda: night.decide("as-is", **changes)) == code
    assert not PowerCut.objects.exists()


def test_power_that_was_back_before_it_went_is_refused(night: Night) -> None:
    night.off, night.on = night.on, night.off

    assert code_of(lambda: night.decide(off_at=night.off.isoformat(), loads=[])) == "bad-time"


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        ({"decision": "burn"}, "no-decision"), ({"decision": ""}, "no-decision"),
        ({"found_c": 300.0}, "bad-temperature"), ({"stage": 1}, "load-changed"),
        ({"minutes": 1e5}, "bad-minutes"), ({"hot_at": "soon"}, "no-time"),
        ({"version": 1}, "load-changed"), ({"load": 99}, "no-load"),
    ],
)  # fmt: skip
def test_entries_of_a_load_are_looked_at(night: Night, entry: dict[str, Any], code: str) -> None:
    told = night.entry(0, "longer") | entry

    assert code_of(lambda: night.decide("longer", loads=[told])) == code
    assert not PowerCut.objects.exists()


def test_student_and_desk_do_not_decide(night: Night) -> None:
    assert code_of(lambda: night.decide("as-is", who="teo")) == "may-not-decide"
    assert code_of(lambda: night.decide("as-is", who="noor")) == "not-allowed"
