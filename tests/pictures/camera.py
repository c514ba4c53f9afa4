"""Open a page as somebody, photograph it in three sizes, and say what is wrong with it."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.test import Client

from cases.models import BenchSession, Tablet
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, TABLET_TOKEN
from tests.pictures.album.entries import Sent
from tests.pictures.worlds import World

if TYPE_CHECKING:
    from playwright.sync_api import Page, Response

SIZES = ((1280, 800), (1024, 768), (390, 844))
FOLDER = Path(os.environ.get("LABFLOW_PICTURES", settings.BASE_DIR / "var" / "pictures"))
SETTLED = 120
"""Milliseconds until fragments have come and transitions are over."""

FILL = """([form, typed, button, keep]) => {
  const found = document.querySelector(form);
  if (!found) return `has no form ${form}`;
  for (const one of keep ? [] : found.elements) {
    if (['hidden', 'submit', 'button', 'file'].includes(one.type) || one.readOnly) continue;
    if (one.type === 'checkbox') one.checked = false;
    else if (one.type === 'radio') continue; // nobody can take a choice back
    else if (one.tagName === 'SELECT') { if (one.querySelector('[value=""]')) one.value = ''; }
    else if ('value' in one && one.tagName !== 'BUTTON') one.value = '';
  }
  for (const [name, value] of Object.entries(typed)) {
    const fields = [...found.elements].filter((one) => one.name === name);
    if (!fields.length) return `has no field ${name}`;
    for (const one of fields) {
      if (['checkbox', 'radio'].includes(one.type)) one.checked = one.value === value;
      else one.value = value;
    }
  }
  found.noValidate = true;
  const by = found.querySelector(button || 'button.action')
    || [...found.querySelectorAll('button')].find((one) => !button && one.type === 'submit');
  if (!by) return `has no button ${button}`;
  found.requestSubmit(by);
  return '';
}"""

COMPLAINT = """() => [...document.querySelectorAll(
    '.error-summary, .field-error, .message-error, [role=alert]')]
  .some((one) => one.checkVisibility() && one.textContent.trim())"""

TOO_WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

AXE = (
    "axe.run(document, {resultTypes: ['violations']}).then((r) => r.violations"
    ".map((v) => ({id: v.id, at: v.nodes.slice(0, 3).map((n) => n.target.join(' '))})))"
)


@dataclass
class Camera:
    """A browser page, the address of the server, a lab, and what was found wrong so far."""

    page: Page
    address: str
    axe: str
    world: World
    faults: list[str] = field(default_factory=list)
    _sessions: dict[str, str] = field(default_factory=dict)

    def enter(self, who: str) -> None:
        """Come in as ``Picture.who`` says."""
        self.page.context.clear_cookies()
        name, _, tablet = who.partition("@")
        if tablet:
            self._cookie(TABLET_COOKIE, TABLET_TOKEN)
            self._open_bench(name)
        elif name:
            if name not in self._sessions:
                self._sessions[name] = self._sign_in(name)
            self._cookie(settings.SESSION_COOKIE_NAME, self._sessions[name])

    def _sign_in(self, name: str) -> str:
        client = Client()
        user = self.world.people[name].user
        assert user is not None
        client.force_login(user)
        session = client.session
        session.update(self.world.sessions.get(name, {}))
        session.save()
        return client.cookies[settings.SESSION_COOKIE_NAME].value

    def _cookie(self, name: str, value: str) -> None:
        self.page.context.add_cookies([{"name": name, "value": value, "url": self.address}])

    def _open_bench(self, name: str) -> None:
        tablet = Tablet.objects.get()
        BenchSession.objects.filter(tablet=tablet, closed_at=None).update(closed_at=NOW)
        if name:
            BenchSession.objects.create(
                tablet=tablet, person=self.world.people[name], opened_at=NOW, seen_at=NOW
            )

    def shoot(self, name: str, path: str, *, status: int = 200, sent: Sent | None = None) -> None:
        """Photograph ``path`` in every size; with ``sent`` after its form was refused."""
        width, height = SIZES[0]
        self.page.set_viewport_size({"width": width, "height": height})
        answer = self.page.goto(self.address + path)
        if answer is None or answer.status != status:
            self.faults.append(f"{name}: {path} answered {answer and answer.status}")
            return
        if sent is not None and not self._refused(name, sent):
            return
        self.page.evaluate(self.axe)
        FOLDER.mkdir(parents=True, exist_ok=True)
        for width, height in SIZES:
            self.page.set_viewport_size({"width": width, "height": height})
            self.page.wait_for_timeout(SETTLED)
            self._judge(name, width)
            # What sticks to the edge of the screen would cover the middle of a longer picture.
            whole = max(height, self.page.evaluate("document.documentElement.scrollHeight"))
            self.page.set_viewport_size({"width": width, "height": whole})
            self.page.screenshot(path=FOLDER / f"{name}-{width}.png", full_page=True)

    def has_form(self) -> bool:
        """Tell whether the page has a form that writes."""
        return self.page.query_selector("main form[method=post]") is not None

    def _refused(self, name: str, sent: Sent) -> bool:
        """Send bad input past the browser's own checks; False when the page did not complain."""
        answers: list[Response] = []

        def note(answer: Response) -> None:
            answers.append(answer)

        self.page.on("response", note)
        wrong = self.page.evaluate(FILL, [sent.form, sent.typed, sent.button, sent.keep])
        if wrong:
            self.faults.append(f"{name}: the page {wrong}")
            return False
        self.page.wait_for_timeout(2 * SETTLED)
        self.page.wait_for_load_state("networkidle")
        self.page.remove_listener("response", note)
        posted = [one.status for one in answers if one.request.method == "POST"]
        if not self.page.evaluate(COMPLAINT):
            self.faults.append(f"{name}: nothing is said against bad input ({posted})")
            return False
        return True

    def _judge(self, name: str, width: int) -> None:
        over = self.page.evaluate(TOO_WIDE)
        if over > 0:
            self.faults.append(f"{name} at {width}: {over} px too wide")
        found: list[dict[str, Any]] = self.page.evaluate(AXE)
        self.faults.extend(f"{name} at {width}: {one['id']} {one['at']}" for one in found)
