from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.labour import Span, attended, total

T0 = datetime(2026, 12, 9, 9, 0, tzinfo=UTC)


def at(minute: float) -> datetime:
    return T0 + timedelta(minutes=minute)


def span(key: int, begin: float, end: float | None, *, who: int = 1, **more: float) -> Span:
    return Span(key, who, at(begin), None if end is None else at(end), **more)


def minutes(*spans: Span, now: float = 100) -> dict[int, float]:
    return {key: one.minutes for key, one in attended(spans, at(now)).items()}


def test_attended_alone_is_clock_time() -> None:
    assert minutes(span(1, 0, 23)) == {1: 23}


def test_attended_open_span_counts_up_to_now() -> None:
    assert minutes(span(1, 10, None), now=22) == {1: 12}


def test_attended_two_at_once_share_equally() -> None:
    assert minutes(span(1, 0, 20), span(2, 0, 20)) == {1: 10, 2: 10}


def test_attended_three_that_overlap_share_each_stretch() -> None:
    # 0–10 alone; 10–20 two; 20–30 three; 30–40 two; 40–60 the last alone.
    got = minutes(span(1, 0, 30), span(2, 10, 40), span(3, 20, 60))
    assert got[1] == pytest.approx(10 + 5 + 10 / 3)
    assert got[2] == pytest.approx(5 + 10 / 3 + 5)
    assert got[3] == pytest.approx(10 / 3 + 5 + 20)
    assert sum(got.values()) == pytest.approx(60)


def test_attended_says_how_many_others_at_most() -> None:
    found = attended([span(1, 0, 30), span(2, 10, 40), span(3, 20, 60)], at(60))
    assert [found[key].shared_with for key in (1, 2, 3)] == [2, 2, 2]
    assert attended([span(1, 0, 10), span(2, 10, 20)], at(60))[1].shared_with == 0


def test_attended_of_two_persons_is_not_shared() -> None:
    assert minutes(span(1, 0, 20), span(2, 0, 20, who=2)) == {1: 20, 2: 20}


def test_attended_touching_spans_do_not_overlap() -> None:
    assert minutes(span(1, 0, 10), span(2, 10, 25)) == {1: 10, 2: 15}


def test_attended_correction_wins_and_leaves_the_others_alone() -> None:
    found = attended([span(1, 0, 20, corrected=3.0), span(2, 0, 20)], at(60))
    assert (found[1].minutes, found[1].clock_minutes, found[1].corrected) == (3.0, 20.0, True)
    assert (found[2].minutes, found[2].corrected) == (10.0, False)


def test_attended_correction_to_nothing_counts() -> None:
    assert minutes(span(1, 0, 20, corrected=0.0)) == {1: 0.0}


def test_attended_end_before_begin_counts_nothing() -> None:
    assert minutes(span(1, 20, 10)) == {1: 0}


def test_attended_refuses_a_span_given_twice() -> None:
    with pytest.raises(ValueError, match="twice"):
        attended([span(1, 0, 5), span(1, 5, 9)], at(9))


def test_total_adds_the_spans_asked_for() -> None:
    found = attended([span(1, 0, 5), span(2, 5, 9), span(3, 9, 10)], at(10))
    assert total(found, [1, 3]) == 6


@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), max_size=8))
def test_attended_never_gives_more_than_the_clock(pairs: list[tuple[int, int]]) -> None:
    spans = [span(n, min(pair), max(pair)) for n, pair in enumerate(pairs)]
    found = attended(spans, at(300))
    covered = {m for a, b in pairs for m in range(min(a, b), max(a, b))}
    assert sum(one.minutes for one in found.values()) == pytest.approx(len(covered))
    assert all(one.minutes <= one.clock_minutes + 1e-9 for one in found.values())
