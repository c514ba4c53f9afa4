"""Rows read by kept statements are the rows that the ORM reads."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from cases.models import Case, CaseStage, CheckItem, Submission
from cases.selectors.rows import find, only, read
from tests.factories import make_case, make_shop

pytestmark = pytest.mark.django_db


def cells(row: object) -> dict[str, object]:
    return {name: value for name, value in vars(row).items() if name != "_state"}


def test_find_gives_every_cell_as_the_orm_does() -> None:
    case = make_case(make_shop())
    submission = Submission.objects.latest("received_at")

    found = [*find(Case, id=case.pk), *find(Submission, id=submission.pk)]

    assert [cells(row) for row in found] == [
        cells(Case.objects.get(pk=case.pk)),
        cells(Submission.objects.get(pk=submission.pk)),
    ]
    assert not any(row._state.adding for row in found)


def test_find_takes_several_values_an_empty_cell_and_an_order() -> None:
    case = make_case(make_shop())
    keys = tuple(case.stages.order_by("-key").values_list("key", flat=True)[:3])

    some = find(CaseStage, case_id=case.pk, key=keys, started_at=None, order=("key",))

    assert [stage.key for stage in some] == sorted(keys)
    assert find(CaseStage, case_id=case.pk, key=()) == []
    assert only(find(CaseStage, case_id=case.pk, key="no-such-stage")) is None


def test_column_left_out_is_read_when_it_is_asked_for() -> None:
    case = make_case(make_shop())
    stage = case.stages.get(key="trim")

    [found] = find(CaseStage, id=stage.pk, without=("spec",))

    assert found.get_deferred_fields() == {"spec"}
    assert found.spec == stage.spec


def test_read_gives_cells_in_the_order_of_the_names() -> None:
    case = make_case(make_shop())
    item = case.checks.order_by("pk").first()
    assert item is not None

    assert read(CheckItem, ("spec", "key", "case_id"), id=item.pk) == [
        [item.spec, item.key, case.pk]
    ]


def test_lock_locks_the_row_where_the_engine_locks_rows() -> None:
    case = make_case(make_shop())

    with CaptureQueriesContext(
        connection,
    ) as seen:
        find(Case, id=case.pk, lock=True)

    locks = connection.features.has_select_for_update
    assert seen.captured_queries[0]["sql"].endswith("FOR UPDATE") is locks
