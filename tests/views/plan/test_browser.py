"""The plan in a real browser: bars and loads are dragged with a mouse and a finger, or opened."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils.dateparse import parse_datetime

from cases.models import Bath, Case, Plan, PlanPin, PlanStage
from cases.selectors.hours import lab_calendar
from tests.factories import NOW, Shop, make_shop, rows

if TYPE_CHECKING:
    from playwright.sync_api import Browser, CDPSession, Locator, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
HOUR = 12
"""Steps of five minutes."""
LONG_ENOUGH = 700
"""Milliseconds that a finger rests on a bar before it takes it along, and some more."""


@pytest.fixture
def shop(transactional_db: None) -> Shop:
    return make_shop(NOW - timedelta(days=20))


Opens = Callable[..., "Page"]


@pytest.fixture
def window(_browser: Browser, live_server: Any, manager: Client) -> Iterator[Opens]:
    """Open the plan as the manager, with a mouse or with a finger."""
    opened = []

    def show(*, finger: bool = False, query: str = "") -> Page:
        context = _browser.new_context(
            viewport={"width": 1280, "height": 900}, locale="en-GB", timezone_id="UTC",
            has_touch=finger,
        )  # fmt: skip
        opened.append(context)
        context.set_default_timeout(30_000)
        name = settings.SESSION_COOKIE_NAME
        session = manager.cookies[name].value
        context.add_cookies([{"name": name, "value": session, "url": live_server.url}])
        page = context.new_page()
        page.goto(live_server.url + reverse("cases:plan") + query)
        # Alarms come after the page and push it down; a first touch takes their remark away.
        page.get_by_role("link", name="The program's clock stood still").first.wait_for()
        page.locator("h1").click()
        page.get_by_text("Touch the screen once").wait_for(state="hidden")
        return page

    yield show
    for context in opened:
        context.close()


def waiting() -> PlanStage:
    """Return the first stage that the plan has for somebody's hands on the day of the tests."""
    row = PlanStage.objects.filter(
        plan=Plan.objects.first(), person__isnull=False, bath=None, stage__state="planned",
        begins_at__gte=NOW,
    ).first()  # fmt: skip
    assert row is not None
    return row


def on_the_wall(instant: datetime) -> datetime:
    return instant.astimezone(lab_calendar().zone)


def other_lane(page: Page, row: PlanStage) -> Locator:
    """Return the lane of somebody else who may do what is dragged."""
    return page.locator(f".plan-lane[data-person]:not([data-person='{row.person_id}'])").first


def middle(place: Locator) -> tuple[float, float]:
    box = place.bounding_box()
    assert box is not None
    return box["x"] + min(10, box["width"] / 2), box["y"] + box["height"] / 2


def into_view(bar: Locator) -> None:
    """Scroll the hours until a bar stands in the middle."""
    bar.evaluate("bar => { bar.closest('.plan-lanes').scrollLeft = bar.offsetLeft - 400; }")


def step_of(page: Page) -> float:
    """Return how wide five minutes are."""
    return float(
        page.locator(".plan-grid").nth(1).evaluate(
            "grid => parseFloat(getComputedStyle(grid).gridTemplateColumns)"
        )
    )  # fmt: skip


def asked_for(page: Page) -> dict[str, str]:
    """Return what a bar that was dropped asks for."""
    page.wait_for_url("**/stage/**dragged=1**")
    return {name: values[0] for name, values in parse_qs(urlsplit(page.url).query).items()}


def with_mouse(page: Page, bar: Locator, x: float, y: float) -> None:
    from_x, from_y = middle(bar)
    page.mouse.move(from_x, from_y)
    page.mouse.down()
    page.mouse.move(from_x + 20, from_y)
    page.mouse.move(x, y, steps=4)


def finger(session: CDPSession, kind: str, x: float = 0, y: float = 0) -> None:
    points = [] if kind == "touchEnd" else [{"x": x, "y": y}]
    session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_a_bar_is_dragged_with_the_mouse_and_its_price_is_said(
    window: Opens, planned: Callable[..., Case]
) -> None:
    planned()
    row, page = waiting(), window()
    bar = page.locator(f"[data-stage='{row.stage_id}']")
    x, _y = middle(bar)

    with_mouse(page, bar, x + HOUR * step_of(page), middle(other_lane(page, row))[1])
    later = on_the_wall(row.begins_at + timedelta(hours=1))
    page.locator(".plan-ghost", has_text=f"{later:%H:%M}").wait_for()
    page.mouse.up()

    asked = asked_for(page)
    begins = parse_datetime(asked["begins_at"])
    assert (asked["person"], begins) == (
        page.locator("#id_person").input_value(), row.begins_at + timedelta(hours=1),
    )  # fmt: skip
    assert asked["person"] != str(row.person_id)
    assert page.locator("#id_begins_at").input_value() == f"{later:%Y-%m-%dT%H:%M}"
    page.locator(".plan-price").wait_for()
    assert not PlanPin.objects.exists()


def pen(session: CDPSession, kind: str, x: float, y: float, *, down: bool = True) -> None:
    """Let a pen touch the screen, move on it or leave it; a hand may hold it above the screen."""
    session.send(
        "Input.dispatchMouseEvent",
        {
            "type": kind, "x": x, "y": y, "pointerType": "pen", "force": 0.5 if down else 0,
            "button": "left" if down else "none", "buttons": int(down and kind != "mouseReleased"),
            "clickCount": int(kind != "mouseMoved"),
        },
    )  # fmt: skip


def test_a_pen_drags_a_bar_at_once_and_does_not_have_to_rest(
    window: Opens, planned: Callable[..., Case]
) -> None:
    planned()
    row, page = waiting(), window()
    session = page.context.new_cdp_session(page)
    page.evaluate(
        "addEventListener('pointerdown', by => { document.body.dataset.by = by.pointerType; })"
    )
    bar = page.locator(f"[data-stage='{row.stage_id}']")
    x, y = middle(bar)
    to_x, to_y = x + HOUR * step_of(page), middle(other_lane(page, row))[1]

    pen(session, "mouseMoved", x, y, down=False)
    pen(session, "mousePressed", x, y)
    for part in (0.3, 0.7, 1):
        pen(session, "mouseMoved", x + part * (to_x - x), y + part * (to_y - y))
    later = on_the_wall(row.begins_at + timedelta(hours=1))
    page.locator(".plan-ghost", has_text=f"{later:%H:%M}").wait_for()
    assert page.locator("body").get_attribute("data-by") == "pen"
    pen(session, "mouseReleased", to_x, to_y)

    asked = asked_for(page)
    assert parse_datetime(asked["begins_at"]) == row.begins_at + timedelta(hours=1)
    assert asked["person"] != str(row.person_id)
    assert not PlanPin.objects.exists()


def test_a_pen_that_taps_opens_a_bar(window: Opens, planned: Callable[..., Case]) -> None:
    planned()
    row, page = waiting(), window()
    session = page.context.new_cdp_session(page)
    x, y = middle(page.locator(f"[data-stage='{row.stage_id}']"))

    pen(session, "mousePressed", x, y)
    pen(session, "mouseReleased", x, y)

    page.wait_for_url(f"**{reverse('cases:plan-stage', args=[row.stage_id])}")
    assert "dragged" not in page.url


def test_a_finger_that_rests_on_a_bar_takes_it_along(
    window: Opens, planned: Callable[..., Case]
) -> None:
    planned()
    row, page = waiting(), window(finger=True)
    session = page.context.new_cdp_session(page)
    x, y = middle(page.locator(f"[data-stage='{row.stage_id}']"))
    to_x, to_y = x + HOUR * step_of(page), middle(other_lane(page, row))[1]

    finger(session, "touchStart", x, y)
    page.wait_for_timeout(LONG_ENOUGH)
    for part in (0.3, 0.7, 1):
        finger(session, "touchMove", x + part * (to_x - x), y + part * (to_y - y))
    finger(session, "touchEnd")

    asked = asked_for(page)
    assert parse_datetime(asked["begins_at"]) == row.begins_at + timedelta(hours=1)
    assert asked["person"] != str(row.person_id)


def test_a_finger_that_moves_at_once_scrolls_the_hours(
    window: Opens, planned: Callable[..., Case]
) -> None:
    planned()
    row, page = waiting(), window(finger=True, query="?zoom=3")
    bar = page.locator(f"[data-stage='{row.stage_id}']")
    into_view(bar)
    before = page.locator(".plan-lanes").evaluate("field => field.scrollLeft")
    session = page.context.new_cdp_session(page)
    x, y = middle(bar)

    finger(session, "touchStart", x, y)
    for part in range(1, 11):
        finger(session, "touchMove", x - 30 * part, y)
    finger(session, "touchEnd")
    page.wait_for_timeout(LONG_ENOUGH)

    assert page.locator(".plan-lanes").evaluate("field => field.scrollLeft") > before + 100
    assert page.locator(".is-dragged, .plan-ghost").count() == 0
    assert "dragged" not in page.url


def test_a_tap_opens_a_bar(window: Opens, planned: Callable[..., Case]) -> None:
    planned()
    row, page = waiting(), window(finger=True)

    page.locator(f"[data-stage='{row.stage_id}']").tap(position={"x": 5, "y": 20})

    page.wait_for_url(f"**{reverse('cases:plan-stage', args=[row.stage_id])}")


def test_a_load_is_dragged_to_another_bath_and_hour(
    window: Opens, planned: Callable[..., Case]
) -> None:
    case = planned()
    rows(lambda record: {"bath": record.create(Bath, name="Bath 2", capacity=4)})
    load = PlanStage.objects.get(plan=Plan.objects.first(), stage=case.stages.get(key="cure"))
    page = window(query=f"?day={on_the_wall(load.begins_at):%Y-%m-%d}")
    bar, bath = page.locator(".plan-load[data-stage]"), Bath.objects.get(name="Bath 2")
    into_view(bar)
    page.locator(".plan-lanes").evaluate("field => field.scrollIntoView({block: 'center'})")
    x, _y = middle(bar)

    with_mouse(
        page, bar, x - HOUR * step_of(page), middle(page.locator(f"[data-bath='{bath.pk}']"))[1]
    )
    page.mouse.up()

    asked = asked_for(page)
    assert (asked["bath"], parse_datetime(asked["begins_at"])) == (
        str(bath.pk), load.begins_at - timedelta(hours=1),
    )  # fmt: skip
    assert page.locator("#id_bath").input_value() == str(bath.pk)
    page.locator(".plan-price").wait_for()


@pytest.mark.parametrize("ends", ["elsewhere", "escape", "where it was"])
def test_a_bar_that_is_dropped_nowhere_decides_nothing_and_opens_as_before(
    window: Opens, planned: Callable[..., Case], ends: str
) -> None:
    planned()
    row, page = waiting(), window()
    bar = page.locator(f"[data-stage='{row.stage_id}']")
    x, y = middle(bar)
    to = {"elsewhere": (x, 10.0), "escape": (x + 100, y), "where it was": (x, y)}[ends]

    with_mouse(page, bar, *to)
    if ends == "escape":
        page.keyboard.press("Escape")
    page.mouse.up()
    page.wait_for_timeout(400)

    assert urlsplit(page.url).path == reverse("cases:plan")
    assert page.locator(".is-dragged, .plan-ghost, .plan-drop").count() == 0
    bar.click(position={"x": 5, "y": 20})
    page.wait_for_url(f"**{reverse('cases:plan-stage', args=[row.stage_id])}")


def test_a_bar_is_moved_with_the_keyboard_and_shows_its_number_though_it_is_narrow(
    window: Opens, planned: Callable[..., Case]
) -> None:
    planned()
    row = waiting()
    PlanStage.objects.filter(pk=row.pk).update(ends_at=row.begins_at + timedelta(minutes=5))
    page = window()
    bar = page.locator(f"[data-stage='{row.stage_id}']")
    number = bar.locator(".plan-words strong")
    assert not number.is_visible()
    name = f"{row.stage.case.number}, {row.stage.name}"
    assert (bar.get_attribute("title") or "").startswith(name)

    page.keyboard.press("Tab")  # so that what is focused next shows its focus
    bar.focus()
    number.wait_for()
    page.keyboard.press("Enter")

    page.wait_for_url(f"**{reverse('cases:plan-stage', args=[row.stage_id])}")
    page.get_by_role("link", name=row.stage.case.number).wait_for()
    page.get_by_label("From", exact=True).fill(f"{NOW + timedelta(days=1):%Y-%m-%dT10:00}")
    page.get_by_role("button", name="Say what it costs").press("Enter")
    page.locator(".plan-price").wait_for()
    assert not PlanPin.objects.exists()


def test_a_day_that_the_plan_names_at_the_intake_is_taken_by_one_tap(
    window: Opens, planned: Callable[..., Case], live_server: Any
) -> None:
    planned()
    page = window()
    page.goto(live_server.url + reverse("cases:log"))
    page.select_option("#id_practice", label="Practice at the quay")
    page.check("[name=arch][value=lower]")
    page.fill("#id_replaces", "36-37, 46")
    page.press("#id_replaces", "Tab")

    page.get_by_role("button", name="Ask the plan for the day").click()
    day = page.locator("[data-take-day]").last
    day.wait_for()
    wanted = day.get_attribute("data-take-day")
    day.click()

    page.locator("#plan-answer:empty").wait_for(state="attached")  # the page has looked again
    assert page.locator("#ship-other").is_checked()
    assert page.locator("#id_ship_on").input_value() == wanted
    assert re.fullmatch(
        r"By the plan kept in (about )?\d+ of 100.*", page.locator("#id_ship_reason").input_value()
    )
    assert page.locator("#id_ship_on").is_visible()
