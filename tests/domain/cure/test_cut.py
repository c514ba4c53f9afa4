"""After a power cut: made up only at the current stage, never at a boil, never by guessing."""

from __future__ import annotations

import pytest

from cases.domain.cure.cut import after_cut, as_seen, extend
from cases.domain.cure.program import LONG, SHORT
from tests.domain.cure.test_verdict import CUT, run


def actions(*points: tuple[float, float]) -> list[tuple[str, str]]:
    found = after_cut(run(*points), SHORT.holds).stages
    return [(stage.state, stage.action) for stage in found]


def test_the_current_stage_is_extended_at_its_own_temperature() -> None:
    (stage,) = after_cut(CUT, LONG.holds).stages

    assert (stage.state, stage.action) == ("stopped", "extend")
    assert stage.minutes == pytest.approx(100.4, abs=1)
    assert extend(CUT, LONG.holds, CUT[-1][0]) == stage.minutes


def test_what_is_not_begun_waits_for_what_lacks() -> None:
    assert actions((0, 23), (30, 74), (60, 74), (180, 40)) == [
        ("stopped", "extend"),
        ("not_begun", "run"),
    ]


def test_a_boil_is_done_again_whole() -> None:
    found = after_cut(run((0, 23), (30, 74), (150, 74), (180, 100), (190, 100)), SHORT.holds)

    assert [stage.action for stage in found.stages] == ["nothing", "repeat_stage"]
    assert found.stages[1].minutes == 60
    assert extend(run((0, 23), (30, 74), (150, 74), (180, 100)), SHORT.holds, 1e6) is None


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


def test_now_is_not_before_the_record() -> None:
    with pytest.raises(ValueError, match="another day"):
        extend(CUT, LONG.holds, 0)
