"""Alarms on a page, in a real browser."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.template.loader import render_to_string

from tests.static.conftest import Answer

if TYPE_CHECKING:
    from tests.static.conftest import Specimen

CONTAINER = """<div id="alarms" hx-get="/alarms/" hx-trigger="load, every 1s"></div>
<p id="alarm-voice" aria-live="assertive"></p>"""

COUNT_TONES = """window.tones = 0;
const make = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () {
  window.tones += 1;
  return make.call(this);
};"""
"""Counts notes; the browser's own sound still plays."""

NOTES = 6
"""Notes of one sounding."""


def _alarms(repeat_seconds: int = 120) -> Answer:
    alarm = {
        "id": 7,
        "words": "Bath 1 is ready to open.",
        "acknowledge_url": "/seen/",
        "submission_id": "s",
    }
    return Answer(
        render_to_string(
            "components/_alarms.html", {"alarms": [alarm], "repeat_seconds": repeat_seconds}
        )
    )


def test_alarm_is_spoken_titled_and_asks_for_a_touch(specimen: Specimen) -> None:
    specimen.answers["/alarms/"] = _alarms()

    page = specimen.show(CONTAINER)

    page.locator("#alarm-voice", has_text="Bath 1 is ready to open.").wait_for(state="attached")
    page.get_by_text("Touch the screen once, so that alarms can sound.").wait_for()
    specimen.until("document.title === 'Alarm: Bath 1 is ready to open.'")
    specimen.until("document.title === 'Specimen'")


def test_alarm_sounds_after_a_touch_and_again_until_it_is_gone(specimen: Specimen) -> None:
    specimen.answers["/alarms/"] = _alarms(repeat_seconds=2)
    specimen.page.add_init_script(COUNT_TONES)
    page = specimen.show(CONTAINER)
    page.get_by_text("Bath 1 is ready to open.").first.wait_for()
    assert page.evaluate("window.tones") == 0

    page.locator("body").click(position={"x": 5, "y": 5})
    specimen.until(f"window.tones === {NOTES}")
    specimen.until(f"window.tones === {2 * NOTES}")
    specimen.answers["/alarms/"] = Answer("")
    page.locator("[data-alarms]").wait_for(state="detached")
    silent_from = page.evaluate("window.tones")
    page.wait_for_timeout(2500)

    assert page.evaluate("window.tones") == silent_from
    assert page.title() == "Specimen"


def test_alarm_container_says_when_the_server_is_silent(specimen: Specimen) -> None:
    specimen.answers["/alarms/"] = Answer("")
    page = specimen.show(
        CONTAINER.replace("<div ", '<div data-patience-seconds="2" ')
        + '<p id="alarms-unreachable" role="alert" hidden></p>'
    )
    banner = page.get_by_role("alert")
    page.wait_for_timeout(2500)
    assert banner.count() == 0

    specimen.answers["/alarms/"] = Answer(broken=True)
    page.get_by_text("The lab's computer does not answer.").wait_for()
    specimen.answers["/alarms/"] = Answer("")

    page.get_by_text("The lab's computer does not answer.").wait_for(state="hidden")


def test_alarm_answer_brings_the_heartbeat_along(specimen: Specimen) -> None:
    specimen.answers["/alarms/"] = Answer(
        render_to_string("components/_alarms.html", {"heartbeat_stale": True})
    )

    page = specimen.show('{% include "components/_heartbeat.html" %}' + CONTAINER)

    page.locator("#heartbeat", has_text="Waits are not being watched").wait_for()


def test_alarm_is_acknowledged_in_place(specimen: Specimen) -> None:
    specimen.answers["/alarms/"] = _alarms()
    page = specimen.show(CONTAINER)
    button = page.get_by_role("button", name="I have seen it")
    button.wait_for()
    specimen.answers["/seen/"] = specimen.answers["/alarms/"] = Answer("")

    button.click()

    button.wait_for(state="detached")
    assert [path for path, _ in specimen.sent] == ["/seen/"]
