"""What a person is told about what they sent, in a real browser."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.static.conftest import Answer

if TYPE_CHECKING:
    from tests.static.conftest import Specimen

FORM = """<form method="post" action="/save/" hx-post="/save/" hx-target="#answer" data-once>
<input name="mm" value="4.8"><button>Save</button>{% include "components/_form_state.html" %}</form>
<div id="answer"></div>"""

SCAN = '{% include "components/_scan.html" with url="/scan/" submission_id="s" %}'


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (Answer("ok"), "Saved."),
        (Answer("no", 422), "Not accepted. Read what is marked, then send again."),
        (Answer("late", 409), "Not accepted. Read what is marked, then send again."),
        (Answer("", 500), "The lab's computer could not save this."),
        (Answer(broken=True), "Not sent: no connection. What you typed is kept; tap again."),
    ],
)
def test_form_says_what_became_of_it(specimen: Specimen, answer: Answer, words: str) -> None:
    specimen.answers["/save/"] = answer
    page = specimen.show(FORM)

    page.locator("input").fill("5.1")
    page.get_by_role("button", name="Save").click()

    page.locator("[data-form-state]", has_text=words).wait_for()
    assert page.locator("input").input_value() == "5.1"
    assert page.get_by_role("button", name="Save").get_attribute("aria-disabled") is None


def test_form_refused_as_422_or_409_swaps_its_answer(specimen: Specimen) -> None:
    specimen.answers["/save/"] = Answer("somebody was quicker", 409)
    page = specimen.show(FORM)

    page.get_by_role("button", name="Save").click()

    page.locator("#answer", has_text="somebody was quicker").wait_for()


def test_form_offline_is_not_sent_and_keeps_what_was_typed(specimen: Specimen) -> None:
    page = specimen.show(FORM)
    page.locator("input").fill("5.1")
    page.context.set_offline(offline=True)

    page.get_by_role("button", name="Save").click()

    page.locator("[data-form-state]", has_text="Not sent: no connection.").wait_for()
    assert page.locator("input").input_value() == "5.1"
    assert specimen.sent == []


def test_plain_form_tapped_twice_is_sent_once(specimen: Specimen) -> None:
    specimen.answers["/save/"] = Answer("done")
    page = specimen.show(
        '<form method="post" action="/save/"><button name="go" value="1">Save</button></form>'
    )

    page.evaluate("const b = document.querySelector('button'); b.click(); b.click();")
    page.wait_for_url("**/save/")

    assert specimen.sent == [("/save/", "go=1")]


def test_scan_burst_outside_fields_is_sent(specimen: Specimen) -> None:
    specimen.answers["/scan/"] = Answer("found")
    page = specimen.show(SCAN)
    page.evaluate(
        """document.activeElement.blur();
        const how = {bubbles: true, cancelable: true};
        let keys;
        // A busy machine may stop between two keys for longer than a scanner does.
        const key = (key) => new KeyboardEvent('keydown', {key, ...how});
        do keys = [...'26-0417-Z', 'Enter'].map(key);
        while (keys.at(-1).timeStamp - keys[0].timeStamp > 30);
        for (const one of keys) document.body.dispatchEvent(one)"""
    )

    page.wait_for_url("**/scan/")

    [(path, body)] = specimen.sent
    assert path == "/scan/"
    assert "26-0417-Z" in body


def test_scan_read_twice_within_two_seconds_counts_once(specimen: Specimen) -> None:
    specimen.answers["/scan/"] = Answer("", 204)
    page = specimen.show(SCAN)
    page.locator("#scan-code").fill("26-0417-Z")

    page.locator("#scan-code").press("Enter")
    page.locator("#scan-code").press("Enter")

    page.get_by_text("26-0417-Z was read twice within two seconds; it counts once.").wait_for()
    assert len(specimen.sent) == 1


def test_undo_goes_when_its_time_is_over(specimen: Specimen) -> None:
    until = datetime.now(UTC) + timedelta(seconds=2)
    page = specimen.show(
        '{% include "components/_undo.html" with url="/undo/" words="Finished: wax up." %}',
        until=until,
    )
    button = page.get_by_role("button", name="Undo")
    assert button.is_visible()

    button.wait_for(state="detached")

    assert datetime.now(UTC) >= until - timedelta(seconds=1)
    assert page.get_by_text("Finished: wax up.").is_visible()


def test_countdown_follows_the_servers_clock(specimen: Specimen) -> None:
    page = specimen.show(
        """{% include "components/_countdown.html" with due=soon before="sets, {time} left" %}
        {% include "components/_countdown.html" with due=past %}""",
        soon=datetime.now(UTC) + timedelta(minutes=12, seconds=30),
        past=datetime.now(UTC) - timedelta(minutes=75, seconds=5),
    )

    page.get_by_text("sets, 12 min left").wait_for()
    page.get_by_text("1 h 15 min overdue").wait_for()


def test_idle_tablet_locks_itself_after_a_warning(specimen: Specimen) -> None:
    specimen.answers["/lock/"] = Answer("locked")
    page = specimen.show(
        """<div id="idle-warning" hidden></div>
        <form method="post" action="/lock/" id="lock-form" data-idle-minutes="0.05">
        <input type="hidden" name="how" value="tap">
        <button>Lock</button></form>"""
    )
    page.get_by_text("This tablet locks in 5 s.").wait_for()
    began = time.monotonic()

    page.wait_for_url("**/lock/")

    assert time.monotonic() - began < 5
    # The lab has to know that nobody tapped: what ran is then asked for afterwards.
    assert specimen.sent == [("/lock/", "how=idle")]
