"""A browser window for photographs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page


@pytest.fixture
def window(_browser: Browser) -> Iterator[Page]:
    """A fresh window. Unlike ``page`` it does not mind what axe itself does against the policy."""
    context = _browser.new_context(locale="en-GB", timezone_id="UTC", color_scheme="light")
    context.set_default_timeout(10_000)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert faults == []
