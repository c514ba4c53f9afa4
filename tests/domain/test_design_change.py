"""A change of plan: the difference, the finished stages in question, what the practice must see."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest

from cases.domain.design import Bar, Clasp, Design, Room, Survey, Undercut
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
    "told-of-clasp": (first(shows=True), {34}),
    "tips": (first(gum_mm=1.2), {34}),
    "crossing": (first(room_mm=1.5), {34}),
    "wraps": (first(wraps=True), {34}),
    "joint-away": (first(joint_mm=7.0), {34}),
    "marks": (replace(BEFORE, survey=Survey(marked=True)), set()),
    "undercuts": (replace(BEFORE, survey=Survey(undercuts=(Undercut(34, "distal", 0.5),))), {34}),
    "rooms": (replace(BEFORE, rooms=(Room(36, width_mm=10.0),)), {36}),
    "slope": (replace(BEFORE, on_slope=frozenset({"left"})), set()),
    "crest": (replace(BEFORE, crest_angle_deg=75.0), set()),
}

NO_ASPECT: dict[str, str] = {
    "Design.arch": "A case has one arch; none of its versions has another.",
    "Design.provisional": "Whether somebody has drawn it, not what is drawn.",
    "Design.draft": "Whether it is drawn to the end, not what is drawn.",
    "Design.needs_agreement": "It adds the stage of the agreement, or takes it away.",
    "Design.advised": "What the rules said; what was decided is how it is blocked out.",
    "Design.method_reason": "Why it is blocked out so; how is an aspect.",
    "Design.concessions": "Who passed a rule; what it lets stand is an aspect of its own.",
    "Clasp.gauge": "How the wire was asked for; its millimetres are what is bent.",
    "Clasp.gauge_system": "By which table it was asked for; its millimetres are what is bent.",
}
"""Fields that belong to no aspect, as ``Class.field``, each with the reason."""

FULL = replace(
    BEFORE,
    survey=Survey(5.0, "front", undercuts=(Undercut(34, "distal", 0.25),)),
    rooms=(Room(36, 10.0, 9.0, 6.0),),
    strengthener=Bar(size_mm=1.3),
)
PARTS: dict[type, tuple[str, ...]] = {
    Clasp: ("clasps",),
    Bar: ("strengthener",),
    Survey: ("survey",),
    Undercut: ("survey", "undercuts"),
    Room: ("rooms",),
}
"""The parts of a design, and where each stands."""
IN_PARTS = {"Survey.undercuts", *(f"Design.{path[0]}" for path in PARTS.values())}


def other(value: Any, hint: Any) -> Any:
    """Another value that a field of this type may have."""
    choices = [one for arg in (hint, *get_args(hint)) for one in literals(arg) if one != value]
    if choices:
        return choices[0]
    if isinstance(value, bool) or hint == bool | None:
        return not value
    if isinstance(value, frozenset):
        return value ^ {(31, "lingual") if "tuple" in str(hint) else 31}
    if isinstance(value, tuple):
        return (*value, ("left pad", "whole"))
    return f"{value}x" if isinstance(value, str) else (value or 0) + 1


def literals(hint: Any) -> tuple[Any, ...]:
    """The values of a Literal; none where the type is no Literal."""
    return get_args(hint) if get_origin(hint) is Literal else ()


def put(whole: Any, path: tuple[str, ...], part: Any) -> Any:
    """The design with this part at the head of a path."""
    name, *rest = path
    held = getattr(whole, name)
    if rest:
        return replace(whole, **{name: put(held, tuple(rest), part)})
    return replace(whole, **{name: (part, *held[1:]) if isinstance(held, tuple) else part})


def at(whole: Any, path: tuple[str, ...]) -> Any:
    """The part at the head of a path."""
    for name in path:
        whole = getattr(whole, name)
    return whole[0] if isinstance(whole, tuple) else whole


def every_field() -> Iterator[tuple[str, Design]]:
    """Each field of a design and of its parts, with the design that differs in it alone."""
    hints = get_type_hints(Design)
    for field in fields(Design):
        if f"Design.{field.name}" not in IN_PARTS:
            value = other(getattr(FULL, field.name), hints[field.name])
            yield f"Design.{field.name}", replace(FULL, **{field.name: value})
    for kind, path in PARTS.items():
        hints = get_type_hints(kind)
        for field in fields(kind):
            name, part = f"{kind.__name__}.{field.name}", at(FULL, path)
            if name not in IN_PARTS:
                value = other(getattr(part, field.name), hints[field.name])
                yield name, put(FULL, path, replace(part, **{field.name: value}))


FIELDS = dict(every_field())


def test_every_aspect_has_a_case() -> None:
    assert {aspect.key for aspect in ASPECTS} == set(CASES)


@pytest.mark.parametrize("name", FIELDS)
def test_every_field_of_a_design_belongs_to_an_aspect_or_is_exempt_with_a_reason(name: str) -> None:
    assert FIELDS[name] != FULL
    found = {change.aspect for change in changes(FULL, FIELDS[name])}
    assert bool(found) != (name in NO_ASPECT), f"{name}: {found}"


def test_no_reason_stands_for_a_field_that_is_none() -> None:
    assert NO_ASPECT.keys() <= FIELDS.keys()
    assert all(reason.endswith(".") for reason in NO_ASPECT.values())


def test_every_part_of_a_design_that_can_differ_is_taken_out_with_some_aspect() -> None:
    taken = {f"Design.{part}" for aspect in ASPECTS for part in aspect.parts}
    assert taken | NO_ASPECT.keys() >= {f"Design.{field.name}" for field in fields(Design)}


@pytest.mark.parametrize(
    ("aspect", "done"),
    [
        ("rooms", ["teeth"]), ("undercuts", ["survey", "block-out"]),
        ("marks", ["survey", "block-out"]), ("slope", ["teeth", "wax"]), ("crest", ["teeth"]),
        ("tips", ["survey", "clasps"]), ("crossing", ["clasps", "wax"]),
    ],
)  # fmt: skip
def test_what_was_measured_anew_questions_who_worked_by_it(aspect: str, done: list[str]) -> None:
    finished = ("survey", "block-out", "clasps", "teeth", "wax")
    assert list(questioned(changes(BEFORE, CASES[aspect][0]), finished)) == done


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


@pytest.mark.parametrize(
    ("changed", "aspect"), [({"tip_wire_mm": 0.6}, "clasp"), ({"braces_first": False}, "bracing")]
)
def test_a_taper_and_when_the_bracing_meets_are_decisions(
    changed: dict[str, object], aspect: str
) -> None:
    (change,) = changes(BEFORE, first(**changed))

    assert (change.aspect, change.teeth) == (aspect, {34})


def test_a_taper_and_relief_left_out_are_decisions_of_the_block_out() -> None:
    other = replace(BEFORE, taper_deg=3.0, unrelieved=frozenset({(34, "distal")}))

    found = {change.aspect: change.teeth for change in changes(BEFORE, other)}

    assert found == {"method": frozenset(), "relief": {34}}


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


@pytest.mark.parametrize(
    ("stored", "sides"), [(True, {"right", "left"}), (False, set()), (["left"], {"left"})]
)
def test_a_slope_that_was_kept_without_its_side_is_looked_for_at_both(
    stored: object, sides: set[str]
) -> None:
    read = Design.from_json({**BEFORE.to_json(), "on_slope": stored})
    assert read.on_slope == sides
    assert Design.from_json(read.to_json()) == read
