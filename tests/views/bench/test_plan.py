"""The bench's list follows the plan, and the bench is told when the plan has something else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from cases.models import Case, Plan, PlanStage
from cases.selectors import bench as selectors
from cases.selectors.bench import bench_of
from cases.services.assign import assign_stage
from cases.services.planner import mend
from cases.services.stage import start_stage
from tests.factories import NOW, Shop
from tests.views.bench.conftest import stage_of

pytestmark = pytest.mark.django_db


def give(case: Case, key: str, shop: Shop, who: str, minutes: int) -> PlanStage:
    """Put a stage of the plan into somebody's hands at a time."""
    row = PlanStage.objects.get(plan=Plan.objects.first(), stage=stage_of(case, key))
    row.person = shop.people[who]
    row.begins_at = NOW + timedelta(minutes=minutes)
    row.ends_at = row.begins_at + timedelta(minutes=20)
    row.save()
    return row


@pytest.fixture
def two(shop: Shop, case_at: Callable[..., Case]) -> tuple[Case, Case]:
    later, sooner = case_at("teeth", ref="Q-1"), case_at("teeth", ref="Q-2")
    Case.objects.filter(pk=later.pk).update(leaves_at=NOW + timedelta(days=9))
    Case.objects.filter(pk=sooner.pk).update(leaves_at=NOW + timedelta(days=8))
    mend(NOW)
    return later, sooner


def test_what_the_plan_has_for_these_hands_comes_first(
    bench: Client, shop: Shop, two: tuple[Case, Case]
) -> None:
    later, sooner = two
    give(later, "wax", shop, "mara", 0)
    give(sooner, "wax", shop, "oren", 0)
    text = bench.get(reverse("cases:bench")).content.decode()
    assert text.index(later.number) < text.index(sooner.number)
    assert "yours by the plan" in text
    assert f"planned for {shop.people['oren'].name}" in text


@pytest.mark.parametrize(("free_at", "first"), [(0, "free"), (30, "given")])
def test_next_is_what_the_plan_has_first_given_or_free(
    shop: Shop, two: tuple[Case, Case], free_at: int, first: str
) -> None:
    free, given = two
    row = stage_of(given, "wax")
    mara = shop.people["mara"]
    assign_stage(shop.envelope("pavo"), stage=row.pk, version=row.version, person=mara.pk)
    give(free, "wax", shop, "mara", free_at)
    give(given, "wax", shop, "mara", 15)

    found = bench_of(mara, NOW)

    assert [[work.stage.case for work in group] for group in (found.given, found.free)] == [
        [given], [free],
    ]  # fmt: skip
    assert found.next is not None
    assert found.next.stage.case == {"free": free, "given": given}[first]


def test_a_stage_for_later_stands_under_what_comes_next(
    bench: Client, shop: Shop, two: tuple[Case, Case]
) -> None:
    row = give(two[0], "wax-pass", shop, "mara", 90)
    text = bench.get(reverse("cases:bench")).content.decode()
    assert "Yours later, by the plan" in text
    assert reverse("cases:bench-stage", args=[row.stage_id]) in text


def test_what_the_plan_has_next_is_seen_behind_everything_that_is_due_first(
    shop: Shop, case_at: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(selectors, "MOST_FREE", 2)
    cases = [case_at("teeth", ref=f"Q-{number}") for number in range(4)]
    for number, case in enumerate(cases):
        Case.objects.filter(pk=case.pk).update(leaves_at=NOW + timedelta(days=5 + number))
    mend(NOW)
    last, mara = cases[-1], shop.people["mara"]
    for case in cases:
        give(case, "wax", shop, "mara" if case == last else "oren", 30 * (case != last))

    found = bench_of(mara, NOW)

    assert found.next is not None
    assert found.next.stage.case == last
    assert [row.stage.case for row in found.coming if row.stage.key == "wax"] == []
    assert [work.stage.case for work in found.free] == [last, *cases[:3]]
    assert found.more_free


def test_the_bench_is_told_when_the_plan_has_something_else_now(
    bench: Client, shop: Shop, two: tuple[Case, Case]
) -> None:
    later, sooner = two
    wanted, shown = give(later, "wax", shop, "mara", 0), give(sooner, "wax", shop, "oren", 0)
    bath = PlanStage.objects.get(plan=Plan.objects.first(), stage=stage_of(later, "cure"))
    bath.begins_at, bath.ends_at = NOW + timedelta(hours=5), NOW + timedelta(hours=14)
    bath.save()
    url = reverse("cases:bench-now")
    ask = {"HX-Request": "true"}
    told = bench.get(f"{url}?shown={shown.stage_id}", headers=ask).content.decode()
    assert later.number in told
    assert "because its bath begins at" in told
    same = bench.get(f"{url}?shown={wanted.stage_id}", headers=ask).content.decode()
    assert later.number not in same


def test_who_has_something_in_hand_is_left_in_peace(
    bench: Client, shop: Shop, two: tuple[Case, Case]
) -> None:
    later, sooner = two
    give(later, "wax", shop, "mara", 0)
    wax = stage_of(sooner, "wax")
    start_stage(shop.envelope("mara"), stage=wax.pk, version=wax.version)
    ask = {"HX-Request": "true"}
    told = bench.get(reverse("cases:bench-now"), headers=ask).content.decode()
    assert later.number not in told
