"""The designs of the demo lab are whole: no slip, nothing left that would refuse them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from itertools import product

import pytest

from cases.demo.orders import design_of
from cases.demo.people import PLACES
from cases.demo.wishes import LOWER, UPPER, Wish
from cases.domain.design import Design, WorkOrder
from cases.domain.design_review import blocking, review
from cases.domain.design_slips import flaws
from cases.domain.rule_facts import Facts

METHODS = ("none", "plaster", "wax-then-copy", "copy-then-plaster")
AT = datetime(2026, 3, 2, 9, tzinfo=UTC)
WISH = Wish(AT, PLACES[0], arch="lower", dentist="")


@pytest.mark.parametrize("did_not_seat", [False, True])
@pytest.mark.parametrize(("arch", "method"), list(product(("upper", "lower"), METHODS)))
def test_design_of_the_demo_has_nothing_that_refuses_it(
    arch: str, method: str, did_not_seat: bool
) -> None:
    for teeth, polish, bar in product(
        UPPER if arch == "upper" else LOWER, ("none", "all-outer"), (False, True)
    ):
        wish = replace(
            WISH, arch=arch, teeth=teeth, method=method, polish=polish, bar=bar, rests=True
        )

        design = Design.from_json(design_of(wish, arch, {}, did_not_seat=did_not_seat))

        assert flaws(design) == ()
        order = WorkOrder(polish=polish)  # type: ignore[arg-type]
        facts = Facts(design, order, last_did_not_seat=did_not_seat)
        assert blocking(review(facts)) == ()
        assert not design.provisional
