"""Rules of the problem one by one, on labs of two or three stages with answers counted by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.problem import (
    After,
    Bath,
    Case,
    Held,
    Person,
    Pin,
    Planned,
    Problem,
    Program,
    Running,
    Stage,
    Station,
    Thing,
)
from cases.domain.planning.verify import verify

DAY = 24 * 60
HOURS = ((0, 240), (270, 480), (DAY, DAY + 240))
SHORT_NIGHT = ((0, 480), (DAY - 60, DAY - 60 + 480))
LONG_NIGHT = ((0, 480), (DAY + 60, DAY + 60 + 480))
"""The clock goes forward or back in the night: the second morning at 8 is an hour nearer or on."""
ONE = (Case("a", DAY),)
TWO = (Case("a", DAY), Case("b", DAY))


def hands(
    name: str = "Ada", hours: tuple[tuple[int, int], ...] = HOURS, pace: float = 1.0
) -> Person:
    return Person(name, (("wax", pace),), hours)


def wax(key: str, minutes: int, case: str = "a", **facts: object) -> Stage:
    return Stage(key, case, "attended", minutes, "wax", **facts)  # type: ignore[arg-type]


COUNTED: dict[str, tuple[Problem, dict[str, tuple[int, int]]]] = {
    "over a break, if it may pause": (
        Problem(ONE, (wax("s", 250),), (hands(),)), {"s": (0, 280)}),
    "not over a break, if it may not": (
        Problem(ONE, (wax("r", 50), wax("s", 200, after=(After("r"),), pausable=False)),
                (hands(),)), {"r": (0, 50), "s": (270, 470)}),
    "over a night on which the clock goes forward": (
        Problem(ONE, (wax("s", 500),), (hands(hours=SHORT_NIGHT),)), {"s": (0, DAY - 60 + 20)}),
    "over a night on which the clock goes back": (
        Problem(ONE, (wax("s", 500),), (hands(hours=LONG_NIGHT),)), {"s": (0, DAY + 60 + 20)}),
    "by the pace of who does it": (
        Problem(ONE, (wax("s", 100),), (hands(pace=1.3),)), {"s": (0, 130)}),
    "a least wait": (
        Problem(ONE, (wax("r", 20), wax("s", 10, after=(After("r", 45),))), (hands(),)),
        {"r": (0, 20), "s": (65, 75)}),
    "a longest wait moves what comes before": (
        Problem(ONE, (wax("r", 20), wax("s", 100, after=(After("r", 0, 10),), not_before=300)),
                (hands(),)), {"s": (300, 400)}),
    "a station is used by one": (
        Problem(TWO, (wax("s", 30, station="bench"), wax("t", 30, "b", station="bench")),
                (hands(), hands("Bo")), stations=(Station("bench"),)),
        {"s": (0, 30), "t": (30, 60)}),
    "a thing is held to some minutes after its last stage": (
        Problem(TWO, (wax("s", 30), wax("t", 30, "b")), (hands(), hands("Bo")),
                things=(Thing("cast"),),
                held=(Held("cast", "s", "s", 15), Held("cast", "t", "t"))),
        {"s": (0, 30), "t": (45, 75)}),
    "what sets needs no hands, and goes on over a break": (
        Problem(ONE, (wax("r", 230), Stage("s", "a", "unattended", 60, after=(After("r"),))),
                (hands(),)), {"s": (230, 290)}),
    "a countersign comes before what follows": (
        Problem(ONE, (wax("r", 30, sign=10), wax("s", 20, after=(After("r"),))),
                (Person("Bo", (("wax", 1.0),), HOURS, student=True),
                 Person("Ada", (), HOURS, may_sign=True))), {"r": (0, 30), "s": (40, 60)}),
    "a countersign comes before what follows what a student has begun": (
        Problem(ONE, (wax("r", 30, sign=10, running=Running(-10, 20, "Bo")),
                      wax("s", 20, after=(After("r"),))),
                (Person("Bo", (("wax", 1.0),), HOURS, student=True),
                 Person("Ada", (), HOURS, may_sign=True))), {"r": (-10, 20), "s": (30, 50)}),
    "who may sign other work signs none of this": (
        Problem(ONE, (wax("r", 30, sign=10, sign_skill="sign wax"),
                      wax("s", 20, after=(After("r"),))),
                (Person("Bo", (("wax", 1.0),), HOURS, student=True),
                 Person("Ada", (("sign pack", 1.0),), HOURS, may_sign=True),
                 Person("Cy", (("sign wax", 1.0),), ((100, 200),), may_sign=True))),
        {"r": (0, 30), "s": (110, 130)}),
    "where nobody may sign no student does it": (
        Problem(ONE, (wax("r", 30, sign=10),),
                (Person("Bo", (("wax", 1.0),), HOURS, student=True), hands(pace=2.0))),
        {"r": (0, 60)}),
    "into the overtime where it is allowed": (
        Problem(ONE, (wax("s", 500),), (replace(hands(), overtime=((480, 600),), stays=True),)),
        {"s": (0, 530)}),
    "into the overtime of who stays, and not of who does not": (
        Problem(TWO, (wax("s", 500, pin=Pin("Ada")), wax("t", 500, "b", pin=Pin("Bo"))),
                (replace(hands(), overtime=((480, 600),), stays=True),
                 replace(hands("Bo"), overtime=((480, 600),)))),
        {"s": (0, 530), "t": (0, DAY + 50)}),
    "a person who is pinned, though another is quicker": (
        Problem(ONE, (wax("s", 30, pin=Pin("Bo")),), (hands(), hands("Bo", pace=2.0))),
        {"s": (0, 60)}),
    "a minute that is pinned": (
        Problem(ONE, (wax("s", 30, pin=Pin(start=90)),), (hands(),)), {"s": (90, 120)}),
    "after what is running, with its hands": (
        Problem(TWO, (wax("s", 30, running=Running(-5, 40, "Ada")), wax("t", 30, "b")),
                (hands(),)), {"s": (-5, 40), "t": (40, 70)}),
    "the heavier case first": (
        Problem((Case("a", 0), Case("b", 0, weight=4.0)), (wax("s", 30), wax("t", 30, "b")),
                (hands(),)), {"s": (30, 60), "t": (0, 30)}),
    "done together the setup counts once": (
        Problem(TWO, (wax("s", 30, batch="x", setup=10), wax("t", 30, "b", batch="x", setup=10)),
                (hands(),)), {"s": (0, 50), "t": (0, 50)}),
    "one load for two, as long as its program": (
        Problem(TWO, (Stage("s", "a", "load", 0, "wax", program="long"),
                      Stage("t", "b", "load", 0, "wax", program="long")),
                (hands(),), programs=(Program("long", 540, 6),), baths=(Bath("b", 2, ("long",)),)),
        {}),
}  # fmt: skip


@pytest.mark.parametrize("rule", COUNTED)
def test_a_rule_by_hand(rule: str) -> None:
    problem, expected = COUNTED[rule]
    plan = dispatch(problem)
    found = {one.stage: (one.start, one.end) for one in plan.planned}

    assert verify(problem, plan) == []
    assert plan.unplanned == ()
    assert {key: found[key] for key in expected} == expected
    if not expected:
        assert found["s"] == found["t"]
        assert found["s"][1] - found["s"][0] == 540


def test_van_by_hand() -> None:
    case = Case("a", due=90, weight=2.0, vans=(20, 120, 300))
    plan = dispatch(Problem((case,), (wax("s", 30),), (hands(),)))

    assert [(one.at, one.late) for one in plan.leaves] == [(120, 30)]
    assert plan.lateness == 60.0


def test_pair_leaves_with_the_first_van_of_both_by_hand() -> None:
    cases = (Case("a", 0, vans=(50, 100, 200)), Case("b", 0, vans=(100, 200)))
    stages = (wax("s", 30), wax("t", 90, "b"))
    problem = Problem(cases, stages, (hands(), hands("Bo")), pairs=(("a", "b"),))
    plan = dispatch(problem)

    assert verify(problem, plan) == []
    assert {one.case: one.at for one in plan.leaves} == {"a": 100, "b": 100}


def test_last_plan_keeps_its_people_by_hand() -> None:
    last = (Planned("s", 0, 30, "Bo"),)
    problem = Problem(ONE, (wax("s", 30),), (hands(), hands("Bo")), last=last)
    plan = dispatch(problem)

    assert verify(problem, plan) == []
    assert (plan.planned[0].person, plan.moves) == ("Bo", 0)
