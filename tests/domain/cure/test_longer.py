"""A load held longer: its stages move one after the other, and what cannot be is said."""

from __future__ import annotations

from math import inf, nan

import pytest

from cases.domain.cure.longer import (
    end_minute,
    prolonged,
    stage_at,
    why_not_longer,
    wrong_minutes,
)
from cases.domain.cure.program import LONG, SHORT, Hold
from cases.domain.cure.timing import steps


def test_minutes_added_to_a_stage_move_everything_after_it() -> None:
    longer = prolonged(SHORT, {0: 45.0})

    assert longer.bath_minutes == SHORT.bath_minutes + 45
    assert [(step.kind, step.minute) for step in steps(longer)][1:3] == [
        ("boil", 195.0),
        ("take-out", 285.0),
    ]
    assert prolonged(SHORT, {}) == SHORT


@pytest.mark.parametrize(
    ("minute", "stage"), [(0, 0), (29, 0), (149, 0), (150, 1), (180, 1), (239, 1), (900, 1)]
)
def test_the_way_up_belongs_to_its_stage(minute: float, stage: int) -> None:
    assert stage_at(SHORT, minute) == stage


def test_a_stage_ends_after_those_before_it() -> None:
    assert [end_minute(SHORT, n) for n in (0, 1)] == [150.0, 240.0]


def test_a_stage_is_held_longer_only_where_the_maker_allows_and_never_at_a_boil() -> None:
    boil_in_the_mountains = Hold(88.0, 60.0, boil=True)

    assert why_not_longer(LONG.stages[0], 1, resumable=True) == ""
    assert "does not say that a cycle may be resumed" in why_not_longer(
        LONG.stages[0], 1, resumable=False
    )
    assert "Stage 2 is a boil" in why_not_longer(SHORT.stages[1], 2, resumable=True)
    assert "Stage 2 is a boil" in why_not_longer(boil_in_the_mountains, 2, resumable=True)


@pytest.mark.parametrize(
    ("minutes", "fine"),
    [(1, True), (1440, True), (0, False), (-5, False), (1441, False), (inf, False), (nan, False)],
)
def test_minutes_are_some_and_not_absurd(minutes: float, fine: bool) -> None:
    assert (wrong_minutes(minutes) == "") is fine
