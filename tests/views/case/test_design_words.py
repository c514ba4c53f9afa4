"""What a design changes, in sentences."""

from __future__ import annotations

from dataclasses import replace

from cases.domain.design import Bar, Clasp, Design
from cases.views.case.design_words import changes_of

BEFORE = Design("lower", clasps=(Clasp(44, wire_mm=0.9),), bar=True, strengthener=Bar(size_mm=1.3))


def said(**changes: object) -> list[str]:
    """What is said of a design with these changes."""
    return changes_of(BEFORE, replace(BEFORE, **changes), "fdi")


def test_what_was_measured_at_a_clasp_is_not_said_to_be_another_wire() -> None:
    wider, thicker = Clasp(44, wire_mm=0.9, room_mm=1.5), Clasp(44, wire_mm=1.0)
    assert said(clasps=(wider,)) == ["Room where a wire crosses the bite: 44."]
    assert said(clasps=(thicker,)) == ["Other wire, undercut or arm on 44."]


def test_another_bar_and_another_copy_material_are_said() -> None:
    assert said(strengthener=Bar(size_mm=1.5)) == ["The bar: changed."]
    assert said(bar=False, strengthener=None) == ["No bar."]
    assert said(copy_in="gel") == ["How it is blocked out: changed."]
