"""The small drawing is put together from pieces; it is the drawing, letter for letter."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from cases.domain.archdrawing import draw
from cases.domain.archform import ArchInput
from cases.domain.archsmall import small_svg
from cases.domain.archsvg import to_svg
from cases.domain.teeth import ARCHES, teeth_of_arch


@st.composite
def designs(pick: st.DrawFn) -> ArchInput:
    arch = pick(st.sampled_from(sorted(ARCHES)))
    row = teeth_of_arch(arch)
    some = st.lists(st.sampled_from(row), max_size=16)
    side = st.sampled_from(("distal", "mesial"))
    return ArchInput(
        arch,  # type: ignore[arg-type]
        missing=tuple(pick(some)),
        replaced=tuple(pick(some)),
        extracted=tuple(pick(some)),
        clasps=tuple(pick(st.lists(st.tuples(st.sampled_from(row), side), max_size=4))),  # type: ignore[arg-type]
        rests=tuple(pick(some)),
        bar=pick(st.booleans()),
        primary=tuple(fdi for fdi in pick(some) if fdi % 10 < 6),
    )


@given(design=designs(), size=st.sampled_from([48, 64, 68]))
@example(ArchInput("lower", replaced=teeth_of_arch("lower"), bar=True), 64)
@example(ArchInput("upper", replaced=(11,), clasps=(13, 23)), 64)
@example(ArchInput("lower", missing=(46,), replaced=(45, 47, 48), clasps=(44,)), 64)
@settings(max_examples=250, deadline=None)
def test_small_drawing_is_written_as_the_shapes_are_drawn(design: ArchInput, size: int) -> None:
    reference = to_svg(draw(design, size=size, detailed=False), title="Arch: <34> & more")

    assert small_svg(design, size=size, title="Arch: <34> & more") == reference


def test_small_drawing_refuses_no_width() -> None:
    with pytest.raises(ValueError, match="0 px"):
        small_svg(ArchInput("lower"), size=0, title="")
