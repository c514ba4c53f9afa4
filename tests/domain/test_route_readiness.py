"""What may begin now: waits, latest starts, send-backs and skips, and the change of the clocks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.route import (
    PlannedEdge,
    StageFact,
    default_template,
    grow,
    nearest_open,
    reachable,
    readiness,
)

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
POUR_TRIM = PlannedEdge("pour", "trim", 60, 120, 45)


def _at(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def _done(key: str, minutes: float) -> StageFact:
    return StageFact(key, open=False, ended_at=_at(minutes))


def _skipped(key: str, minutes: float) -> StageFact:
    return StageFact(key, open=False, ended_at=_at(minutes), skipped=True)


def _open(key: str) -> StageFact:
    return StageFact(key, open=True, ended_at=None)


def test_stage_waits_for_its_open_predecessor() -> None:
    found = readiness([_open("pour"), _open("trim")], [POUR_TRIM], NINE)

    assert found["pour"].ready
    assert found["pour"].ready_at is None
    assert not found["trim"].ready
    assert found["trim"].waits_for == ("pour",)
    assert found["trim"].ready_at is None


@pytest.mark.parametrize(("minutes", "ready"), [(59.9, False), (60, True), (61, True)])
def test_stage_is_ready_when_the_wait_is_over_to_the_minute(minutes: float, ready: bool) -> None:
    found = readiness([_done("pour", 0), _open("trim")], [POUR_TRIM], _at(minutes))

    assert found["trim"].ready is ready
    assert found["trim"].ready_at == _at(60)
    assert found["trim"].may_from == _at(45)
    assert found["trim"].latest_at == _at(120)
    assert found["trim"].waits_for == ()


def test_last_wait_and_earliest_limit_decide() -> None:
    edges = [
        PlannedEdge("mount", "teeth", 30, 600),
        PlannedEdge("clasps", "teeth", 0, 90),
        PlannedEdge("bar", "teeth", 5, None),
    ]
    facts = [_done("mount", 0), _done("clasps", 10), _done("bar", 40), _open("teeth")]

    found = readiness(facts, edges, _at(44))["teeth"]

    assert (found.ready, found.ready_at, found.latest_at) == (False, _at(45), _at(100))


def test_limit_runs_while_another_predecessor_is_open() -> None:
    edges = [PlannedEdge("a", "c", 0, 30), PlannedEdge("b", "c", 0, None)]

    found = readiness([_done("a", 0), _open("b"), _open("c")], edges, NINE)["c"]

    assert (found.waits_for, found.latest_at, found.ready_at) == (("b",), _at(30), None)


def test_limit_from_outside_counts_when_it_is_earlier() -> None:
    facts, pour_by = [_done("pour", 0), _open("trim"), _open("send")], _at(100)

    found = readiness(
        facts, [POUR_TRIM], NINE, latest={"trim": pour_by, "send": _at(500), "pour": NINE}
    )

    assert found["trim"].latest_at == pour_by
    assert found["send"].latest_at == _at(500)
    assert "pour" not in found
    assert readiness(facts, [POUR_TRIM], NINE, latest={"trim": _at(999)})["trim"].latest_at == (
        _at(120)
    )


def test_stage_awaiting_a_countersign_releases_nothing() -> None:
    awaiting = StageFact("pour", open=False, ended_at=None)

    found = readiness([awaiting, _open("trim")], [POUR_TRIM], _at(500))

    assert found["trim"].waits_for == ("pour",)
    assert "pour" not in found


CHAIN = [
    PlannedEdge("survey", "block-out", 0, None),
    PlannedEdge("block-out", "clasps", 20, None),
    PlannedEdge("clasps", "teeth", 0, None),
]


def test_stage_behind_one_left_standing_waits_for_the_reopened_one() -> None:
    facts = [_done("survey", 0), _open("block-out"), _done("clasps", 60), _open("teeth")]

    found = readiness(facts, CHAIN, _at(90))

    assert found["block-out"].ready
    assert found["teeth"].waits_for == ("block-out",)


def test_wait_of_a_stage_done_again_counts_behind_one_left_standing() -> None:
    facts = [_done("survey", 0), _done("block-out", 100), _done("clasps", 60), _open("teeth")]

    found = readiness(facts, CHAIN, _at(119))["teeth"]

    assert (found.ready, found.ready_at) == (False, _at(120))


def test_stage_begun_by_the_least_wait_delays_nothing_after_it() -> None:
    edges = [POUR_TRIM, PlannedEdge("trim", "survey", 0, None)]

    found = readiness([_done("pour", 0), _done("trim", 54), _open("survey")], edges, _at(54))

    assert found["survey"].ready_at == _at(54)
    assert found["survey"].ready


def test_skipped_stage_hands_on_the_wait_before_it_and_asks_none_itself() -> None:
    edges = [
        PlannedEdge("disinfect", "pour", 10, 25),
        POUR_TRIM,
    ]

    found = readiness([_done("disinfect", 0), _skipped("pour", 3), _open("trim")], edges, _at(5))

    assert found["trim"].ready_at == _at(10)
    assert found["trim"].latest_at == _at(25)


def test_skipped_first_stage_releases_at_once() -> None:
    found = readiness([_skipped("pour", 0), _open("trim")], [POUR_TRIM], NINE)["trim"]

    assert (found.ready, found.ready_at, found.latest_at) == (True, NINE, None)


def test_stage_skipped_early_releases_nothing_before_its_predecessors() -> None:
    found = readiness([_open("survey"), _skipped("block-out", 0), _open("clasps")], CHAIN, NINE)

    assert found["clasps"].waits_for == ("survey",)


def test_edges_to_stages_that_fell_away_are_ignored() -> None:
    assert readiness([_open("trim")], [POUR_TRIM], NINE)["trim"].ready


def test_closed_stages_are_not_reported() -> None:
    assert readiness([_done("pour", 0)], [], NINE) == {}


@pytest.mark.parametrize(
    ("poured", "ready"),
    [
        # Spring: 02:00 becomes 03:00, so an hour from 01:30 is 03:30 on the wall.
        ("2026-03-29T01:30", "2026-03-29T03:30"),
        # Autumn: 03:00 becomes 02:00; an hour after the first 02:30 is the second 02:30.
        ("2026-10-25T02:30", "2026-10-25T02:30"),
        ("2026-12-31T23:30", "2027-01-01T00:30"),
    ],
)
def test_wait_is_an_hour_of_real_time_when_the_clocks_change(poured: str, ready: str) -> None:
    zone = ZoneInfo("Europe/Berlin")
    ended = datetime.fromisoformat(poured).replace(tzinfo=zone)
    facts = [StageFact("pour", open=False, ended_at=ended), _open("trim")]

    found = readiness(facts, [POUR_TRIM], ended.astimezone(UTC) + timedelta(minutes=59))["trim"]

    assert found.ready_at == ended.astimezone(UTC) + timedelta(hours=1)
    assert found.ready_at is not None
    assert found.ready_at.astimezone(zone).strftime("%Y-%m-%dT%H:%M") == ready
    assert not found.ready


def test_instants_without_a_zone_are_refused() -> None:
    naive = datetime(2026, 3, 2, 9, 0)  # noqa: DTZ001

    with pytest.raises(ValueError, match="time zone"):
        readiness([], [], naive)
    with pytest.raises(ValueError, match="end of pour needs a time zone"):
        readiness([StageFact("pour", open=False, ended_at=naive)], [], NINE)


ROUTE = grow(
    default_template(),
    WorkOrder(bite="rim", try_in=True),
    Design(
        arch="lower",
        missing=frozenset({36, 46}),
        replaced=frozenset({36, 46}),
        clasps=(Clasp(35), Clasp(45)),
        bar=True,
        method="wax-then-copy",
        needs_agreement=True,
    ),
)


@given(st.data())
def test_case_worked_off_in_any_ready_order_reaches_its_end(data: st.DataObject) -> None:
    ended: dict[str, datetime] = {}
    now = NINE
    while len(ended) < len(ROUTE.keys):
        facts = [StageFact(key, key not in ended, ended.get(key)) for key in ROUTE.keys]
        found = readiness(facts, ROUTE.edges, now)
        ready = [key for key, state in found.items() if state.ready]
        if not ready:
            now = min(state.ready_at for state in found.values() if state.ready_at)
            continue
        key = data.draw(st.sampled_from(ready))
        for edge in ROUTE.edges:
            if edge.after == key:
                assert now >= ended[edge.before] + timedelta(minutes=edge.min_wait)
        now += timedelta(minutes=ROUTE.stage(key).minutes)
        ended[key] = now

    assert set(ended) == reachable(ROUTE.edges, "receive")


def test_the_nearest_open_stages_stand_also_behind_what_was_left_standing() -> None:
    edges = [("survey", "agree"), ("agree", "block-out"), ("block-out", "clasps"), ("x", "clasps")]
    assert nearest_open(edges, {"agree", "clasps"}, "clasps") == {"agree"}
    assert nearest_open(edges, {"survey", "agree", "x"}, "clasps") == {"agree", "x"}
    assert nearest_open(edges, set(), "clasps") == set()
