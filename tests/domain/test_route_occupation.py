"""Things held from stage to stage, the one working cast, and the night."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.design import BlockOutMethod, Clasp, Design, WorkOrder
from cases.domain.route import (
    Held,
    Route,
    default_template,
    grow,
    occupied_stages,
    occupied_until,
    one_cast,
    rests_overnight,
)

DESIGN = Design(
    arch="lower",
    missing=frozenset({36}),
    replaced=frozenset({36}),
    clasps=(Clasp(35),),
    bar=True,
    method="plaster",
)


def _route(
    order: WorkOrder | None = None, method: BlockOutMethod = "plaster", copy_in: str = "silicone"
) -> Route:
    design = replace(DESIGN, method=method, copy_in=copy_in)  # type: ignore[arg-type]
    return grow(default_template(), order or WorkOrder(), design)


@pytest.mark.parametrize(
    ("key", "thing", "until"),
    [
        ("receive", "box", "send"),
        ("pour", "impression", "trim"),
        ("survey", "cast", "finish"),
        ("mount", "cast", "wait"),
        ("mount", "articulator", "bite"),
        ("teeth", "articulator", "bite"),
        ("flask-lower", "flask", "deflask"),
        ("pack", "press", "finish"),
        ("clamp", "clamp", "cool"),
        ("cure", "bath", "wait"),
        ("wax", "flask", ""),
    ],
)
def test_thing_is_occupied_until(key: str, thing: str, until: str) -> None:
    assert occupied_until(_route(), key, thing) == until


def test_flask_is_out_of_use_from_flasking_to_deflasking() -> None:
    assert occupied_stages(_route(), "flask") == {
        "flask-lower", "flask-upper", "boil-out", "separate", "pack", "clamp", "cure", "cool",
        "deflask",
    }  # fmt: skip


def test_hold_for_the_stage_itself_is_not_taken_for_the_stage_called_finish() -> None:
    assert occupied_stages(_route(), "cast") == {"survey", "block-out", "mount", "clasps", "bar"}
    assert occupied_stages(_route(), "press") == {"pack"}


def test_articulator_is_free_again_where_no_stage_corrects_the_bite() -> None:
    stages = tuple(
        replace(s, when="new-piece-no-master") if s.key == "bite" else s
        for s in default_template().stages
    )
    template = replace(default_template(), stages=stages)
    route = grow(template, WorkOrder(), replace(DESIGN, method="wax-then-copy"))

    assert "bite" not in route.keys
    assert occupied_until(route, "mount", "articulator") == "deflask"


def test_case_without_an_opposing_cast_holds_no_articulator() -> None:
    route = _route(WorkOrder(opposing=False))

    assert occupied_stages(route, "articulator") == frozenset()
    assert route.stage("teeth").spec.holds == ()


def test_thing_is_freed_at_once_where_nothing_later_frees_it() -> None:
    stages = tuple(
        replace(s, holds=(Held("flask", "look"),)) if s.key == "wax" else s
        for s in default_template().stages
    )
    route = grow(replace(default_template(), stages=stages), WorkOrder(), DESIGN)

    assert route.stage("wax").spec.holds == (Held("flask", "finish"),)


@pytest.mark.parametrize("method", ["none", "plaster", "wax-then-copy", "copy-then-plaster"])
def test_one_cast_is_in_one_pair_of_hands(method: BlockOutMethod) -> None:
    keys = one_cast(_route(method=method).stages)

    assert {"survey", "block-out", "mount", "clasps"} <= keys
    # With a copy the bar may be shaped on the master.
    assert ("bar" in keys) is (method in {"none", "plaster"})
    assert "flask-lower" not in keys


@pytest.mark.parametrize(
    ("order", "night"),
    [
        (WorkOrder(), "no"),
        (WorkOrder(impressions_came=False), "yes"),
        (WorkOrder(kind="repair"), "no"),
    ],
)
def test_casts_may_rest_unopened_and_impressions_may_not(order: WorkOrder, night: str) -> None:
    assert rests_overnight(_route(order), "receive")[0] == night


@pytest.mark.parametrize(("material", "night"), [("silicone", "yes"), ("gel", "no")])
def test_mould_may_rest_by_its_material(material: str, night: str) -> None:
    route = _route(method="wax-then-copy", copy_in=material)

    assert rests_overnight(route, "copy-mould")[0] == night
    assert rests_overnight(route, "copy-cast")[0] == night


def test_packed_flask_never_rests_and_says_why() -> None:
    assert rests_overnight(_route(), "pack") == (
        "no",
        "Never: the dough goes on setting. Clamp and cure it.",
    )
    assert rests_overnight(_route(), "clamp") == (
        "limit",
        "Only if the cure starts within 6 hours.",
    )
