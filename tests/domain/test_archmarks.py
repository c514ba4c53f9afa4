"""What a large drawing of an arch shows beside crowns and wires."""

from __future__ import annotations

import pytest

from cases.domain import teeth
from cases.domain.archdrawing import draw
from cases.domain.archform import ArchInput
from cases.domain.archshapes import Label
from cases.domain.design import RELIEF_AREAS, Clasp, Design

FREE_ENDS = Design(
    arch="lower",
    missing=frozenset({38, 37, 36, 46, 47, 48}),
    replaced=frozenset({36, 37, 46, 47}),
    clasps=(Clasp(35, tip="mesial", bracing="plate"), Clasp(45, tip="mesial", bracing="none")),
    stops=frozenset({33}),
    joint_teeth=frozenset({45}),
    hollowed=frozenset({36}),
    blocked=frozenset({(35, "distal"), (43, "lingual")}),
    covered=(("right pad", "whole"), ("left pad", "")),
    abutments=frozenset({34}),
    relieved=frozenset({"torus"}),
)


def drawn(design: Design, role: str, **options: object) -> list[int | None]:
    """The teeth of the shapes with this role; None where a shape belongs to none."""
    shown = draw(ArchInput.from_design(design), size=300, **options)  # type: ignore[arg-type]
    return [shape.fdi for shape in shown.shapes if shape.role == role]


@pytest.mark.parametrize(
    ("role", "expected"),
    [
        ("stop", [33]),
        ("joint", [45]),
        ("hollow", [36]),
        ("bracing", [35]),
        ("blocked", [35, 43]),
        ("cover", [None]),
        ("abutment", [34]),
        ("relief", [None, None]),
    ],
)
def test_each_mark_is_drawn_at_its_tooth(role: str, expected: list[int | None]) -> None:
    assert drawn(FREE_ENDS, role) == expected


@pytest.mark.parametrize("arch", ["upper", "lower"])
@pytest.mark.parametrize("area", RELIEF_AREAS)
def test_every_area_of_relief_is_drawn_inside_the_picture(arch: str, area: str) -> None:
    gap = frozenset({15} if arch == "upper" else {45})
    design = Design(arch=arch, missing=gap, replaced=gap, relieved=frozenset({area}))  # type: ignore[arg-type]
    shown = draw(ArchInput.from_design(design), size=300)
    left, top, width, height = shown.box
    lines = [shape for shape in shown.shapes if shape.role == "relief"]
    points = [point for line in lines for point in line.points]  # type: ignore[union-attr]

    assert lines
    assert all(left <= x <= left + width and top <= y <= top + height for x, y in points)


def test_a_small_drawing_leaves_the_marks_out() -> None:
    small = draw(ArchInput.from_design(FREE_ENDS), size=64)
    assert {shape.role for shape in small.shapes}.isdisjoint({"stop", "joint", "hollow", "blocked"})


def test_the_bracing_lies_on_the_tongue_side_and_the_arm_on_the_cheek_side() -> None:
    shown = draw(ArchInput.from_design(FREE_ENDS), size=300)
    (bracing,) = (shape for shape in shown.shapes if shape.role == "bracing")
    (arm,) = (s for s in shown.shapes if s.role == "clasp" and s.fdi == 35)
    (crown,) = (s for s in shown.shapes if s.role == "crown-present" and s.fdi == 35)

    def across(shape: object) -> float:
        points = shape.points  # type: ignore[attr-defined]
        return sum(x for x, _y in points) / len(points)

    # 35 stands on the viewer's right; its cheek side lies further out.
    assert across(bracing) < across(crown) < across(arm)


def test_the_arm_comes_from_the_side_away_from_its_tip() -> None:
    turned = Design(arch="lower", clasps=(Clasp(35, tip="distal"),))
    assert ArchInput.from_design(turned).clasp_origins == ((35, "mesial"),)


def test_what_changed_is_ringed() -> None:
    shown = draw(ArchInput.from_design(FREE_ENDS, changed=(44, 36)), size=300)
    assert [s.fdi for s in shown.shapes if s.role == "changed"] == [44, 36]


def test_a_crown_behind_the_base_leaves_no_room_for_the_bow_of_a_cover() -> None:
    standing = Design(
        arch="lower", missing=frozenset({36, 37}), replaced=frozenset({36, 37}),
        covered=(("left pad", "whole"),),
    )  # fmt: skip
    assert drawn(standing, "cover") == []


@pytest.mark.parametrize(("system", "said"), [("fdi", "75"), ("universal", "K"), ("palmer", "LLe")])
def test_a_milk_tooth_has_its_own_number_and_is_smaller(system: str, said: str) -> None:
    design = Design(arch="lower", primary=frozenset({35}))
    shown = draw(ArchInput.from_design(design), size=300, notation=system)
    assert [s.text for s in shown.shapes if isinstance(s, Label) and s.fdi == 35] == [said]


@pytest.mark.parametrize("fdi", [16, 38, 55, 85])
def test_no_milk_tooth_goes_before_a_molar_or_before_another(fdi: int) -> None:
    with pytest.raises(ValueError, match="No milk tooth"):
        teeth.primary_before(fdi)


def test_before_each_front_tooth_and_premolar_stood_a_milk_tooth() -> None:
    found = [teeth.primary_before(fdi) for fdi in (15, 11, 21, 25, 31, 35, 41, 45)]
    assert found == [55, 51, 61, 65, 71, 75, 81, 85]
