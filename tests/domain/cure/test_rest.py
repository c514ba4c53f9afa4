"""The rest before the bath: the maker's beats the route's; unknown programs leave a range."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.cure.program import LONG, Program
from cases.domain.cure.rest import Rest, rest_before

ROUTE = Rest(30, 20, 360)


def resting(minutes: float) -> Program:
    return replace(LONG, bench_rest_minutes=minutes)


@pytest.mark.parametrize(
    ("programs", "rest"),
    [
        ([], ROUTE),
        ([60], Rest(60, 60, 360)),
        ([10], Rest(10, 10, 360)),
        ([0], ROUTE),
        ([60, 45], Rest(60, 45, 360)),
        ([60, 0], Rest(60, 20, 360)),
        ([10, 0], Rest(30, 10, 360)),
    ],
)
def test_program_beats_the_route(programs: list[float], rest: Rest) -> None:
    assert rest_before([resting(minutes) for minutes in programs], ROUTE) == rest


@pytest.mark.parametrize(("minutes", "most"), [(359, 360), (360, None), (720, None)])
def test_limit_falls_away_where_the_maker_asks_for_more(minutes: float, most: float | None) -> None:
    assert rest_before([resting(minutes)], ROUTE).most == most


def test_route_without_a_limit_gets_none() -> None:
    assert rest_before([resting(60)], Rest(30, 30)) == Rest(60, 60, None)
