"""Open a page as somebody, photograph it in three sizes, and say what is wrong with it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.test import Client
from django.utils import timezone

from cases.models import BenchSession, Person, Tablet
from cases.views.visitor import TABLET_COOKIE
from tests.factories import TABLET_TOKEN

if TYPE_CHECKING:
    from playwright.sync_api import Page

SIZES = ((1280, 800), (1024, 768), (390, 844))
FOLDER = Path(os.environ.get("LABFLOW_PICTURES", settings.BASE_DIR / "var" / "pictures"))


@dataclass
class Camera:
    """A browser page, the address of the server, and what was found wrong so far."""

    page: Page
    address: str
    axe: str
    faults: list[str]

    def enter(self, who: Person | None, *, at_bench: bool = False) -> None:
        """Come in as a person of the office or a practice, or with a PIN at the tablet."""
        self.page.context.clear_cookies()
        if at_bench:
            self._cookie(TABLET_COOKIE, TABLET_TOKEN)
            self._open_bench(who)
        elif who is not None:
            client = Client()
            client.force_login(who.user)
            self._cookie(settings.SESSION_COOKIE_NAME, client.cookies["sessionid"].value)

    def _cookie(self, name: str, value: str) -> None:
        self.page.context.add_cookies([{"name": name, "value": value, "url": self.address}])

    def _open_bench(self, who: Person | None) -> None:
        tablet = Tablet.objects.get()
        now = timezone.now()
        BenchSession.objects.filter(tablet=tablet, closed_at=None).update(closed_at=now)
        if who is not None:
            BenchSession.objects.create(tablet=tablet, person=who, opened_at=now, seen_at=now)

    def shoot(self, name: str, path: str, *, submit: bool = False) -> None:
        """Photograph ``path`` in every size; with ``submit`` after sending its form empty."""
        for width, height in SIZES:
            self.page.set_viewport_size({"width": width, "height": height})
            answer = self.page.goto(self.address + path)
            status = answer.status if answer else 0
            if submit:
                self._send_empty()
            elif status >= 400:
                self.faults.append(f"{name}: {path} answered {status}")
                return
            self.page.wait_for_timeout(150)
            self._judge(name, width)
            FOLDER.mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=FOLDER / f"{name}-{width}.png", full_page=True)

    def _send_empty(self) -> None:
        """Send the page's main form as it stands, past the browser's own checks."""
        self.page.evaluate(
            """() => {
              const form = document.querySelector('main form[method="post"]');
              form.querySelectorAll('input[type=text], input:not([type]), textarea')
                .forEach((field) => { if (!field.readOnly) field.value = ''; });
              form.noValidate = true;
              const button = form.querySelector('button.action') || form.querySelector('button');
              form.requestSubmit(button);
            }"""
        )
        self.page.wait_for_timeout(400)

    def _judge(self, name: str, width: int) -> None:
        over = self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        if over > 0:
            self.faults.append(f"{name} at {width}: {over} px too wide")
        self.page.evaluate(self.axe)
        found: list[dict[str, Any]] = self.page.evaluate(
            "axe.run(document, {resultTypes: ['violations']}).then((r) => r.violations"
            ".map((v) => ({id: v.id, at: v.nodes.slice(0, 3).map((n) => n.target.join(' '))})))"
        )
        self.faults.extend(f"{name} at {width}: {one['id']} {one['at']}" for one in found)
