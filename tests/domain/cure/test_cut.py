"""After a power cut: made up only at the current stage, never at a boil, never by guessing."""

from __future__ import annotations

from math import ceil

import pytest

from cases.domain.cure.cut import Advice, advise, after_cut, as_seen
from cases.domain.cure.program import LONG, SHORT
from tests.domain.cure.test_verdict import CUT, run


def actions(*points: tuple[float, float]) -> list[tuple[str, str]]:
    found = after_cut(run(*points), SHORT.holds).stages
    return [(stage.state, stage.action) for stage in found]


def test_the_current_stage_is_extended_at_its_own_temperature() -> None:
    (stage,) = after_cut(CUT, LONG.holds).stages

    assert (stage.state, stage.action) == ("stopped", "extend")
    assert stage.minutes == pytest.approx(100.4, abs=1)


def test_what_is_not_begun_waits_for_what_lacks() -> None:
    assert actions((0, 23), (30, 74), (60, 74), (180, 40)) == [
        ("stopped", "extend"),
        ("not_begun", "run"),
    ]


def test_a_boil_is_done_again_whole() -> None:
    found = after_cut(run((0, 23), (30, 74), (150, 74), (180, 100), (190, 100)), SHORT.holds)

    assert [stage.action for stage in found.stages] == ["nothing", "repeat_stage"]
    assert found.stages[1].minutes == 60


def test_a_hold_cut_short_before_a_boil_is_for_people_to_judge() -> None:
    assert actions((0, 23), (30, 74), (50, 74), (80, 100), (90, 100))[0] == ("short", "inspect")


def test_a_cut_that_somebody_saw_is_reckoned_at_both_ends() -> None:
    trace = as_seen(LONG.points(), 180, 300, 46)

    (stage,) = after_cut(trace, LONG.holds).assessment.stages

    assert stage.got == pytest.approx(154.5 + 4, abs=4)
    assert stage.got_high == pytest.approx(154.5 + 120, abs=1)


@pytest.mark.parametrize(("off", "on"), [(0, 60), (600, 700), (180, 180), (180, 60)])
def test_a_cut_outside_the_program_is_refused(off: float, on: float) -> None:
    with pytest.raises(ValueError, match="while the program runs"):
        as_seen(LONG.points(), off, on, 46)


def advised(*points: tuple[float, float], clock: int = 0, resumable: bool = True) -> Advice:
    after = after_cut(run(*points), SHORT.holds, resumable=resumable)
    return advise(after, SHORT.holds, clock)


@pytest.mark.parametrize(
    ("points", "clock", "choice", "stage"),
    [
        (((0, 23), (30, 74), (60, 74), (180, 40)), 1, "longer", 0),
        (((0, 23), (30, 74), (150, 74), (180, 100), (190, 100)), 1, "repeat", 1),
        (((0, 23), (30, 74), (150, 74), (200, 40)), 1, "repeat", 1),
        (((0, 23), (30, 74), (150, 74)), 0, "as-is", 0),
        (((0, 23), (30, 74), (50, 74), (80, 100), (90, 100)), 1, "", 0),
    ],
    ids=["stopped", "stopped-at-the-boil", "boil-never-reached", "nothing-lacks", "boiled-early"],
)
def test_advice_is_for_the_first_stage_that_lacks(
    points: tuple[tuple[float, float], ...], clock: int, choice: str, stage: int
) -> None:
    found = advised(*points, clock=clock)

    assert (found.choice, found.stage) == (choice, stage)


def test_whole_stage_is_done_where_it_was_never_reached() -> None:
    found = advised((0, 23), (30, 74), (150, 74), (200, 40), clock=1)

    assert found.minutes == 60
    assert "run it whole, 60 min at 100 °C" in found.words


def test_maker_who_says_nothing_of_resuming_leaves_it_to_people() -> None:
    found = advised((0, 23), (30, 74), (60, 74), (180, 40), resumable=False)

    assert (found.choice, found.minutes) == ("", None)
    assert "does not say that a cycle may be resumed" in found.words
    allowed = advised((0, 23), (30, 74), (60, 74), (180, 40))
    assert allowed.minutes is not None
    assert f"lacks about {ceil(allowed.minutes)} min at 74 °C" in found.words


def test_boil_that_may_not_be_resumed_is_told_by_its_dose_and_never_in_minutes() -> None:
    found = advised((0, 23), (30, 74), (150, 74), (180, 100), (190, 100), clock=1, resumable=False)

    assert (found.choice, found.stage, found.minutes) == ("", 1, None)
    assert "of the 1242 equivalent minutes at 74 °C that the program would give." in found.words
    assert "min at 100 °C" not in found.words


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (((0, 23), (30, 74), (60, 74), (180, 40)), "out of its bath"),
        (((0, 23), (30, 74), (150, 74), (180, 100), (190, 100)), "out of its bath"),
        (((0, 23), (30, 74), (150, 74), (200, 40)), "never came to 100 °C. The load is out"),
    ],
    ids=["stopped", "stopped-at-the-boil", "boil-never-reached"],
)
def test_nothing_is_to_be_held_or_run_of_a_load_that_is_out(
    points: tuple[tuple[float, float], ...], words: str
) -> None:
    found = after_cut(run(*points), SHORT.holds, out=True)

    assert {stage.action for stage in found.stages} <= {"nothing", "inspect"}
    advice = advise(found, SHORT.holds, 0)
    assert (advice.choice, advice.minutes) == ("", None)
    assert words in advice.words


def test_bath_that_was_hotter_all_along_is_not_held_longer() -> None:
    found = after_cut(run((0, 77), (200, 77)), LONG.holds)

    assert [stage.action for stage in found.stages] == ["inspect"]
    assert "hotter than 74 °C all along" in advise(found, LONG.holds, 0).words


def test_nothing_is_credited_after_the_power_went_where_nobody_read_a_temperature() -> None:
    trace = as_seen(LONG.points(), 180, 300, None)

    (stage,) = after_cut(trace, LONG.holds).assessment.stages

    assert trace[-1] == (180 * 60, 74)
    assert stage.got == stage.got_high == pytest.approx(154.5, abs=1)
