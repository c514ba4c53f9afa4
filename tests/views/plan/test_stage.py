"""One stage in the plan: what is decided about it, and what that costs."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import localtime

from cases.models import Bath, Case, CaseStage, Plan, PlanPin, PlanStage
from cases.selectors import plan as plans
from cases.selectors.hours import lab_calendar
from cases.services.planner import mend
from tests.factories import NOW, Shop

pytestmark = pytest.mark.django_db


def page_of(stage: CaseStage) -> str:
    return reverse("cases:plan-stage", args=[stage.pk])


def sent(client: Client, stage: CaseStage, what: str, **data: Any) -> Any:
    body = {"submission_id": str(uuid.uuid4()), "what": what, "person": "", "begins_at": "", **data}
    return client.post(reverse("cases:plan-pin", args=[stage.pk]), body)


def decided(client: Client, stage: CaseStage, **data: Any) -> Any:
    """Decide as the page does: the price is looked at first, and goes with the yes."""
    return sent(
        client, stage, "pin", priced=priced_in(sent(client, stage, "price", **data)), **data
    )


def priced_in(page: Any) -> str:
    found = re.search(r'name="priced" value="([^"]*)"', page.content.decode())
    return found[1] if found else ""


def tomorrow(hour: int) -> str:
    day = NOW.astimezone(lab_calendar().zone) + timedelta(days=1)
    return day.replace(hour=hour, minute=0).strftime("%Y-%m-%dT%H:%M")


def test_a_pin_is_kept_and_the_next_plan_follows_it(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    oren = shop.people["oren"]
    answer = decided(manager, wax, person=oren.pk, begins_at=tomorrow(13))
    assert answer.status_code == 303
    pin = PlanPin.objects.get(stage=wax, lifted_at=None)
    assert pin.person == oren
    mend(NOW)
    row = PlanStage.objects.get(plan=Plan.objects.first(), stage=wax)
    assert row.person == oren
    begins = row.begins_at.astimezone(lab_calendar().zone)
    assert begins.strftime("%Y-%m-%dT%H:%M") == tomorrow(13)
    assert "decided" in manager.get(page_of(wax)).content.decode()


def test_a_decided_start_that_the_plan_gave_up_is_said_beside_its_hours(
    manager: Client, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    decided(manager, wax, begins_at=tomorrow(3))  # nobody works at three in the night
    not_kept = "The plan does not keep this start: by the plan it begins"
    assert not_kept not in manager.get(page_of(wax)).content.decode()

    mend(NOW + timedelta(minutes=1))
    text = manager.get(page_of(wax)).content.decode()

    assert not_kept in text
    day = localtime(NOW + timedelta(days=1), lab_calendar().zone)
    assert f"the start that was pinned cannot be kept ({day:%a} {day.day} {day:%b}, 03:00)" in text
    decided(manager, wax, begins_at=tomorrow(13))
    mend(NOW + timedelta(minutes=2))
    assert not_kept not in manager.get(page_of(wax)).content.decode()


def test_a_pin_can_be_lifted_again(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    decided(manager, wax, person=shop.people["oren"].pk)
    assert sent(manager, wax, "lift").status_code == 303
    assert not PlanPin.objects.filter(stage=wax, lifted_at=None).exists()
    assert sent(manager, wax, "lift").status_code == 422


def test_nothing_chosen_is_refused_with_the_next_step(
    manager: Client, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    answer = sent(manager, wax, "pin")
    assert answer.status_code == 422
    assert "Choose a person, a time, or both." in answer.content.decode()
    assert not PlanPin.objects.exists()


def test_the_price_is_said_before_anything_is_decided(
    manager: Client, planned: Callable[..., Case]
) -> None:
    case = planned()
    wax = case.stages.get(key="wax")
    free = sent(manager, wax, "price", begins_at=tomorrow(9)).content.decode()
    assert "no case leaves on another day" in free or "would leave" in free
    far = localtime(NOW) + timedelta(days=20)
    dear = sent(manager, wax, "price", begins_at=far.strftime("%Y-%m-%dT10:00")).content.decode()
    assert "would leave later" in dear
    assert case.number in dear
    assert not PlanPin.objects.exists()


def test_a_yes_before_the_price_says_the_price_and_the_next_one_counts(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    wish = {"person": shop.people["oren"].pk, "begins_at": tomorrow(13)}

    first = sent(manager, wax, "pin", **wish)

    assert first.status_code == 200
    assert "Nothing is decided yet. This is what it costs" in first.content.decode()
    assert "no case leaves" in first.content.decode() or "would leave" in first.content.decode()
    assert not PlanPin.objects.exists()
    # The price of one choice is not that of another.
    other = sent(manager, wax, "pin", **wish | {"begins_at": tomorrow(14)}, priced=priced_in(first))
    assert "Nothing is decided yet" in other.content.decode()
    assert not PlanPin.objects.exists()
    assert sent(manager, wax, "pin", **wish, priced=priced_in(first)).status_code == 303
    assert PlanPin.objects.get().begins_at is not None


def test_the_price_of_a_dragged_bar_goes_with_its_yes(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    day = NOW.astimezone(lab_calendar().zone) + timedelta(days=1)
    at = day.replace(hour=13, minute=0).isoformat()
    oren = shop.people["oren"].pk
    part = manager.get(
        page_of(wax), {"person": oren, "begins_at": at}, headers={"HX-Request": "true"}
    )

    answer = sent(manager, wax, "pin", person=oren, begins_at=tomorrow(13), priced=priced_in(part))

    assert answer.status_code == 303


def test_a_dragged_bar_brings_its_wish_and_its_price(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    at = (NOW + timedelta(days=1)).isoformat()
    page = manager.get(page_of(wax), {"person": shop.people["oren"].pk, "begins_at": at})
    text = page.content.decode()
    assert "being worked out" in text
    assert "no case leaves" not in text
    at_once = unescape(re.findall(r'hx-get="([^"]+price=1)"', text)[0])
    part = manager.get(at_once, headers={"HX-Request": "true"}).content.decode()
    assert "no case leaves on another day" in part or "would leave" in part
    assert "<form" not in part
    assert part in manager.get(at_once).content.decode()
    assert f'value="{shop.people["oren"].pk}" selected' in text


def test_a_bar_dragged_to_somebody_without_the_skill_says_so(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    noor = shop.people["noor"]
    text = manager.get(page_of(wax), {"person": noor.pk}).content.decode()
    assert f"{noor.name} does not have the skill" in text


def test_who_gives_no_work_sees_the_stage_and_decides_nothing(
    client: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    user = shop.people["mara"].user
    assert user is not None
    client.force_login(user)
    page = client.get(page_of(wax))
    assert page.status_code == 200
    assert "Decide so" not in page.content.decode()
    assert sent(client, wax, "pin", person=shop.people["oren"].pk).status_code == 404


def test_a_stage_that_is_done_is_not_decided_about(
    manager: Client, planned: Callable[..., Case]
) -> None:
    survey = planned().stages.get(key="survey")
    assert "Decide so" not in manager.get(page_of(survey)).content.decode()
    answer = sent(manager, survey, "pin", begins_at=tomorrow(9))
    assert answer.status_code == 422


# ── a load ───────────────────────────────────────────────────────────────────


def test_a_load_is_decided_on_its_page_and_lifted_as_one(
    manager: Client, planned: Callable[..., Case]
) -> None:
    one, two = (planned(ref=ref).stages.get(key="cure") for ref in ("Q-1180", "Q-1181"))
    bath = Bath.objects.get()
    page = manager.get(page_of(one)).content.decode()
    assert "Decide the load" in page
    assert two.case.number in page

    day = (NOW.astimezone(lab_calendar().zone) + timedelta(days=5)).date()
    at = f"{day}T10:00"
    entries = {"stages": [one.pk, two.pk], "bath": bath.pk, "begins_at": at}
    priced = sent(manager, one, "price", **entries).content.decode()
    assert "plan-price" in priced
    assert not PlanPin.objects.exists()
    assert decided(manager, one, **entries).status_code == 303

    mend(NOW)
    rows = PlanStage.objects.filter(plan=Plan.objects.first(), stage__in=[one.pk, two.pk])
    zone = lab_calendar().zone
    assert {
        (row.bath, row.begins_at.astimezone(zone).strftime("%Y-%m-%dT%H:%M")) for row in rows
    } == {(bath, at)}
    shown = unescape(manager.get(page_of(two)).content.decode())
    assert f"It goes into {bath.name}." in shown

    assert sent(manager, two, "lift").status_code == 303
    assert not PlanPin.objects.filter(lifted_at=None).exists()


def test_its_own_load_is_offered_whole_however_many_others_wait(
    manager: Client, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = (planned(ref=ref).stages.get(key="cure") for ref in ("Q-1180", "Q-1181"))
    plan = Plan.objects.first()
    load = PlanStage.objects.get(plan=plan, stage=one)
    PlanStage.objects.filter(plan=plan, stage=two).update(
        together="one load", begins_at=load.begins_at
    )
    PlanStage.objects.filter(pk=load.pk).update(together="one load")
    monkeypatch.setattr(plans, "MOST_PIECES", 0)

    form = manager.get(page_of(one)).context["form"]

    assert [key for key, _words in form.fields["stages"].choices] == [one.pk, two.pk]


def test_a_load_without_a_flask_or_a_time_says_so_beside_the_field(
    manager: Client, planned: Callable[..., Case]
) -> None:
    cure, bath = planned().stages.get(key="cure"), Bath.objects.get().pk

    no_flask = sent(manager, cure, "pin", stages=[], bath=bath, begins_at=tomorrow(13))
    no_time = sent(manager, cure, "pin", stages=[cure.pk], bath=bath)

    assert no_flask.context["form"].errors == {"stages": ["Choose one flask at least."]}
    assert set(no_time.context["form"].errors) == {"begins_at"}
    assert (no_flask.status_code, no_time.status_code) == (422, 422)
    assert not PlanPin.objects.exists()


def test_a_load_that_was_dragged_is_priced_with_its_flasks_and_its_bath(
    manager: Client, planned: Callable[..., Case]
) -> None:
    cure = planned().stages.get(key="cure")
    row = PlanStage.objects.get(plan=Plan.objects.first(), stage=cure)
    later = localtime(row.begins_at + timedelta(days=1))

    url = f"{page_of(cure)}?dragged=1&begins_at={later.strftime('%Y-%m-%dT%H:%M')}"
    asked = manager.get(url, headers={"HX-Request": "true"}).content.decode()

    assert "plan-price" in asked
    assert later.strftime("%Y-%m-%dT%H:%M") in manager.get(url).content.decode()


def test_a_load_that_was_dragged_to_another_bath_is_asked_for_there(
    manager: Client, planned: Callable[..., Case]
) -> None:
    cure = planned().stages.get(key="cure")
    other = Bath.objects.create(name="Bath 2", capacity=4)
    row = PlanStage.objects.get(plan=Plan.objects.first(), stage=cure)
    wish = {"dragged": 1, "bath": other.pk, "begins_at": row.begins_at.isoformat()}

    page = manager.get(page_of(cure), wish)
    priced = manager.get(page_of(cure), wish, headers={"HX-Request": "true"}).content.decode()

    assert f'<option value="{other.pk}" selected>' in page.content.decode()
    assert "plan-price" in priced
    assert "Choose one flask" not in priced


def test_a_start_that_cannot_be_is_refused_with_its_day_and_the_first_that_can(
    manager: Client, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    at = localtime(NOW + timedelta(days=1), lab_calendar().zone)

    text = sent(manager, wax, "price", begins_at=tomorrow(3)).content.decode()

    assert f"It cannot begin {at:%a} {at.day} {at:%b}, 03:00: hands" in text
    assert re.search(r"As soon as it can, it begins \w+ \d+ \w+, \d\d:\d\d\.", text)


def test_a_countersign_is_said_with_its_day(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    wax = planned().stages.get(key="wax")
    signed = NOW + timedelta(days=1)
    PlanStage.objects.filter(stage=wax).update(signer=shop.people["oren"], signed_from=signed)
    at = localtime(signed, lab_calendar().zone)
    text = manager.get(page_of(wax)).content.decode()
    assert f"Oren signs it: {at:%a} {at.day} {at:%b}, {at:%H:%M}." in text
