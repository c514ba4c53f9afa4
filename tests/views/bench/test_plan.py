"""The bench's list follows the plan, and the bench is told when the plan has something else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.cure.program import LONG, as_json
from cases.models import Bath, Case, CureProgram, Load, Plan, PlanStage, Resin
from cases.selectors import bench as selectors
from cases.selectors.bench import bench_of
from cases.services.assign import assign_stage
from cases.services.plan import pin_stage
from cases.services.planner import mend, turn
from cases.services.record import Recorder
from cases.services.stage import start_stage
from tests.factories import NOW, Shop, rows
from tests.views.bench.conftest import sign_in, stage_of

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


@pytest.fixture
def to_load(shop: Shop, two: tuple[Case, Case]) -> list[PlanStage]:
    """Mara loads the bath with both flasks in an hour, and has nothing else to do."""
    plan = Plan.objects.first()
    PlanStage.objects.filter(plan=plan).exclude(bath__isnull=False).delete()
    PlanStage.objects.filter(plan=plan).update(
        person=shop.people["mara"], together="load 1", begins_at=NOW + timedelta(hours=1),
        ends_at=NOW + timedelta(hours=10),
    )  # fmt: skip
    return list(PlanStage.objects.filter(plan=plan).select_related("bath", "stage__case"))


def test_loading_a_bath_is_on_the_list_of_who_loads_it(
    bench: Client, shop: Shop, to_load: list[PlanStage]
) -> None:
    (bath,) = {row.bath for row in to_load}
    assert bath is not None
    numbers = [row.stage.case.number for row in to_load]

    text = bench.get(reverse("cases:bench")).content.decode()

    group = text.split("Baths to load, by the plan")[1]
    assert f"Load {bath.name}, 11:42" in group
    assert "2 flasks" in group
    assert all(number in group for number in numbers)
    assert f'href="{reverse("cases:loads")}?bath={bath.pk}"' in group
    sign_in(bench, shop, "oren")
    assert "Baths to load" not in bench.get(reverse("cases:bench")).content.decode()


def test_a_load_later_than_this_working_day_is_not_listed_yet(
    bench: Client, to_load: list[PlanStage]
) -> None:
    hours = timedelta(hours=9, minutes=50)
    PlanStage.objects.update(begins_at=NOW + hours, ends_at=NOW + 2 * hours)
    assert "Load Bath 1, 20:32" in bench.get(reverse("cases:bench")).content.decode()
    PlanStage.objects.update(begins_at=NOW + timedelta(hours=11))
    assert "Baths to load" not in bench.get(reverse("cases:bench")).content.decode()


def test_a_load_that_is_gathered_is_led_to(
    bench: Client, shop: Shop, to_load: list[PlanStage]
) -> None:
    def make(record: Recorder) -> dict[str, Any]:
        resin = record.create(Resin, name="Resin of the night", source="leaflet")
        program = record.create(
            CureProgram, resin=resin, name="Overnight", version=1, document=as_json(LONG),
            saved_at=NOW,
        )  # fmt: skip
        load = record.create(
            Load, number=7, bath=Bath.objects.get(), program=program, state="gathering",
            made_at=NOW, made_by=shop.people["mara"],
        )  # fmt: skip
        return {"load": load}

    rows(make)
    text = bench.get(reverse("cases:bench")).content.decode()
    group = text.split("Baths to load, by the plan")[1]
    assert f'href="{reverse("cases:load", args=[7])}"' in group


def test_the_bench_is_told_to_load_a_bath_now_even_with_something_in_hand(
    bench: Client, shop: Shop, two: tuple[Case, Case], to_load: list[PlanStage]
) -> None:
    wax, ask = stage_of(two[0], "wax"), {"HX-Request": "true"}
    start_stage(shop.envelope("mara"), stage=wax.pk, version=wax.version)
    url, words = reverse("cases:bench-now"), "By the plan now: load Bath 1 with 2 flasks, at 10:52."
    assert "By the plan now" not in bench.get(url, headers=ask).content.decode()
    PlanStage.objects.update(begins_at=NOW + timedelta(minutes=10))
    assert words in bench.get(url, headers=ask).content.decode()
    assert words in bench.get(reverse("cases:bench")).content.decode()
    cure = to_load[0].stage
    cure.state = "running"
    cure.save(update_fields=["state"])
    assert "with one flask" in bench.get(url, headers=ask).content.decode()


def test_a_bath_that_the_bench_leads_to_is_chosen(bench: Client) -> None:
    page = bench.get(reverse("cases:loads"), {"bath": Bath.objects.get().pk})
    assert page.context["form"]["bath"].value() == Bath.objects.get().pk


def test_a_time_that_is_not_today_is_said_with_its_day(
    bench: Client, shop: Shop, two: tuple[Case, Case]
) -> None:
    _first, second = two
    for case in two:
        give(case, "wax", shop, "mara", 24 * 60)
    bath = PlanStage.objects.get(plan=Plan.objects.first(), stage=stage_of(second, "cure"))
    bath.begins_at, bath.ends_at = NOW + timedelta(hours=15), NOW + timedelta(hours=24)
    bath.save()
    give(second, "wax", shop, "mara", 0)
    text = bench.get(reverse("cases:bench")).content.decode()
    assert "yours by the plan, Thu 10 Dec, 10:42" in text
    assert "Its bath begins at Thu 10 Dec, 01:42 by the plan." in text


@pytest.mark.parametrize("pinned", [False, True])
def test_the_plan_follows_who_takes_the_case_of_another(
    shop: Shop, two: tuple[Case, Case], pinned: bool
) -> None:
    taken, own = two
    mara, oren = shop.people["mara"], shop.people["oren"]
    wax = stage_of(taken, "wax")
    if pinned:
        pin_stage(shop.envelope("pavo"), stage=wax.pk, person=oren.pk)
        mend(NOW)
    give(taken, "wax", shop, "oren", 0)
    give(own, "wax", shop, "mara", 0)

    start_stage(shop.envelope("mara"), stage=wax.pk, version=wax.version)
    assert turn(NOW + timedelta(seconds=1)) == "mended"

    rows = PlanStage.objects.filter(plan=Plan.objects.first(), bath=None)
    now = rows.get(stage=wax)
    assert (now.person, now.stage.state) == (mara, "running")
    hers = rows.filter(person=mara).exclude(pk=now.pk)
    assert not hers.filter(begins_at__lt=now.ends_at).exists()
    his_or_later = rows.get(stage=stage_of(own, "wax"))
    assert his_or_later.person == oren or his_or_later.begins_at >= now.ends_at
