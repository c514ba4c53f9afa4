"""Loads: gathered flask by flask, asked about, put in, taken out; what follows waits for them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from cases.domain.cure.program import LONG, SHORT, as_json
from cases.models import (
    Alert,
    Bath,
    Case,
    CaseStage,
    CheckItem,
    CureProgram,
    Event,
    Load,
    LoadFlask,
    Mix,
    Note,
    Resin,
    Timer,
)
from cases.selectors.loads import loads_of, one_load
from cases.selectors.resin import packed_cases, packed_with, resin_of
from cases.services import load, load_run
from cases.services.alarms import fire_due
from cases.services.record import Outcome, Recorder, Refusal, Verb
from cases.services.send_back import send_back
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


class Bench:
    """One lab with a resin, its programs, and cases whose next stage is the cure."""

    def __init__(self, shop: Shop, cases: int = 2, capacity: int = 4) -> None:
        self.shop = shop
        self.cases = []
        clock = Clock(NOW)
        for number in range(cases):
            case = make_case(shop, now=clock.now, ref=f"L-{number + 1}")
            walk(shop, case, clock, until="clamp")
            self.cases.append(case)
        self.now = clock.now + timedelta(hours=1)

        def make(record: Recorder) -> dict[str, object]:
            resin = record.create(Resin, name="Rosewater 3", source="leaflet of 2026")
            made = {
                name: record.create(
                    CureProgram, resin=resin, name=name, version=1,
                    document=as_json(program), saved_at=NOW,
                )
                for name, program in (("long", LONG), ("short", SHORT))
            }  # fmt: skip
            bath = record.create(Bath, name="Cauldron", capacity=capacity)
            return {**made, "bath": bath}

        self.made = rows(make)

    def do(self, verb: Verb, **body: object) -> Outcome:
        return verb(self.shop.envelope("mara", now=self.now), **body)

    def made_empty(self, program: str = "long") -> Load:
        made = self.do(load.make_load, bath=self.made["bath"].pk, program=self.made[program].pk)
        return Load.objects.get(number=made.result["number"])

    def new(self, program: str = "long", *, thick: float | None = 4.0) -> Load:
        number = self.made_empty(program).number
        for case in self.cases:
            row = Load.objects.get(number=number)
            self.do(
                load.add_flask, load=number, version=row.version, label=case.number,
                thickest_mm=thick,
            )  # fmt: skip
        return Load.objects.get(number=number)

    def started(self, program: str = "long", **body: object) -> Load:
        row = self.new(program)
        version = self.do(load.estimate, load=row.number, version=row.version).result["version"]
        self.do(load_run.start_load, load=row.number, version=version, **body)
        return Load.objects.get(number=row.number)


def stage_of(case: Case, key: str) -> CaseStage:
    return case.stages.get(key=key)


def code_of(run: object, **_: object) -> str:
    with pytest.raises(Refusal) as refused:
        run()  # type: ignore[operator]
    return refused.value.code


def waxed(flask: LoadFlask, thickest_mm: float | None) -> None:
    """Let a flask of a load be as thick as somebody measured at wax-up; None: nobody did."""

    def change(record: Recorder) -> dict[str, object]:
        measured = {"values": {"thickest": thickest_mm}} if thickest_mm else {}
        for item in CheckItem.objects.filter(case=flask.case_id, number=load.WAX_CHECK):
            record.change(item, values=measured)
        record.change(flask, thickest_mm=thickest_mm)
        return {}

    rows(change)


def test_flasks_share_a_bath_and_wait_for_its_program(shop: Shop) -> None:
    bench = Bench(shop)

    row = bench.started()

    assert row.state == "running"
    assert row.ends_at == bench.now + timedelta(minutes=LONG.bath_minutes)
    assert row.sound["risk"] == "low"
    assert row.sound["model_version"]
    for case in bench.cases:
        assert stage_of(case, "cure").state == "done"
        assert stage_of(case, "cool").may_from == row.ends_at
    assert verify_record() == []


def test_flask_is_found_by_its_engraved_number(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    label = bench.cases[0].occupations.get(thing__kind="flask", freed_at=None).thing.label
    made = bench.do(load.make_load, bath=bench.made["bath"].pk, program=bench.made["long"].pk)

    bench.do(load.add_flask, load=made.result["number"], version=1, label=label)

    flask = Load.objects.get().flasks.get()
    assert (flask.case, flask.flask) == (bench.cases[0], label)


def test_load_rings_once_for_all_its_flasks(shop: Shop) -> None:
    bench = Bench(shop)
    row = bench.started("short")
    assert row.ends_at

    fire_due(row.ends_at + timedelta(minutes=1))

    kinds = list(Alert.objects.order_by("timer__due_at").values_list("timer__kind", flat=True))
    assert kinds == ["boil", "take-out"]
    subjects = Event.objects.filter(kind="timer.fired", case=None).values_list("subject", flat=True)
    assert set(subjects) == {f"load {row.number}"}
    assert "Cauldron" in Alert.objects.get(timer__kind="take-out").words


def test_flasks_are_taken_out_together_and_cool(shop: Shop) -> None:
    bench = Bench(shop)
    row = bench.started()
    assert row.ends_at
    early = code_of(lambda: bench.do(load_run.take_out, load=row.number, version=row.version))
    bench.now = row.ends_at + timedelta(minutes=20)

    bench.do(load_run.take_out, load=row.number, version=row.version)

    row.refresh_from_db()
    assert early == "waiting"
    assert row.state == "over"
    assert row.open_from == bench.now + timedelta(minutes=LONG.cooling_minutes)
    assert stage_of(bench.cases[0], "deflask").may_from == row.open_from
    assert Timer.objects.get(load=row, state="pending").kind == "to-water"
    assert verify_record() == []


def test_flask_stays_shut_until_cool_unless_somebody_answers_for_it(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row = bench.started()
    assert row.ends_at
    bench.now = row.ends_at
    bench.do(load_run.take_out, load=row.number, version=row.version)
    hot = stage_of(bench.cases[0], "deflask")
    start = {"stage": hot.pk, "version": hot.version}
    refused = code_of(lambda: bench.do(start_stage, **start))
    unsaid = code_of(lambda: bench.do(load_run.shorten_wait, **start, words=" "))

    done = bench.do(load_run.shorten_wait, **start, words="The practice waits at the door. Pavo")

    hot.refresh_from_db()
    assert (refused, unsaid) == ("waiting", "no-reason")
    assert hot.may_from
    assert hot.may_from <= bench.now
    assert hot.words.startswith("The practice")
    bench.do(start_stage, stage=hot.pk, version=done.result["version"])
    assert verify_record() == []


def test_bath_takes_no_second_load(shop: Shop) -> None:
    bench = Bench(shop, cases=2)
    first, second = bench.cases
    bench.cases = [first]
    bench.started()
    bench.cases = [second]

    assert code_of(bench.started) == "bath-in-use"
    assert stage_of(second, "cure").state == "planned"


def test_empty_load_is_not_started(shop: Shop) -> None:
    bench = Bench(shop, cases=0)
    row = bench.new()

    assert code_of(
        lambda: bench.do(load_run.start_load, load=row.number, version=row.version)
    ) == "empty"  # fmt: skip


def test_delayed_heat_moves_the_end_and_rings_where_no_clock_of_the_bath_does_it(
    shop: Shop,
) -> None:
    bench = Bench(shop, cases=1)
    begins = bench.now + timedelta(hours=5)

    row = bench.started(starts_at=begins.isoformat())

    assert row.ends_at == begins + timedelta(minutes=LONG.bath_minutes)
    assert Timer.objects.get(load=row, kind="heat").due_at == begins


@pytest.mark.parametrize(
    ("starts", "code"),
    [
        ("soon", "no-time"), ("2026-02-30T10:00", "no-time"), ("2026-12-01T25:00", "no-time"),
        ("0001-01-01T00:00+02:00", "no-time"), ("2020-01-01T10:00", "bad-time"),
    ],
)  # fmt: skip
def test_heat_begins_at_a_time_that_can_be(shop: Shop, starts: str, code: str) -> None:
    bench = Bench(shop, cases=1)

    with pytest.raises(Refusal) as refused:
        bench.started(starts_at=starts)

    assert (refused.value.code, refused.value.field) == (code, "starts_at")
    assert stage_of(bench.cases[0], "cure").state == "planned"


def test_nothing_goes_in_unasked(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row = bench.new()

    assert code_of(
        lambda: bench.do(load_run.start_load, load=row.number, version=row.version)
    ) == "ask-first"  # fmt: skip


def test_unmeasured_flask_goes_in_only_with_a_reason(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row = bench.new(thick=None)
    # What the walk measured at wax-up is taken; without it there is nothing to reckon with.
    waxed(row.flasks.get(), None)
    version = bench.do(load.estimate, load=row.number, version=row.version).result["version"]
    said = Load.objects.get(number=row.number).sound

    silent = code_of(lambda: bench.do(load_run.start_load, load=row.number, version=version))

    assert (said["risk"], said["reason"]) == ("none", "unmeasured")
    assert silent == "say-why"
    bench.do(load_run.start_load, load=row.number, version=version, words="Gauge is broken. Mara")
    assert Load.objects.get(number=row.number).words == "Gauge is broken. Mara"


def test_one_unmeasured_flask_among_measured_ones_goes_in_only_with_a_reason(shop: Shop) -> None:
    bench = Bench(shop, cases=2)
    row = bench.new()
    waxed(row.flasks.latest("pk"), None)
    version = bench.do(load.estimate, load=row.number, version=row.version).result["version"]
    start = {"load": row.number, "version": version}

    with pytest.raises(Refusal) as refused:
        bench.do(load_run.start_load, **start)

    said = Load.objects.get(number=row.number).sound
    assert (said["risk"], said["unknown"]) == ("low", 1)
    assert (refused.value.code, refused.value.field) == ("say-why", "words")
    bench.do(load_run.start_load, **start, words="Gauge is broken. Mara")
    assert Load.objects.get(number=row.number).words == "Gauge is broken. Mara"


def test_thick_piece_is_kept_out_of_a_program_that_is_too_short_for_it(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    program = bench.made["short"]
    CureProgram.objects.filter(pk=program.pk).update(
        document={**program.document, "largest_mm": 1.0}
    )

    assert code_of(lambda: bench.new("short")) == "too-thick"


def unmeasured(bench: Bench, most: float | None = 15.0) -> Load:
    """Make a load for a program with a largest thickness; nobody measured the wax of any case."""
    program = bench.made["short"]

    def change(record: Recorder) -> dict[str, object]:
        record.change(program, document={**program.document, "largest_mm": most})
        for item in CheckItem.objects.filter(number=load.WAX_CHECK):
            record.change(item, values={})
        return {}

    rows(change)
    made = bench.do(load.make_load, bath=bench.made["bath"].pk, program=program.pk)
    return Load.objects.get(number=made.result["number"])


def test_flask_that_nobody_measured_is_not_put_past_a_makers_limit(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row, case = unmeasured(bench), bench.cases[0]
    known = {"load": row.number, "version": row.version, "label": case.number}

    with pytest.raises(Refusal) as refused:
        bench.do(load.add_flask, **known)

    assert (refused.value.code, refused.value.field) == ("not-measured", "thickest_mm")
    assert f"Nobody measured how thick {case.number} is" in refused.value.sentence
    assert not row.flasks.exists()
    bench.do(load.add_flask, **known, thickest_mm=9.0)
    assert row.flasks.get().thickest_mm == 9.0
    assert not Event.objects.filter(kind="load.flask-unmeasured").exists()


def test_unmeasured_flask_goes_past_a_makers_limit_with_a_name_and_a_reason(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row, case = unmeasured(bench), bench.cases[0]
    known = {
        "load": row.number, "version": row.version, "label": case.number,
        "unmeasured_words": "The wax is in the flask. Mara",
    }  # fmt: skip
    student = shop.envelope("teo", now=bench.now)

    assert code_of(lambda: load.add_flask(student, **known)) == "may-not-decide"
    bench.do(load.add_flask, **known)

    assert row.flasks.get().thickest_mm is None
    event = Event.objects.get(kind="load.flask-unmeasured", case=case)
    assert event.submission.person == shop.people["mara"]
    note = Note.objects.get(case=case)
    assert (note.text, note.by) == ("The wax is in the flask. Mara", shop.people["mara"])
    assert verify_record() == []


def test_flask_that_nobody_measured_is_not_asked_about_a_limit_that_no_maker_states(
    shop: Shop,
) -> None:
    bench = Bench(shop, cases=1)
    row = unmeasured(bench, most=None)

    bench.do(load.add_flask, load=row.number, version=row.version, label=bench.cases[0].number)

    assert row.flasks.get().thickest_mm is None


def test_full_bath_and_flask_in_another_load_are_refused(shop: Shop) -> None:
    bench = Bench(shop, cases=2, capacity=1)

    assert code_of(bench.new) == "bath-full"
    bench.cases = bench.cases[:1]
    assert code_of(bench.new) == "in-a-load"


def test_bath_that_cannot_boil_takes_no_boil(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    Bath.objects.filter(pk=bench.made["bath"].pk).update(highest_c=80)

    assert code_of(lambda: bench.new("short")) == "too-hot"


def test_unknown_flask_stale_page_and_unused_load(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row = bench.new()
    flask = row.flasks.get()

    assert code_of(
        lambda: bench.do(load.add_flask, load=row.number, version=row.version, label="Z-99")
    ) == "no-flask"  # fmt: skip
    assert code_of(
        lambda: bench.do(load.estimate, load=row.number, version=row.version - 1)
    ) == "load-changed"  # fmt: skip
    version = bench.do(
        load.remove_flask, load=row.number, version=row.version, flask=flask.pk
    ).result["version"]
    bench.do(load.cancel_load, load=row.number, version=version)
    row.refresh_from_db()
    assert row.state == "cancelled"
    assert verify_record() == []


def test_flask_taken_out_before_the_start_shared_nothing(shop: Shop) -> None:
    bench = Bench(shop)
    row = bench.new()
    stays, goes = bench.cases
    flask = row.flasks.get(case=goes)
    version = row.version
    for verb, body in (
        (load.remove_flask, {"flask": flask.pk}),
        (load.estimate, {}),
        (load_run.start_load, {}),
    ):
        known = {"load": row.number, "version": version}
        bench.now += timedelta(minutes=1)
        version = bench.do(verb, **known, **body).result["version"]

    shown = one_load(row.number)
    assert shown is not None
    assert [one.case for one in shown.flasks.all()] == [stays]
    assert [one.load.number for one in loads_of(stays.pk)] == [row.number]
    assert list(loads_of(goes.pk)) == []


def test_case_that_is_sent_back_leaves_its_load(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    bench.started()
    case = bench.cases[0]
    cool = stage_of(case, "cool")

    bench.do(
        send_back, stage=cool.pk, version=cool.version, to="cure", reason="cure-doubt",
    )  # fmt: skip

    assert Load.objects.get().flasks.get().left_at == bench.now


def _two_resins(bench: Bench) -> Resin:
    """Let the lab have a second resin in use; return it."""
    made: Resin = rows(lambda record: {"row": record.create(Resin, name="Other resin")})["row"]
    return made


def _mixed(bench: Bench, case: Case, resin: Resin) -> None:
    stage = stage_of(case, "pack")

    def make(record: Recorder) -> dict[str, object]:
        return {
            "mix": record.create(
                Mix, case=case, stage=stage, attempt=stage.attempt, resin=resin,
                mixed_at=NOW, by=bench.shop.people["mara"],
            )
        }  # fmt: skip

    rows(make)


def test_case_packed_with_another_resin_is_kept_out(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    _mixed(bench, bench.cases[0], _two_resins(bench))

    with pytest.raises(Refusal) as refused:
        bench.new()

    assert (refused.value.code, refused.value.field) == ("other-resin", "label")
    assert refused.value.sentence == (
        f"{bench.cases[0].number} is packed with Other resin; this program is for Rosewater 3. "
        "Put it into a load with a program of its own resin."
    )


def test_case_whose_resin_nobody_noted_is_asked_about_where_there_are_several(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    other, right = _two_resins(bench), bench.made["long"].resin
    made = bench.do(load.make_load, bath=bench.made["bath"].pk, program=bench.made["long"].pk)
    known = {"load": made.result["number"], "version": 1, "label": bench.cases[0].number}

    assert code_of(lambda: bench.do(load.add_flask, **known)) == "say-resin"
    assert code_of(lambda: bench.do(load.add_flask, **known, resin=other.pk)) == "other-resin"
    bench.do(load.add_flask, **known, resin=right.pk)

    flask = Load.objects.get().flasks.get()
    assert (flask.case, flask.resin) == (bench.cases[0], right)
    assert Event.objects.get(kind="load.flask-added").facts["resin"] == right.name
    assert verify_record() == []


def _said_at_the_load(bench: Bench) -> Load:
    """Put the first case into a load whose flask somebody had to say the resin of."""
    made = bench.made_empty()
    bench.do(
        load.add_flask, load=made.number, version=1, label=bench.cases[0].number,
        resin=bench.made["long"].resin.pk,
    )  # fmt: skip
    return made


def test_what_was_said_of_a_resin_is_not_asked_again(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    other, right = _two_resins(bench), bench.made["long"].resin
    gathered = _said_at_the_load(bench)
    [case] = bench.cases
    assert (packed_with(case), resin_of(case)) == (right, right)
    assert packed_cases() == {case.pk: right.pk}

    bench.do(
        load.remove_flask, load=gathered.number, version=2, flask=gathered.flasks.get().pk
    )  # fmt: skip
    bench.do(load.add_flask, load=gathered.number, version=3, label=case.number)

    again = gathered.flasks.get(left_at=None)
    assert again.resin is None
    _mixed(bench, case, other)
    assert packed_with(case) == other
    assert packed_cases() == {case.pk: other.pk}


def test_what_was_said_of_a_resin_does_not_hold_for_what_is_packed_anew(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    _two_resins(bench)
    _said_at_the_load(bench)
    [case] = bench.cases
    cure = stage_of(case, "cure")

    bench.do(
        send_back, stage=cure.pk, version=cure.version, to="pack", reason="cure-doubt",
    )  # fmt: skip

    assert packed_with(case) is None
    assert packed_cases() == {}


def test_case_packed_with_the_resin_of_the_program_goes_in_unasked(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    _two_resins(bench)
    _mixed(bench, bench.cases[0], bench.made["long"].resin)

    assert bench.new().flasks.count() == 1
