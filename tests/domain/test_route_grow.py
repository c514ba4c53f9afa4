"""Growing the work of one case: short routes, contraction, and any valid design."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain import teeth
from cases.domain.conditions import holds
from cases.domain.design import Bar, Clasp, Design, WorkOrder
from cases.domain.design_slips import flaws
from cases.domain.growth import contract, without_implied
from cases.domain.network import EdgeSpec
from cases.domain.route import (
    PlannedEdge,
    Route,
    default_template,
    grow,
    reachable,
    topological,
)

TEMPLATE = default_template()
PLAIN = Design(
    arch="lower",
    missing=frozenset({36}),
    replaced=frozenset({36}),
    clasps=(Clasp(35), Clasp(37)),
    blocked=frozenset({(35, "distal")}),
    method="plaster",
)


def _grow(order: WorkOrder, design: Design = PLAIN) -> Route:
    return grow(TEMPLATE, order, design)


def _edge(route: Route, before: str, after: str) -> PlannedEdge | None:
    return next((e for e in route.edges if (e.before, e.after) == (before, after)), None)


def test_kept_wax_index_leads_from_the_wires_to_the_wax() -> None:
    order = WorkOrder(kind="remake", remake_start="kept-wax-index", impressions_came=False)
    route = _grow(order)

    assert {(e.before, e.after) for e in route.edges if "index" in (e.before, e.after)} == {
        ("mount", "index"),
        ("clasps", "index"),
        ("index", "wax"),
    }
    mount = _edge(route, "mount", "index")
    assert mount is not None
    assert (mount.min_wait, mount.least_wait) == (30, 20)


@pytest.mark.parametrize(
    ("method", "sequence"),
    [
        ("none", ("survey", "block-out", "clasps")),
        ("plaster", ("survey", "block-out", "clasps")),
        ("wax-then-copy", ("survey", "block-out", "copy-mould", "copy-cast", "clasps")),
        ("copy-then-plaster", ("survey", "copy-mould", "copy-cast", "block-out", "clasps")),
    ],
)
def test_working_cast_is_ready_after_the_stage_of_its_method(
    method: str, sequence: tuple[str, ...]
) -> None:
    route = _grow(WorkOrder(), replace(PLAIN, method=method))  # type: ignore[arg-type]

    between = route.keys[route.keys.index("survey") : route.keys.index("clasps") + 1]
    assert tuple(key for key in between if key != "mount") == sequence
    assert all(_edge(route, before, after) for before, after in pairwise(sequence))
    assert _edge(route, sequence[-2], "mount") is not None


def test_agreement_holds_block_out_and_not_the_survey() -> None:
    route = _grow(WorkOrder(), replace(PLAIN, needs_agreement=True))

    assert _edge(route, "survey", "agree") is not None
    assert _edge(route, "agree", "block-out") is not None
    assert "survey" not in reachable(route.edges, "agree")


def test_plaster_needs_its_wait_and_relief_none() -> None:
    plaster = _edge(_grow(WorkOrder()), "block-out", "clasps")
    relief = _edge(
        _grow(WorkOrder(), replace(PLAIN, method="none", blocked=frozenset())),
        "block-out",
        "clasps",
    )

    assert plaster is not None
    assert relief is not None
    assert (plaster.min_wait, relief.min_wait) == (20, 0)


def test_alginate_alone_must_come_off_within_two_hours() -> None:
    alginate = _edge(_grow(WorkOrder(alginate=True)), "pour", "trim")
    silicone = _edge(_grow(WorkOrder(alginate=False)), "pour", "trim")

    assert alginate is not None
    assert silicone is not None
    assert (alginate.max_wait, silicone.max_wait) == (120, None)


def test_absent_disinfection_hands_on_its_predecessor_without_its_wait() -> None:
    route = _grow(WorkOrder(disinfection_proven=True))
    edge = _edge(route, "receive", "pour")

    assert edge is not None
    assert (edge.min_wait, edge.max_wait) == (0, None)


def test_contact_time_stays_before_stone_casts_and_asks_no_hurry() -> None:
    edge = _edge(_grow(WorkOrder(impressions_came=False)), "disinfect", "trim")

    assert edge is not None
    assert (edge.min_wait, edge.max_wait) == (10, None)


def test_contraction_keeps_the_wait_of_the_edge_it_came_from() -> None:
    edges = [
        EdgeSpec("a", "b", min_wait=10, max_wait=50, least_wait=5, latest_words="Soon."),
        EdgeSpec("b", "c", min_wait=99),
        EdgeSpec("b", "d", min_wait=98),
    ]

    assert contract(edges, ["a", "b", "c", "d"], ["a", "c", "d"]) == [
        PlannedEdge("a", "c", 10, 50, 5, "Soon."),
        PlannedEdge("a", "d", 10, 50, 5, "Soon."),
    ]


def test_contraction_merges_two_ways_to_the_stricter_one() -> None:
    edges = [
        EdgeSpec("a", "x", min_wait=10),
        EdgeSpec("x", "b"),
        EdgeSpec("a", "b", min_wait=4, max_wait=60, latest_words="It dries."),
    ]

    assert contract(edges, ["a", "x", "b"], ["a", "b"]) == [
        PlannedEdge("a", "b", 10, 60, None, "It dries.")
    ]


@pytest.mark.parametrize("limits", [(60, 40), (40, 60)])
def test_contraction_keeps_the_earlier_of_two_latest_starts(limits: tuple[int, int]) -> None:
    edges = [
        EdgeSpec("a", "b", max_wait=limits[0], latest_words=f"{limits[0]}"),
        EdgeSpec("a", "b", "new-piece", max_wait=limits[1], latest_words=f"{limits[1]}"),
    ]

    assert contract(edges, ["a", "b"], ["a", "b"]) == [PlannedEdge("a", "b", 0, 40, None, "40")]


def test_contraction_keeps_the_words_of_either_way() -> None:
    edges = [
        EdgeSpec("a", "b"),
        EdgeSpec("a", "b", "new-piece", latest_words="Dry first."),
        EdgeSpec("a", "b", "pour"),
    ]

    assert contract(edges, ["a", "b"], ["a", "b"])[0].latest_words == "Dry first."


def test_contraction_passes_through_several_absent_stages() -> None:
    edges = [EdgeSpec("a", "x", min_wait=7), EdgeSpec("x", "y"), EdgeSpec("y", "b")]

    for order in (["x", "y"], ["y", "x"]):
        assert contract(edges, order, ["a", "b"]) == [PlannedEdge("a", "b", 7, None)]


def test_implied_edge_is_left_out_only_when_the_path_waits_as_long() -> None:
    path = [PlannedEdge("a", "b", 5, None), PlannedEdge("b", "c", 5, None)]
    short, longer = PlannedEdge("a", "c", 10, None), PlannedEdge("a", "c", 11, None)
    limited = PlannedEdge("a", "c", 0, 30)

    assert without_implied([*path, short], "abc") == path
    assert longer in without_implied([*path, longer], "abc")
    assert limited in without_implied([*path, limited], "abc")


def test_implied_edge_stays_where_the_least_wait_of_the_path_is_shorter() -> None:
    path = [PlannedEdge("a", "b", 10, None, 2), PlannedEdge("b", "c", 0, None)]
    direct = PlannedEdge("a", "c", 10, None)

    assert direct in without_implied([*path, direct], "abc")


def test_topological_keeps_the_order_of_the_list_where_it_can() -> None:
    edges = [PlannedEdge("c", "a", 0, None)]

    assert topological(["a", "b", "c"], edges) == ("b", "c", "a")


def test_topological_names_the_stages_of_a_cycle() -> None:
    edges = [PlannedEdge("a", "b", 0, None), PlannedEdge("b", "a", 0, None)]

    with pytest.raises(ValueError, match="wait for each other: a, b"):
        topological(["a", "b", "c"], edges)


def test_reachable_is_what_comes_after_and_the_stage_itself() -> None:
    route = _grow(WorkOrder())

    assert reachable(route.edges, "inspect") == {"inspect", "soak", "pack-out", "send"}
    assert reachable(route.edges, "receive") == set(route.keys)


def test_photograph_before_take_off_only_where_no_master_is_kept() -> None:
    plaster, copy = _grow(WorkOrder()), _grow(WorkOrder(), replace(PLAIN, method="wax-then-copy"))

    assert plaster.stage("take-off").spec.photo_before
    assert not copy.stage("take-off").spec.photo_before
    assert copy.stage("flask-lower").spec.photo_before


def test_route_stage_of_another_case_is_unknown() -> None:
    with pytest.raises(KeyError, match="rim"):
        _grow(WorkOrder()).stage("rim")


# -- any valid design -----------------------------------------------------------------------


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Any design that the survey page would accept."""
    arch = draw(st.sampled_from(["upper", "lower"]))
    row = list(teeth.teeth_of_arch(arch))
    missing = draw(st.frozensets(st.sampled_from(row), max_size=16))
    gone = sorted(missing)
    some = st.sampled_from(gone) if gone else st.nothing()
    replaced = draw(st.frozensets(some)) if gone else frozenset()
    extracted = draw(st.frozensets(some)) if gone else frozenset()
    there = [tooth for tooth in row if tooth not in missing]
    one = st.sampled_from(there) if there else st.nothing()
    clasped = draw(st.lists(one, unique=True, max_size=4)) if there else []
    method = draw(st.sampled_from(["none", "plaster", "wax-then-copy", "copy-then-plaster"]))
    faces = st.tuples(st.sampled_from(row), st.sampled_from(["mesial", "distal", "lingual"]))
    return Design(
        arch=arch,  # type: ignore[arg-type]
        missing=missing,
        replaced=replaced,
        extracted=extracted,
        clasps=tuple(Clasp(tooth) for tooth in clasped),
        rests=draw(st.frozensets(one, max_size=2)) if there else frozenset(),
        bar=draw(st.booleans()),
        strengthener=Bar(reason="the last one broke"),
        joints=draw(st.integers(0, 3)) if clasped else 0,
        blocked=frozenset() if method == "none" else draw(st.frozensets(faces, max_size=5)),
        method=method,  # type: ignore[arg-type]
        needs_agreement=draw(st.booleans()),
        copy_in=draw(st.sampled_from(["silicone", "gel"])),
    )


orders = st.builds(
    WorkOrder,
    kind=st.sampled_from(["new", "adjustment", "repair", "addition", "remake"]),
    remake_start=st.sampled_from(["", "new-impression", "kept-master", "kept-wax-index"]),
    impressions_came=st.booleans(),
    scan=st.booleans(),
    casts=st.integers(1, 3),
    opposing=st.booleans(),
    disinfection_proven=st.booleans(),
    bite=st.sampled_from(["by-hand", "record", "rim"]),
    try_in=st.booleans(),
    polish=st.sampled_from(["none", "outer-borders-left", "all-outer"]),
    alginate=st.booleans(),
)


@given(order=orders, design=designs())
def test_any_valid_design_grows_a_whole_route(order: WorkOrder, design: Design) -> None:
    assert flaws(design) == ()

    route = _grow(order, design)

    keys = set(route.keys)
    place = {key: index for index, key in enumerate(route.keys)}
    assert len(keys) == len(route.keys)
    assert all(e.before in keys and e.after in keys for e in route.edges)
    assert all(place[e.before] < place[e.after] for e in route.edges)
    assert len({(e.before, e.after) for e in route.edges}) == len(route.edges)
    assert reachable(route.edges, "receive") == keys
    back = [PlannedEdge(e.after, e.before, 0, None) for e in route.edges]
    assert reachable(back, "send") == keys
    assert all(stage.minutes >= 0 for stage in route.stages)
    assert all(e.max_wait is None or e.max_wait >= e.min_wait for e in route.edges)
    checks = [check.key for stage in route.stages for check in stage.checks]
    assert len(set(checks)) == len(checks)
    assert all(len(key) <= 60 for key in checks)
    for stage in route.stages:
        assert all(held.until in keys | {"finish", "wait"} for held in stage.spec.holds)
        assert all("[" not in check.words for check in stage.checks)


@given(order=orders, design=designs())
def test_contraction_never_loses_precedence(order: WorkOrder, design: Design) -> None:
    route = _grow(order, design)
    everything = [
        PlannedEdge(e.before, e.after, 0, None)
        for e in TEMPLATE.edges
        if holds(e.when, order, design)
    ]

    for key in route.keys:
        assert reachable(route.edges, key) == reachable(everything, key) & set(route.keys)
