"""Controls in a real browser: steppers, PIN pad, photographs, covers."""

from __future__ import annotations

import base64
import io
import json
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from tests.static.conftest import Answer

if TYPE_CHECKING:
    from tests.static.conftest import Specimen

STEPPER = (
    '<form>{% include "components/_stepper.html" with name="v" id="v" label="Bracing" value=value'
    ' step="0.1" min="0" max="9.9" unit="mm" %}</form>'
)

PHOTO = '{% include "components/_photo.html" with name="p" id="p" label="Both sides" %}'


def _picture(width: int, height: int) -> bytes:
    picture = io.BytesIO()
    Image.new("RGB", (width, height), "#c8b9a0").save(picture, "JPEG")
    return picture.getvalue()


@pytest.mark.parametrize(
    ("value", "button", "after"),
    [
        ("4.8", "Bracing: 0.1 more", "4.9"),
        ("4.8", "Bracing: 0.1 less", "4.7"),
        ("4,8", "Bracing: 0.1 more", "4,9"),
        ("", "Bracing: 0.1 more", "0.0"),
        ("0.0", "Bracing: 0.1 less", "0.0"),
        ("9.9", "Bracing: 0.1 more", "9.9"),
    ],
)
def test_stepper_goes_one_step_within_its_limits(
    specimen: Specimen, value: str, button: str, after: str
) -> None:
    page = specimen.show(STEPPER, value=value)

    page.get_by_role("button", name=button).click()

    assert page.locator("#v").input_value() == after


def test_stepper_tells_its_form_once_for_one_press(specimen: Specimen) -> None:
    page = specimen.show(STEPPER, value="4.8")
    page.evaluate("window.changes = 0; addEventListener('change', () => { window.changes += 1; })")

    page.get_by_role("button", name="Bracing: 0.1 more").click()
    page.get_by_role("button", name="Bracing: 0.1 more").press("Enter")

    assert page.locator("#v").input_value() == "5.0"
    assert page.evaluate("window.changes") == 2


def test_stepper_keeps_what_is_typed(specimen: Specimen) -> None:
    page = specimen.show(STEPPER, value="4.8")

    page.locator("#v").fill("12,75")

    assert page.locator("#v").input_value() == "12,75"


def test_pin_pad_writes_clears_and_sends(specimen: Specimen) -> None:
    specimen.answers["/pin/"] = Answer("in")
    page = specimen.show(
        '<form method="post" action="/pin/">{% include "components/_pinpad.html" %}</form>'
    )

    for digit in ("9", "Clear", "4", "1", "0", "7"):
        page.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="Enter").click()
    page.wait_for_url("**/pin/")

    assert specimen.sent == [("/pin/", "pin=4107")]


def test_photo_is_made_smaller_and_shown(specimen: Specimen) -> None:
    page = specimen.show(PHOTO)

    page.locator("#p").set_input_files(
        {"name": "cast.jpg", "mimeType": "image/jpeg", "buffer": _picture(3000, 1500)}
    )
    page.locator("[data-photo-preview] canvas").wait_for()

    size = page.evaluate(
        "createImageBitmap(document.querySelector('#p').files[0]).then(b => [b.width, b.height])"
    )
    assert size == [2000, 1000]


def _cover(specimen: Specimen) -> None:
    page = specimen.show(PHOTO, cover=True)
    page.locator("#p").set_input_files(
        {"name": "rx.jpg", "mimeType": "image/jpeg", "buffer": _picture(800, 400)}
    )
    page.locator("[data-cover] canvas").wait_for()


def _regions(specimen: Specimen) -> list[dict[str, float]]:
    text = specimen.page.locator("input[name=p_cover]").input_value()
    return json.loads(text) if text else []


def test_cover_is_drawn_with_a_pointer_and_taken_off(specimen: Specimen) -> None:
    _cover(specimen)
    page = specimen.page
    box = page.locator("[data-cover] canvas").bounding_box()
    assert box is not None

    page.mouse.move(box["x"] + box["width"] * 0.25, box["y"] + box["height"] * 0.5)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.75, box["y"] + box["height"] * 0.75, steps=4)
    page.mouse.up()

    [region] = _regions(specimen)
    assert region["file"] == 0
    assert [region[side] for side in "xywh"] == pytest.approx([0.25, 0.5, 0.5, 0.25], abs=0.01)

    page.get_by_role("button", name="Take cover 1 off").click()

    assert _regions(specimen) == []


def test_cover_is_drawn_with_the_keyboard(specimen: Specimen) -> None:
    _cover(specimen)
    canvas = specimen.page.locator("[data-cover] canvas")

    canvas.focus()
    for key in ("ArrowLeft", "Shift+ArrowRight", "ArrowDown", "Enter"):
        canvas.press(key)

    assert _regions(specimen) == [
        {"file": 0, "page": 0, "x": 0.28, "y": 0.32, "w": 0.32, "h": 0.08}
    ]


def test_cover_says_when_a_file_cannot_be_shown(specimen: Specimen) -> None:
    page = specimen.show(PHOTO, cover=True)

    page.locator("#p").set_input_files(
        {"name": "rx.pdf", "mimeType": "application/pdf", "buffer": base64.b64decode("JVBERi0=")}
    )

    page.get_by_text("rx.pdf cannot be shown here").wait_for()
