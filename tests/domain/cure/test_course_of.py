"""When each step of one load falls due: late flasks are cool late."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from cases.domain.cure.program import LONG
from cases.domain.cure.timing import course_of, steps

BEGAN = datetime(2026, 12, 8, 21, 30, tzinfo=UTC)
DUE = BEGAN + timedelta(minutes=LONG.bath_minutes)
COOLS = timedelta(minutes=LONG.cooling_minutes)


def last(now: datetime, left: datetime | None = None) -> tuple[datetime, bool]:
    found = course_of(LONG, BEGAN, now, started=True, left=left)[-1]
    assert found.step.kind == "may-open"
    return found.at, found.done


def test_before_the_start_the_steps_follow_the_program() -> None:
    found = course_of(LONG, BEGAN, BEGAN - timedelta(hours=1), started=False, left=None)

    assert [due.at - BEGAN for due in found] == [
        timedelta(minutes=step.minute) for step in steps(LONG)
    ]
    assert not any(due.done for due in found)


def test_flasks_that_came_out_late_may_be_opened_late() -> None:
    late = DUE + timedelta(hours=2)

    assert last(DUE + COOLS, left=late) == (late + COOLS, False)
    assert last(late + COOLS, left=late) == (late + COOLS, True)


def test_flasks_that_are_still_in_are_cool_no_sooner_than_from_now() -> None:
    now = DUE + timedelta(hours=3)
    found = {due.step.kind: due for due in course_of(LONG, BEGAN, now, started=True, left=None)}

    assert (found["take-out"].at, found["take-out"].done) == (DUE, False)
    assert (found["may-open"].at, found["may-open"].done) == (now + COOLS, False)
