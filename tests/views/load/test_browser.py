"""The page of a load in a browser: a wedge scanner adds flask after flask."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from cases.models import Case, Load
from tests.factories import make_shop
from tests.services.test_load import Bench

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def scan(page: Page, case: Case) -> None:
    """Type as a scanner does: nobody touches the page before, the field has the focus by itself."""
    page.locator("[data-scan-field]:focus").wait_for()
    page.keyboard.type(case.number)
    page.keyboard.press("Enter")
    page.get_by_role("link", name=case.number).wait_for()


def test_scanner_adds_flask_after_flask(page: Page, live_server: Any) -> None:
    bench = Bench(make_shop(), cases=2)
    cases, bench.cases = bench.cases, []
    bench.now = timezone.now() - timedelta(minutes=1)
    load = bench.new()
    client = Client()
    user = bench.shop.people["mara"].user
    assert user is not None
    client.force_login(user)
    session = client.cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page.goto(live_server.url + reverse("cases:load", args=[load.number]))

    for case in cases:
        scan(page, case)

    row = Load.objects.get(pk=load.pk)
    assert [one.case for one in row.flasks.order_by("pk")] == cases
