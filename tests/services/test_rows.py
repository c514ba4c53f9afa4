"""Rows written by kept statements are the rows that the ORM reads."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError

from cases.models import Plan, PlanCase
from cases.services.rows import insert_many
from tests.factories import NOW, make_case, make_shop

pytestmark = pytest.mark.django_db
NAMES = ("plan_id", "case_id", "leaves_at", "late_minutes", "why", "remedies")


def test_many_rows_are_written_as_the_orm_reads_them() -> None:
    shop = make_shop()
    plan = Plan.objects.create(made_at=NOW, how="rules")
    first, second = (make_case(shop, ref=f"R-{n}") for n in range(2))
    rows = [(first.pk, NOW + timedelta(seconds=0.5), 0), (second.pk, None, 7)]

    insert_many(PlanCase, NAMES[:4], [])
    insert_many(
        PlanCase, NAMES, [(plan.pk, *row, (f"It’s “{row[0]}”, 100 %",), ()) for row in rows]
    )

    found = PlanCase.objects.order_by("case")
    assert list(found.values_list("case_id", "leaves_at", "late_minutes")) == rows
    assert [row.why for row in found] == [[f"It’s “{row[0]}”, 100 %"] for row in rows]


def test_rules_of_the_table_hold_for_many_rows_too() -> None:
    case = make_case(make_shop())
    plan = Plan.objects.create(made_at=NOW, how="rules")

    with pytest.raises(IntegrityError):
        insert_many(PlanCase, NAMES, [(plan.pk, case.pk, NOW, 0, (), ())] * 2)
