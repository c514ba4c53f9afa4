"""Who works at a bench and gives no work to people: the plan is there to be looked at, and offers
nothing that would be refused."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from cases.models import Case, CaseStage, Planner, PlanPin
from cases.services.plan import pin_stage
from tests.factories import NOW, Shop
from tests.rights.kinds import BENCH, browser, sessions, unlock

pytestmark = pytest.mark.django_db
FORM = re.compile(r'<form[^>]*action="([^"]*/plan/[^"]*)"')


@pytest.fixture(params=["technician", "student", BENCH])
def looking(request: pytest.FixtureRequest, shop: Shop) -> Client:
    """Somebody who works: signed in, or at a tablet by PIN."""
    carried = browser(sessions(shop)[request.param])
    if request.param == BENCH:
        unlock(shop)
    return carried


@pytest.fixture
def wax(shop: Shop, planned: Callable[..., Case]) -> CaseStage:
    """A stage that the manager decided about, in a lab that looks for a better plan."""
    stage = planned().stages.get(key="wax")
    pin_stage(shop.envelope("pavo"), stage=stage.pk, person=shop.people["oren"].pk, begins_at="")
    Planner.objects.update(improving_since=NOW, busy_until=NOW + timedelta(minutes=1))
    return stage


def pages(stage: CaseStage) -> list[str]:
    own = reverse("cases:plan-stage", args=[stage.pk])
    drawn = [reverse(f"cases:{name}") for name in ("plan", "plan-week", "plan-late")]
    places = f"{drawn[0]}?by=places&zoom=3"
    return [*drawn, places, own, f"{own}?dragged=1&begins_at=2026-12-11T10:00&price=1"]


def test_who_works_looks_at_the_whole_plan_and_is_offered_nothing_to_decide(
    looking: Client, wax: CaseStage
) -> None:
    for page in pages(wax):
        answer = looking.get(page)
        text = answer.content.decode()
        assert answer.status_code == 200
        assert "looking for a better plan" in text
        assert FORM.findall(text) == []
        assert "data-stage" not in text
        assert "plan-drag.js" not in text
        assert "plan-price" not in text
        assert f'href="{reverse("cases:plan-promise")}"' not in text


def test_the_manager_is_offered_all_of_it_on_the_same_pages(
    manager: Client, wax: CaseStage
) -> None:
    stop, pin = reverse("cases:plan-stop"), reverse("cases:plan-pin", args=[wax.pk])
    texts = [manager.get(page).content.decode() for page in pages(wax)]
    found = [sorted(set(FORM.findall(text))) for text in texts]

    assert found == [*[[stop]] * 4, *[sorted([stop, pin])] * 2]
    assert "plan-drag.js" in texts[0]
    assert "data-stage=" in texts[0]
    assert f'href="{reverse("cases:plan-promise")}"' in texts[0]


def test_what_was_decided_is_there_to_be_read(looking: Client, wax: CaseStage) -> None:
    text = looking.get(reverse("cases:plan-stage", args=[wax.pk])).content.decode()

    assert "Oren does it." in text
    assert "Pavo decided so" in text
    assert "Leave it to the planner again" not in text


@pytest.mark.parametrize("what", ["pin", "lift", "price"])
def test_who_works_decides_nothing_by_the_address_either(
    looking: Client, shop: Shop, wax: CaseStage, what: str
) -> None:
    body = {"submission_id": str(uuid.uuid4()), "what": what, "person": shop.people["mara"].pk}

    answer = looking.post(reverse("cases:plan-pin", args=[wax.pk]), body)

    assert answer.status_code == 404
    pin = PlanPin.objects.get()
    assert (pin.person, pin.lifted_at) == (shop.people["oren"], None)


def test_who_works_stops_no_search(looking: Client, wax: CaseStage) -> None:
    assert looking.post(reverse("cases:plan-stop")).status_code == 404
    assert not Planner.objects.get().stop_asked
