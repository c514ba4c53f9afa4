"""What a stage waits for is cut without gaps, and names what was in the way."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import (
    After,
    Bath,
    Case,
    Held,
    Person,
    Pin,
    Plan,
    Planned,
    Problem,
    Program,
    Stage,
    Station,
    Thing,
    Until,
)
from cases.domain.planning.why import Link, Reasons, Step, Wait, WaitKind, lost
from cases.domain.planning.why_words import SENTENCES, say_link, say_stage, span
from cases.domain.reasons import HOLD_WAITS_FOR

DAY = 24 * 60
HOURS = ((0, 240), (270, 480), (DAY, DAY + 480))
ADA = Person("Ada", (("wax", 1.0),), HOURS, may_sign=True)
BO = Person("Bo", (("wax", 1.0),), HOURS, student=True)


def wax(key: str, minutes: int = 60, **facts: object) -> Stage:
    return replace(Stage(key, key[0], "attended", minutes, "wax"), **facts)


def lab(*stages: Stage, **facts: object) -> Problem:
    cases = tuple(Case(key, 60) for key in dict.fromkeys(stage.case for stage in stages))
    return replace(Problem(cases, stages, (ADA,)), **facts)


def plan(*planned: Planned) -> Plan:
    return Plan(planned, ())


def ada(key: str, start: int, end: int, **facts: object) -> Planned:
    return replace(Planned(key, start, end, "Ada"), **facts)


SET = (After("a1", 20),)
WAITS: dict[str, tuple[Problem, Plan, tuple[Wait, ...]]] = {
    "its predecessor, and setting": (
        lab(wax("a1"), wax("a2", after=SET)), plan(ada("a1", 0, 60), ada("a2", 80, 140)),
        (Wait("stage", 0, 60, "a1", "Ada"), Wait("setting", 60, 80, "a1")),
    ),
    "an answer": (
        lab(Stage("a1", "a", "external", 90), wax("a2", after=(After("a1"),))),
        plan(Planned("a1", 0, 90), ada("a2", 90, 150)), (Wait("answer", 0, 90, "a1"),),
    ),
    "a countersign": (
        lab(wax("a1", sign=5), wax("a2", after=(After("a1"),)), persons=(ADA, BO)),
        plan(Planned("a1", 0, 60, "Bo", signer="Ada", signed_from=60, signed_until=65),
             ada("a2", 65, 125)),
        (Wait("stage", 0, 60, "a1", "Bo"), Wait("sign", 60, 65, "a1", "Ada")),
    ),
    "the box from the practice, and a hold": (
        replace(lab(wax("a2", not_before=90)), cases=(Case("a", 60, release=30),)),
        plan(ada("a2", 90, 150)), (Wait("release", 0, 30, by="a"), Wait("hold", 30, 90)),
    ),
    "an answer of the practice, for which it is held": (
        lab(wax("a2", not_before=90, until="practice")),
        plan(ada("a2", 90, 150)), (Wait("practice", 0, 90),),
    ),
    "what sets already": (
        lab(wax("a2", not_before=40, until="rest")),
        plan(ada("a2", 40, 100)), (Wait("rest", 0, 40),),
    ),
    "hands with another, and a gap too short": (
        lab(wax("b1", 100), wax("b2", 100), wax("a2")),
        plan(ada("b1", 0, 100), ada("b2", 110, 210), ada("a2", 210, 300)),
        (Wait("hands", 0, 100, "b1", "Ada"), Wait("hands", 100, 110, "b2", "Ada"),
         Wait("hands", 110, 210, "b2", "Ada")),
    ),
    "hours, and a break too near": (
        lab(wax("b1", 200), wax("a2", pausable=False)),
        plan(ada("b1", 0, 200), ada("a2", 270, 330)),
        (Wait("hands", 0, 200, "b1", "Ada"), Wait("hours", 200, 240, by="Ada"),
         Wait("hours", 240, 270, by="Ada")),
    ),
    "a station": (
        lab(wax("b1", station="press"), wax("a2", station="press"), stations=(Station("press"),),
            persons=(ADA, BO)),
        plan(Planned("b1", 0, 60, "Bo"), ada("a2", 60, 120)),
        (Wait("station", 0, 60, "b1", "press"),),
    ),
    "one of two at a station": (
        lab(wax("b1", station="press"), wax("a2", station="press"), persons=(ADA, BO),
            stations=(Station("press", 2),)),
        plan(Planned("b1", 0, 60, "Bo"), ada("a2", 60, 120)), (Wait("order", 0, 60),),
    ),
    "a flask": (
        lab(wax("b1"), Stage("b2", "b", "unattended", 45, after=(After("b1"),)), wax("a2"),
            things=(Thing("flask"),), persons=(ADA, BO),
            held=(Held("flask", "b1", "b2", 10), Held("flask", "a2", "a2"))),
        plan(Planned("b1", 0, 60, "Bo"), Planned("b2", 60, 105), ada("a2", 115, 175)),
        (Wait("thing", 0, 115, "b2", "flask"),),
    ),
    "its batch": (
        lab(wax("b1", 30), wax("b2", after=(After("b1"),), batch="pour"), wax("a2", batch="pour"),
            persons=(ADA, BO)),
        plan(Planned("b1", 0, 30, "Bo"), ada("b2", 30, 150, together="p"),
             ada("a2", 30, 150, together="p")),
        (Wait("together", 0, 30, "b1", "b2"),),
    ),
    "a pin": (lab(wax("a2", pin=Pin("Ada", 50))), plan(ada("a2", 50, 110)),
              (Wait("pin", 0, 50, by="Ada"),)),
    "what must follow": (
        lab(wax("a2"), wax("a3", after=(After("a2", 0, 10),))),
        plan(ada("a2", 30, 90), ada("a3", 90, 150)), (Wait("follow", 0, 30),),
    ),
    "the plan's order": (lab(wax("a2")), plan(ada("a2", 30, 90)), (Wait("order", 0, 30),)),
}  # fmt: skip


@pytest.mark.parametrize("what", WAITS)
def test_a_stage_says_what_it_waits_for(what: str) -> None:
    problem, planned, waits = WAITS[what]

    assert Reasons(problem, planned).of("a2") == waits


def test_a_load_waits_for_its_other_pieces_and_for_its_bath() -> None:
    cure = {"kind": "load", "minutes": 0, "program": "long"}
    problem = lab(
        wax("b1", 30), wax("b2", after=(After("b1"),), **cure), wax("a2", **cure),
        wax("c2", **cure), programs=(Program("long", 100, hands=6),),
        baths=(Bath("bath", 2, ("long",)),),
    )  # fmt: skip
    first = {"person": "Ada", "bath": "bath", "together": "one"}
    reasons = Reasons(
        problem,
        plan(
            ada("b1", 0, 30),
            Planned("b2", 30, 130, **first),
            Planned("a2", 30, 130, **first),
            Planned("c2", 130, 230, **{**first, "together": "two"}),
        ),
    )

    assert reasons.of("a2") == (Wait("load", 0, 30, "b1", "b2"),)
    assert [wait.kind for wait in reasons.of("c2")] == ["hands", "bath"]
    assert reasons.of("c2")[-1] == Wait("bath", 30, 130, "b2", "bath")


def test_a_chain_goes_back_to_now_over_other_cases() -> None:
    problem = lab(wax("b1", 100), wax("a1"), wax("a2", after=SET))
    problem = replace(problem, cases=(Case("b", 60), Case("a", 60, vans=(400,))))
    planned = (ada("b1", 0, 100), ada("a1", 100, 160), ada("a2", 180, 300))
    reasons = Reasons(problem, replace(dispatch(problem), planned=planned))

    assert reasons.chain("a") == (
        Link("a", Wait("van", 300, 400, "a2")),
        Link("a2", Wait("setting", 160, 180, "a1")),
        Link("a1", Wait("hands", 0, 100, "b1", "Ada")),
    )
    assert reasons.path("a") == (
        Step("a1", (Wait("hands", 0, 100, "b1", "Ada"),)),
        Step("a2", (Wait("setting", 160, 180, "a1"),)),
    )
    assert lost(reasons.path("a")) == {"hands": 100, "setting": 20}


@pytest.mark.parametrize("number", [1, 2])
def test_in_an_invented_lab_no_minute_is_without_a_reason(number: int) -> None:
    problem = invent(20, 2, number)
    problem = replace(problem, cases=tuple(replace(case, due=600) for case in problem.cases))
    planned = dispatch(problem)
    reasons = Reasons(problem, planned)
    late = [one.case for one in planned.leaves if one.late]

    for one in planned.planned:
        waits = reasons.of(one.stage)
        assert all(a.end == b.start for a, b in pairwise(waits))
        assert not waits or waits[-1].end == one.start
        assert all(wait.other in reasons.at or not wait.other for wait in waits)
    assert late
    assert sorted(reasons.late()) == sorted(late)
    for case in late:
        steps = reasons.path(case)
        for before, after in pairwise(steps):
            gap = reasons.at[after.stage].start - reasons.at[before.stage].end
            assert sum(wait.minutes for wait in after.waits) == gap
        chain = reasons.chain(case)
        assert chain[0].of == max(reasons.own[case], key=lambda key: (reasons.at[key].end, key))
        assert all(a.wait.other == b.of for a, b in pairwise(chain))


def test_reasons_are_said_in_words() -> None:
    wait = Wait("hands", 0, 75, "b1", "Ada")

    assert say_link(Link("a2", wait)) == "a2 waits: 1 h 15 min while Ada does “b1”."
    assert say_stage("a2", (wait, Wait("van", 75, 135))) == (
        "a2 waits: 1 h 15 min while Ada does “b1”; 1 hour until the next van."
    )
    assert say_stage("a2", ()) == "a2 waits for nothing."
    assert [span(minutes) for minutes in (1, 59, 120, DAY, 2 * DAY + 65)] == [
        "1 minute", "59 minutes", "2 hours", "1 day", "2 d 1 h",
    ]  # fmt: skip
    assert set(SENTENCES) == set(WaitKind.__args__)
    # Whom a hold can wait for can be said, and what is said of a stage is a wait.
    assert {"", "rest", *(one.key for one in HOLD_WAITS_FOR)} == set(Until.__args__)
    assert set(Until.__args__) - {""} <= set(WaitKind.__args__)
