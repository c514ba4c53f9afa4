"""The intake in a real browser: typed with the keyboard, said while it is typed, and logged."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from django.utils import timezone
from pytest_django.live_server_helper import LiveServer

from cases.models import Case
from tests.factories import Shop, make_shop

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def shop(live_server: LiveServer) -> Shop:
    return make_shop(timezone.now())


def sign_in(page: Page, live_server: LiveServer) -> None:
    page.goto(f"{live_server.url}/sign-in/?next=/desk/log/")
    page.fill("[name=username]", "noor")
    page.fill("[name=password]", "noor-pass-2026")
    page.press("[name=password]", "Enter")
    page.wait_for_url("**/desk/log/")


def test_impression_is_logged_and_then_found(
    page: Page, live_server: LiveServer, shop: Shop
) -> None:
    sign_in(page, live_server)
    page.select_option("#id_practice", label="Practice at the quay")
    page.fill("#id_patient_ref", "q-7")
    page.check("[name=arch][value=lower]")
    page.fill("#id_replaces", "36-37, 46")
    page.press("#id_replaces", "Tab")

    # What follows from it stands there before anything is sent.
    page.wait_for_selector("#arches svg")
    page.wait_for_selector("#panel >> text=things are missing")
    assert not Case.objects.exists()

    page.click("#intake button.action")
    page.wait_for_selector("h1 >> text=is logged")
    case = Case.objects.get()
    assert page.inner_text("h1") == f"{case.number} is logged."

    page.goto(f"{live_server.url}/desk/")
    page.select_option("[name=show]", "asked")
    page.wait_for_selector("#found >> text=One case fits.")
    assert "show=asked" in page.url
    assert page.inner_text("#found th a") == case.number


def test_refused_form_keeps_what_was_typed_without_a_new_page(
    page: Page, live_server: LiveServer, shop: Shop
) -> None:
    sign_in(page, live_server)
    page.select_option("#id_practice", label="Upper Town")
    page.fill("#id_patient_ref", "nobody")
    page.check("[name=arch][value=upper]")
    page.fill("#id_materials", "Acrylic")
    page.click("#intake button.action")

    page.wait_for_selector(".error-summary")
    assert page.input_value("#id_materials") == "Acrylic"
    assert page.input_value("#id_patient_ref") == "nobody"


@pytest.mark.parametrize("width", [1280, 1024, 390])
def test_nothing_scrolls_sideways(
    page: Page, live_server: LiveServer, shop: Shop, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    sign_in(page, live_server)

    over = page.evaluate("document.documentElement.scrollWidth - innerWidth")

    assert over <= 0


def test_pages_of_a_pdf_are_covered_one_by_one(
    page: Page, live_server: LiveServer, shop: Shop
) -> None:
    from tests.views.desk.test_log import three_pages

    sign_in(page, live_server)
    scan = {"name": "order.pdf", "mimeType": "application/pdf", "buffer": three_pages().read()}
    page.set_input_files("#papers", scan)  # type: ignore[arg-type]

    page.locator("[data-cover] canvas").nth(2).wait_for()
    assert page.get_by_text("order.pdf, page 2 of 3").is_visible()
    page.get_by_role("button", name="Cover the top quarter: order.pdf, page 2 of 3").click()
    page.locator("[data-cover] canvas").nth(2).focus()
    page.keyboard.press("Enter")

    told = json.loads(page.locator("[name=papers_cover]").input_value())
    assert [(one["file"], one["page"]) for one in told] == [(0, 1), (0, 2)]
    assert told[0] == {"file": 0, "page": 1, "x": 0, "y": 0, "w": 1, "h": 0.25}
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
