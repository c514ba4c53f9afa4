"""The page of a record: which cases a decision moves, said before; what became of them, after."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Case, Heartbeat, Plan, PlanCase
from cases.services.planner import mend
from tests.factories import rows
from tests.services.test_bath_record_back import WHY, Judged, states
from tests.views.load.test_cut import wall
from tests.views.load.test_record import client_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def judged() -> Iterator[Judged]:
    judged = Judged()
    with time_machine.travel(judged.now, tick=False):
        yield judged


def address(judged: Judged) -> str:
    return reverse("cases:bath-record", args=[judged.load.number, judged.row.pk])


def shown(judged: Judged, who: str = "oren") -> str:
    return html.unescape(client_of(judged.bench.shop, who).get(address(judged)).content.decode())


def decide(judged: Judged, **told: str) -> Any:
    client: Client = client_of(judged.bench.shop, "oren")
    page = client.get(address(judged))
    sent = {"decision": "repeat", "words": WHY, "goes_back": page.context["goes_back"], **told}
    return client.post(address(judged), sent, follow=True)


def promised(judged: Judged, case: Case, days: float) -> None:
    at = judged.now + timedelta(days=days)
    rows(lambda record: {"c": record.change(
        Case.objects.get(pk=case.pk), leaves_at=at, promised_on=at.date(),
        first_promised_on=at.date(),
    )})  # fmt: skip


def planned(judged: Judged, *, later: float = 5) -> Plan:
    """Mend the plan as the planner does, then let every case leave so many days from now."""
    plan = mend(judged.now)
    assert plan is not None
    Heartbeat.objects.update_or_create(name="plan", defaults={"at": judged.now})
    PlanCase.objects.filter(plan=plan).update(
        leaves_at=judged.now + timedelta(days=later), late_minutes=0
    )
    return plan


def test_page_names_who_goes_back_and_who_stays_before_it_is_decided(judged: Judged) -> None:
    first, second = judged.cases
    judged.open_flask(first)

    page = shown(judged)

    back = page.index("goes back to the cure, or to the packing")
    stays = page.index("is out of its flask and cannot be cured again")
    assert page.index("If the cure is repeated or the resin scrapped") < back < stays
    assert page[:back].rindex(second.number) > page.index("What is done about it")
    assert page[back:stays].count(first.number) > 0


def test_page_says_that_a_load_in_its_bath_ends() -> None:
    judged = Judged(cases=1, out=False)

    with time_machine.travel(judged.now, tick=False):
        assert "The load ends then" in shown(judged)


def test_page_names_a_piece_that_was_sent(judged: Judged) -> None:
    judged.open_flask(judged.cases[0])
    rows(lambda record: {
        "c": record.change(Case.objects.get(pk=judged.cases[0].pk), state="sent")
    })  # fmt: skip

    assert "has left the lab. Tell the practice" in shown(judged)


def test_page_without_cases_says_that_none_goes_back(judged: Judged) -> None:
    judged.decide("repeat")
    judged.row = judged.read()

    page = shown(judged)

    assert "No case of this load goes back" in page
    assert 'name="tell"' not in page


def test_decision_on_the_page_moves_what_it_named_and_says_so(judged: Judged) -> None:
    done = html.unescape(decide(judged).content.decode())

    numbers = ", ".join(case.number for case in judged.cases)
    assert f"The decision is kept. Back to do again: {numbers}." in done
    assert [states(case, "cure") for case in judged.cases] == [[("planned", 2)]] * 2


def test_page_that_is_out_of_date_is_refused_once_and_then_right(judged: Judged) -> None:
    first, second = judged.cases
    client = client_of(judged.bench.shop, "oren")
    stale = client.get(address(judged)).context["goes_back"]
    judged.open_flask(first)
    sent = {"decision": "scrap", "words": WHY}

    refused = client.post(address(judged), {**sent, "goes_back": stale})
    again = client.post(
        address(judged), {**sent, "goes_back": refused.context["goes_back"]}, follow=True
    )

    assert refused.status_code == 422
    assert "Some of these cases have moved on meanwhile" in refused.content.decode()
    assert f"Back to do again: {second.number}." in again.content.decode()


def test_history_of_a_case_tells_of_the_decision(judged: Judged) -> None:
    case = judged.cases[0]
    decide(judged)

    page = client_of(judged.bench.shop, "oren").get(reverse("cases:case", args=[case.number]))

    assert "Oren decided about its bath's record: repeat the cure." in html.unescape(
        page.content.decode()
    )


def test_piece_that_stayed_is_named_after_the_decision(judged: Judged) -> None:
    first, second = judged.cases
    judged.open_flask(first)
    decide(judged)

    page = shown(judged)

    stayed = page[page.index("Out of the flask by then") : page.index("When it leaves now")]
    assert first.number in stayed
    assert second.number not in stayed


# --- new dates -------------------------------------------------------------------------------


def test_plan_that_does_not_know_the_decision_tells_no_day(judged: Judged) -> None:
    plan = planned(judged)
    decide(judged)

    page = shown(judged, "noor")

    assert f"The plan of {wall(plan.made_at)} knows nothing of this decision" in page
    assert 'hx-trigger="load delay:5s" hx-select="#new-dates"' in page
    assert "by the plan it leaves" not in page
    assert "ship_on=" not in page


def test_planner_that_stands_still_is_said_and_not_waited_for(judged: Judged) -> None:
    planned(judged)
    Heartbeat.objects.filter(name="plan").update(at=judged.now - timedelta(hours=2))
    decide(judged)

    page = shown(judged, "noor")

    assert "The planner stands still" in page
    assert 'hx-select="#new-dates"' not in page


def test_lab_without_a_plan_says_so(judged: Judged) -> None:
    decide(judged)

    assert "There is no plan yet that could tell a new day." in shown(judged, "noor")


def test_mended_plan_tells_promised_and_new_day_with_a_filled_promise(judged: Judged) -> None:
    late, kept = judged.cases
    promised(judged, late, 1)
    promised(judged, kept, 9)
    decide(judged)
    plan = planned(judged)
    PlanCase.objects.filter(plan=plan, case=late).update(late_minutes=4 * 24 * 60)
    leaves = judged.now + timedelta(days=5)

    page = shown(judged, "noor")

    assert f"By the plan of {wall(plan.made_at)}." in page
    assert f"by the plan it leaves {wall(leaves, '%a')} {int(wall(leaves, '%d'))}" in page
    assert f"promised for {wall(judged.now + timedelta(days=1), '%a')}" in page
    assert "the day is kept" in page
    assert page.count("ship_on=") == 1
    link = reverse("cases:case-promise", args=[late.number])
    assert f'href="{link}?ship_on={wall(leaves, "%Y-%m-%d")}&reason=A+part+of+the+work' in page


def test_filled_promise_form_gives_the_day_with_its_reason(judged: Judged) -> None:
    case = judged.cases[0]
    promised(judged, case, 1)
    decide(judged)
    day = wall(judged.now + timedelta(days=5), "%Y-%m-%d")
    client = client_of(judged.bench.shop, "noor")
    link = reverse("cases:case-promise", args=[case.number])

    form = client.get(f"{link}?ship_on={day}&reason=A+part+of+the+work+is+done+again.")
    text = form.content.decode()
    client.post(link, {"ship_on": day, "reason": form.context["form"]["reason"].value()})

    assert f'value="{day}"' in text
    assert 'value="A part of the work is done again."' in text
    given = case.promises.order_by("-pk").first()
    assert given is not None
    assert (given.ship_on.isoformat(), given.reason) == (day, "A part of the work is done again.")


def test_bench_sees_the_days_and_no_promise(judged: Judged) -> None:
    decide(judged)
    planned(judged)

    page = shown(judged)

    assert "by the plan it leaves" in page
    assert "The desk gives the new dates." in page
    assert "/promise/" not in page


def test_load_held_longer_by_a_record_has_its_new_dates_too() -> None:
    judged = Judged(cases=1, out=False)
    rows(lambda record: {"r": record.change(judged.load.program.resin, resumable=True)})
    judged.row = judged.read()
    judged.decide("extend", minutes=600.0)

    with time_machine.travel(judged.now, tick=False):
        planned(judged)
        page = shown(judged, "noor")

    assert "by the plan it leaves" in page
    assert judged.cases[0].number in page[page.index("When it leaves now") :]


@pytest.mark.parametrize("cases", [1, 3])
def test_page_of_a_decision_asks_the_same_whatever_it_moved(
    cases: int, django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]]
) -> None:
    judged = Judged(cases=cases)
    judged.decide("repeat")
    client = client_of(judged.bench.shop, "oren")

    with time_machine.travel(judged.now, tick=False):
        planned(judged)
        with django_assert_max_num_queries(22):
            client.get(address(judged))
