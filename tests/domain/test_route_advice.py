"""A route that leaves a hot flask to its load alone is told of, in a sentence each."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.route import EdgeSpec, RouteTemplate, default_template
from cases.domain.route_advice import advice

TEMPLATE = default_template()


def without(*pairs: tuple[str, str]) -> RouteTemplate:
    edges = tuple(e for e in TEMPLATE.edges if (e.before, e.after) not in pairs)
    return replace(TEMPLATE, edges=edges)


def test_shipped_route_needs_no_advice() -> None:
    assert advice(TEMPLATE) == []


@pytest.mark.parametrize(("before", "after"), [("cure", "cool"), ("cool", "deflask")])
def test_missing_edge_is_advised_in_one_sentence(before: str, after: str) -> None:
    names = {stage.key: stage.name for stage in TEMPLATE.stages}

    [told] = advice(without((before, after)))

    assert told.field == f"edges.{before}.{after}"
    assert told.sentence == (
        f"No wait leads from “{names[before]}” to “{names[after]}”, so only a load keeps a hot "
        f"flask shut: say at “{names[after]}” that it comes after “{names[before]}”, and how long "
        "it waits."
    )


def test_edge_that_does_not_wait_is_advised() -> None:
    template = without(("cool", "deflask"))
    template = replace(template, edges=(*template.edges, EdgeSpec("cool", "deflask")))

    assert [told.field for told in advice(template)] == ["edges.cool.deflask"]


def test_wait_on_the_way_over_a_stage_of_the_lab_is_enough() -> None:
    dip = replace(next(s for s in TEMPLATE.stages if s.key == "cool"), key="dip")
    template = without(("cool", "deflask"))
    template = replace(
        template,
        stages=(*template.stages, dip),
        edges=(*template.edges, EdgeSpec("cool", "dip"), EdgeSpec("dip", "deflask", min_wait=45)),
    )

    assert advice(template) == []


def test_route_without_the_stage_cool_is_advised() -> None:
    stages = tuple(stage for stage in TEMPLATE.stages if stage.key != "cool")
    edges = tuple(e for e in TEMPLATE.edges if "cool" not in (e.before, e.after))

    [told] = advice(replace(TEMPLATE, stages=stages, edges=edges))

    assert told.sentence.startswith("This route has no stage with the key “cool”, so only a load")


@pytest.mark.parametrize("key", ["cure", "deflask"])
def test_route_that_never_cures_or_opens_a_flask_needs_none(key: str) -> None:
    stages = tuple(stage for stage in TEMPLATE.stages if stage.key != key)

    assert advice(replace(TEMPLATE, stages=stages)) == []
