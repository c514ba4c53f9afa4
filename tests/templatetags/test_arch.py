"""The template tag that draws the arch of a case."""

from __future__ import annotations

import pytest
from django.template import Context, Template

from cases import models
from cases.domain.archform import ArchInput
from cases.domain.design import Clasp, Design

DESIGN = Design(
    arch="lower",
    missing=frozenset({36, 37, 38, 48}),
    replaced=frozenset({36, 37}),
    clasps=(Clasp(35), Clasp(44)),
)


def render(design: object, arguments: str = "") -> str:
    page = Template("{% load arch %}{% arch design " + arguments + " %}")
    return page.render(Context({"design": design, "yes": True}))


def test_arch_tag_draws_a_design_with_its_sentence() -> None:
    svg = render(DESIGN)

    assert svg.startswith('<svg class="arch" role="img" width="64"')
    assert "<title>Lower arch: 36 and 37 replaced, clasps on 35 and 44</title>" in svg
    assert "<text" not in svg


def test_arch_tag_draws_the_same_for_the_row_and_the_input() -> None:
    row = models.Design(data=DESIGN.to_json())

    assert render(row) == render(DESIGN) == render(ArchInput.from_design(DESIGN))


def test_arch_tag_passes_size_notation_and_turn() -> None:
    svg = render(DESIGN, 'size=250 notation="universal" in_hand=yes')

    assert 'width="250"' in svg
    assert ">19</text>" in svg
    assert "turned as the cast in the hand" in svg


def test_arch_tag_offers_every_tooth_for_choosing() -> None:
    assert 'data-tooth="38"' not in render(DESIGN)
    assert 'data-tooth="38"' in render(DESIGN, "every_tooth=yes")


def test_arch_tag_draws_nothing_without_a_design() -> None:
    assert render(None) == ""


def test_arch_tag_refuses_an_unknown_notation() -> None:
    with pytest.raises(ValueError, match="numbering system"):
        render(DESIGN, 'notation="other"')
