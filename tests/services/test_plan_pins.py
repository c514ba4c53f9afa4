"""What people decide about the plan: pins, how it weighs, and what a pin would cost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from cases.domain.planning.problem import Plan, Planned
from cases.models import Absence, Bath, CaseStage, Event, Lab, PlanPin
from cases.selectors.planning.places import bath_key
from cases.selectors.planning.work import stage_key
from cases.services import planner
from cases.services.plan import lift_load, lift_pin, pin_load, pin_stage, set_plan_settings
from cases.services.plan_price import price_of_load, price_of_pin
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_shop, rows
from tests.selectors.planning.small import Step, after, change, make_small, solve, stage_of

pytestmark = pytest.mark.django_db
SOON = (NOW + timedelta(hours=1)).isoformat()


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def refused(run: Any) -> tuple[str, str]:
    """Return the code and the field of a refusal."""
    with pytest.raises(Refusal) as caught:
        run()
    return caught.value.code, caught.value.field


def test_pin_says_who_and_when_and_by_whom(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one")), "one")
    oren = shop.people["oren"]

    pin_stage(shop.envelope("pavo"), stage=stage.pk, person=oren.pk, begins_at=SOON)

    pin = PlanPin.objects.get()
    assert (pin.person, pin.begins_at, pin.by, pin.at) == (
        oren, NOW + timedelta(hours=1), shop.people["pavo"], NOW,
    )  # fmt: skip
    assert Event.objects.filter(kind="plan.pinned", case=stage.case).count() == 1
    assert verify_record() == []


def test_pin_without_a_zone_is_the_labs_time(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one")), "one")

    pin_stage(shop.envelope("pavo"), stage=stage.pk, begins_at="2026-12-10T09:00")

    assert PlanPin.objects.get().begins_at.isoformat() == "2026-12-10T08:00:00+00:00"


def test_second_pin_takes_the_place_of_the_first(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one")), "one")
    for name in ("mara", "oren"):
        pin_stage(shop.envelope("pavo"), stage=stage.pk, person=shop.people[name].pk)

    found = PlanPin.objects.filter(lifted_at=None)

    assert [pin.person.name for pin in found if pin.person] == ["Oren"]
    assert PlanPin.objects.count() == 2
    assert verify_record() == []


def test_lifted_pin_leaves_the_stage_to_the_planner(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one")), "one")
    pin_stage(shop.envelope("pavo"), stage=stage.pk, begins_at=SOON)

    lift_pin(shop.envelope("pavo"), stage=stage.pk)

    pin = PlanPin.objects.get()
    assert (pin.lifted_at, pin.lifted_by) == (NOW, shop.people["pavo"])
    assert refused(lambda: lift_pin(shop.envelope("pavo"), stage=stage.pk))[0] == "not-pinned"
    assert verify_record() == []


@pytest.mark.parametrize(
    ("body", "code", "field"),
    [
        ({}, "nothing-pinned", "person"),
        ({"person": 0}, "no-person", "person"),
        ({"person": "noor"}, "no-skill", "person"),
        ({"begins_at": "soon"}, "bad-time", "begins_at"),
        ({"begins_at": "2026-13-40T10:00"}, "bad-time", "begins_at"),
        ({"begins_at": (NOW - timedelta(minutes=1)).isoformat()}, "bad-time", "begins_at"),
        ({"begins_at": (NOW + timedelta(days=61)).isoformat()}, "bad-time", "begins_at"),
    ],
)
def test_pin_that_says_nothing_or_what_cannot_be_is_refused(
    shop: Shop, body: dict[str, Any], code: str, field: str
) -> None:
    stage = stage_of(make_small(shop, Step("one", facts={"skill": "wax"})), "one")
    if body.get("person") in shop.people:
        body = body | {"person": shop.people[body["person"]].pk}

    assert refused(lambda: pin_stage(shop.envelope("pavo"), stage=stage.pk, **body)) == (
        code, field,
    )  # fmt: skip
    assert not PlanPin.objects.exists()


@pytest.mark.parametrize("facts", [{"state": "running"}, {"state": "done"}])
def test_what_is_not_to_be_planned_any_more_is_not_pinned(
    shop: Shop, facts: dict[str, Any]
) -> None:
    stage = stage_of(make_small(shop, Step("one", facts=facts)), "one")

    assert (
        refused(
            lambda: pin_stage(shop.envelope("pavo"), stage=stage.pk, person=shop.people["oren"].pk)
        )[0]
        == "not-pinnable"
    )


def test_who_works_at_no_bench_is_not_pinned(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one")), "one")
    noor = shop.people["noor"].pk

    assert refused(lambda: pin_stage(shop.envelope("pavo"), stage=stage.pk, person=noor)) == (
        "no-person", "person",
    )  # fmt: skip


def test_second_pair_of_eyes_is_not_pinned_to_who_did_the_work(shop: Shop) -> None:
    mara = shop.people["mara"]
    case = make_small(
        shop, Step("one", facts={"state": "done", "worker": mara, "ended_at": NOW}),
        Step("two", spec={"other_than": "one"}),
        edges=[{"before": "one", "after": "two"}],
    )  # fmt: skip
    two = stage_of(case, "two")

    assert refused(lambda: pin_stage(shop.envelope("pavo"), stage=two.pk, person=mara.pk)) == (
        "own-work", "person",
    )  # fmt: skip
    pin_stage(shop.envelope("pavo"), stage=two.pk, person=shop.people["oren"].pk)


def test_planner_is_set_up_by_the_manager(shop: Shop) -> None:
    body = {
        "plan_seconds": 40, "plan_overtime": True, "plan_overtime_minutes": 90,
        "rush_weight": 6.0, "remake_weight": 3.0,
    }  # fmt: skip

    set_plan_settings(shop.envelope("pavo"), **body)

    lab = Lab.objects.get()
    assert {name: getattr(lab, name) for name in body} == body
    assert verify_record() == []


@pytest.mark.parametrize(
    ("change_", "code", "field"),
    [
        ({"plan_seconds": 601}, "bad-seconds", "plan_seconds"),
        ({"plan_seconds": -1}, "bad-seconds", "plan_seconds"),
        ({"plan_overtime_minutes": 0}, "bad-minutes", "plan_overtime_minutes"),
        ({"plan_overtime_minutes": 241}, "bad-minutes", "plan_overtime_minutes"),
        ({"rush_weight": 0.5}, "bad-weight", "rush_weight"),
        ({"remake_weight": 21.0}, "bad-weight", "remake_weight"),
    ],
)
def test_settings_that_make_no_sense_are_refused(
    shop: Shop, change_: dict[str, Any], code: str, field: str
) -> None:
    body = {
        "plan_seconds": 20, "plan_overtime": False, "plan_overtime_minutes": 60,
        "rush_weight": 4.0, "remake_weight": 2.0,
    }  # fmt: skip

    assert refused(lambda: set_plan_settings(shop.envelope("pavo"), **body | change_)) == (
        code, field,
    )  # fmt: skip


# ── what it costs ────────────────────────────────────────────────────────────


def test_price_of_a_pin_names_the_case_that_leaves_later(shop: Shop) -> None:
    for name in ("oren", "teo"):
        change(shop.people[name], active=False)
    due = NOW + timedelta(minutes=318)
    case = make_small(shop, Step("one", 200), leaves_at=due)
    stage = stage_of(case, "one")

    price = price_of_pin(NOW, stage=stage.pk, person=None, begins_at=NOW + timedelta(minutes=150))

    (later,) = price.later
    assert (later.case, later.before, later.after, later.late_minutes) == (
        case, due, due + timedelta(days=1), 1440,
    )  # fmt: skip
    assert (price.lateness, price.sooner, price.impossible) == (1440, (), "")


def test_price_of_what_cannot_be_is_a_sentence(shop: Shop) -> None:
    case = make_small(shop, Step("one"))
    oren = shop.people["oren"]
    rows(
        lambda record: {
            "away": record.create(
                Absence, person=oren, first_on=NOW.date(), last_on=NOW.date() + timedelta(days=400)
            )
        }
    )

    price = price_of_pin(NOW, stage=stage_of(case, "one").pk, person=oren.pk, begins_at=None)

    assert f"“{case.number}, One”" in price.impossible
    assert price.later == ()


def test_price_says_what_can_be_kept_no_longer(shop: Shop) -> None:
    """The other case has to begin within 40 minutes, and there is one pair of hands."""
    for name in ("oren", "teo"):
        change(shop.people[name], active=False)
    first = {"state": "done", "started_at": NOW - timedelta(minutes=60),
             "ended_at": NOW - timedelta(minutes=20)}  # fmt: skip
    other = make_small(
        shop, Step("one", facts=first), Step("two"), edges=[after("one", "two", 0, 60)]
    )
    case = make_small(shop, Step("one", 200), ref="Q-2")
    stage, mara = stage_of(case, "one").pk, shop.people["mara"].pk

    price = price_of_pin(NOW, stage=stage, person=mara, begins_at=NOW)
    later = price_of_pin(NOW, stage=stage, person=mara, begins_at=NOW + timedelta(minutes=60))

    assert price.given_up == (
        f"{other.number}, Two: its last moment cannot be kept (Wed 9 Dec, 11:22); "
        "it begins Wed 9 Dec, 14:02.",
    )
    assert (price.impossible, later.given_up) == ("", ())


def test_price_of_a_start_when_nobody_works_is_a_sentence(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one")), "one").pk

    price = price_of_pin(NOW, stage=stage, person=None, begins_at=NOW + timedelta(hours=14))

    assert price.impossible == (
        "It cannot begin Thu 10 Dec, 00:42: hands, a place or what comes before it are not free "
        "then. As soon as it can, it begins Wed 9 Dec, 10:42."
    )


# ── a load ───────────────────────────────────────────────────────────────────


def cures(shop: Shop, *refs: str) -> list[CaseStage]:
    """Return the cures of cases that have nothing before it."""
    step = Step("cure", 5, "load", facts={"skill": "pack"})
    return [stage_of(make_small(shop, step, ref=ref), "cure") for ref in refs]


def second_bath(capacity: int = 2) -> Bath:
    rows(lambda record: {"bath": record.create(Bath, name="Second tub", capacity=capacity)})
    return Bath.objects.get(name="Second tub")


def test_load_is_decided_with_its_bath_and_its_minute(shop: Shop) -> None:
    one, two, other = cures(shop, "Q-1", "Q-2", "Q-3")
    bath = second_bath()
    pin_stage(shop.envelope("pavo"), stage=one.pk, begins_at="2026-12-10T09:00")

    pin_load(
        shop.envelope("pavo"), stages=[two.pk, one.pk], bath=bath.pk, begins_at="2026-12-10T10:00"
    )

    pins = PlanPin.objects.filter(lifted_at=None)
    assert {(pin.stage_id, pin.bath, f"{pin.begins_at:%H:%M}") for pin in pins} == {
        (one.pk, bath, "09:00"), (two.pk, bath, "09:00"),
    }  # fmt: skip
    solved = solve()
    assert solved.plan.unplanned == ()
    start = solved.built.clock.until(datetime(2026, 12, 10, 9, tzinfo=UTC))
    placed = {key: (one.bath, one.start) for key, one in of_stages(solved.plan).items()}
    assert placed[stage_key(one.pk)] == placed[stage_key(two.pk)] == (bath_key(bath.pk), start)
    assert placed[stage_key(other.pk)] != (bath_key(bath.pk), start)
    assert verify_record() == []

    lift_load(shop.envelope("pavo"), stages=[one.pk, two.pk])
    assert not PlanPin.objects.filter(lifted_at=None).exists()
    assert refused(lambda: lift_load(shop.envelope("pavo"), stages=[one.pk]))[0] == "not-pinned"
    assert verify_record() == []


def of_stages(found: Plan) -> dict[str, Planned]:
    return {one.stage: one for one in found.planned}


@pytest.mark.parametrize(
    ("change_", "code", "field"),
    [
        ({"stages": []}, "no-pieces", "stages"),
        ({"bath": 0}, "no-bath", "bath"),
        ({"begins_at": ""}, "bad-time", "begins_at"),
        ({"begins_at": "2026-12-08T10:00"}, "bad-time", "begins_at"),
    ],
)
def test_load_that_makes_no_sense_is_not_decided(
    shop: Shop, change_: dict[str, Any], code: str, field: str
) -> None:
    (one,) = cures(shop, "Q-1")
    body = {"stages": [one.pk], "bath": second_bath().pk, "begins_at": "2026-12-10T10:00"}

    assert refused(lambda: pin_load(shop.envelope("pavo"), **body | change_)) == (code, field)
    assert not PlanPin.objects.exists()


def test_load_takes_no_more_than_its_bath_and_only_what_waits_for_one(shop: Shop) -> None:
    stages = cures(shop, "Q-1", "Q-2")
    wax = stage_of(make_small(shop, Step("one"), ref="Q-3"), "one")
    small = second_bath(1)

    def decide(*pks: int) -> tuple[str, str]:
        return refused(
            lambda: pin_load(shop.envelope("pavo"), stages=list(pks), bath=small.pk, begins_at=SOON)
        )

    assert decide(*(one.pk for one in stages)) == ("too-many", "stages")
    assert decide(wax.pk) == ("not-pinnable", "stages")


def test_price_of_a_load_that_cannot_be_is_said(shop: Shop) -> None:
    (one,) = cures(shop, "Q-1")
    night = datetime(2026, 12, 10, 1, tzinfo=UTC)

    priced = price_of_load(NOW, stages=[one.pk], bath=second_bath().pk, begins_at=night)
    free = price_of_load(
        NOW, stages=[one.pk], bath=Bath.objects.latest("pk").pk, begins_at=NOW + timedelta(hours=1)
    )

    assert "It cannot begin Thu 10 Dec, 02:00: hands" in priced.impossible
    assert free.impossible == ""


def test_price_of_a_time_reckons_with_whom_the_stage_was_handed_to(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one", minutes=60)), "one")
    oren = shop.people["oren"]
    change(stage, assignee=oren)
    tomorrow = NOW + timedelta(days=1)
    day = tomorrow.date()
    rows(lambda record: {"a": record.create(Absence, person=oren, first_on=day, last_on=day)})
    planner.mend(NOW)

    price = price_of_pin(NOW, stage=stage.pk, person=None, begins_at=tomorrow)
    another = price_of_pin(NOW, stage=stage.pk, person=shop.people["mara"].pk, begins_at=tomorrow)

    assert "It cannot begin Thu 10 Dec, 10:42: hands" in price.impossible
    assert another.impossible == ""


def test_price_is_held_against_the_plan_that_people_see(shop: Shop) -> None:
    stage = stage_of(make_small(shop, Step("one", minutes=60)), "one")
    tomorrow = NOW + timedelta(days=1)
    pin_stage(shop.envelope("pavo"), stage=stage.pk, begins_at=tomorrow.isoformat())
    planner.mend(NOW)

    again = price_of_pin(NOW, stage=stage.pk, person=None, begins_at=tomorrow)

    assert (again.lateness, again.later, again.sooner) == (0, (), ())
