"""The roles of the style sheet: legible in both themes, and used instead of plain colours."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

CSS = Path(settings.BASE_DIR) / "static" / "css"
TEXT = 4.5
"""Contrast of text with its ground, at least (ratio; WCAG 2.2 SC 1.4.3, from memory)."""
FRAME = 3.0
"""Contrast of a control's frame with its ground, at least (WCAG 2.2 SC 1.4.11, from memory)."""

PAIRS = [
    ("ink", "paper", TEXT),
    ("ink", "card", TEXT),
    ("ink", "wash", TEXT),
    ("ink", "stone", TEXT),
    ("ink", "acrylic", TEXT),
    ("ink-soft", "paper", TEXT),
    ("ink-soft", "card", TEXT),
    ("ink-soft", "wash", TEXT),
    ("ink-soft", "stone", TEXT),
    ("on-ink", "ink", TEXT),
    ("on-ink-soft", "ink", TEXT),
    ("action-ink", "action", TEXT),
    ("action-ink", "action-press", TEXT),
    ("action", "paper", FRAME),
    ("frame", "paper", FRAME),
    ("frame", "card", FRAME),
    ("tooth-replaced", "tooth", FRAME),
    ("tooth-edge", "tooth", FRAME),
]


def _themes() -> list[dict[str, str]]:
    """Return light, dark by the device, dark by choice: role → colour."""
    text = (CSS / "tokens.css").read_text(encoding="utf-8")
    blocks = re.findall(r"\{([^{}]*--paper:[^{}]*)\}", text)
    return [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block)) for block in blocks]


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(("front", "ground", "least"), PAIRS)
def test_tokens_contrast_is_enough(theme: int, front: str, ground: str, least: float) -> None:
    roles = _themes()[theme]

    assert _contrast(roles[front], roles[ground]) >= least


def test_tokens_dark_is_the_same_by_device_and_by_choice() -> None:
    light, by_device, by_choice = _themes()

    assert by_device == by_choice
    assert by_device.keys() == light.keys()


def test_styles_take_colours_from_tokens_only() -> None:
    sheets = [path for path in CSS.rglob("*.css") if path.name not in {"tokens.css", "print.css"}]

    named = {
        path.name: found
        for path in sheets
        if (found := re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(", path.read_text("utf-8")))
    }

    assert named == {}


def test_arch_never_wears_the_action_colour() -> None:
    rules = re.findall(
        r"\.arch-[^{]*\{[^}]*\}", (CSS / "components" / "case.css").read_text("utf-8")
    )

    assert rules
    assert [rule for rule in rules if "--action" in rule] == []


def test_fonts_named_in_the_sheet_are_there() -> None:
    fonts = re.findall(r'url\("\.\./fonts/([^"]+)"\)', (CSS / "fonts.css").read_text("utf-8"))

    missing = [name for name in fonts if not (CSS.parent / "fonts" / name).is_file()]

    assert fonts
    assert missing == []
