"""The design that an order lets one expect, and what cannot be in any design."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain import teeth
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.design_rules import expected_design
from cases.domain.design_slips import flaws

BOTH_FREE_ENDS = frozenset({35, 36, 37, 45, 46, 47})


def _clasped(design: Design) -> list[int]:
    return [clasp.tooth for clasp in design.clasps]


@pytest.mark.parametrize(
    ("arch", "missing", "clasped"),
    [
        pytest.param("lower", BOTH_FREE_ENDS, [44, 34], id="free ends both sides"),
        pytest.param("upper", {15}, [14, 24], id="one gap and the other side"),
        pytest.param("upper", {11, 21, 12, 22}, [13, 23], id="front"),
        pytest.param("lower", {36, 46}, [45, 35], id="two gaps"),
        pytest.param("lower", set(range(41, 48)), [34, 35], id="one side empty"),
        pytest.param("lower", {*range(33, 38), *range(43, 48)}, [], id="only incisors left"),
    ],
)
def test_two_clasps_are_expected_beside_the_gaps(
    arch: str, missing: set[int], clasped: list[int]
) -> None:
    design = expected_design(arch, missing, missing)  # type: ignore[arg-type]

    assert _clasped(design) == clasped


def test_expected_design_is_plaster_and_provisional() -> None:
    design = expected_design("lower", BOTH_FREE_ENDS, BOTH_FREE_ENDS, bar=True)

    assert design == Design(
        arch="lower",
        missing=BOTH_FREE_ENDS,
        replaced=BOTH_FREE_ENDS,
        clasps=(Clasp(44), Clasp(34)),
        bar=True,
        blocked=frozenset({(44, "distal"), (34, "distal")}),
        method="plaster",
        provisional=True,
    )


def test_teeth_to_be_extracted_count_as_missing_and_carry_no_clasp() -> None:
    design = expected_design("lower", {36}, {36, 35}, {35})

    assert design.missing == {36, 35}
    assert not design.bar
    assert design.extracted == {35}
    assert 35 not in _clasped(design)


def test_wishes_of_the_practice_come_first() -> None:
    design = expected_design("lower", {36}, {36}, clasp_teeth={33, 36})

    assert _clasped(design) == [33]


def test_standing_third_molar_makes_the_gap_bounded() -> None:
    free = expected_design("lower", {36, 37}, {36, 37})
    bounded = expected_design("lower", {36, 37}, {36, 37}, third_molar_abutments={38})

    assert (38, "mesial") not in free.blocked
    assert (38, "mesial") in bounded.blocked


def test_nothing_replaced_expects_no_clasp() -> None:
    assert _clasped(expected_design("upper", {18}, ())) == []


def test_tooth_of_the_other_arch_is_refused() -> None:
    with pytest.raises(ValueError, match="16 is no tooth of the lower arch"):
        expected_design("lower", {16}, {16})


@given(arch=st.sampled_from(["upper", "lower"]), data=st.data())
def test_expected_design_has_no_flaw(arch: str, data: st.DataObject) -> None:
    some = st.frozensets(st.sampled_from(teeth.teeth_of_arch(arch)))
    missing, replaced, extracted = data.draw(some), data.draw(some), data.draw(some)

    design = expected_design(arch, missing, replaced, extracted)  # type: ignore[arg-type]

    assert flaws(design) == ()
    assert len(design.clasps) <= 2
    assert Design.from_json(design.to_json()) == design


GOOD = Design(
    arch="lower", missing=frozenset({46}), replaced=frozenset({46}), clasps=(Clasp(45),)
)  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"clasps": (Clasp(46),)},
         "46 is missing: it cannot carry a clasp. Choose another."),
        ({"missing": frozenset({46, 45}), "extracted": frozenset({45})},
         "45 will be extracted: it cannot carry a clasp. Choose another."),
        ({"clasps": (Clasp(45), Clasp(45))}, "45 has two clasps. Keep one."),
        ({"clasps": (Clasp(15),)}, "15 is no tooth of the lower arch. Take it out."),
        ({"replaced": frozenset({46, 47})},
         "47 is replaced but not among the missing teeth. Mark it missing."),
        ({"extracted": frozenset({44})},
         "44 is to be extracted but not among the missing teeth. Mark it missing."),
        ({"rests": frozenset({46})},
         "46 is missing: it cannot carry a wire rest. Choose another."),
        ({"blocked": frozenset({(45, "distal")})},
         "Faces are marked as blocked out, but the method is none. Choose a method, or take "
         "the faces out."),
        ({"joints": -1}, "Joints are counted from 0. Enter how many there are."),
        ({"joints": 1, "clasps": ()},
         "There are joints, but no wire or bar to join. Enter 0 joints."),
    ],
)  # fmt: skip
def test_flaw_is_said_with_the_way_out(changes: dict[str, object], sentence: str) -> None:
    assert flaws(GOOD) == ()
    assert flaws(replace(GOOD, **changes)) == (sentence,)  # type: ignore[arg-type]


def test_design_and_order_come_back_from_json_without_the_newer_fields() -> None:
    design, order = GOOD.to_json(), WorkOrder(alginate=False, pour_limit_minutes=30).to_json()
    del design["copy_in"]

    assert Design.from_json(design) == GOOD
    assert WorkOrder.from_json(order) == WorkOrder(alginate=False, pour_limit_minutes=30)
    del order["alginate"], order["pour_limit_minutes"]
    assert WorkOrder.from_json(order) == WorkOrder()
