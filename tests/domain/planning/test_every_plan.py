"""Tiny labs with a bath, a least and a longest wait, a thing that is held, and work done together,
against every plan that there is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from cases.domain.planning.improve import improve
from cases.domain.planning.problem import (
    After,
    Bath,
    Case,
    Held,
    Person,
    Problem,
    Program,
    Stage,
    Thing,
)
from cases.domain.planning.verify import verify
from tests.domain.planning.every_plan import NEVER, EveryPlan

UNTIL = 26
BOTH = (("wax", 1.0), ("pack", 1.0))
ADA = Person("Ada", BOTH, ((0, 200),))
BO = Person("Bo", (("wax", 1.5),), ((0, 200),))


def cases_of(random: Random, names: str) -> tuple[Case, ...]:
    return tuple(Case(name, random.randint(3, 9), random.choice((1.0, 2.0, 4.0))) for name in names)


def attended(key: str, minutes: int, skill: str, *after: After, **facts: object) -> Stage:
    return replace(Stage(key, key[0], "attended", minutes, skill, after=after), **facts)


def with_bath(seed: int) -> Problem:
    """Three pieces, each waxed and then cured in the one bath, which takes two at once."""
    random = Random(seed)
    stages: list[Stage] = []
    for name in "abc":
        stages += [
            attended(f"{name} wax", random.randint(1, 3), "wax"),
            Stage(f"{name} cure", name, "load", 0, "pack", after=(After(f"{name} wax"),),
                  program="short"),
        ]  # fmt: skip
    return Problem(
        cases_of(random, "abc"), tuple(stages), (ADA,),
        programs=(Program("short", 5, hands=1),), baths=(Bath("bath", 2, ("short",)),),
    )  # fmt: skip


def alone_in_the_bath(problem: Problem) -> Problem:
    """The same with a bath for each piece."""
    return replace(problem, baths=tuple(Bath(f"bath {at}", 1, ("short",)) for at in range(3)))


def with_longest_wait(seed: int) -> Problem:
    """Two pieces: dough is mixed, rests, and is packed within a minute of being ready."""
    random = Random(seed)
    stages: list[Stage] = []
    for name in "ab":
        stages += [
            attended(f"{name} mix", random.randint(1, 2), "wax"),
            attended(f"{name} pack", random.randint(2, 4), "pack",
                     After(f"{name} mix", 2, 3)),
            attended(f"{name} trim", random.randint(1, 3), "wax", After(f"{name} pack")),
        ]  # fmt: skip
    return Problem(cases_of(random, "ab"), tuple(stages), (ADA,))


def without_longest_wait(problem: Problem) -> Problem:
    """The same with all the time in the world."""
    return replace(
        problem,
        stages=tuple(
            replace(one, after=tuple(replace(after, most=None) for after in one.after))
            for one in problem.stages
        ),
    )


def with_thing(seed: int) -> Problem:
    """Three pieces that need the one flask from packing until they are cool."""
    random = Random(seed)
    stages: list[Stage] = []
    for name in "abc":
        stages += [
            attended(f"{name} pack", random.randint(1, 3), "wax"),
            Stage(f"{name} cool", name, "unattended", random.randint(1, 3),
                  after=(After(f"{name} pack"),)),
        ]  # fmt: skip
    return Problem(
        cases_of(random, "abc"), tuple(stages), (ADA, BO), things=(Thing("flask", 1),),
        held=tuple(Held("flask", f"{name} pack", f"{name} cool", rest=1) for name in "abc"),
    )  # fmt: skip


def with_flasks(problem: Problem) -> Problem:
    """The same with a flask for each piece."""
    return replace(problem, things=(Thing("flask", 3),))


def with_cast(seed: int) -> Problem:
    """Two cases of which each has one cast, wanted at two stages that wait for neither; a third
    has none."""
    random = Random(seed)
    stages = [attended("c trim", random.randint(1, 4), "wax")]
    for name in "ab":
        stages += [
            attended(f"{name} bend", random.randint(1, 3), "wax"),
            attended(f"{name} set", random.randint(1, 3), "wax"),
        ]
    wanting = [f"{name} {what}" for name in "ab" for what in ("bend", "set")]
    return Problem(
        cases_of(random, "abc"), tuple(stages), (ADA, BO),
        things=(Thing("cast a"), Thing("cast b")),
        held=tuple(Held(f"cast {key[0]}", key, key, rest=2) for key in wanting),
    )  # fmt: skip


def with_two_casts(problem: Problem) -> Problem:
    """The same with a cast for each stage."""
    return replace(problem, things=(Thing("cast a", 2), Thing("cast b", 2)))


def with_batch(seed: int) -> Problem:
    """Three pieces that may be poured together, two at once, and are trimmed one by one."""
    random = Random(seed)
    setup = random.randint(1, 3)
    stages: list[Stage] = []
    for name in "abc":
        stages += [
            attended(f"{name} pour", setup + random.randint(1, 2), "wax", batch="pour",
                     setup=setup),
            attended(f"{name} trim", random.randint(1, 3), "wax", After(f"{name} pour", 1)),
        ]  # fmt: skip
    return Problem(
        cases_of(random, "abc"), tuple(stages), (ADA,), batch_limits=(("pour", 2),)
    )  # fmt: skip


def one_by_one(problem: Problem) -> Problem:
    """The same with nothing done together."""
    return replace(problem, batch_limits=(("pour", 1),))


def whole_course(seed: int) -> Problem:
    """Two pieces with all of it: waxed together or not, rested and packed in time in the one flask,
    rested under the clamp, cured."""
    random = Random(seed)
    stages: list[Stage] = []
    for name in "ab":
        stages += [
            attended(f"{name} wax", 1 + random.randint(1, 2), "wax", batch="wax", setup=1),
            attended(f"{name} pack", random.randint(1, 2), "pack", After(f"{name} wax", 1, 3)),
            Stage(f"{name} cure", name, "load", 0, "pack", after=(After(f"{name} pack", 2, 4),),
                  program="short"),
        ]  # fmt: skip
    return Problem(
        cases_of(random, "ab"), tuple(stages), (ADA, BO), things=(Thing("flask", 1),),
        held=tuple(Held("flask", f"{name} pack", f"{name} cure") for name in "ab"),
        programs=(Program("short", 3, hands=1),), baths=(Bath("bath", 2, ("short",)),),
        batch_limits=(("wax", 2),),
    )  # fmt: skip


def without_least_wait(problem: Problem) -> Problem:
    """The same with nothing that has to rest."""
    return replace(
        problem,
        stages=tuple(
            replace(one, after=tuple(replace(after, least=0) for after in one.after))
            for one in problem.stages
        ),
    )


Make, Other = Callable[[int], Problem], Callable[[Problem], Problem]
LABS: dict[str, tuple[Make, Other]] = {
    "a bath and its loads": (with_bath, alone_in_the_bath),
    "a longest wait": (with_longest_wait, without_longest_wait),
    "a flask": (with_thing, with_flasks),
    "the one cast": (with_cast, with_two_casts),
    "done together": (with_batch, one_by_one),
    "all of it": (whole_course, with_flasks),
}
SEEDS = range(8)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", LABS)
def test_no_plan_of_a_tiny_lab_is_better_than_the_planners(name: str, seed: int) -> None:
    problem = LABS[name][0](seed)
    best = EveryPlan(problem, UNTIL).least()

    plan = improve(problem, rounds=40, work=2.0)

    assert best < NEVER
    assert verify(problem, plan) == []
    assert plan.unplanned == ()
    assert plan.lateness == best


@pytest.mark.parametrize(
    ("make", "other"),
    [*LABS.values(), (whole_course, without_least_wait)],
    ids=[*LABS, "the least waits of all of it"],
)
def test_in_these_labs_the_rule_decides(make: Make, other: Other) -> None:
    decides = [
        EveryPlan(make(seed), UNTIL).least() != EveryPlan(other(make(seed)), UNTIL).least()
        for seed in SEEDS
    ]

    assert sum(decides) >= 4


def test_every_plan_by_hand() -> None:
    """b first, from 0 to 2, then a until 5, two late; or a until 3 and b until 5, three late."""
    cases = (Case("a", 3), Case("b", 2))
    problem = Problem(cases, (attended("a1", 3, "wax"), attended("b1", 2, "wax")), (ADA,))

    assert EveryPlan(problem, UNTIL).least() == 2
    # A second hand at half the pace again does b by 3 while Ada does a: one late.
    assert EveryPlan(replace(problem, persons=(ADA, BO)), UNTIL).least() == 1
    assert EveryPlan(problem, 4).least() == NEVER
