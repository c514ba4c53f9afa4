"""The bench's four check sums for the minutes of a whole case, and what a batch saves."""

from __future__ import annotations

import pytest

from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.route import Route, batch_minutes, default_template, grow

FREE_ENDS = frozenset({35, 36, 37, 45, 46, 47})
TWO_FACES = frozenset({(34, "distal"), (44, "distal")})
FIVE_FACES = TWO_FACES | {(34, "lingual"), (44, "lingual"), (43, "lingual")}
BOTH_SIDES = {
    "arch": "lower",
    "missing": FREE_ENDS,
    "replaced": FREE_ENDS,
    "clasps": (Clasp(34), Clasp(44)),
    "bar": True,
}
FRONT = frozenset({12, 11, 21, 22})


def _route(order: WorkOrder, design: Design) -> Route:
    return grow(default_template(), order, design)


# Mounted, no try-in, a bath load of one flask counted as 4, disinfection not proven, two casts.
CASES = {
    "A": (
        358,
        WorkOrder(bite="rim"),
        Design(**BOTH_SIDES, blocked=TWO_FACES, method="plaster"),  # type: ignore[arg-type]
    ),
    "B": (
        370,
        WorkOrder(polish="none"),
        Design(**BOTH_SIDES, blocked=FIVE_FACES, method="wax-then-copy"),  # type: ignore[arg-type]
    ),
    "C": (
        318,
        WorkOrder(),
        Design(
            arch="upper",
            missing=FRONT,
            replaced=FRONT,
            extracted=frozenset({11, 21}),
            clasps=(Clasp(16), Clasp(26)),
            blocked=frozenset({(13, "mesial")}),
            method="plaster",
        ),
    ),
    "D": (
        270,
        WorkOrder(),
        Design(
            arch="upper",
            missing=frozenset({15}),
            replaced=frozenset({15}),
            clasps=(Clasp(14), Clasp(16)),
            method="none",
        ),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_route_minutes_add_up_to_the_check_sum(name: str) -> None:
    minutes, order, design = CASES[name]

    assert _route(order, design).minutes == minutes


def test_batch_shares_the_fixed_part_only() -> None:
    _minutes, order, design = CASES["A"]
    pack = _route(order, design).stage("pack")

    assert pack.minutes == 24
    assert batch_minutes([pack] * 3) == 20 + 3 * 4


def test_load_takes_one_more_minute_a_flask() -> None:
    _minutes, order, design = CASES["A"]
    cure = _route(order, design).stage("cure")

    assert [batch_minutes([cure] * flasks) for flasks in (0, 1, 2, 6)] == [0, 4, 5, 9]


def test_stage_that_is_no_batch_shares_nothing() -> None:
    _minutes, order, design = CASES["A"]
    survey = _route(order, design).stage("survey")

    assert batch_minutes([survey, survey]) == 2 * survey.minutes


def test_batch_is_of_one_stage() -> None:
    route = _route(*CASES["A"][1:])

    with pytest.raises(ValueError, match="one stage at a time"):
        batch_minutes([route.stage("pour"), route.stage("pack")])
