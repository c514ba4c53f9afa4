"""Rows written by kept statements stand as the ORM would have written them."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from cases.models import CheckItem, Skill
from cases.services import rows
from tests.factories import make_case, make_shop

pytestmark = pytest.mark.django_db


def test_insert_sets_the_key_and_stores_every_cell() -> None:
    skill = Skill(key="engraving", name="Engraving")

    rows.insert(skill)

    assert Skill.objects.get(key="engraving") == skill
    assert not skill._state.adding


def test_update_writes_the_named_cells_of_all_rows_and_no_others() -> None:
    items = list(make_case(make_shop()).checks.order_by("pk")[:2])
    for item in items:
        item.values, item.state, item.sentence = {"yes": True}, "passed", "Not to be written."

    rows.update(items, ["values", "state"])

    stored = CheckItem.objects.filter(pk__in=[item.pk for item in items])
    assert (
        list(stored.values_list("values", "state", "sentence"))
        == [({"yes": True}, "passed", "")] * 2
    )


@pytest.mark.parametrize("count", [1, 2])
def test_update_of_a_row_that_is_gone_is_an_error(count: int) -> None:
    skills = [Skill(key=f"skill-{n}", name="Skill") for n in range(count)]
    for skill in skills:
        rows.insert(skill)
    Skill.objects.get(key="skill-0").delete()

    with pytest.raises(DatabaseError), transaction.atomic():
        rows.update(skills, ["name"])


def test_refused_row_rolls_the_transaction_back() -> None:
    rows.insert(Skill(key="first", name="First"))

    def insert_both() -> None:
        with transaction.atomic():
            rows.insert(Skill(key="second", name="Second"))
            rows.insert(Skill(key="first", name="Again"))

    with pytest.raises(IntegrityError):
        insert_both()

    assert not Skill.objects.filter(key="second").exists()
