"""Every version of a design is read by as many queries as one, with whoever passed a rule."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from cases.domain.design import Clasp, Design
from cases.domain.design_parts import RuleConcession
from cases.models import Case, Paper
from cases.selectors.design_versions import kennedy_of, version_of, versions
from cases.services.grow import store_design
from cases.services.papers import keep_paper
from cases.services.record import Recorder
from tests.factories import NOW, Shop, make_case, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db

PLAN = Design(
    "lower",
    missing=frozenset({36, 46}),
    replaced=frozenset({36, 46}),
    clasps=(Clasp(35, 0.9, 0.25, 10.0), Clasp(45, 0.9, 0.25, 10.0)),
)


def draw(case: Case, *plans: Design, asked_by: str = "lab") -> None:
    """Store further versions, an hour apart, as they are."""
    for hours, plan in enumerate(plans, start=1):

        def make(record: Recorder, plan: Design = plan) -> dict[str, Any]:
            case.refresh_from_db()
            store_design(record, case, plan, "Said by telephone", asked_by=asked_by)
            return {}

        rows(make, NOW + timedelta(hours=hours))
    case.refresh_from_db()


def conceding(shop: Shop, **changes: Any) -> Design:
    """Return the plan with the bracing of 35 passed by Mara."""
    passed = RuleConcession("CLP-4", "35", "The tongue lies there", shop.people["mara"].pk)
    return replace(PLAN, concessions=(passed,), **changes)


@pytest.mark.parametrize("count", [1, 12])
def test_queries_do_not_grow_with_the_versions(count: int, django_assert_num_queries: Any) -> None:
    shop = make_shop()
    case = make_case(shop)
    draw(case, *[conceding(shop, joints=n) for n in range(count)])
    case = Case.objects.get(pk=case.pk)

    with django_assert_num_queries(2):
        found = versions(case)

    assert [row.version for row in found.rows] == list(range(1, count + 2))


def test_a_concession_stays_after_a_later_version_without_it() -> None:
    shop = make_shop()
    case = make_case(shop)
    draw(case, conceding(shop), conceding(shop, bar=True), PLAN)

    (one,) = versions(case).conceded

    assert (one.by, one.versions) == ("Mara", (2, 3))


def test_the_sentence_of_a_rule_that_no_longer_speaks_has_no_empty_places() -> None:
    shop = make_shop()
    case = make_case(shop)
    passed = RuleConcession("BAR-1", "nowhere", "It was so", None)
    draw(case, replace(PLAN, concessions=(passed,)))

    (one,) = versions(case).conceded

    assert one.finding is None
    assert one.by == ""
    assert "%(" not in one.sentence(str)


def test_a_version_knows_its_neighbours_and_what_it_changed() -> None:
    case = make_case(make_shop())
    draw(case, PLAN, replace(PLAN, bar=True), PLAN, asked_by="practice")

    middle, last = version_of(case, 3), version_of(case, 4)

    assert middle is not None
    assert last is not None
    assert (middle.earlier, middle.later, last.later) == (2, 4, None)
    assert middle.before == PLAN
    assert middle.row.asked_by == "practice"
    assert version_of(case, 5) is None


def test_checks_of_a_closed_stage_stay_with_their_version(
    django_assert_num_queries: Any,
) -> None:
    shop = make_shop()
    case = make_case(shop)
    walk(shop, case, Clock(NOW), until="receive")
    stage = case.stages.get(key="receive")
    draw(case, PLAN)
    case = Case.objects.get(pk=case.pk)
    with django_assert_num_queries(4):
        first = version_of(case, 1)
    second = version_of(case, 2)

    assert first is not None
    assert second is not None
    assert [name for name, _n, _again in first.checks] == [stage.name]
    assert stage.name not in [name for name, _n, _again in second.checks]
    assert sum(n for _name, n, _again in first.checks) == stage.checks.count()


def test_a_paper_knows_the_version_that_it_was_drawn_from() -> None:
    shop = make_shop()
    case = make_case(shop)
    draw(case, PLAN, replace(PLAN, bar=True))
    stored = {"sha256": "1" * 64, "size": 9, "path": "11/1.pdf", "content_type": "application/pdf"}

    def printed(design: int | None) -> Paper:
        made = keep_paper(
            shop.envelope("noor"), kind="ticket", number=case.number, stored=stored,
            case=case.pk, design=design,
        )  # fmt: skip
        return Paper.objects.get(pk=made.result["paper"])

    assert printed(2).designs == {case.number: 2}
    assert printed(None).designs == {case.number: 3}
    older = version_of(case, 2)
    assert older is not None
    assert len(older.papers) == 1


def test_class_of_a_version_is_its_own() -> None:
    case = make_case(make_shop())
    free_end = replace(PLAN, missing=frozenset({46, 47, 48}), replaced=frozenset({46, 47}))

    assert str(kennedy_of(case, PLAN)) == "III mod 1"
    assert str(kennedy_of(case, free_end)) == "II"
