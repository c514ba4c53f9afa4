"""The drawing of the arch: geometry, roles, and the SVG and sentence made from it."""

from __future__ import annotations

import re
from itertools import pairwise
from math import atan2, pi
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.archdrawing import Drawing, draw
from cases.domain.archform import MESIODISTAL_MM, ArchInput, Point, form_of
from cases.domain.archshapes import Dot, Label, Outline
from cases.domain.archsvg import to_svg
from cases.domain.archtitle import say_arch, say_teeth
from cases.domain.design import Clasp, Design
from cases.domain.teeth import Arch, teeth_of_arch

ARCHES: tuple[Arch, ...] = ("upper", "lower")
FREE_ENDS = ArchInput(
    "lower", missing=(38, 48), replaced=(34, 35, 36, 37, 45, 46, 47), clasps=(33, 44), bar=True
)
ANTERIOR = ArchInput("upper", missing=(18, 28), replaced=(12, 11, 21, 22), clasps=(14, 24))


def crowns(drawing: Drawing) -> dict[int, Outline]:
    found = [s for s in drawing.shapes if isinstance(s, Outline) and s.role.startswith("crown")]
    by_tooth = {shape.fdi: shape for shape in found if shape.fdi is not None}
    assert len(by_tooth) == len(found)
    return by_tooth


def middle(points: tuple[Point, ...]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def area(points: tuple[Point, ...]) -> float:
    ring = pairwise((*points, points[0]))
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in ring) / 2


def clip(subject: tuple[Point, ...], clipper: tuple[Point, ...]) -> tuple[Point, ...]:
    """Cut one convex polygon with another (Sutherland and Hodgman)."""
    sign = 1 if area(clipper) > 0 else -1
    out = list(subject)
    for (ax, ay), (bx, by) in pairwise((*clipper, clipper[0])):
        sides = [sign * ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) for x, y in out]
        kept: list[Point] = []
        for index, (x, y) in enumerate(out):
            (px, py), side, before = out[index - 1], sides[index], sides[index - 1]
            if side * before < 0:
                share = before / (before - side)
                kept.append((px + share * (x - px), py + share * (y - py)))
            if side >= 0:
                kept.append((x, y))
        out = kept
        if not out:
            return ()
    return tuple(out)


def roles(drawing: Drawing, role: str) -> list[int | None]:
    return [shape.fdi for shape in drawing.shapes if shape.role == role]


@pytest.mark.parametrize("arch", ARCHES)
def test_every_standing_tooth_is_drawn_once(arch: Arch) -> None:
    assert tuple(crowns(draw(ArchInput(arch)))) == teeth_of_arch(arch)


@pytest.mark.parametrize("arch", ARCHES)
@pytest.mark.parametrize("in_hand", [False, True])
def test_walking_the_arch_keeps_one_turning_sense(arch: Arch, in_hand: bool) -> None:
    found = crowns(draw(ArchInput(arch), in_hand=in_hand))
    way = [middle(found[fdi].points) for fdi in teeth_of_arch(arch)]

    headings = [atan2(y1 - y0, x1 - x0) for (x0, y0), (x1, y1) in pairwise(way)]
    turns = [(b - a + pi) % (2 * pi) - pi for a, b in pairwise(headings)]

    # y runs down the page: from the patient's right to the left a lower arch turns to the left.
    assert all(turn < 0.01 if arch == "lower" else turn > -0.01 for turn in turns)
    assert abs(sum(turns)) > 2.5


def test_patients_right_is_on_the_viewers_left() -> None:
    lower, upper = crowns(draw(ArchInput("lower"))), crowns(draw(ArchInput("upper")))

    assert middle(lower[46].points)[0] < middle(lower[36].points)[0]
    assert middle(upper[16].points)[0] < middle(upper[26].points)[0]


def test_lower_opens_upward_and_upper_downward() -> None:
    lower, upper = crowns(draw(ArchInput("lower"))), crowns(draw(ArchInput("upper")))

    assert middle(lower[31].points)[1] > middle(lower[37].points)[1]
    assert middle(upper[11].points)[1] < middle(upper[17].points)[1]


@pytest.mark.parametrize("design", [FREE_ENDS, ANTERIOR])
def test_cast_in_hand_is_a_half_turn_of_every_shape(design: ArchInput) -> None:
    plain, turned = draw(design, size=250), draw(design, size=250, in_hand=True)

    assert len(plain.shapes) == len(turned.shapes)
    for before, after in zip(plain.shapes, turned.shapes, strict=True):
        if isinstance(before, Outline):
            assert isinstance(after, Outline)
            assert after.points == tuple((-x, -y) for x, y in before.points)
        else:
            assert not isinstance(after, Outline)
            assert after.centre == (-before.centre[0], -before.centre[1])
        assert after.role == before.role
    left, top, width, height = plain.box
    assert turned.box == (-left - width, -top - height, width, height)


def test_letters_stand_on_the_patients_sides_also_in_hand() -> None:
    for in_hand in (False, True):
        drawing = draw(FREE_ENDS, size=250, in_hand=in_hand)
        letters = {s.text: s.centre[0] for s in drawing.shapes if s.role == "side-letter"}  # type: ignore[union-attr]
        right_molar = middle(crowns(drawing)[46].points)[0]

        assert letters.keys() == {"R", "L"}
        assert letters["R"] * right_molar > 0 > letters["L"] * right_molar


def test_roles_of_crowns_follow_the_design() -> None:
    design = ArchInput("lower", missing=(38, 46), replaced=(36, 34), extracted=(34, 31))
    found = {fdi: shape.role for fdi, shape in crowns(draw(design)).items()}

    assert found[36] == found[34] == "crown-replaced"
    assert found[46] == "crown-missing"
    assert found[31] == found[33] == "crown-present"
    assert set(roles(draw(design), "extracted")) == {34, 31}


def test_missing_third_molars_are_left_out_unless_replaced_or_asked_for() -> None:
    design = ArchInput("upper", missing=(18, 28), replaced=(28,))

    assert 18 not in crowns(draw(design))
    assert crowns(draw(design))[28].role == "crown-replaced"
    assert crowns(draw(design, every_tooth=True))[18].role == "crown-missing"
    assert 18 not in roles(draw(design, size=250), "number")


@pytest.mark.parametrize("arch", ARCHES)
def test_neighbouring_crowns_hardly_overlap(arch: Arch) -> None:
    found = crowns(draw(ArchInput(arch), detailed=True))

    for left, right in pairwise(teeth_of_arch(arch)):
        shared = clip(found[left].points, found[right].points)
        overlap = abs(area(shared)) if shared else 0.0
        assert overlap < 0.01 * abs(area(found[left].points)), (left, right)


@pytest.mark.parametrize("arch", ARCHES)
def test_crowns_are_as_wide_as_the_table_less_the_gap(arch: Arch) -> None:
    form = form_of(arch)
    found = crowns(draw(ArchInput(arch), detailed=True))

    for fdi, place in form.places.items():
        x0, y0 = form.at(place.start_mm)
        x1, y1 = form.at(place.end_mm)
        chord = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        ux, uy = (x1 - x0) / chord, (y1 - y0) / chord
        along = [x * ux + y * uy for x, y in found[fdi].points]
        assert max(along) - min(along) == pytest.approx(
            MESIODISTAL_MM[arch][fdi % 10 - 1] - 0.35, abs=0.25
        )


@pytest.mark.parametrize("design", [FREE_ENDS, ANTERIOR])
def test_base_lies_under_every_replaced_crown(design: ArchInput) -> None:
    drawing = draw(design, detailed=True)
    (base,) = [s for s in drawing.shapes if isinstance(s, Outline) and s.role == "base"]

    for fdi in design.replaced:
        assert all(inside(point, base.points) for point in crowns(drawing)[fdi].points), fdi


def test_base_of_a_lone_replaced_tooth_stays_beside_it() -> None:
    everything_else = tuple(fdi for fdi in teeth_of_arch("lower") if fdi not in (47, 48))
    base = next(
        s
        for s in draw(ArchInput("lower", missing=everything_else, replaced=(45,))).shapes
        if s.role == "base"
    )
    assert isinstance(base, Outline)

    assert max(x for x, _ in base.points) < 0


def inside(point: Point, polygon: tuple[Point, ...]) -> bool:
    x, y = point
    crossings = 0
    for (x0, y0), (x1, y1) in pairwise((*polygon, polygon[0])):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
            crossings += 1
    return crossings % 2 == 1


def test_lower_base_leaves_the_tongue_room_and_an_upper_one_covers_the_palate() -> None:
    lower = next(s for s in draw(FREE_ENDS).shapes if s.role == "base")
    upper = next(s for s in draw(ANTERIOR).shapes if s.role == "base")
    assert isinstance(lower, Outline)
    assert isinstance(upper, Outline)

    assert not inside((0.0, 20.0), lower.points)
    assert inside((0.0, 40.0 - 4.0), lower.points)
    assert inside((0.0, -30.0), upper.points)


@pytest.mark.parametrize(
    "design", [FREE_ENDS, ArchInput("upper", replaced=(14, 15, 16, 24, 25, 26), bar=True)]
)
def test_bar_runs_inside_the_base(design: ArchInput) -> None:
    shapes = {s.role: s for s in draw(design).shapes if s.role in ("bar", "base")}
    bar, base = shapes["bar"], shapes["base"]
    assert isinstance(bar, Outline)
    assert isinstance(base, Outline)

    assert not bar.closed
    assert all(inside(point, base.points) for point in bar.points)


def test_nothing_replaced_gives_neither_base_nor_bar() -> None:
    drawing = draw(ArchInput("lower", clasps=(33,), bar=True))

    assert not roles(drawing, "base")
    assert not roles(drawing, "bar")


def test_clasp_runs_on_the_cheek_side_from_the_gap_to_its_tip() -> None:
    drawing = draw(FREE_ENDS, detailed=True)
    form = form_of("lower")
    tips = {s.fdi: s.centre for s in drawing.shapes if isinstance(s, Dot)}

    assert roles(drawing, "clasp") == [44, 33]
    for fdi in (44, 33):
        place = form.places[fdi]
        towards_front = form.at(place.along_mm - place.distal * 3.0, 4.5)
        towards_back = form.at(place.along_mm + place.distal * 3.0, 4.5)
        assert distance(tips[fdi], towards_front) < distance(tips[fdi], towards_back)


def distance(a: Point, b: Point) -> float:
    return ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5


@pytest.mark.parametrize(
    ("replaced", "tooth", "origin"),
    [
        ((35, 36), 37, "mesial"),
        ((35, 36), 34, "distal"),
        ((), 44, "distal"),
        ((36, 34), 35, "distal"),
    ],
)
def test_clasp_comes_from_the_gap_beside_its_tooth(
    replaced: tuple[int, ...], tooth: int, origin: str
) -> None:
    design = ArchInput("lower", replaced=replaced, clasps=(tooth,))

    assert design.clasp_origins == ((tooth, origin),)


def test_input_is_the_same_in_whatever_order_it_is_given() -> None:
    shuffled = ArchInput(
        "lower", missing=[48, 38], replaced={47, 34, 45, 46, 37, 36, 35},  # type: ignore[arg-type]
        clasps=((44, "distal"), 33), bar=True,
    )  # fmt: skip

    assert shuffled == FREE_ENDS
    assert draw(shuffled) is draw(FREE_ENDS)


@pytest.mark.parametrize(
    "wrong",
    [
        {"missing": (16,)},
        {"replaced": (75,)},
        {"clasps": (23,)},
        {"clasps": ((33, "buccal"),)},
        {"rests": (39,)},
    ],
)
def test_input_refuses_what_is_not_in_the_arch(wrong: dict[str, tuple[int, ...]]) -> None:
    with pytest.raises(ValueError, match=r"is not a"):
        ArchInput("lower", **wrong)  # type: ignore[arg-type]


def test_draw_refuses_an_unknown_notation_and_an_empty_size() -> None:
    with pytest.raises(ValueError, match="numbering system"):
        draw(FREE_ENDS, notation="other")
    with pytest.raises(ValueError, match="0 px"):
        draw(FREE_ENDS, size=0)


def test_design_becomes_input() -> None:
    design = Design(
        arch="lower",
        missing=frozenset({34, 35, 36, 37, 38, 45, 46, 47, 48}),
        replaced=frozenset({34, 35, 36, 37, 45, 46, 47}),
        clasps=(Clasp(33), Clasp(44)),
        bar=True,
    )

    assert ArchInput.from_design(design) == FREE_ENDS


@pytest.mark.parametrize(
    ("notation", "texts"),
    [("fdi", {"46", "36"}), ("universal", {"30", "19"}), ("palmer", {"LR6", "LL6"})],
)
def test_numbers_are_written_in_the_readers_notation(notation: str, texts: set[str]) -> None:
    drawing = draw(FREE_ENDS, size=250, notation=notation)
    numbers = {s.fdi: s.text for s in drawing.shapes if isinstance(s, Label)}

    assert {numbers[46], numbers[36]} == texts


def test_small_drawing_has_no_text() -> None:
    assert not [s for s in draw(FREE_ENDS, size=64).shapes if isinstance(s, Label)]


@pytest.mark.parametrize("design", [FREE_ENDS, ANTERIOR, ArchInput("upper"), ArchInput("lower")])
@pytest.mark.parametrize("notation", ["fdi", "palmer"])
def test_every_shape_lies_on_the_paper(design: ArchInput, notation: str) -> None:
    for size in (64, 250):
        drawing = draw(design, size=size, notation=notation)
        left, top, width, height = drawing.box
        for shape in drawing.shapes:
            points = shape.points if isinstance(shape, Outline) else (shape.centre,)
            assert all(left <= x <= left + width and top <= y <= top + height for x, y in points)


@st.composite
def designs(pick: st.DrawFn) -> ArchInput:
    arch = pick(st.sampled_from(ARCHES))
    row = teeth_of_arch(arch)
    some = st.lists(st.sampled_from(row), max_size=16)
    return ArchInput(
        arch,
        missing=tuple(pick(some)),
        replaced=tuple(pick(some)),
        extracted=tuple(pick(some)),
        clasps=tuple(pick(some)),
        rests=tuple(pick(some)),
        bar=pick(st.booleans()),
    )


@given(design=designs(), size=st.sampled_from([64, 250]))
@settings(max_examples=60, deadline=None)
def test_any_design_is_drawn_on_its_paper(design: ArchInput, size: int) -> None:
    drawing = draw(design, size=size)
    left, top, width, height = drawing.box

    for shape in drawing.shapes:
        points = shape.points if isinstance(shape, Outline) else (shape.centre,)
        assert all(left <= x <= left + width and top <= y <= top + height for x, y in points)
    assert bool(roles(drawing, "base")) == bool(design.replaced)


@pytest.mark.parametrize("size", [64, 250])
def test_svg_is_well_formed_without_inline_style(size: int) -> None:
    svg = to_svg(draw(FREE_ENDS, size=size), title="Lower arch: <34> & more")
    root = ElementTree.fromstring(svg)  # noqa: S314 - our own text

    assert root.attrib["role"] == "img"
    assert root.attrib["width"] == str(size)
    assert root.findtext("title") == "Lower arch: <34> & more"
    assert not re.search(r"\s(style|id|on\w+)=", svg)
    replaced = [g for g in root if g.attrib.get("class") == "arch-replaced"]
    assert [p.attrib["data-tooth"] for p in replaced[0]] == [
        "47",
        "46",
        "45",
        "34",
        "35",
        "36",
        "37",
    ]


def test_svg_path_keeps_to_the_shape() -> None:
    drawing = draw(FREE_ENDS, size=64)
    root = ElementTree.fromstring(to_svg(drawing, title=""))  # noqa: S314 - our own text
    path = next(p for g in root for p in g if p.attrib.get("data-tooth") == "46")
    numbers = [int(n) for n in re.findall(r"-?\d+", path.attrib["d"])]

    x, y = numbers[0], numbers[1]
    found = [(x / 10, y / 10)]
    for dx, dy in zip(numbers[2::2], numbers[3::2], strict=True):
        x, y = x + dx, y + dy
        found.append((x / 10, y / 10))

    assert area(tuple(found)) == pytest.approx(area(crowns(drawing)[46].points), rel=0.02)


@pytest.mark.parametrize(
    ("design", "sentence"),
    [
        (
            FREE_ENDS,
            "Lower arch: 34 to 37 and 45 to 47 replaced, clasps on 33 and 44, bar",
        ),
        (ANTERIOR, "Upper arch: 12 to 22 replaced, clasps on 14 and 24"),
        (
            ArchInput(
                "lower", missing=(46,), replaced=(35, 36), extracted=(35,),
                clasps=(34,), rests=(37,),
            ),
            "Lower arch: 35 and 36 replaced, 46 missing and not replaced, 35 to be extracted, "
            "clasp on 34, rest on 37",
        ),
        (ArchInput("upper", missing=(18, 28)), "Upper arch: no teeth replaced"),
    ],
)  # fmt: skip
def test_sentence_says_what_is_drawn(design: ArchInput, sentence: str) -> None:
    assert say_arch(design) == sentence


def test_sentence_uses_the_readers_notation_and_says_the_turn() -> None:
    said = say_arch(ANTERIOR, notation="universal", in_hand=True)

    assert said == (
        "Upper arch: 7 to 10 replaced, clasps on 5 and 12, turned as the cast in the hand"
    )


def test_teeth_are_said_in_runs() -> None:
    assert say_teeth({42, 41, 31, 46}, "lower", "fdi") == "42 to 31 and 46"
    assert say_teeth({15, 17, 25}, "upper", "fdi") == "15, 17 and 25"
    assert say_teeth(set(), "upper", "fdi") == ""
