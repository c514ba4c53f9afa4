"""Somebody is away, and their work goes to others."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client

from cases.models import CaseStage
from cases.services.assign import assign_stage
from tests.factories import Shop, make_case, start_stage
from tests.views.desk.conftest import sign_in

AWAY = "/desk/away/"


@pytest.fixture
def of_mara(shop: Shop) -> int:
    """A stage that runs in Mara's hands."""
    stage = make_case(shop).stages.get(key="receive")
    assign_stage(
        shop.envelope("noor"), stage=stage.pk, version=stage.version, person=shop.people["mara"].pk
    )
    stage.refresh_from_db()
    start_stage(shop.envelope("mara", door="bench"), stage=stage.pk, version=stage.version)
    return stage.pk


def body(shop: Shop, person: str, to: str = "") -> dict[str, str]:
    return {
        "submission_id": str(uuid.uuid4()),
        "person": str(shop.people[person].pk),
        "to": str(shop.people[to].pk) if to else "",
    }


def test_work_is_handed_to_one_person(desk: Client, shop: Shop, of_mara: int) -> None:
    response = desk.post(AWAY, body(shop, "mara", "oren"), follow=True)

    stage = CaseStage.objects.get(pk=of_mara)
    assert (stage.state, stage.assignee) == ("paused", shop.people["oren"])
    assert "One stage was handed on from Mara." in response.content.decode()


def test_lists_say_how_much_each_has(desk: Client, shop: Shop, of_mara: int) -> None:
    held = {person.name: n for person, n in desk.get(AWAY).context["lists"]}

    assert held == {"Mara": 1, "Oren": 0, "Teo": 0}


def test_nothing_on_the_list_is_said(desk: Client, shop: Shop) -> None:
    page = desk.post(AWAY, body(shop, "oren"), follow=True)

    assert "Oren had nothing on the list." in page.content.decode()


def test_work_cannot_go_to_who_is_away(desk: Client, shop: Shop, of_mara: int) -> None:
    page = desk.post(AWAY, body(shop, "mara", "mara"))

    assert page.status_code == 422
    assert "Choose somebody else" in page.content.decode()


@pytest.mark.parametrize(("who", "status"), [("noor", 200), ("pavo", 200), ("mara", 404)])
def test_only_who_gives_out_work_may(shop: Shop, clock: None, who: str, status: int) -> None:
    assert sign_in(shop, who).get(AWAY).status_code == status
