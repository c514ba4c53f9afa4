"""Stations, flasks, articulators, the one cast, baths and what is in them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.domain.cure.program import LONG, SHORT, as_json
from cases.domain.planning import problem as plan
from cases.models import (
    Bath,
    Case,
    CureProgram,
    Load,
    LoadFlask,
    Mix,
    Occupied,
    Resin,
    Station,
    Thing,
)
from cases.selectors.planning.build import build
from cases.selectors.planning.places import thing_key
from cases.selectors.planning.work import stage_key
from cases.services.plan import pin_stage
from cases.services.record import Recorder
from tests.factories import NOW, Shop, make_shop, rows
from tests.selectors.planning.small import (
    Step,
    after,
    ago,
    change,
    make_small,
    read,
    solve,
    stage_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def holds(thing: str, until: str) -> dict[str, Any]:
    return {"holds": [{"thing": thing, "until": until}]}


def leave(kind: str, count: int) -> None:
    """Let the lab have so many of a kind."""
    for thing in Thing.objects.filter(kind=kind)[count:]:
        change(thing, state="gone")


def held(kind: str) -> list[plan.Held]:
    return [one for one in build(NOW).problem.held if one.thing == thing_key(kind)]


def flasked(shop: Shop, ref: str) -> Case:
    """Return a case that holds a flask from its first stage to its last, 30 minutes each."""
    return make_small(
        shop, Step("one", spec=holds("flask", "three")), Step("two", 45, "unattended"),
        Step("three"), edges=[after("one", "two"), after("two", "three")], ref=ref,
    )  # fmt: skip


def test_station_has_its_count(shop: Shop) -> None:
    change(Station.objects.get(key="bench"), count=1)
    cases = [
        make_small(shop, Step("one", facts={"station": "bench"}), ref=ref) for ref in ("Q-1", "Q-2")
    ]

    solved = solve()

    assert sorted(solved.span(case, "one") for case in cases) == [(0, 30), (30, 60)]


@pytest.mark.parametrize("station", ["attic", "any"])
def test_station_that_is_no_place_stops_nothing(shop: Shop, station: str) -> None:
    case = make_small(shop, Step("one", facts={"station": station}))

    assert read(case, "one").station == ""


def test_next_case_waits_for_the_only_flask(shop: Shop) -> None:
    leave("flask", 1)
    one, other = flasked(shop, "Q-1"), flasked(shop, "Q-2")

    solved = solve()

    first, second = sorted((one, other), key=lambda case: solved.span(case, "one"))
    assert solved.span(first, "three") == (75, 105)
    assert solved.span(second, "one") == (105, 135)


def occupy(case: Case, kind: str, start: str, until: str) -> Thing:
    """Let a case have a thing of a kind."""
    free = Thing.objects.filter(kind=kind, state="in-use").exclude(
        pk__in=Occupied.objects.values("thing")
    )
    thing: Thing = free[0]
    rows(
        lambda record: {
            "row": record.create(
                Occupied, thing=thing, case=case, from_stage=start, until_stage=until, since=NOW
            )
        }
    )
    return thing


def begun(case: Case) -> None:
    change(stage_of(case, "one"), state="done", started_at=ago(40), ended_at=ago(10))


def test_flask_that_a_case_has_is_free_after_its_last_stage(shop: Shop) -> None:
    leave("flask", 1)
    one, other = flasked(shop, "Q-1"), flasked(shop, "Q-2")
    begun(one)
    occupy(one, "flask", "one", "three")

    solved = solve()

    assert held("flask")[0] == plan.Held(thing_key("flask"), "", read(one, "three").key)
    assert solved.span(one, "three") == (45, 75)
    assert solved.span(other, "one") == (75, 105)


def test_thing_that_was_not_freed_is_held_until_the_case_is_done(shop: Shop) -> None:
    case = flasked(shop, "Q-1")
    begun(case)
    occupy(case, "flask", "one", "one")

    assert held("flask") == [plan.Held(thing_key("flask"), "", read(case, "three").key)]


def test_thing_out_of_use_in_the_hands_of_a_case_breaks_no_plan(shop: Shop) -> None:
    leave("flask", 2)
    for ref in ("Q-1", "Q-2"):
        case = flasked(shop, ref)
        begun(case)
        thing = occupy(case, "flask", "one", "three")
    change(thing, state="gone")

    assert solve().plan.unplanned == ()


def test_articulator_is_free_when_the_wait_after_its_stage_is_over(shop: Shop) -> None:
    leave("articulator", 1)
    cases = [
        make_small(
            shop, Step("one", spec=holds("articulator", "wait")), Step("two"),
            edges=[after("one", "two", 60)], ref=ref,
        )
        for ref in ("Q-1", "Q-2")
    ]  # fmt: skip

    solved = solve()

    assert [one.rest for one in held("articulator")] == [60, 60]
    assert sorted(solved.at(case, "one").start for case in cases) == [0, 90]


def test_the_lab_that_lists_no_clamps_is_not_kept_by_them(shop: Shop) -> None:
    leave("clamp", 0)
    make_small(shop, Step("one", spec=holds("clamp", "finish")))

    assert held("clamp") == []


def test_one_cast_is_in_one_pair_of_hands(shop: Shop) -> None:
    case = make_small(shop, Step("one", spec={"needs_cast": True}),
                      Step("two", spec={"needs_cast": True}), Step("three"))  # fmt: skip

    solved = solve()

    assert sorted(solved.span(case, key) for key in ("one", "two")) == [(0, 30), (30, 60)]
    assert solved.span(case, "three") == (0, 30)


def test_cast_on_which_plaster_sets_is_in_nobodys_hands(shop: Shop) -> None:
    mounting = {"needs_cast": True, **holds("cast", "wait")}
    case = make_small(
        shop,
        Step("mount", spec=mounting), Step("sets", 10), Step("wax", spec={"needs_cast": True}),
        edges=[after("mount", "sets", 60)],
    )  # fmt: skip
    change(stage_of(case, "mount"), state="done", started_at=ago(30), ended_at=ago(15))

    assert read(case, "wax").not_before == 45


# ── baths ────────────────────────────────────────────────────────────────────


@pytest.fixture
def resin() -> Resin:
    """A resin with a long and a short program."""

    def make(record: Recorder) -> dict[str, Any]:
        resin = record.create(Resin, name="Rosewater 3", source="leaflet of 2026")
        for name, program in (("long", LONG), ("short", SHORT)):
            record.create(
                CureProgram, resin=resin, name=name, version=1, document=as_json(program),
                saved_at=NOW,
            )  # fmt: skip
        return {"resin": resin}

    found: Resin = rows(make)["resin"]
    return found


def program(name: str) -> CureProgram:
    return CureProgram.objects.get(name=name)


def cured(shop: Shop, ref: str = "Q-1") -> Case:
    """Return a case that is cured and then finished."""
    return make_small(
        shop, Step("cure", 6, "load"), Step("cool"), edges=[after("cure", "cool", 540)], ref=ref
    )


def load(case: Case, name: str, shop: Shop, state: str, begun: float = 0) -> Load:
    """Let a case be in a load of a program."""

    def make(record: Recorder) -> dict[str, Any]:
        facts: dict[str, Any] = {}
        if state == "running":
            ends = ago(begun) + timedelta(minutes=200)
            facts = {"placed_at": ago(begun), "ends_at": ends}
        row = record.create(
            Load, number=1, bath=Bath.objects.get(), program=program(name), state=state,
            made_at=ago(begun), **facts,
        )  # fmt: skip
        record.create(
            LoadFlask, load=row, case=case, stage=stage_of(case, "cure"), attempt=1,
            added_at=ago(begun),
        )  # fmt: skip
        return {"row": row}

    found: Load = rows(make)["row"]
    return found


def test_lab_without_programs_cures_as_long_as_the_route_says(shop: Shop) -> None:
    case = cured(shop)

    solved = solve()

    begins, ends = solved.span(case, "cure")
    assert ends - begins == 540
    assert solved.at(case, "cure").bath == f"b{Bath.objects.get().pk}"
    assert build(NOW).problem.programs == (plan.Program("route", 540, 6),)


def test_cases_share_a_load(shop: Shop) -> None:
    one, other = cured(shop), cured(shop, "Q-2")

    solved = solve()

    assert solved.at(one, "cure").together == solved.at(other, "cure").together


def test_load_begins_when_somebody_decided_and_takes_along_what_is_ready(shop: Shop) -> None:
    one, other = cured(shop), cured(shop, "Q-2")
    pinned = solve().span(one, "cure")[0] + 90

    pin_stage(
        shop.envelope("pavo"), stage=stage_of(one, "cure").pk,
        begins_at=(NOW + timedelta(minutes=pinned)).isoformat(),
    )  # fmt: skip
    solved = solve()

    assert solved.span(one, "cure")[0] == pinned
    assert solved.at(one, "cure").together == solved.at(other, "cure").together


def test_cure_takes_the_minutes_of_its_program(shop: Shop, resin: Resin) -> None:
    case = cured(shop)

    begins, ends = solve().span(case, "cure")

    assert read(case, "cure").program == f"c{program('long').pk}"
    assert ends - begins == round(LONG.bath_minutes)


def test_cure_has_the_program_of_the_load_it_is_gathered_for(shop: Shop, resin: Resin) -> None:
    case = cured(shop)
    load(case, "short", shop, "gathering")

    assert read(case, "cure").program == f"c{program('short').pk}"


def test_cure_has_a_program_of_the_resin_that_was_mixed(shop: Shop, resin: Resin) -> None:
    case = cured(shop)

    def make(record: Recorder) -> dict[str, Any]:
        other = record.create(Resin, name="Harebell", source="leaflet of 2026")
        record.create(
            CureProgram, resin=other, name="own", version=1, document=as_json(SHORT), saved_at=NOW
        )
        record.create(
            Mix, case=case, stage=stage_of(case, "cure"), attempt=1, resin=other, mixed_at=NOW,
            by=shop.people["mara"],
        )  # fmt: skip
        return {}

    rows(make)

    assert read(case, "cure").program == f"c{program('own').pk}"


def test_what_is_in_the_bath_stays_until_its_time(shop: Shop, resin: Resin) -> None:
    case, other = cured(shop), cured(shop, "Q-2")
    load(case, "short", shop, "running", begun=50)
    change(stage_of(case, "cure"), state="done", started_at=ago(50), ended_at=ago(50))

    solved = solve()

    bath = f"b{Bath.objects.get().pk}"
    assert read(case, "cure").running == plan.Running(-50, 150, bath=bath)
    assert solved.at(case, "cool").start == 150
    assert solved.at(other, "cure").start >= 150


def test_bath_that_is_over_is_in_use_until_somebody_empties_it(shop: Shop, resin: Resin) -> None:
    case = cured(shop)
    load(case, "short", shop, "running", begun=500)

    assert read(case, "cure").running == plan.Running(-500, 1, bath=f"b{Bath.objects.get().pk}")


def test_bath_that_gets_not_hot_enough_runs_what_it_can(shop: Shop, resin: Resin) -> None:
    change(Bath.objects.get(), highest_c=20.0)
    case = cured(shop)

    words = dict(solve().plan.unplanned)[stage_key(stage_of(case, "cure").pk)]

    assert "No bath can run the program" in words
    assert "“long”" in build(NOW).said(words)
