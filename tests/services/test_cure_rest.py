"""The rest under the clamp: by the resin that was mixed, by the load, conceded by a person."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from cases.domain.cure.program import LONG, as_json
from cases.models import Bath, Case, CaseEdge, CureProgram, Event, Load, Mix, Resin, Timer
from cases.services import load, load_run
from cases.services.design import set_design
from cases.services.record import Outcome, Recorder, Refusal, Verb
from cases.services.stage import skip_stage, start_stage
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, make_case, make_shop, rows
from tests.walk import Clock, do_stage, next_stage, walk

pytestmark = pytest.mark.django_db

ROUTE = timedelta(minutes=30)
"""What the route of a lab says where no program does."""


class Bench:
    """A lab whose resin has programs of given rests, and cases packed and just clamped.

    Parameters
    ----------
    rests
        Minutes under the clamp by the name of a program; they are there before the packing.
    """

    def __init__(self, *, cases: int = 1, **rests: float) -> None:
        self.shop = make_shop()
        self.resin, self.programs = self.add_resin("Rosewater 3", rests)
        self.bath: Bath = rows(
            lambda record: {"row": record.create(Bath, name="Cauldron", capacity=6)}
        )["row"]
        self.cases = [self.clamped(f"R-{n}", 20 * n) for n in range(cases)]
        self.now = max(self.ended(case) for case in self.cases)

    def add_resin(self, name: str, rests: dict[str, float]) -> tuple[Resin, dict[str, CureProgram]]:
        def make(record: Recorder) -> dict[str, object]:
            resin = record.create(Resin, name=name, source="leaflet of 2026")
            programs = {
                key: record.create(
                    CureProgram, resin=resin, name=key, version=1, saved_at=NOW,
                    document=as_json(replace(LONG, bench_rest_minutes=minutes)),
                )
                for key, minutes in rests.items()
            }  # fmt: skip
            return {"resin": resin, "programs": programs}

        made = rows(make)
        return made["resin"], made["programs"]

    def clamped(self, ref: str, later: float = 0) -> Case:
        clock = Clock(NOW + timedelta(minutes=later))
        case = make_case(self.shop, now=clock.now, ref=ref)
        walk(self.shop, case, clock, until="pack")
        clamp = next_stage(case)
        assert clamp is not None
        do_stage(self.shop, clamp, clock)
        return case

    @staticmethod
    def ended(case: Case) -> datetime:
        found: datetime = case.stages.get(key="clamp").ended_at
        return found

    def rest(self, case: Case | None = None) -> tuple[timedelta, timedelta]:
        """Return after what usual and least rest the cure of a case is ready."""
        case = case or self.cases[0]
        cure, ended = case.stages.get(key="cure"), self.ended(case)
        return cure.ready_at - ended, cure.may_from - ended

    def do(self, verb: Verb, *, who: str = "mara", **body: object) -> Outcome:
        return verb(self.shop.envelope(who, now=self.now), **body)

    def gathered(self, program: str) -> Load:
        made = self.do(load.make_load, bath=self.bath.pk, program=self.programs[program].pk)
        number, version = made.result["number"], 1
        for case in self.cases:
            version = self.do(
                load.add_flask, load=number, version=version, label=case.number, thickest_mm=4.0
            ).result["version"]
        return Load.objects.get(number=number)

    def asked(self, row: Load) -> Load:
        self.do(load.estimate, load=row.number, version=row.version)
        return Load.objects.get(pk=row.pk)

    def start(self, row: Load, *, who: str = "mara", **body: object) -> Outcome:
        return self.do(load_run.start_load, who=who, load=row.number, version=row.version, **body)


def minutes(*told: float) -> tuple[timedelta, ...]:
    return tuple(timedelta(minutes=one) for one in told)


def test_clamped_flask_waits_as_the_program_of_its_resin_says() -> None:
    bench = Bench(overnight=45)

    assert bench.rest() == minutes(45, 45)
    cure = bench.cases[0].stages.get(key="cure")
    assert Timer.objects.filter(stage=cure, kind="wait-over", due_at=cure.ready_at).exists()
    assert verify_record() == []


def test_program_that_states_none_leaves_the_rest_of_the_route() -> None:
    assert Bench(overnight=0).rest() == (ROUTE, ROUTE)


def test_resin_with_several_programs_waits_for_the_longest_and_may_go_from_the_shortest() -> None:
    bench = Bench(overnight=60, quick=20)

    assert bench.rest() == minutes(60, 20)


def test_unknown_resin_leaves_the_rest_of_the_route_until_it_is_mixed() -> None:
    bench = Bench(overnight=45)
    other, programs = bench.add_resin("Heather", {"slow": 90})
    unsaid = bench.clamped("R-90")
    before = bench.rest(unsaid)
    rows(
        lambda record: {
            "mix": record.create(
                Mix, case=unsaid, stage=unsaid.stages.get(key="pack"), attempt=1, resin=other,
                mixed_at=bench.now, by=bench.shop.people["mara"],
            )
        }
    )  # fmt: skip
    walked = bench.clamped("R-91")

    bench.do(load.make_load, bath=bench.bath.pk, program=programs["slow"].pk)
    bench.do(load.add_flask, load=1, version=1, label=unsaid.number, thickest_mm=4.0)

    assert before == bench.rest(walked) == (ROUTE, ROUTE)
    assert bench.rest(unsaid) == minutes(90, 90)


def test_load_settles_the_rest_and_taking_the_flask_out_unsettles_it() -> None:
    bench = Bench(overnight=60, quick=20)

    row = bench.gathered("quick")
    in_load = bench.rest()
    bench.do(load.remove_flask, load=row.number, version=row.version, flask=row.flasks.get().pk)
    taken_out = bench.rest()
    bench.gathered("overnight")
    other_load = bench.rest()

    assert (in_load, taken_out, other_load) == (minutes(20, 20), minutes(60, 20), minutes(60, 60))
    assert verify_record() == []


def test_load_that_is_given_up_leaves_the_rest_of_the_resin() -> None:
    bench = Bench(overnight=60, quick=20)
    row = bench.gathered("quick")

    bench.do(load.cancel_load, load=row.number, version=row.version)

    assert bench.rest() == minutes(60, 20)


def test_rest_longer_than_the_route_allows_ends_its_limit() -> None:
    bench = Bench(overnight=12 * 60)

    assert bench.rest() == minutes(720, 720)
    assert bench.cases[0].stages.get(key="cure").latest_at is None


def test_load_does_not_start_while_a_flask_rests_and_names_it() -> None:
    bench = Bench(cases=2, overnight=45)
    row = bench.asked(bench.gathered("overnight"))
    rested, resting = bench.cases
    bench.now = bench.ended(rested) + timedelta(minutes=45)

    with pytest.raises(Refusal) as refused:
        bench.start(row)

    assert (refused.value.code, refused.value.field) == ("not-rested", "rest_words")
    assert resting.number in refused.value.sentence
    assert rested.number not in refused.value.sentence
    row.refresh_from_db()
    assert row.state == "gathering"


def test_load_starts_when_the_rest_is_over() -> None:
    bench = Bench(overnight=45)
    row = bench.asked(bench.gathered("overnight"))
    bench.now += timedelta(minutes=45)

    bench.start(row)

    row.refresh_from_db()
    assert row.state == "running"
    assert not Event.objects.filter(kind="wait.shortened").exists()


def test_short_rest_is_conceded_with_words_that_stand_on_the_case() -> None:
    bench = Bench(overnight=45)
    row = bench.asked(bench.gathered("overnight"))
    bench.now += timedelta(minutes=20)

    bench.start(row, who="oren", rest_words="The maker was asked: 20 will do. Oren")

    case = bench.cases[0]
    cure = case.stages.get(key="cure")
    assert cure.state == "done"
    assert cure.words == "The maker was asked: 20 will do. Oren"
    assert Event.objects.filter(kind="wait.shortened", case=case, subject="cure").count() == 1
    assert CaseEdge.objects.get(case=case, after="cure").min_wait == pytest.approx(20)
    assert verify_record() == []


def test_design_that_is_drawn_anew_leaves_the_waits_of_the_program() -> None:
    bench = Bench(overnight=45)
    row = bench.asked(bench.gathered("overnight"))
    bench.now += timedelta(minutes=50)
    bench.start(row)
    case = bench.cases[0]
    waits = set(CaseEdge.objects.filter(case=case).values_list("before", "after", "min_wait"))

    case.refresh_from_db()
    bench.do(
        set_design, case=case.pk, version=case.version, data=DESIGN, draft=True, reason="looked at"
    )

    assert ("clamp", "cure", 45) in waits
    assert ("cure", "cool", LONG.bath_minutes) in waits
    assert set(CaseEdge.objects.filter(case=case).values_list("before", "after", "min_wait")) == (
        waits
    )
    assert verify_record() == []


def test_student_does_not_concede_a_short_rest() -> None:
    bench = Bench(overnight=45)
    row = bench.asked(bench.gathered("overnight"))

    with pytest.raises(Refusal) as refused:
        bench.start(row, who="teo", rest_words="it is late")

    assert refused.value.code == "may-not-decide"


def test_words_given_for_flasks_that_have_rested_concede_nothing() -> None:
    bench = Bench(overnight=45)
    row = bench.asked(bench.gathered("overnight"))
    bench.now += timedelta(minutes=46)

    bench.start(row, rest_words="in a hurry")

    assert not Event.objects.filter(kind="wait.shortened").exists()
    assert bench.cases[0].stages.get(key="cure").words == ""


def test_cure_that_is_started_alone_waits_for_the_rest_too() -> None:
    bench = Bench(overnight=45)
    cure = bench.cases[0].stages.get(key="cure")
    bench.now += timedelta(minutes=40)

    with pytest.raises(Refusal) as refused:
        bench.do(start_stage, stage=cure.pk, version=cure.version)

    assert refused.value.code == "waiting"


def test_flask_whose_clamp_was_skipped_rests_from_its_packing() -> None:
    bench = Bench(overnight=45)
    clock = Clock(NOW)
    case = make_case(bench.shop, now=clock.now, ref="R-90")
    walk(bench.shop, case, clock, until="pack")
    clamp = next_stage(case)
    assert clamp is not None
    bench.now = clock.now

    bench.do(skip_stage, stage=clamp.pk, version=clamp.version, reason="no-time")
    bench.cases = [case]
    bench.gathered("overnight")

    cure = case.stages.get(key="cure")
    packed = case.stages.get(key="pack").ended_at
    assert cure.may_from - packed == timedelta(minutes=45)


def test_a_flask_rests_on_in_a_bath_that_is_not_heated_yet() -> None:
    bench = Bench(long=60)
    packed = bench.ended(bench.cases[0])
    bench.now = packed + timedelta(minutes=10)
    begins = packed + timedelta(minutes=61)

    row = bench.asked(bench.gathered("long"))
    bench.start(row, starts_at=begins.isoformat())

    row = Load.objects.get()
    assert (row.state, row.starts_at) == ("running", begins)
    assert Event.objects.filter(kind="load.rests-in-bath", case=bench.cases[0]).count() == 1
    assert not Event.objects.filter(kind="wait.shortened").exists()
    assert verify_record() == []


def test_a_heat_that_begins_before_the_rest_is_over_is_still_refused() -> None:
    bench = Bench(long=60)
    packed = bench.ended(bench.cases[0])
    bench.now = packed + timedelta(minutes=10)
    row = bench.asked(bench.gathered("long"))

    with pytest.raises(Refusal, match="Its heat may begin") as refused:
        bench.start(row, starts_at=(packed + timedelta(minutes=40)).isoformat())

    assert (refused.value.code, refused.value.field) == ("not-rested", "rest_words")


@pytest.mark.parametrize(("hours", "said"), [(2, 1), (-1, 0)])
def test_a_heat_that_begins_too_long_after_the_packing_is_noted(hours: int, said: int) -> None:
    bench = Bench(long=0)
    latest = bench.cases[0].stages.get(key="cure").latest_at
    assert latest is not None
    bench.now = latest - timedelta(hours=2)
    row = bench.asked(bench.gathered("long"))

    bench.start(row, starts_at=(latest + timedelta(hours=hours)).isoformat())

    assert Event.objects.filter(kind="load.rested-long", case=bench.cases[0]).count() == said
    assert verify_record() == []
