"""The plan by day and by week, and what is late."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localtime

from cases.models import (
    Bath,
    Case,
    Heartbeat,
    Person,
    Plan,
    PlanCase,
    Planner,
    PlanPin,
    PlanStage,
    Station,
)
from cases.selectors.hours import lab_calendar
from cases.services.planner import mend
from cases.views.plan import late
from cases.views.plan.lanes import STEP, Window, bands, bars
from cases.views.plan.week import planned_minutes
from tests.factories import NOW, Shop

pytestmark = pytest.mark.django_db


def text_of(answer: Any) -> str:
    return str(answer.content.decode())


def test_without_a_plan_the_page_says_how_one_comes_to_be(manager: Client) -> None:
    for name in ("plan", "plan-week", "plan-late"):
        page = text_of(manager.get(reverse(f"cases:{name}")))
        assert "There is no plan yet." in page
        assert "leaves in time" not in page


def test_what_has_no_place_is_not_said_to_leave_in_time(
    manager: Client, planned: Callable[..., Case]
) -> None:
    case = planned()
    plan = Plan.objects.get()
    PlanCase.objects.filter(plan=plan).update(late_minutes=0)
    assert "Everything leaves in time" in text_of(manager.get(reverse("cases:plan-late")))
    stage = case.stages.get(key="pack")
    Plan.objects.update(unplanned=[{"stage": stage.pk, "words": "Nobody may do it."}])
    page = text_of(manager.get(reverse("cases:plan-late")))
    assert "Everything leaves in time" not in page
    assert "Everything that has a place leaves in time by this plan." in page


def test_the_day_has_a_lane_for_everybody_and_every_bath(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    case = planned()
    page = text_of(manager.get(reverse("cases:plan")))
    for who in ("mara", "oren"):
        assert f'data-person="{shop.people[who].pk}"' in page
    first = PlanStage.objects.filter(stage__case=case, person__isnull=False).first()
    assert first is not None
    assert f'data-stage="{first.stage_id}"' in page
    assert case.number in page


def test_the_same_day_stands_by_place(manager: Client, planned: Callable[..., Case]) -> None:
    planned()
    row = PlanStage.objects.filter(person__isnull=False, stage__station="wax-bench").first()
    assert row is not None
    day = row.begins_at.astimezone(lab_calendar().zone).date().isoformat()
    page = text_of(manager.get(reverse("cases:plan") + f"?by=places&day={day}"))
    assert Station.objects.get(key="wax-bench").name in page
    assert f'data-stage="{row.stage_id}"' in page
    assert "data-person" not in page


def test_a_day_that_is_asked_for_is_shown_and_nonsense_is_not(
    manager: Client, planned: Callable[..., Case]
) -> None:
    planned()
    page = text_of(manager.get(reverse("cases:plan") + "?day=2026-12-14&zoom=3"))
    assert "Monday 14 December" in page
    assert "zoom-3" in page
    page = text_of(manager.get(reverse("cases:plan") + "?day=yesterday&zoom=99"))
    assert "Wednesday 9 December" in page
    assert "zoom-1" in page


def test_a_bar_begins_and_ends_where_its_stage_does() -> None:
    window = Window(NOW, NOW + timedelta(hours=2))
    row = PlanStage(
        pk=1, begins_at=NOW + timedelta(minutes=30), ends_at=NOW + timedelta(minutes=50)
    )
    (bar,) = bars(window, [row])
    assert (bar.column, bar.width) == (6, 4)
    assert window.steps * STEP == timedelta(hours=2)


def test_what_goes_on_past_the_window_is_cut_there_and_says_so() -> None:
    window = Window(NOW, NOW + timedelta(hours=1))
    row = PlanStage(pk=1, begins_at=NOW - timedelta(hours=1), ends_at=NOW + timedelta(hours=9))
    (bar,) = bars(window, [row])
    assert (bar.column, bar.width, bar.before, bar.after) == (0, 12, True, True)
    gone = PlanStage(pk=2, begins_at=NOW + timedelta(hours=3), ends_at=NOW + timedelta(hours=4))
    assert bars(window, [gone]) == []


def test_bands_are_what_lies_outside_the_hours() -> None:
    window = Window(NOW, NOW + timedelta(hours=4))
    hour = timedelta(hours=1)
    assert bands(window, [(NOW + hour, NOW + 2 * hour)]) == [(0, 12), (24, 24)]
    assert bands(window, []) == [(0, 48)]
    assert bands(window, [(NOW - hour, NOW + 9 * hour)]) == []


def test_the_week_counts_what_is_done_together_once(
    manager: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    planned()
    planned("wax-pass", ref="Q-2")
    day = localtime(NOW).date()
    own = [
        PlanStage(
            plan=Plan.objects.first(),
            stage=case.stages.get(key="polish"),
            person=shop.people["mara"],
            begins_at=NOW + timedelta(hours=1),
            ends_at=NOW + timedelta(hours=1, minutes=30),
            together="polish 1",
        )
        for case in Case.objects.all()
    ]
    calendar = lab_calendar()
    hours = {(shop.people["mara"].pk, day): [(NOW, NOW + timedelta(hours=4))]}
    PlanStage.objects.all().delete()
    PlanStage.objects.bulk_create(own)
    plan = Plan.objects.first()
    assert plan is not None
    assert planned_minutes(plan, [day], hours, calendar) == {(shop.people["mara"].pk, day): (30, 2)}
    page = text_of(manager.get(reverse("cases:plan-week")))
    assert shop.people["mara"].name in page
    assert "per cent" in page


def test_a_late_case_stands_with_its_reasons_and_the_case_page_leads_there(
    manager: Client, planned: Callable[..., Case]
) -> None:
    case = planned()
    Case.objects.filter(pk=case.pk).update(leaves_at=NOW - timedelta(days=1))
    mend(NOW)
    row = PlanCase.objects.get(plan=Plan.objects.first(), case=case)
    assert row.late_minutes > 0
    assert row.why
    assert row.leaves_at is not None
    leaves = localtime(row.leaves_at, lab_calendar().zone)
    when = f"It would leave {leaves:%a} {leaves.day} {leaves:%b, %H:%M}. Promised for Tue 8 Dec, "
    page = text_of(manager.get(reverse("cases:plan-late")))
    assert when in page
    assert case.number in page
    matters = manager.get(reverse("cases:plan")).content.decode().split('id="matters"')[1]
    matters = matters.split("</section>")[0]
    assert f"</svg></span> {case.number}" in matters
    assert when in matters
    assert row.why[0].split(" waits")[0] in page
    of_case = text_of(manager.get(reverse("cases:case", args=[case.number])))
    assert "By the plan it leaves" in of_case
    assert reverse("cases:plan-late") in of_case


def test_every_late_case_is_on_a_page_with_its_reasons(
    manager: Client, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late, "PER_PAGE", 1)
    cases = [planned(ref=f"Q-12{n}") for n in range(2)]
    Case.objects.filter(pk__in=[case.pk for case in cases]).update(
        leaves_at=NOW - timedelta(days=1)
    )
    mend(NOW)

    pages = [text_of(manager.get(reverse("cases:plan-late"), {"page": page})) for page in (1, 2)]

    heads = [re.findall(r'<h2 id="late-\d+"><a href="[^"]*">([^<]+)</a>', page) for page in pages]
    assert sorted(number for (number,) in heads) == sorted(case.number for case in cases)
    assert all("Why: what each of its stages waits for" in page for page in pages)


def test_an_old_plan_says_how_old_it_is(manager: Client, planned: Callable[..., Case]) -> None:
    planned()
    page = text_of(manager.get(reverse("cases:plan")))
    assert "The planner stands still." in page
    made = NOW.astimezone(lab_calendar().zone).strftime("%H:%M")
    assert f"from {made}" in page
    Heartbeat.objects.create(name="plan", at=NOW)
    assert "The planner stands still." not in text_of(manager.get(reverse("cases:plan")))


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ("rules", "by the rules"),
        ("mend", "Mended at"),
        ("search", "Improved at"),
        ("local", "by search alone: the solver cannot be loaded"),
    ],
)
def test_the_plan_says_how_it_was_made(
    manager: Client, planned: Callable[..., Case], how: str, words: str
) -> None:
    planned()
    Heartbeat.objects.create(name="plan", at=NOW)
    Plan.objects.update(how=how)
    assert words in text_of(manager.get(reverse("cases:plan")))


def test_a_search_that_found_nothing_is_over(manager: Client, planned: Callable[..., Case]) -> None:
    planned()
    Heartbeat.objects.create(name="plan", at=NOW)
    Plan.objects.update(how="rules")
    assert "no better plan" not in text_of(manager.get(reverse("cases:plan")))
    Planner.objects.update(improved_for=Plan.objects.get().pk)
    assert "the search found no better plan" in text_of(manager.get(reverse("cases:plan")))


def test_what_a_plan_cannot_keep_is_said_on_its_day_and_at_its_stage(
    manager: Client, planned: Callable[..., Case]
) -> None:
    case = planned()
    words = f"{case.number}: the start that was pinned cannot be kept; it comes as soon as it can."
    Plan.objects.update(words=[words, "26-9999-X: another."])
    row = PlanStage.objects.filter(person__isnull=False).first()
    assert row is not None
    by = Person.objects.get(name="Pavo")
    PlanPin.objects.create(stage=row.stage, by=by, at=NOW, begins_at=NOW)
    Planner.objects.update(fault="The last plan was refused by its check: it overlaps.")

    day = text_of(manager.get(reverse("cases:plan")))
    stage = text_of(manager.get(reverse("cases:plan-stage", args=[row.stage_id])))

    assert "2 things cannot be kept by any plan" in day
    assert words in day
    assert "it overlaps" in day
    assert words in stage
    assert "26-9999-X" not in stage
    PlanPin.objects.all().delete()
    assert words in text_of(manager.get(reverse("cases:plan-stage", args=[row.stage_id])))


def test_a_search_that_runs_shows_its_seconds_and_can_be_stopped(
    manager: Client, planned: Callable[..., Case]
) -> None:
    planned()
    Planner.objects.update(
        improving_since=NOW, busy_until=NOW + timedelta(minutes=1), spent_seconds=7.0
    )
    part = text_of(manager.get(reverse("cases:plan-state"), headers={"HX-Request": "true"}))
    assert "7 s of 20 s so far" in part
    assert "<html" not in part
    answer = manager.post(reverse("cases:plan-stop"))
    assert answer["Location"] == reverse("cases:plan")
    assert Planner.objects.get().stop_asked


def back_of(page: Any) -> str:
    """Return where the button that ends the search leads back to."""
    found = re.search(r'name="next" value="([^"]*)"', text_of(page))
    assert found is not None
    return unescape(found[1])


def test_who_stops_a_search_comes_back_to_the_page_and_reads_it_there(
    manager: Client, planned: Callable[..., Case]
) -> None:
    stage = planned().stages.get(key="wax")
    pages = [
        f"{reverse('cases:plan')}?day=2026-12-11&zoom=2&by=places",
        f"{reverse('cases:plan-week')}?day=2026-12-14",
        reverse("cases:plan-late"),
        reverse("cases:plan-stage", args=[stage.pk]),
    ]
    for page in pages:
        until = NOW + timedelta(minutes=1)
        Planner.objects.update(improving_since=NOW, busy_until=until, stop_asked=False)
        polled = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{page}"}
        line = manager.get(reverse("cases:plan-state"), headers=polled)
        assert (back_of(manager.get(page)), back_of(line)) == (page, page)

        there = manager.post(reverse("cases:plan-stop"), {"next": page}, follow=True)

        assert there.redirect_chain == [(page, 303)]
        assert "It is being stopped; the best so far is kept." in text_of(there)
        assert "was over already" not in text_of(there)


def test_who_stops_a_search_that_is_over_reads_so(
    manager: Client, planned: Callable[..., Case]
) -> None:
    planned()
    there = manager.post(
        reverse("cases:plan-stop"), {"next": reverse("cases:plan-week")}, follow=True
    )
    assert there.redirect_chain == [(reverse("cases:plan-week"), 303)]
    assert "The search was over already; its best plan is kept." in text_of(there)


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", ""])
def test_stopping_leads_to_no_other_site(manager: Client, elsewhere: str) -> None:
    answer = manager.post(reverse("cases:plan-stop"), {"next": elsewhere})
    assert answer["Location"] == reverse("cases:plan")


def test_a_refused_choice_does_not_lead_back_to_an_address_that_only_takes_forms(
    manager: Client, planned: Callable[..., Case]
) -> None:
    stage = planned().stages.get(key="wax")
    Planner.objects.update(improving_since=NOW, busy_until=NOW + timedelta(minutes=1))
    refused = manager.post(reverse("cases:plan-pin", args=[stage.pk]), {"what": "pin"})
    assert refused.status_code == 422
    assert back_of(refused) == reverse("cases:plan-stage", args=[stage.pk])


def test_the_line_by_itself_leads_to_the_plan(manager: Client) -> None:
    assert manager.get(reverse("cases:plan-state"))["Location"] == reverse("cases:plan")


def test_the_day_asks_as_much_of_the_database_for_many_cases_as_for_one(
    manager: Client, planned: Callable[..., Case], django_assert_max_num_queries: Any
) -> None:
    planned()
    manager.get(reverse("cases:plan"))

    with CaptureQueriesContext(connection) as one:
        manager.get(reverse("cases:plan"))
    for number in range(3):
        planned(ref=f"Q-{number}")
    with django_assert_max_num_queries(len(one)):
        manager.get(reverse("cases:plan"))


def test_loading_a_bath_stands_in_the_lane_of_who_loads_it(
    manager: Client, planned: Callable[..., Case]
) -> None:
    case = planned()
    load = PlanStage.objects.get(plan=Plan.objects.first(), stage__case=case, bath__isnull=False)
    assert load.person is not None
    assert load.bath is not None
    at = localtime(load.begins_at, lab_calendar().zone)
    until = at + timedelta(minutes=load.stage.minutes)

    page = manager.get(reverse("cases:plan"), {"day": f"{at:%Y-%m-%d}"})

    lane = next(one for one in page.context["lanes"] if one.person == load.person)
    (bar,) = [one for one in lane.bars if one.loading]
    assert bar.words == f"Load {load.bath.name}: 1 flask, {at:%H:%M} to {until:%H:%M}"
    own = text_of(page).split("person by person")[1].split(f"<strong>{load.person.name}</strong>")
    assert f"Load {load.bath.name}" in own[1].split("</details>")[0]
    assert "Night of" not in text_of(page)
    PlanStage.objects.filter(pk=load.pk).update(begins_at=NOW - timedelta(hours=1))
    load.stage.state = "running"
    load.stage.save(update_fields=["state"])
    page = manager.get(reverse("cases:plan"))
    assert not [bar for lane in page.context["lanes"] for bar in lane.bars if bar.loading]


def test_the_week_counts_the_hands_that_load_a_bath_once(
    shop: Shop, planned: Callable[..., Case]
) -> None:
    planned()
    planned("wax-pass", ref="Q-2")
    day, mara = localtime(NOW).date(), shop.people["mara"]
    plan = Plan.objects.first()
    assert plan is not None
    PlanStage.objects.all().delete()
    cures = [case.stages.get(key="cure") for case in Case.objects.all()]
    PlanStage.objects.bulk_create(
        PlanStage(
            plan=plan, stage=stage, person=mara, bath=Bath.objects.get(), together="load 1",
            begins_at=NOW, ends_at=NOW + timedelta(hours=9),
        )
        for stage in cures
    )  # fmt: skip
    hours = {(mara.pk, day): [(NOW, NOW + timedelta(hours=4))]}

    found = planned_minutes(plan, [day], hours, lab_calendar())

    assert found == {(mara.pk, day): (cures[0].minutes, 2)}


def test_a_bar_says_all_of_it_to_a_mouse_and_to_ears(
    manager: Client, planned: Callable[..., Case]
) -> None:
    planned()
    row = PlanStage.objects.filter(person__isnull=False, bath=None).first()
    assert row is not None
    begins, ends = (localtime(at, lab_calendar().zone) for at in (row.begins_at, row.ends_at))
    words = f"{row.stage.case.number}, {row.stage.name}, {begins:%H:%M} to {ends:%H:%M}"
    assert begins.date() == localtime(NOW).date()
    page = text_of(manager.get(reverse("cases:plan"), {"day": f"{begins:%Y-%m-%d}"}))
    assert f'title="{words}"' in page
    assert f'<span class="visually-hidden">{words}</span>' in page


def test_who_gives_no_work_drags_no_bar(client: Client, planned: Callable[..., Case]) -> None:
    planned()
    user = Person.objects.get(name="Mara").user
    assert user is not None
    client.force_login(user)
    page = text_of(client.get(reverse("cases:plan")))
    assert "plan-bar" in page
    assert "data-stage" not in page
    assert "plan-drag.js" not in page


def test_a_search_says_how_long_it_may_take_and_what_it_found(
    manager: Client, planned: Callable[..., Case]
) -> None:
    planned()
    Planner.objects.update(
        improving_since=NOW, busy_until=NOW + timedelta(minutes=1), spent_seconds=7.0,
        first_lateness=500.0, best_lateness=500.0,
    )  # fmt: skip
    for name in ("plan", "plan-week", "plan-late"):
        page = text_of(manager.get(reverse(f"cases:{name}")))
        assert "7 s of 20 s so far." in page
        assert "Nothing better yet." in page
        assert "Stop, keep the best so far" in page
    Planner.objects.update(best_lateness=380.0, stop_asked=True)
    page = text_of(manager.get(reverse("cases:plan-late")))
    assert "Found so far: 2 hours of lateness less" in page
    assert "It is being stopped" in page
    assert "Stop, keep the best so far" not in page


def test_a_page_that_shows_an_older_plan_says_that_there_is_a_newer_one(
    manager: Client, planned: Callable[..., Case]
) -> None:
    planned()
    first = Plan.objects.get()
    url = f"{reverse('cases:plan-state')}?shown={first.pk}"
    assert f'hx-get="{url}"' in text_of(manager.get(reverse("cases:plan")))
    ask = {"HX-Request": "true"}
    newer = "There is a newer plan than this page shows."
    assert newer not in text_of(manager.get(url, headers=ask))
    mend(NOW)
    part = text_of(manager.get(url, headers=ask))
    assert newer in part
    assert f'hx-get="{url}"' in part
