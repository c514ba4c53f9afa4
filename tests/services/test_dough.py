"""The clock of the dough: started, called for, stopped, mixed anew; who may, and when not."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from cases.models import Alert, Case, CaseStage, Mix, Resin
from cases.services.alarms import fire_due
from cases.services.check import enter_checks
from cases.services.dough import note_closed, note_mix
from cases.services.record import Outcome, Refusal, Verb
from cases.services.stage import finish_stage, pause_stage, start_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, answers, make_case, make_shop, rows
from tests.walk import Clock, photograph, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


class Bench:
    """A case in hand at the packing, in a lab with one resin whose maker says 8 to 15 minutes."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.case, clock = make_case(shop, now=NOW), Clock(NOW)
        walk(shop, self.case, clock, until="separate")
        self.resin = self.add("Rosewater 3", dough_from=8.0, dough_until=15.0, room_c=23.0)
        stage = self.stage()
        self.now = max(clock.now, stage.ready_at or clock.now)
        start_stage(
            shop.envelope("mara", now=self.now), stage=stage.pk, version=stage.version,
            photo=photograph(shop, self.case, stage, self.now, "mara"),
        )  # fmt: skip

    def add(self, name: str, **told: float) -> Resin:
        made: Resin = rows(lambda record: {"row": record.create(Resin, name=name, **told)})["row"]
        return made

    def stage(self) -> CaseStage:
        return self.case.stages.get(key="pack")

    def do(self, verb: Verb, *, who: str = "mara", **body: object) -> Outcome:
        stage = self.stage()
        body = {"stage": stage.pk, "version": stage.version, **body}
        return verb(self.shop.envelope(who, now=self.now), **body)

    def packed(self) -> list[dict[str, object]]:
        """Return entries that pass the packing, closed within the maker's minutes."""
        entries = answers(self.stage())
        for entry in entries:
            entry["values"] |= {"minutes": 12.0} if "minutes" in entry["values"] else {}
        return entries

    def refused(self, verb: Verb, *, who: str = "mara", **body: object) -> Refusal:
        with pytest.raises(Refusal) as caught:
            self.do(verb, who=who, **body)
        return caught.value


def pending(case: Case) -> dict[str, datetime]:
    timers = case.timers.filter(state="pending", kind__startswith="dough")
    return dict(timers.values_list("kind", "due_at"))


def test_mixing_starts_the_clock_of_the_makers_minutes(shop: Shop) -> None:
    bench = Bench(shop)

    bench.do(note_mix, room_c=24)

    mix = Mix.objects.get()
    assert (mix.resin, mix.mixed_at, mix.room_c) == (bench.resin, bench.now, 24)
    assert pending(bench.case) == {
        "dough": bench.now + timedelta(minutes=8),
        "dough-soon": bench.now + timedelta(minutes=12),
        "dough-over": bench.now + timedelta(minutes=15),
    }
    assert verify_record() == []


def test_what_was_mixed_some_minutes_ago_counts_from_then(shop: Shop) -> None:
    bench = Bench(shop)

    bench.do(note_mix, minutes_ago=9)

    assert Mix.objects.get().mixed_at == bench.now - timedelta(minutes=9)
    assert sorted(pending(bench.case)) == ["dough-over", "dough-soon"]


def test_nobody_is_called_for_a_dough_whose_maker_says_nothing(shop: Shop) -> None:
    bench = Bench(shop)
    rows(lambda record: {"row": record.change(bench.resin, dough_from=None, dough_until=None)})

    bench.do(note_mix)

    assert pending(bench.case) == {}


def test_alarms_ring_in_turn_and_the_last_closing_stills_them(shop: Shop) -> None:
    bench = Bench(shop)
    bench.do(note_mix)
    bench.now += timedelta(minutes=12)

    assert fire_due(bench.now) == 2
    said = [alert.words for alert in Alert.objects.filter(acknowledged_at=None)]
    assert said == [
        f"{bench.case.number}: the dough should be ready. Look at it, then pack.",
        f"{bench.case.number}: the dough stiffens in 3 minutes. Close the flask for good.",
    ]
    bench.do(note_closed)

    assert not Alert.objects.filter(acknowledged_at=None).exists()
    assert pending(bench.case) == {}
    assert Mix.objects.get().closed_at == bench.now
    assert verify_record() == []


def test_dough_rings_for_a_stage_that_was_put_down(shop: Shop) -> None:
    bench = Bench(shop)
    bench.do(note_mix)

    bench.do(pause_stage)

    assert "dough-over" in pending(bench.case)


def test_a_further_mix_is_what_counts(shop: Shop) -> None:
    bench = Bench(shop)
    bench.do(note_mix)
    bench.now += timedelta(minutes=16)
    fire_due(bench.now)

    bench.do(note_mix)

    assert not Alert.objects.filter(acknowledged_at=None).exists()
    assert pending(bench.case)["dough-over"] == bench.now + timedelta(minutes=15)
    bench.now += timedelta(minutes=10)
    bench.do(note_closed)
    assert [mix.closed_at for mix in Mix.objects.all()] == [None, bench.now]


def test_passing_the_stage_on_ends_the_clock(shop: Shop) -> None:
    bench = Bench(shop)
    bench.do(note_mix)
    bench.now += timedelta(minutes=9)

    assert bench.do(finish_stage, checks=bench.packed()).result["finished"]
    assert pending(bench.case) == {}


def test_several_resins_are_asked_about(shop: Shop) -> None:
    bench = Bench(shop)
    other = bench.add("Other resin", dough_until=6.0)

    assert bench.refused(note_mix).code == "say-resin"
    assert bench.refused(note_mix, resin=0).field == "resin"
    bench.do(note_mix, resin=other.pk)

    assert Mix.objects.get().closes_at == bench.now + timedelta(minutes=6)


def test_the_mix_is_held_against_the_resin_that_was_mixed(shop: Shop) -> None:
    bench = Bench(shop)
    other = bench.add("Other resin", ratio_low=1.8, ratio_high=2.0)
    bench.do(note_mix, resin=other.pk)
    item = bench.stage().checks.get(number=40)
    entry = next(one for one in bench.packed() if one["item"] == item.pk)
    entry["values"] |= {"powder": 23, "liquid": 10}  # type: ignore[operator]

    bench.do(finish_stage, checks=[entry])

    item.refresh_from_db()
    assert item.state == "failed"
    assert "the maker asks for 1.8–2 g to 1 ml" in item.sentence


@pytest.mark.parametrize("closed_first", [True, False])
def test_minutes_that_the_clock_did_not_see_keep_the_stage(shop: Shop, closed_first: bool) -> None:
    bench = Bench(shop)
    bench.do(note_mix)
    bench.now += timedelta(minutes=4)
    item = bench.stage().checks.get(number=40)
    first, then = (note_closed, enter_checks) if closed_first else (enter_checks, note_closed)
    for verb in (first, then):
        bench.do(verb, **({"checks": bench.packed()} if verb is enter_checks else {}))

    item.refresh_from_db()
    assert item.state == "failed"
    assert "12 min entered, 4 min by the clock" in item.sentence
    assert not bench.do(finish_stage, checks=[]).result["finished"]
    assert item.results.count() == (1 if closed_first else 2)
    assert verify_record() == []


def test_minutes_near_the_clocks_stay_as_they_were(shop: Shop) -> None:
    bench = Bench(shop)
    bench.do(note_mix)
    bench.now += timedelta(minutes=11)
    bench.do(enter_checks, checks=bench.packed())
    bench.do(note_closed)

    item = bench.stage().checks.get(number=40)
    assert (item.state, item.results.count()) == ("passed", 1)


@pytest.mark.parametrize(
    ("body", "code", "field"),
    [
        ({"minutes_ago": -1}, "bad-number", "minutes_ago"),
        ({"minutes_ago": 61}, "bad-number", "minutes_ago"),
        ({"room_c": 75}, "bad-number", "room_c"),
        ({"room_c": 0}, "bad-number", "room_c"),
        ({"resin": 99}, "say-resin", "resin"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_entry(
    shop: Shop, body: dict[str, object], code: str, field: str
) -> None:
    refusal = Bench(shop).refused(note_mix, **body)

    assert (refusal.code, refusal.field) == (code, field)
    assert not Mix.objects.exists()


def test_there_is_a_time_for_it_and_somebody_who_may(shop: Shop) -> None:
    bench = Bench(shop)
    cured = bench.case.stages.get(key="cure")

    assert bench.refused(note_closed).code == "not-mixed"
    assert bench.refused(note_mix, who="noor").code == "not-allowed"
    wrong = bench.refused(note_mix, stage=cured.pk, version=cured.version)
    assert wrong.code == "not-packing"
    assert bench.refused(note_mix, version=0).code == "stage-changed"
    bench.do(note_mix)
    bench.now += timedelta(minutes=12)
    bench.do(note_closed)
    assert bench.refused(note_closed).code == "closed"
    assert bench.do(finish_stage, checks=bench.packed()).result["finished"]
    assert bench.refused(note_mix).code == "not-running"


def test_a_lab_without_resin_says_who_adds_it(shop: Shop) -> None:
    bench = Bench(shop)
    rows(lambda record: {"row": record.change(bench.resin, active=False)})

    assert bench.refused(note_mix).code == "no-resin"
