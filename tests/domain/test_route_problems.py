"""What an edited route may not be, what changed in it, and how it is stored."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from cases.domain.checks import Again, Measure
from cases.domain.conditions import CONDITIONS, holds
from cases.domain.network import Held, NightWhen
from cases.domain.route import (
    SKILLS,
    EdgeSpec,
    RouteTemplate,
    StageSpec,
    default_template,
    difference,
    problems,
)
from cases.domain.route_problems import sample_cases

TEMPLATE = default_template()
PEOPLE = {skill: ["somebody"] for skill in SKILLS}


def _with_stage(key: str, /, **changes: Any) -> RouteTemplate:
    stages = tuple(replace(s, **changes) if s.key == key else s for s in TEMPLATE.stages)
    return replace(TEMPLATE, stages=stages)


def _with_check(number: int, /, **changes: Any) -> RouteTemplate:
    checks = tuple(replace(c, **changes) if c.number == number else c for c in TEMPLATE.checks)
    return replace(TEMPLATE, checks=checks)


def _with_edge(edge: EdgeSpec) -> RouteTemplate:
    same = (edge.before, edge.after, edge.when)
    others = tuple(e for e in TEMPLATE.edges if (e.before, e.after, e.when) != same)
    return replace(TEMPLATE, edges=(*others, edge))


def _without_edges(*pairs: tuple[str, str]) -> RouteTemplate:
    edges = tuple(e for e in TEMPLATE.edges if (e.before, e.after) not in pairs)
    return replace(TEMPLATE, edges=edges)


def _new_stage(key: str) -> StageSpec:
    return replace(TEMPLATE.stages[0], key=key, name=f"New {key}", holds=())


def _sentences(template: RouteTemplate, people: dict[str, list[str]] | None = None) -> list[str]:
    return [problem.sentence for problem in problems(template, people or PEOPLE)]


def test_default_route_has_no_problem() -> None:
    assert problems(TEMPLATE, PEOPLE) == []


def test_cycle_is_named_by_its_stages() -> None:
    template = _with_edge(EdgeSpec("deflask", "pack"))

    assert _sentences(template) == [
        "These stages wait for each other: Mix, pack, trial-close, close → Rest under the clamp "
        "→ Cure → Cool → Open the flask → Mix, pack, trial-close, close. Take one of the arrows "
        "away."
    ]


def test_stage_that_waits_for_itself_is_a_cycle() -> None:
    sentences = _sentences(_with_edge(EdgeSpec("wax", "wax")))

    assert sentences == [
        "These stages wait for each other: Wax up → Wax up. Take one of the arrows away."
    ]


def test_arrows_that_never_hold_together_make_no_cycle() -> None:
    methods = {edge.when for edge in TEMPLATE.edges if edge.before == "copy-cast"}

    assert len(methods) == 4
    assert problems(TEMPLATE, PEOPLE) == []


def test_stage_nobody_leads_to_is_unreachable() -> None:
    template = _without_edges(("pour", "trim"), ("disinfect", "pour"), ("receive", "pour"))

    assert "Nothing leads to “Pour casts”. Say after which stage it comes." in _sentences(template)


def test_new_stage_without_arrows_is_unreachable() -> None:
    template = replace(TEMPLATE, stages=(*TEMPLATE.stages, _new_stage("rinse")))

    assert _sentences(template) == ["Nothing leads to “New rinse”. Say after which stage it comes."]


def test_stage_that_leads_nowhere_is_refused() -> None:
    template = replace(
        TEMPLATE,
        stages=(*TEMPLATE.stages, _new_stage("rinse")),
        edges=(*TEMPLATE.edges, EdgeSpec("polish", "rinse")),
    )

    assert _sentences(template) == ["“New rinse” leads nowhere. Say which stage comes after it."]


def test_stage_reached_in_some_cases_only_is_refused() -> None:
    template = _without_edges(("survey", "copy-mould"), ("agree", "copy-mould"))

    assert any("Take the mould of the master" in sentence for sentence in _sentences(template))


def test_skill_that_nobody_has_is_refused() -> None:
    found = problems(TEMPLATE, PEOPLE | {"join": []})

    assert [(problem.field, problem.sentence) for problem in found] == [
        (
            "stages.join.skill",
            "Stage “Solder or weld” needs the skill “join”, and nobody has it. Give it to a "
            "person, or choose another skill.",
        )
    ]


def test_external_stage_needs_nobody() -> None:
    assert problems(_with_stage("agree", skill="telepathy"), PEOPLE) == []


@pytest.mark.parametrize(
    ("template", "field", "words"),
    [
        (_with_stage("wax", when="full moon"), "stages.wax.when", "condition “full moon”"),
        (_with_stage("wax", photo_when="never"), "stages.wax.photo_when", "“never”"),
        (_with_stage("wax", kind="magic"), "stages.wax.kind", "“magic”"),
        (_with_stage("wax", night="perhaps"), "stages.wax.night", "yes, no or limit"),
        (_with_stage("wax", name=""), "stages.wax.name", "key and a name"),
        (_with_stage("wax", minutes={"*": {"Q": 1}}), "stages.wax.minutes", "“Q”"),
        (_with_stage("wax", minutes={"*": {"T": -1}}), "stages.wax.minutes", "less than 0"),
        (_with_stage("wax", minutes={"none": {}}), "stages.wax.minutes", "block-out plaster"),
        (
            _with_stage("wax", holds=(Held("flask", "tomorrow"),)),
            "stages.wax.holds",
            "until “tomorrow”",
        ),
        (_with_stage("wax", holds=(Held("cat", "finish"),)), "stages.wax.holds", "“cat”"),
        (
            _with_stage("wax", night_when=(NightWhen("rain", "no", ""),)),
            "stages.wax.night_when",
            "“rain”",
        ),
        (_with_edge(EdgeSpec("pack", "clmp")), "edges.pack.clmp", "no stage “clmp”"),
        (_with_edge(EdgeSpec("pack", "clamp", "rain")), "edges.pack.clamp", "“rain”"),
        (
            _with_edge(EdgeSpec("clamp", "cure", min_wait=400, max_wait=360)),
            "edges.clamp.cure",
            "at the latest after 360 min, but may not start before 400 min",
        ),
        (_with_edge(EdgeSpec("pack", "clamp", min_wait=-1)), "edges.pack.clamp", "less than 0"),
        (
            _with_edge(EdgeSpec("clamp", "cure", min_wait=30, least_wait=31)),
            "edges.clamp.cure",
            "between 0 and 30",
        ),
        (_with_check(30, stage="waxing"), "checks.30.stage", "“waxing”, which is no stage"),
        (_with_check(30, again=(Again("end"),)), "checks.30.stage", "“end”"),
        (_with_check(30, when="rain"), "checks.30.when", "“rain”"),
        (_with_check(30, subjects="each-whisker"), "checks.30.subjects", "“each-whisker”"),
        (_with_check(30, rule="gut feeling"), "checks.30.rule", "“gut feeling”"),
        (
            _with_check(30, again=(Again("finish", rule="luck"),)), "checks.30.rule", "“luck”",
        ),
        (
            _with_check(30, again=(Again("finish", limits={"egde": (0.5, None)}),)),
            "checks.30.again",
            "“egde”, which is not measured at “finish”",
        ),
        (
            _with_check(30, measures=(Measure("edge", "Edge", "mm", 2, 1),), again=()),
            "checks.30.measures",
            "lower limit 2 is above the upper limit 1",
        ),
        (
            _with_check(30, measures=(Measure("edge", "Edge", "mm", from_design="x"),), again=()),
            "checks.30.measures",
            "limit “x”",
        ),
        (_with_check(37, yes_no=False), "checks.37", "asks for nothing"),
        (_with_check(37, number=38), "checks.38.number", "Two checks have the number 38"),
        (_with_stage("wax", key="bar"), "stages.bar.key", "Two stages have the key “bar”"),
        (RouteTemplate((), (), ()), "stages", "at least one stage"),
    ],
)  # fmt: skip
def test_problem_names_the_field_and_the_fact(
    template: RouteTemplate, field: str, words: str
) -> None:
    found = {problem.field: problem.sentence for problem in problems(template, PEOPLE)}

    assert words in found[field]


def test_one_number_may_be_both_limits_and_a_wait_may_be_both_spans() -> None:
    measure = Measure("minutes", "Wet with the disinfectant", "min", 10, 10)

    assert problems(_with_check(4, measures=(measure,)), PEOPLE) == []
    assert (
        problems(
            _with_edge(EdgeSpec("clamp", "cure", min_wait=30, max_wait=30, least_wait=30)), PEOPLE
        )
        == []
    )


def test_samples_make_every_condition_true_and_false() -> None:
    samples = list(sample_cases())

    for name in set(CONDITIONS) - {"always"}:
        assert {holds(name, order, design) for order, design in samples} == {True, False}, name


# -- what changed ----------------------------------------------------------------------------


def test_same_route_has_no_difference() -> None:
    assert difference(TEMPLATE, RouteTemplate.from_json(TEMPLATE.to_json())) == ()


def test_difference_says_minutes_as_a_formula() -> None:
    new = _with_stage("wax", minutes={"*": {"fixed": 15, "T": 2}})

    assert difference(TEMPLATE, new) == (
        "Stage “Wax up”: minutes changed from 12 + 2T + 3C + 8P to 15 + 2T.",
    )


def test_difference_says_waits_and_limits() -> None:
    new = _with_edge(
        replace(
            next(e for e in TEMPLATE.edges if (e.before, e.after) == ("separate", "pack")),
            min_wait=20,
            max_wait=None,
        )
    )

    assert difference(TEMPLATE, new) == (
        "“Paint the separator” before “Mix, pack, trial-close, close”: wait in minutes changed "
        "from 15 to 20.",
        "“Paint the separator” before “Mix, pack, trial-close, close”: latest start in minutes "
        "changed from 720 to nothing.",
    )


def test_difference_names_what_came_and_went() -> None:
    new = replace(
        TEMPLATE,
        stages=(*(s for s in TEMPLATE.stages if s.key != "soak"), _new_stage("rinse")),
        edges=(*TEMPLATE.edges[1:], EdgeSpec("polish", "rinse", "polish")),
        checks=TEMPLATE.checks[1:],
    )

    assert difference(TEMPLATE, new) == (
        "Stage “Lie in water” was taken out.",
        "Stage “New rinse” was added.",
        "“Unpack and log” before “Disinfect and rinse” was taken out.",
        "“Polish” before “New rinse” (when: Polish is ordered) was added.",
        "Check 1 “Everything the prescription speaks of is in the box.” was taken out.",
    )


def test_difference_says_a_changed_measure_and_flag() -> None:
    new = _with_check(
        18, required=False, measures=(Measure("difference", "Copy differs by", "mm", high=0.3),)
    )

    assert difference(TEMPLATE, new) == (
        "Check 18: numbers and limits changed from (difference Copy differs from master by mm "
        "high 0.2) to (difference Copy differs by mm high 0.3).",
        "Check 18: required changed from yes to no.",
    )


def test_difference_says_a_changed_thing_held_and_the_order() -> None:
    held = _with_stage("clamp", holds=(Held("clamp", "cure"),))
    turned = replace(
        TEMPLATE, stages=(TEMPLATE.stages[1], TEMPLATE.stages[0], *TEMPLATE.stages[2:])
    )

    assert difference(TEMPLATE, held) == (
        "Stage “Rest under the clamp”: things held changed from (clamp cool) to (clamp cure).",
    )
    assert difference(TEMPLATE, turned) == ("The stages stand in another order in the list.",)


# -- stored ----------------------------------------------------------------------------------


def test_template_comes_back_from_json_as_it_was() -> None:
    text = json.dumps(TEMPLATE.to_json())

    assert RouteTemplate.from_json(json.loads(text)) == TEMPLATE
    assert json.dumps(RouteTemplate.from_json(json.loads(text)).to_json()) == text


def _spoiled(path: list[str | int], value: Any) -> dict[str, Any]:
    data = json.loads(json.dumps(TEMPLATE.to_json()))
    inner = data
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return data  # type: ignore[no-any-return]


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (["stages", 3, "kind"], "magic", r"stages\[3\].kind should be one of attended"),
        (["stages", 3, "name"], 7, r"stages\[3\].name should be str, not 7"),
        (["stages", 3, "batch"], "yes", r"stages\[3\].batch should be bool"),
        (["stages", 3, "more_each"], True, r"stages\[3\].more_each should be float"),
        (["stages", 3, "colour"], "red", r"stages\[3\] has a field “colour” that nobody knows"),
        (["stages", 3, "minutes"], [], r"stages\[3\].minutes should map"),
        (["stages", 3, "minutes"], {"*": 3}, r"stages\[3\].minutes.\* should be a formula"),
        (["stages", 3, "minutes"], {"*": {"Z": 3}}, "“Z 3” is no part of one"),
        (["stages", 3, "minutes"], {"foam": {}}, "block-out method “foam”"),
        (["stages", 0, "holds", 0, "thing"], "cat", r"holds\[0\].thing should be one of box"),
        (["stages"], {}, "stages should be a list"),
        (["edges", 2], 5, r"edges\[2\] should be an object"),
        (["edges", 2, "min_wait"], "ten", r"edges\[2\].min_wait should be float, not 'ten'"),
        (["edges", 2, "max_wait"], None, ""),
        (["checks", 1, "subject"], "soul", r"checks\[1\].subject should be one of whole"),
        (["checks", 29, "again", 0, "limits"], [1, 2], "should be an object of"),
        (["checks", 29, "again", 0, "limits"], {"edge": [1]}, "limits.edge should be a pair"),
    ],
)
def test_template_from_json_names_what_is_wrong(
    path: list[str | int], value: Any, words: str
) -> None:
    data = _spoiled(path, value)

    if not words:
        assert RouteTemplate.from_json(data).edges[2].max_wait is None
        return
    with pytest.raises(ValueError, match=words):
        RouteTemplate.from_json(data)


def test_template_from_json_names_what_is_missing() -> None:
    data = TEMPLATE.to_json()
    del data["stages"][0]["skill"]

    with pytest.raises(ValueError, match=r"stages\[0\].skill is missing"):
        RouteTemplate.from_json(data)
