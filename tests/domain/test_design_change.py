"""A change of plan: the difference, the finished stages in question, what the practice must see."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.design import Bar, Clasp, Design, Survey
from cases.domain.design_change import (
    ASPECTS,
    alterations,
    changed_teeth,
    changes,
    concerns,
    questioned,
    stages_of,
    without,
)
from cases.domain.route import default_template

BEFORE = Design(
    arch="lower",
    missing=frozenset({35, 36, 37, 45, 46, 47}),
    replaced=frozenset({35, 36, 45, 46}),
    clasps=(
        Clasp(34, wire_mm=0.9, undercut_mm=0.25, free_arm_mm=10, bracing="plate", bracing_mm=1.0),
        Clasp(44, wire_mm=0.9, undercut_mm=0.25, free_arm_mm=10, bracing="plate", bracing_mm=1.0),
    ),
    method="plaster",
    blocked=frozenset({(34, "distal"), (44, "distal")}),
)


def first(**parts: object) -> Design:
    """The design with another clasp on 34."""
    return replace(BEFORE, clasps=(replace(BEFORE.clasps[0], **parts), BEFORE.clasps[1]))


# One other design an aspect, and the teeth that should be ringed.
CASES: dict[str, tuple[Design, set[int]]] = {
    "replaced": (replace(BEFORE, replaced=BEFORE.replaced | {47}), {47}),
    "gaps": (replace(BEFORE, missing=BEFORE.missing | {38}), {38}),
    "dropped": (replace(BEFORE, dropped=frozenset({47})), {47}),
    "primary": (replace(BEFORE, primary=frozenset({44})), {44}),
    "extracted": (replace(BEFORE, extracted=frozenset({45})), {45}),
    "clasped": (replace(BEFORE, clasps=BEFORE.clasps[1:]), {34}),
    "clasp": (first(wire_mm=1.0), {34}),
    "bracing": (first(bracing_mm=0.5), {34}),
    "rests": (replace(BEFORE, rests=frozenset({33})), {33}),
    "stops": (replace(BEFORE, stops=frozenset({43})), {43}),
    "abutments": (replace(BEFORE, abutments=frozenset({38})), {38}),
    "joints": (replace(BEFORE, joints=1), set()),
    "bar": (replace(BEFORE, bar=True, strengthener=Bar(size_mm=1.3)), set()),
    "plate": (replace(BEFORE, plate_thickness_mm=2.5), set()),
    "tilt": (replace(BEFORE, survey=Survey(tilt_deg=5.0, tilt_to="front")), set()),
    "method": (replace(BEFORE, method="wax-then-copy"), set()),
    "blocked": (replace(BEFORE, blocked=frozenset({(34, "distal")})), {44}),
    "relief": (replace(BEFORE, relieved=frozenset({"torus"})), set()),
    "covered": (replace(BEFORE, covered=(("right pad", "whole"),)), set()),
    "hollowed": (replace(BEFORE, hollowed=frozenset({35})), {35}),
    "occlusion": (replace(BEFORE, occlusion=frozenset({"crossbite"})), set()),
    "told": (replace(BEFORE, told=frozenset({"heavy-bite"})), set()),
}


def test_every_aspect_has_a_case() -> None:
    assert {aspect.key for aspect in ASPECTS} == set(CASES)


def test_every_aspect_is_looked_at_by_stages_of_the_route() -> None:
    known = {stage.key for stage in default_template().stages}
    assert {stage for aspect in ASPECTS for stage in aspect.stages} <= known


@pytest.mark.parametrize("aspect", CASES)
def test_an_aspect_is_found_alone_with_its_teeth(aspect: str) -> None:
    after, ringed = CASES[aspect]
    found = changes(BEFORE, after)
    assert aspect in {change.aspect for change in found}
    assert ringed <= changed_teeth(found)
    assert changes(after, after) == ()
    # A tooth more or less may also be a gap less or more; nothing else goes with it.
    allowed = {aspect, "gaps"} if aspect in {"replaced", "extracted"} else {aspect}
    assert {change.aspect for change in found} <= allowed


def test_only_finished_stages_that_look_at_the_decision_are_in_question() -> None:
    found = changes(BEFORE, CASES["bracing"][0])
    done = ("survey", "block-out", "clasps", "teeth", "wax", "wax-pass")
    assert list(questioned(found, done)) == ["wax", "wax-pass"]
    assert questioned(found, ("survey", "clasps")) == {}


def test_a_stage_names_everything_that_questions_it() -> None:
    both = replace(CASES["bar"][0], stops=frozenset({43}))
    asked = questioned(changes(BEFORE, both), ("wax",))
    assert {change.aspect for change in asked["wax"]} == {"bar", "stops"}


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        (replace(BEFORE, replaced=frozenset({35, 36, 45})), {"fewer-teeth": {46}}),
        (replace(BEFORE, replaced=BEFORE.replaced | {47}), {"more-teeth": {47}}),
        (replace(BEFORE, extracted=frozenset({46})), {"extracted": {46}}),
        (replace(BEFORE, clasps=(*BEFORE.clasps, Clasp(43))), {"clasp-in-front": {43}}),
        (first(shows=True), {"shows": {34}}),
        (replace(BEFORE, clasps=(*BEFORE.clasps, Clasp(43, shows=True))), {"clasp-in-front": {43}}),
        (
            replace(BEFORE, missing=BEFORE.missing | {33}, replaced=BEFORE.replaced | {33}),
            {"more-teeth": {33}, "lone-tooth": {34}},
        ),
        (replace(BEFORE, bar=True), {}),
        (first(wire_mm=1.0), {}),
        (first(shows=False), {}),
    ],
)
def test_what_alters_the_order_is_told_from_what_the_bench_decides(
    after: Design, expected: dict[str, set[int]]
) -> None:
    altered = alterations(BEFORE, after)
    assert {one.key: set(one.teeth) for one in altered} == expected
    assert bool(stages_of(altered)) is bool(expected)


def test_a_clasp_on_the_other_side_alters_the_order() -> None:
    right = replace(BEFORE, clasps=BEFORE.clasps[1:])
    (found,) = alterations(right, BEFORE)
    assert (found.key, set(found.teeth)) == ("other-side", {34})
    assert alterations(BEFORE, BEFORE) == ()


def test_a_clasp_that_shows_already_alters_nothing() -> None:
    shows = first(shows=True)
    assert alterations(shows, shows) == ()
    assert alterations(shows, BEFORE) == ()


def test_stages_that_make_what_shows_wait_for_the_practice() -> None:
    assert stages_of(alterations(BEFORE, first(shows=True))) == {
        "survey", "block-out", "clasps", "wax", "wax-pass",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("after", "stage", "subject", "expected"),
    [
        (first(wire_mm=1.0), "clasps", "34", True),
        (first(wire_mm=1.0), "clasps", "44", False),
        (first(wire_mm=1.0), "teeth", "34", False),
        (first(wire_mm=1.0), "wax", "", False),
        (replace(BEFORE, bar=True), "wax", "44 distal", True),
        (replace(BEFORE, bar=True), "clasps", "44", False),
        (replace(BEFORE, replaced=frozenset({35, 36, 45})), "wax", "right pad", True),
        (replace(BEFORE, replaced=frozenset({35, 36, 45})), "wax", "base 45-46", True),
        (replace(BEFORE, replaced=frozenset({35, 36, 45})), "wax", "34 distal", False),
    ],
)
def test_a_check_is_concerned_by_what_changes_where_it_looks(
    after: Design, stage: str, subject: str, expected: bool
) -> None:
    assert concerns(changes(BEFORE, after), stage, subject) is expected


@pytest.mark.parametrize("aspect", CASES)
def test_a_decision_taken_out_again_leaves_no_change_of_it(aspect: str) -> None:
    after, _ringed = CASES[aspect]
    (change,) = (one for one in changes(BEFORE, after) if one.aspect == aspect)
    left = {one.aspect for one in changes(BEFORE, without(change, BEFORE, after))}
    assert aspect not in left
