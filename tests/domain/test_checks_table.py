"""The default checks against the bench's list, written out here a second time."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.checks import CheckSpec, PlannedCheck
from cases.domain.design import BlockOutMethod, Clasp, Design, WorkOrder
from cases.domain.route import Route, default_template, grow

TEMPLATE = default_template()
SPECS = {check.number: check for check in TEMPLATE.checks}

# number: stage, subject, kind, what it reads, what it says if not, looked at again at.
# Where the bench names another check there ("wax 31"), that check is listed by its number.
TABLE: dict[int, tuple[str, str, str, str, str, set[str]]] = {
    1: ("receive", "whole", "Y+F", "prescription speaks of is in the box", "Say what is", set()),
    2: ("receive", "border", "Y", "shows the whole of", "new impression, or end the base", set()),
    3: ("receive", "whole", "Y+F", "No tear, pull or hole", "Do not pour and hope", set()),
    4: ("disinfect", "whole", "M", "then rinsed", "Finish the time on the label", set()),
    5: ("pour", "cast", "M", "from taken to poured", "Too old to trust", set()),
    6: ("trim", "face", "Y", "No bubble, blob or broken edge", "pour again", {"copy-cast"}),
    7: ("trim", "cast", "Y", "Case number scratched in every cast", "deeper flask", set()),
    8: ("trim", "whole", "Y", "go together by hand one way only", "bite record or a rim", set()),
    9: ("cast-prep", "tooth", "Y+F", "is cut, to the depth", "Pour a second cast", set()),
    10: ("survey", "cast", "Y", "Tilt fixed with three marks", "Mark it now", set()),
    11: ("survey", "clasp", "Y+M", "rod still shows daylight", "A tilt makes no hold", set()),
    12: ("survey", "clasp", "K", "cusp tip (or edge) down to the survey line", "", set()),
    13: ("survey", "clasp", "M", "to the gum line", "Tip higher", {"clasps", "finish"}),
    14: ("block-out", "face", "Y", "touches all the way", "ground blindly", {"copy-cast"}),
    15: ("block-out", "clasp", "Y", "clear of where the tip", "must reach the stone", set()),
    16: ("block-out", "face", "M", "Gum line and papillae", "Add a line of relief", {"finish"}),
    17: ("block-out", "whole", "Y+F", "no wax left as block-out", "Wax boils out", set()),
    18: ("copy-cast", "cast", "M", "copy against master", "Pour the copy again", set()),
    19: ("copy-cast", "cast", "Y", "Copy numbered", "Find its place now", {"fit", "pack-out"}),
    20: ("mount", "cast", "Y", "Base notched and keyed", "Notch before the plaster", set()),
    21: ("mount", "tooth", "Y", "Natural teeth hold the foil", "Mounted open", set()),
    22: ("clasps", "clasp", "Y", "first two thirds", "Bend a new one", {"fit", "inspect"}),
    23: ("clasps", "clasp", "M", "where the wire lies", "Move the tip", {"fit", "inspect"}),
    24: ("clasps", "clasp", "Y", "presses nowhere", "made again", {"inspect"}),
    25: ("clasps", "clasp", "M", "Free arm of", "Shorter is stiffer", {"finish"}),
    26: ("clasps", "clasp", "M", "off the ridge", "Lift it", set()),
    27: ("clasps", "clasp", "M", "crosses the bite", "Another crossing", {"bite"}),
    28: ("bar", "bar", "Y+M", "does not rock", "Seat it on stops again", set()),
    29: ("teeth", "tooth", "Y", "mould and shade as ordered", "never the stone", {"wax"}),
    30: ("wax", "clasp", "M", "Bracing behind", "finishing takes some", {"finish", "inspect"}),
    31: ("wax", "border", "Y", "covered [covered]", "Add wax", {"finish", "inspect"}),
    32: ("wax", "border", "Y", "frena free", "Set it to the order", {"finish", "inspect"}),
    33: ("wax", "clasp", "Y", "the free arm is bare", "short and stiff", {"finish", "inspect"}),
    34: ("wax", "whole", "M", "Thinnest place and thickest place", "warn the bath", set()),
    35: ("wax-pass", "whole", "Y+F", "a second person agrees", "Back to wax", set()),
    36: ("flask-lower", "whole", "Y", "Stone teeth and outer arms", "Dig out", set()),
    37: ("flask-upper", "whole", "Y", "metal to metal", "Clean the rims", set()),
    38: ("boil-out", "whole", "Y+F", "No wax film", "Flush again", set()),
    39: ("separate", "whole", "Y", "Separator on all gypsum", "monomer on a brush", set()),
    40: ("pack", "whole", "M", "last opening without flash", "mix again", set()),
    41: ("pack", "bar", "Y", "nothing has moved and no plaster", "Put it back now", set()),
    42: ("bite", "whole", "Y+M", "Pin open before correcting", "did not close", {"inspect"}),
    43: ("fit", "face", "Y", "by hand without rocking", "Mark, ease, try again", {"inspect"}),
    44: ("deflask", "whole", "Y+F", "Opened hand-warm", "Stop before grinding", set()),
    45: ("finish", "whole", "M", "Thinnest place", "Too thin to send", {"inspect"}),
    46: ("finish", "bar", "Y", "Bar ends and wire tails", "Seal with self-cure", {"inspect"}),
    47: ("finish", "whole", "Y", "Flash and blebs off", "sore spot", {"inspect"}),
    48: ("inspect", "whole", "Y+F", "Against the drawing", "Send back to the stage", set()),
    49: ("inspect", "whole", "Y", "must not be ground", "Write it", set()),
    50: ("pack-out", "whole", "Y+M", "bagged damp", "", set()),
}

# number: limits by measure, for a lower piece with bar whose design says gauge 0.50, arm 10 mm.
LIMITS: dict[int, dict[str, tuple[float | None, float | None, str]]] = {
    4: {"minutes": (10, None, "min")},
    5: {"minutes": (None, 15, "min")},
    11: {"gauge": (0.5, 0.5, "mm")},
    12: {"line": (None, None, "mm")},
    13: {"gap": (1.0, None, "mm")},
    16: {"relief": (0.25, 0.5, "mm")},
    18: {"difference": (None, 0.2, "mm")},
    23: {"gauge": (0.5, 0.5, "mm")},
    25: {"arm": (9.5, None, "mm")},
    26: {"off": (0.5, 1.0, "mm"), "length": (8, None, "mm")},
    27: {"room": (0.5, None, "mm")},
    28: {"off": (0.5, 1.0, "mm"), "cover": (1, None, "mm")},
    30: {"edge": (1.0, None, "mm")},
    34: {
        "plate": (2.5, None, "mm"), "metal": (1.3, None, "mm"), "thickest": (None, None, "mm"),
    },
    40: {
        "powder": (None, None, "g"), "liquid": (None, None, "ml"),
        "minutes": (None, None, "min"), "closings": (2, None, ""), "press": (None, None, ""),
    },
    42: {"pin": (None, 0.5, "mm")},
    45: {"plate": (2.0, None, "mm"), "metal": (1.0, None, "mm")},
    50: {"minutes": (10, None, "min")},
    59: {"flange": (2.0, None, "mm"), "pad": (2.0, None, "mm"), "join": (2.0, None, "mm")},
}  # fmt: skip

# Limits that are seen and not entered as a number.
SEEN = {
    2: "free ends only",
    7: "base at least 10 mm; room at least 6 mm",
    10: "at most 10° from level",
    14: "no daylight",
    21: "foil at most 12 µm",
    29: "foil at most 12 µm",
    31: "edge at least 2.5 mm of wax",
    37: "no gap",
    44: "flask at most 40 °C",
    46: "at least 1 mm",
}

DESIGN = Design(
    arch="lower",
    missing=frozenset({35, 36, 37, 46}),
    replaced=frozenset({35, 36, 37, 46}),
    extracted=frozenset({46}),
    clasps=(Clasp(34, 1.0, 0.5, 10.0), Clasp(45, 1.0, 0.5, 10.0)),
    bar=True,
    blocked=frozenset({(34, "distal"), (45, "distal")}),
    method="wax-then-copy",
)


def _route(
    method: BlockOutMethod = "wax-then-copy", order: WorkOrder | None = None, **design: object
) -> Route:
    changed = replace(DESIGN, method=method, **design)  # type: ignore[arg-type]
    return grow(TEMPLATE, order or WorkOrder(), changed)


def _checks(route: Route) -> dict[str, PlannedCheck]:
    return {check.key: check for stage in route.stages for check in stage.checks}


def _kind(spec: CheckSpec) -> str:
    """The kind as the bench writes it; a single kept value without a limit is K."""
    parts = ["Y"] if spec.yes_no else []
    if len(spec.measures) == 1 and spec.keeps and spec.measures[0].limit_words == "":
        parts.append("K")
    elif spec.measures:
        parts.append("M")
    if spec.photo:
        parts.append("F")
    return "+".join(parts)


def test_checks_are_the_fifty_those_of_the_short_routes_and_of_the_rules() -> None:
    assert [number for number in SPECS if number <= 50] == list(TABLE)
    assert [number for number in SPECS if number > 50] == [51, 52, 53, 54, 55, 56, 57, 58, 59]


@pytest.mark.parametrize("number", TABLE)
def test_check_reads_as_on_the_bench(number: int) -> None:
    spec = SPECS[number]
    stage, subject, kind, reads, if_not, again = TABLE[number]

    assert (spec.stage, spec.subject, _kind(spec)) == (stage, subject, kind)
    assert reads in spec.words
    assert if_not in spec.if_not
    assert {look.stage for look in spec.again} == again
    assert spec.mark
    assert spec.required


@pytest.mark.parametrize("number", sorted(SPECS))
def test_check_limits_are_those_of_the_bench(number: int) -> None:
    planned = [c for c in _checks(_route()).values() if c.number == number]
    first = [check for check in planned if check.stage == SPECS[number].stage]

    for check in first:
        found = {m.key: (m.low, m.high, m.unit) for m in check.measures}
        assert found == LIMITS.get(number, {})
    assert SPECS[number].limit == SEEN.get(number, SPECS[number].limit)


def test_upper_piece_has_the_limits_of_a_palate() -> None:
    route = _route(
        arch="upper", missing=frozenset({15}), replaced=frozenset({15}), extracted=frozenset(),
        clasps=(), blocked=frozenset(), bar=False,
    )  # fmt: skip
    checks = _checks(route)

    assert [(m.key, m.low) for m in checks["34@wax"].measures] == [
        ("palate", 2.3),
        ("thickest", None),
    ]
    assert [(m.key, m.low) for m in checks["45@finish"].measures] == [("palate", 1.5)]


def test_the_bases_are_measured_where_they_are() -> None:
    """The edge at a pad where there is one; a flange where a tooth behind the canines stands."""

    def asked(*teeth: int) -> list[str]:
        gone = frozenset(teeth)
        route = _route(missing=gone, replaced=gone, extracted=frozenset(), clasps=(), bar=False)
        checks = _checks(route)
        assert {"59@finish", "59@inspect"} <= checks.keys()
        return [m.key for m in checks["59@finish"].measures]

    assert asked(46, 47) == ["flange", "pad", "join"]
    assert asked(45) == ["flange", "join"]
    assert asked(31, 41) == ["join"]
    nobody = _route(missing=frozenset(), replaced=frozenset(), extracted=frozenset())
    assert "59@finish" not in _checks(nobody)


# The decisions that are carried through: design and order, then check keys stage by stage.
IMMEDIATE = ("9@cast-prep:46", "58@cast-prep", "48@inspect", "49@inspect")
CARRIED: dict[str, tuple[BlockOutMethod, tuple[str, ...]]] = {
    "bracing, with a master": (
        "wax-then-copy",
        ("12@survey:34", "30@wax:34", "30@finish:34", "30@inspect:34"),
    ),
    "bracing, without a master": (
        "plaster",
        ("12@survey:45", "30@wax:45", "30@finish:45", "30@inspect:45"),
    ),
    "undercut blocked out": (
        "wax-then-copy",
        ("14@block-out:34 distal", "14@copy-cast:34 distal", "43@fit:34 distal"),
    ),
    "free arm and tip": (
        "wax-then-copy",
        ("25@clasps:34", "33@wax:34", "25@finish:34", "33@inspect:34", "23@inspect:34"),
    ),
    "pad": ("plaster", ("2@receive:left pad", "31@wax:left pad", "31@finish:left pad",
                        "31@inspect:left pad")),
    "border order": (
        "plaster",
        ("32@wax:base 35-37", "32@finish:base 35-37", "32@inspect:base 35-37", "49@inspect"),
    ),
    "bar": ("plaster", ("28@bar:bar", "38@boil-out", "41@pack:bar", "46@finish:bar",
                        "46@inspect:bar")),
    "gum relief": (
        "wax-then-copy",
        ("16@block-out:34 distal", "43@fit:34 distal", "16@finish:34 distal"),
    ),
    "bite": ("plaster", ("21@mount", "29@teeth:36", "42@bite", "42@inspect")),
    "immediate teeth": ("plaster", IMMEDIATE),
}  # fmt: skip


@pytest.mark.parametrize("decision", CARRIED)
def test_decision_is_carried_through_to_the_end(decision: str) -> None:
    method, keys = CARRIED[decision]
    route = _route(method)
    checks = _checks(route)

    stages = [checks[key].stage for key in keys]
    assert stages == sorted(stages, key=route.keys.index)
    assert all(checks[key].required for key in keys)


def test_reserve_of_the_bracing_shrinks_from_wax_to_inspection() -> None:
    checks = _checks(_route())

    reserve = [checks[f"30@{stage}:34"].measures[0].low for stage in ("wax", "finish", "inspect")]
    assert reserve == [1.0, 0.5, 0.3]


@pytest.mark.parametrize(
    ("blocked", "measures"),
    [
        (frozenset({(34, "lingual")}), ["band"]),
        (frozenset({(34, "distal")}), ["caliper"]),
    ],
)
def test_bracing_without_a_master_is_measured_from_the_band_or_by_caliper(
    blocked: frozenset[tuple[int, str]], measures: list[str]
) -> None:
    checks = _checks(_route("plaster", blocked=blocked))

    for stage in ("finish", "inspect"):
        check = checks[f"30@{stage}:34"]
        assert check.rule == "bracing-band"
        assert [measure.key for measure in check.measures] == measures
    at_wax = [measure.key for measure in checks["30@wax:34"].measures]
    assert at_wax == (["edge"] if measures == ["band"] else ["edge", "caliper"])


def test_bracing_on_a_master_asks_for_no_caliper() -> None:
    check = _checks(_route())["30@finish:34"]

    assert check.rule == "bracing"
    assert [(m.key, m.source_value) for m in check.measures] == [("edge", "12")]


def test_tip_and_gauge_are_measured_late_only_on_a_master() -> None:
    copy, plaster = _checks(_route()), _checks(_route("plaster"))

    assert copy["13@finish:34"].measures
    assert (plaster["13@finish:34"].yes_no, plaster["13@finish:34"].measures) == (True, ())
    assert "23@inspect:34" in copy
    assert "23@inspect:34" not in plaster
    assert "photographs" in plaster["22@inspect:34"].words


def test_relief_is_looked_at_and_not_measured_at_the_finish() -> None:
    check = _checks(_route())["16@finish:34 distal"]

    assert (check.yes_no, check.measures, check.photo) == (True, (), False)
    assert check.words == "Relief of the gum line and papillae at 34 distal is still there."


def test_limit_in_words_stays_or_changes_when_looked_at_again() -> None:
    checks = _checks(_route())

    assert checks["46@inspect:bar"].limit == "at least 1 mm"
    assert checks["31@wax:left pad"].limit == "edge at least 2.5 mm of wax"
    assert checks["31@inspect:left pad"].limit == "edge at least 2.0 mm"


def test_border_check_reads_the_order() -> None:
    drawn = _checks(_route(order=WorkOrder(borders="as-drawn", polish="none")))

    assert drawn["32@wax:base 46"].words == (
        "Border at base 46 where it was ordered: as drawn on the cast; frena free."
    )
    assert "no polish, smooth from the paper" in drawn["48@inspect"].words


@pytest.mark.parametrize(
    ("order", "high", "never"),
    [
        (WorkOrder(), 15, 30),
        (WorkOrder(pour_limit_minutes=25), 25, 30),
        (WorkOrder(pour_limit_minutes=4 * 24 * 60), 5760, None),
        (WorkOrder(alginate=False), None, None),
        (WorkOrder(alginate=False, pour_limit_minutes=7 * 24 * 60), 10080, None),
    ],
)
def test_pour_check_goes_by_the_product_limit(
    order: WorkOrder, high: float | None, never: float | None
) -> None:
    measure = _checks(_route(order=order))["5@pour"].measures[0]

    assert (measure.high, measure.refuse_high) == (high, never)


def test_gauge_without_a_decision_may_be_either() -> None:
    measure = _checks(_route(clasps=(Clasp(34),)))["11@survey:34"].measures[0]

    assert (measure.low, measure.high) == (0.25, 0.5)


def test_free_arm_without_a_design_is_kept_only() -> None:
    measure = _checks(_route(clasps=(Clasp(34),)))["25@clasps:34"].measures[0]

    assert (measure.low, measure.high, measure.limit_words) == (None, None, "")


def test_no_check_stands_at_a_stage_that_the_case_has_not() -> None:
    route = _route("plaster", order=WorkOrder(opposing=False))

    assert {check.stage for check in _checks(route).values()} <= set(route.keys)
    assert "27@bite:34" not in _checks(route)


def test_checks_of_a_stage_come_in_the_order_of_their_numbers() -> None:
    for stage in _route().stages:
        numbers = [check.number for check in stage.checks]
        assert numbers == sorted(numbers)


@pytest.mark.parametrize("key", ["receive", "finish", "inspect", "pack-out"])
def test_adjustment_asks_only_what_it_can_answer(key: str) -> None:
    order = WorkOrder(kind="adjustment", impressions_came=False, opposing=False)
    route = grow(TEMPLATE, order, replace(DESIGN, method="plaster"))

    numbers = {check.number for check in route.stage(key).checks}
    assert (
        numbers
        == {
            "receive": {1},
            "finish": {46, 47},
            "inspect": {24, 46, 47, 48, 49},
            "pack-out": {50},
        }[key]
    )


def test_every_stage_of_work_has_a_check() -> None:
    without = {s.key for s in TEMPLATE.stages} - {c.stage for c in TEMPLATE.checks}

    # Waits, the practice, and stages whose work the next check looks at.
    assert without == {
        "rim", "agree", "copy-mould", "join", "try-in", "clamp", "cure", "cool", "take-off",
        "polish", "soak", "send",
    }  # fmt: skip


def test_planned_check_comes_back_from_json_as_it_was() -> None:
    for check in _checks(_route("plaster")).values():
        assert PlannedCheck.from_json(check.to_json()) == check


def test_planned_check_from_json_names_what_is_wrong() -> None:
    data = _checks(_route())["30@wax:34"].to_json()

    with pytest.raises(ValueError, match=r"check.yes_no should be bool"):
        PlannedCheck.from_json({**data, "yes_no": "yes"})
    with pytest.raises(ValueError, match=r"check.key is missing"):
        PlannedCheck.from_json({name: value for name, value in data.items() if name != "key"})


@pytest.mark.parametrize("stage", ["wax", "finish", "inspect"])
def test_bracing_says_the_limit_that_it_judges_by(stage: str) -> None:
    # The words stand in the catalogue with their number, so a changed limit must change both.
    spec = SPECS[30]
    later = [again for again in spec.again if again.stage == stage]
    told = (
        [(spec.measures[0].low, spec.limit)]
        if stage == "wax"
        else [(next(iter((again.limits or {}).values()))[0], again.limit) for again in later]
    )

    assert told
    assert all(f"at least {low:.1f} mm above" in str(limit) for low, limit in told)
