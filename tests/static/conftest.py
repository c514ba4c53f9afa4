"""A page of the components alone, served to the browser from memory: no database, no network."""

from __future__ import annotations

import mimetypes
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from django.conf import settings
from django.template import engines

from labflow.middleware import CONTENT_SECURITY_POLICY

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

ADDRESS = "http://lab.test"

FRAME = """<!DOCTYPE html><html lang="en-gb"><head>{% include "components/_head.html" %}
<title>Specimen</title></head><body class="bench">
<main id="main" tabindex="-1">{% include "components/_messages.html" %}BODY</main>
{% include "components/_words.html" %}</body></html>"""


@dataclass
class Answer:
    """What the pretended server says to one address; ``broken`` cuts the connection."""

    text: str = ""
    status: int = 200
    broken: bool = False


@dataclass
class Specimen:
    """A page in the browser, and what was sent from it."""

    page: Page
    answers: dict[str, Answer] = field(default_factory=dict)
    sent: list[tuple[str, str]] = field(default_factory=list)

    def show(self, body: str, **context: object) -> Page:
        """Render ``body`` (template text) in a frame with all scripts, and open it."""
        template = engines["django"].from_string(FRAME.replace("BODY", body))
        self.answers["/"] = Answer(template.render(context))
        self.page.goto(ADDRESS + "/")
        self.until("document.readyState === 'complete'")
        return self.page

    def until(self, condition: str, *, seconds: float = 10) -> None:
        """Wait for a JavaScript condition; the browser's own waiting would need eval."""
        end = time.monotonic() + seconds
        while not self.page.evaluate(condition):
            assert time.monotonic() < end, condition
            self.page.wait_for_timeout(50)

    def serve(self, route: Route) -> None:
        """Answer a request from static/ or from ``answers``."""
        path = "/" + route.request.url.removeprefix(ADDRESS).lstrip("/").split("?")[0]
        if route.request.method == "POST":
            self.sent.append((path, route.request.post_data or ""))
        if path.startswith("/static/"):
            file = Path(settings.BASE_DIR) / path.lstrip("/")
            kind = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
            route.fulfill(body=file.read_bytes(), content_type=kind)
            return
        answer = self.answers.get(path, Answer("", 404))
        if answer.broken:
            route.abort("connectionfailed")
            return
        route.fulfill(
            body=answer.text,
            status=answer.status,
            content_type="text/html; charset=utf-8",
            headers={"Content-Security-Policy": CONTENT_SECURITY_POLICY},
        )


@pytest.fixture
def specimen(page: Page) -> Specimen:
    """A browser page that shows components."""
    shown = Specimen(page)
    page.route("**/*", shown.serve)
    return shown
