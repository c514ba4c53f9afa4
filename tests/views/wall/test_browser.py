"""The wall in a browser: what is read from five metres is high enough, and nothing is scrolled."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.urls import reverse
from django.utils import timezone

from cases.domain.cure.program import SHORT
from tests.factories import TABLET_TOKEN, make_shop, rows
from tests.views.wall.test_page import TABLET_COOKIE, at, first_planned, make_load, nothing_to_tell

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SCREEN_MM = 952.0
"""Width of a screen of 43 inches, 16 to 9."""
CAPITALS = 0.668
"""How high capitals of the typeface are, as a share of its size (its own table OS/2)."""
FROM_FIVE_METRES_MM = 14.5
"""Ten minutes of arc: what an eye of 6/12 tells on Snellen's chart. From memory."""
SIZES = """() => [...document.querySelectorAll(".wall-bar, .wall-page")].flatMap(part =>
    [...part.querySelectorAll("*")].filter(one => one.checkVisibility() && !one.closest("svg")
        && !one.closest(".wall-cases, .visually-hidden")
        && [...one.childNodes].some(node => node.nodeType === 3 && node.data.trim()))
    .map(one => [one.textContent.trim(), parseFloat(getComputedStyle(one).fontSize)]))"""


@pytest.mark.parametrize("baths", [2, 4])
@pytest.mark.parametrize("size", [(1920, 1080), (3840, 2160)])
def test_wall_is_read_from_five_metres(
    page: Page, live_server: Any, size: tuple[int, int], baths: int
) -> None:
    now = timezone.now()
    shop = make_shop(now - timedelta(days=20))
    cases = [at(shop, "pour", f"Q-120{n}") for n in range(8)]
    for n, case in enumerate(cases):
        waiting, ends = first_planned(case), now + timedelta(minutes=30 + n)
        rows(lambda record, s=waiting, at=ends: {"s": record.change(s, ready_at=at)})
    nothing_to_tell()
    starts = now - timedelta(minutes=60)
    ends = starts + timedelta(minutes=SHORT.bath_minutes)
    for n in range(baths):
        make_load(
            cases[n], bath=f"Bath {n + 1}", starts_at=starts, placed_at=starts, ends_at=ends,
            open_from=ends + timedelta(minutes=SHORT.cooling_minutes),
        )  # fmt: skip
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.context.add_cookies(
        [{"name": TABLET_COOKIE, "value": TABLET_TOKEN, "url": live_server.url}]
    )

    page.goto(live_server.url + reverse("cases:wall"))

    page.get_by_text("in turns").wait_for()
    heights = {
        words: pixels * CAPITALS * SCREEN_MM / size[0] for words, pixels in page.evaluate(SIZES)
    }
    low = {words: round(mm, 1) for words, mm in heights.items() if mm < FROM_FIVE_METRES_MM}
    assert low == {}
    assert page.evaluate("document.documentElement.scrollHeight") <= size[1]
