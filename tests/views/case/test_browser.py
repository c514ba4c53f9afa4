"""The design is drawn by touch and kept; the page of the case then shows it."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from django.utils import timezone

from cases.models import Case
from tests.factories import make_case, make_shop
from tests.walk import Clock, walk

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route
    from pytest_django.live_server_helper import LiveServer

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def open_design(live_server: LiveServer, page: Page) -> Case:
    """Open the design of a case whose cast was trimmed, as somebody of the bench."""
    began = timezone.now() - timedelta(days=3)
    shop = make_shop(began)
    case = make_case(
        shop, now=began, ordered_on=began.date(), appointment_on=began.date() + timedelta(days=21)
    )
    walk(shop, case, Clock(began), until="trim")
    page.goto(f"{live_server.url}/sign-in/")
    page.get_by_label("User name").fill("mara")
    page.get_by_label("Password").fill("mara-pass-2026")
    page.locator("main button[type=submit], main .action").first.click()
    page.wait_for_url(lambda url: "sign-in" not in url)
    page.goto(f"{live_server.url}/cases/{case.number}/design/")
    return case


def test_design_is_drawn_by_touch_and_kept(
    live_server: LiveServer, page: Page, axe_source: str
) -> None:
    case = open_design(live_server, page)
    status = page.get_by_role("status")
    page.locator("[name=tool][value=clasps]").check()
    page.locator("#tooth-34").scroll_into_view_if_needed()
    stands_at = page.evaluate("window.scrollY")
    page.locator("#tooth-34").click()
    status.get_by_text("A clasp on 34.", exact=True).wait_for()
    # The whole form is swapped, and the page stays where the hand is.
    assert page.evaluate("window.scrollY") == stands_at
    assert page.evaluate("document.activeElement.id") == "tooth-34"
    # A touch on the drawing is a touch on the tooth.
    page.locator('[data-arch-pick] path[data-tooth="35"]').last.click(force=True)
    status.get_by_text("No clasp on 35.", exact=True).wait_for()
    # The arrow keys go from tooth to tooth; 34 stands right of 33 in the strip.
    page.locator("#tooth-33").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    status.get_by_text("No clasp on 34.", exact=True).wait_for()
    # The strip is one stop of the Tab key, and Tab comes back to the tooth that was left.
    focused = "document.activeElement.id"
    page.keyboard.press("Tab")
    assert page.evaluate(focused) == "show-in"
    page.keyboard.press("Shift+Tab")
    assert page.evaluate(focused) == "tooth-34"
    page.keyboard.press("ArrowUp")
    assert page.evaluate(focused) == "tooth-45"
    page.keyboard.press("Shift+Tab")
    assert page.evaluate("document.activeElement.name") == "tool"
    assert page.locator("[data-tooth-strip] [tabindex='0']").count() == 1
    page.get_by_role("button", name="Step back").click()
    status.get_by_text("One step back.", exact=True).wait_for()
    page.locator("#tooth-34 .tooth-mark").get_by_text("clasp").wait_for()
    page.get_by_text("A bar", exact=True).click()
    page.get_by_text("This adds “Shape the bar” (18 min).").wait_for()
    page.get_by_label("Three marks on the cast").check()
    for tooth in (34, 45):
        page.locator(f"#id_bracing_{tooth}").select_option("plate")
        page.locator(f"#id_height_{tooth}").fill("1")
        page.locator(f"#id_meets_{tooth}").select_option("yes")
        page.locator(f"#id_wire_{tooth}").fill("0,9")
        page.locator(f"#id_arm_{tooth}").fill("9,5")
        page.locator(f"#id_undercut_{tooth}").select_option("0.25")
        page.locator(f"#id_tip_{tooth}").select_option("mesial")
    for end in ("right", "left"):
        page.locator(f"#id_cover_{end}_pad").select_option("whole")
    for row in page.locator("table.faces select[name^=step_]").all():
        name = str(row.get_attribute("name"))
        row.select_option("0.25" if "lingual" not in name else "0")
    page.locator("#id_wire_34").fill("0,8")
    page.evaluate(axe_source)
    # Preloading would write a style sheet into the page, which the policy of the page refuses.
    faults = page.evaluate("axe.run({preload: false}).then((found) => found.violations)")
    page.get_by_role("button", name="Keep this design").click()

    page.wait_for_url(f"{live_server.url}/cases/{case.number}/#design")
    page.get_by_text("The design is stored. Stages and checks follow from it.").wait_for()
    case.refresh_from_db()
    assert case.design is not None
    held = {clasp["tooth"]: clasp["wire_mm"] for clasp in case.design.data["clasps"]}
    assert held == {45: 0.9, 34: 0.8}
    assert case.design.data["bar"] is True
    assert case.design.data["survey"]["marked"] is True
    assert faults == []


def test_a_quick_hand_loses_nothing_while_the_answer_is_on_its_way(
    live_server: LiveServer, page: Page
) -> None:
    case = open_design(live_server, page)

    def slowly(route: Route) -> None:
        time.sleep(0.4)
        route.continue_()

    page.route("**/design/preview/", slowly)
    tool = "[name=tool][value=%s]"
    page.locator(tool % "stops").check()
    for tooth in (33, 43):
        page.locator(f"#tooth-{tooth}").click()
    page.locator(tool % "rests").check()
    page.locator("#tooth-34").click()
    page.locator(tool % "clasps").check()
    page.locator("#id_bar_reason").fill("It broke before")
    # Kept at once, with presses still on their way.
    page.get_by_role("button", name="Keep as a draft").click()

    page.wait_for_url(f"{live_server.url}/cases/{case.number}/#design", timeout=20_000)
    case.refresh_from_db()
    assert case.design is not None
    data = case.design.data
    assert (data["stops"], data["rests"]) == ([33, 43], [34])
    assert data["strengthener"]["reason"] == "It broke before"


def test_keep_is_not_taken_for_another_press_while_the_answer_is_on_its_way(
    live_server: LiveServer, page: Page
) -> None:
    case = open_design(live_server, page)

    def slowly(route: Route) -> None:
        time.sleep(0.4)
        route.continue_()

    page.route("**/design/preview/", slowly)
    page.locator("[name=tool][value=clasps]").check()
    page.locator("#tooth-34").click()
    kept = f"{live_server.url}/cases/{case.number}/design/"

    with page.expect_request(lambda asked: asked.method == "POST" and asked.url == kept):
        page.get_by_role("button", name="Keep this design").click()
