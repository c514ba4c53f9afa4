"""Which places of a design a check is asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.checks import SUBJECT_WORDS, SUBJECTS, PlannedCheck, subjects_of
from cases.domain.design import Bar, Clasp, Design, WorkOrder
from cases.domain.route import default_template, grow
from cases.domain.subjects import bases, gap_walls, standing


def _lower(*replaced: int, **more: object) -> Design:
    gone = frozenset(replaced)
    return Design(arch="lower", **{"missing": gone, "replaced": gone, **more})  # type: ignore[arg-type]


def _upper(*replaced: int, **more: object) -> Design:
    return replace(_lower(*replaced, **more), arch="upper")


@pytest.mark.parametrize(
    ("design", "ends"),
    [
        pytest.param(_lower(45, 46, 47, 35, 36, 37), ("right pad", "left pad"), id="both sides"),
        pytest.param(_lower(36, 37), ("left pad",), id="left"),
        pytest.param(_lower(46), (), id="bounded"),
        pytest.param(_lower(36, missing=frozenset({36, 37})), ("left pad",), id="37 not replaced"),
        pytest.param(_lower(37, 36, clasps=(Clasp(38),)), (), id="a clasped third molar bounds"),
        pytest.param(_lower(38), ("left pad",), id="a replaced third molar"),
        pytest.param(
            Design(arch="lower", missing=frozenset({37})), (), id="missing and not replaced"
        ),
        pytest.param(_upper(16, 17), ("right tuberosity",), id="upper right"),
        pytest.param(_upper(27, 26), ("left tuberosity",), id="upper left"),
        pytest.param(_upper(11, 21), (), id="front"),
        pytest.param(
            _lower(36, missing=frozenset({36}), extracted=frozenset({37})), ("left pad",),
            id="the tooth behind will be extracted",
        ),
    ],
)  # fmt: skip
def test_free_ends_are_covered_to_the_pad_or_tuberosity(
    design: Design, ends: tuple[str, ...]
) -> None:
    assert subjects_of("each-free-end", design) == ends


def test_bases_are_runs_that_no_tooth_parts() -> None:
    design = _lower(47, 46, 44, 36, missing=frozenset({47, 46, 44, 43, 36, 35}))

    assert [(base.name, base.right_wall, base.left_wall) for base in bases(design)] == [
        ("base 46-47", None, 45),
        ("base 44", 45, 42),
        ("base 36", 34, 37),
    ]
    assert subjects_of("each-border", design) == ("base 46-47", "base 44", "base 36")


def test_base_across_the_midline_is_one() -> None:
    assert subjects_of("each-border", _upper(12, 11, 21)) == ("base 12-21",)
    assert [base.teeth for base in bases(_upper(12, 11, 21))] == [(12, 11, 21)]


def test_gap_walls_look_into_the_gap() -> None:
    assert gap_walls(_lower(46, 36)) == (
        (47, "mesial"),
        (45, "distal"),
        (35, "distal"),
        (37, "mesial"),
    )
    assert gap_walls(_upper(11, 21)) == ((12, "mesial"), (22, "mesial"))


def test_faces_are_gap_walls_and_what_is_blocked_out_each_once() -> None:
    design = _lower(46, blocked=frozenset({(45, "distal"), (34, "lingual"), (46, "lingual")}))

    assert subjects_of("each-face", design) == (
        "47 mesial",
        "ridge 46 lingual",
        "45 distal",
        "34 lingual",
    )


def test_third_molar_stands_only_when_it_is_named() -> None:
    assert 48 not in standing(_lower(46))
    assert 48 in standing(_lower(46, rests=frozenset({48})))
    assert 48 in standing(_lower(46, blocked=frozenset({(48, "mesial")})))
    assert 38 not in standing(_lower(38, clasps=(Clasp(38),)))


@pytest.mark.parametrize(
    ("subjects", "expected"),
    [
        ("whole", ("",)),
        ("cast", ("",)),
        ("each-clasp", ("45", "34")),
        ("each-replaced", ("46", "36")),
        ("each-extracted", ("46",)),
        ("bar", ("bar",)),
        ("bar-or-tails", ("bar",)),
        ("bar-and-tails", ("bar", "45", "34", "rest 33")),
    ],
)
def test_subjects_stand_in_the_order_of_the_arch(subjects: str, expected: tuple[str, ...]) -> None:
    design = _lower(
        36, 46, extracted=frozenset({46}), clasps=(Clasp(34), Clasp(45)),
        rests=frozenset({33}), bar=True,
    )  # fmt: skip

    assert subjects_of(subjects, design) == expected


def test_tails_are_looked_at_where_there_is_no_bar() -> None:
    wires, bare = _lower(46, clasps=(Clasp(45),)), _lower(46)

    assert subjects_of("bar-or-tails", wires) == ("tails",)
    assert subjects_of("bar-or-tails", bare) == ()
    assert subjects_of("bar", wires) == ()


def test_unknown_subjects_are_refused() -> None:
    with pytest.raises(ValueError, match="each-whisker"):
        subjects_of("each-whisker", _lower(46))


def test_every_kind_of_subject_has_words() -> None:
    assert set(SUBJECT_WORDS) == set(SUBJECTS)
    assert all(SUBJECT_WORDS.values())


def _planned(design: Design, number: int, stage: str) -> list[PlannedCheck]:
    route = grow(default_template(), WorkOrder(), design)
    return [check for check in route.stage(stage).checks if check.number == number]


def _braced(**parts: object) -> Design:
    clasp = Clasp(34, **parts)  # type: ignore[arg-type]
    return Design(
        arch="lower", missing=frozenset({35, 36, 37}), replaced=frozenset({35, 36, 37}),
        clasps=(clasp,), method="wax-then-copy",
    )  # fmt: skip


@pytest.mark.parametrize(("stage", "usual"), [("wax", 1.0), ("finish", 0.5), ("inspect", 0.3)])
def test_bracing_drawn_higher_is_asked_for_higher_and_its_reserve_shrinks_alike(
    stage: str, usual: float
) -> None:
    for drawn, least in ((None, usual), (0.4, usual), (1.6, usual + 0.6)):
        (check,) = _planned(_braced(bracing="plate", bracing_mm=drawn), 30, stage)
        assert check.measures[0].low == pytest.approx(least)
        assert f"{least:g} mm" in check.limit.replace(".0 mm", " mm")


def test_a_clasp_that_nothing_faces_has_no_bracing_to_measure() -> None:
    assert _planned(_braced(bracing="none"), 30, "wax") == []
    assert len(_planned(_braced(), 30, "wax")) == 1


def test_the_words_of_a_check_carry_what_the_design_says_of_pad_and_bar() -> None:
    design = replace(
        _braced(), bar=True, strengthener=Bar(held="two stone stops"),
        covered=(("left pad", "front-half"),),
    )  # fmt: skip
    (pad,) = _planned(design, 31, "wax")
    assert pad.words == "The left pad is covered at least in its front half, and not thin."
    (bar,) = _planned(design, 28, "bar")
    assert "cannot move it (held by: two stone stops); ends" in bar.words
    (bar,) = _planned(replace(design, strengthener=None), 28, "bar")
    assert "cannot move it; ends" in bar.words
