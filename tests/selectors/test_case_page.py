"""What stands on the page of a case: stages by state, minutes by hands, checks that failed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.models import Case, CaseStage
from cases.selectors.case_page import CasePage, case_page, with_face
from cases.services.check import concede, enter_checks
from cases.services.send_back import send_back
from cases.services.stage import finish_stage, start_stage
from tests.factories import NOW, Shop, answers, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


def page_of(case: Case, now: Any = NOW) -> CasePage:
    return case_page(with_face(Case.objects.all()).get(pk=case.pk), now=now)


def begin(shop: Shop, case: Case, key: str, now: Any, who: str = "mara") -> CaseStage:
    stage = case.stages.get(key=key)
    start_stage(shop.envelope(who, now=now), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    return stage


def test_first_stage_is_ready_and_the_rest_comes_later() -> None:
    case = make_case(make_shop())

    page = page_of(case)

    assert [stage.key for stage in page.ready(NOW)] == ["receive"]
    assert page.waiting(NOW) == []
    assert len(page.later) == len(page.stages) - 1


def test_stage_rests_until_the_wait_before_it_is_over() -> None:
    shop = make_shop()
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="pour")

    page = page_of(case, clock.now)
    ready_at = case.stages.get(key="trim").ready_at
    assert ready_at is not None

    assert [stage.key for stage in page.waiting(clock.now)] == ["trim"]
    assert [stage.key for stage in page_of(case, ready_at).ready(ready_at)] == ["trim"]


def test_minutes_are_shared_by_what_one_person_has_in_hand() -> None:
    shop = make_shop()
    one, two = make_case(shop, ref="Q-1"), make_case(shop, ref="Q-2")
    begin(shop, one, "receive", NOW)
    begin(shop, two, "receive", NOW)

    (person,) = page_of(one, NOW + timedelta(minutes=20)).people

    assert (person.name, person.minutes, person.again) == ("Mara", 10.0, 0)


def test_second_attempt_counts_as_done_again() -> None:
    shop = make_shop()
    case = make_case(shop)
    stage = begin(shop, case, "receive", NOW)
    end = NOW + timedelta(minutes=10)
    finish_stage(shop.envelope(now=end), stage=stage.pk, version=stage.version,
                 checks=answers(stage))  # fmt: skip
    stage.refresh_from_db()
    send_back(shop.envelope(now=end), stage=stage.pk, version=stage.version, to="receive",
              reason="plan-changed")  # fmt: skip
    begin(shop, case, "receive", end, who="oren")

    people = page_of(case, end + timedelta(minutes=5)).people

    assert [(one.name, one.minutes, one.again) for one in people] == [
        ("Mara", 10.0, 0), ("Oren", 5.0, 5.0),
    ]  # fmt: skip


def test_failed_check_stays_with_who_accepted_it() -> None:
    shop = make_shop()
    case = make_case(shop)
    stage = begin(shop, case, "receive", NOW)
    entry = next(one for one in answers(stage) if not one["values"])
    entry["yes"] = False
    enter_checks(shop.envelope(), stage=stage.pk, version=stage.version, checks=[entry])
    concede(shop.envelope("oren"), item=entry["item"], version=stage.version, reason="no-room")

    (blemish,) = page_of(case).blemishes

    assert blemish.item.state == "conceded"
    assert [result.by.name for result in blemish.failed] == ["Mara"]
    assert [(row.by.name, row.reason) for row in blemish.concessions] == [("Oren", "no-room")]
