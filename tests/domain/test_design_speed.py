"""What a design page reckons at every touch stays far below what a hand notices."""

from __future__ import annotations

from dataclasses import replace
from time import process_time

from cases.domain.archdrawing import draw
from cases.domain.archform import ArchInput
from cases.domain.archsvg import to_svg
from cases.domain.design import WorkOrder
from cases.domain.design_review import review
from cases.domain.growth import grow
from cases.domain.route import default_template
from cases.domain.rule_facts import Facts
from tests.domain.rule_designs import FREE, found

# Aim of the project for advice, class, route and drawing of one design together, in ms.
MOST_MS = 20.0
TEMPLATE = default_template()


def test_advice_class_route_and_drawing_take_at_most_twenty_milliseconds() -> None:
    faces = ((tooth, side, 0.5) for tooth in (44, 43, 34, 33) for side in ("distal", "lingual"))
    design = replace(FREE, survey=found(*faces), method="plaster")
    drawing = ArchInput.from_design(design)

    def reckon() -> float:
        began = process_time()
        facts = Facts(design)
        assert str(facts.kennedy) == "I"
        assert [one.sentence for one in review(facts)]
        assert grow(TEMPLATE, WorkOrder(), design).stages
        assert to_svg(draw(drawing, size=400), title="lower arch")
        return (process_time() - began) * 1000

    assert min(reckon() for _ in range(5)) <= MOST_MS
