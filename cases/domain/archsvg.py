"""The arch drawing as inline SVG: classes and presentation attributes, no ``style``.

The attributes alone give a legible picture (on screen and in a saved file); the style sheet of the
app recolours the classes for the themes. Ink is ``currentColor``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from itertools import groupby
from typing import Final, NamedTuple

from cases.domain.archdrawing import Drawing
from cases.domain.archshapes import Dot, Label, Outline, Role, Shape

# Used where no style sheet colours the classes.
ACRYLIC: Final = "#eeb9a9"
ACRYLIC_EDGE: Final = "#c98a77"
CROWN: Final = "#fffefb"
REPLACED_CROWN: Final = "#b3aa94"


@dataclass(frozen=True, slots=True)
class Ink:
    """How one role is inked: class, fill, stroke and the width of the stroke in px."""

    css_class: str
    fill: str
    stroke: str
    small_px: float
    large_px: float
    extra: str = ""


INKS: Final[dict[Role, Ink]] = {
    "base": Ink("arch-base", ACRYLIC, ACRYLIC_EDGE, 0.5, 1.2),
    "bar": Ink("arch-bar", "none", "currentColor", 1.9, 4.0, ' stroke-linecap="round"'),
    "crown-present": Ink("arch-crown", CROWN, "currentColor", 0.6, 1.5),
    "crown-missing": Ink(
        "arch-gap", "none", "currentColor", 0.4, 1.0, ' stroke-dasharray="{dash}"'
    ),
    "crown-replaced": Ink("arch-replaced", REPLACED_CROWN, "currentColor", 0.9, 1.9),
    "fissure": Ink("arch-fissure", "none", "currentColor", 0.4, 0.8, ' stroke-opacity="0.6"'),
    "extracted-halo": Ink("arch-halo", "none", CROWN, 1.8, 3.8, ' stroke-linecap="round"'),
    "extracted": Ink("arch-cross", "none", "currentColor", 0.9, 1.8, ' stroke-linecap="round"'),
    "rest": Ink("arch-rest", "none", "currentColor", 2.0, 4.6, ' stroke-linecap="round"'),
    "clasp": Ink("arch-clasp", "none", "currentColor", 1.7, 3.1, ' stroke-linecap="round"'),
    "clasp-tip": Ink("arch-clasp-tip", "currentColor", "none", 0.0, 0.0),
    "blocked": Ink(
        "arch-blocked",
        "none",
        "currentColor",
        0.0,
        3.2,
        ' stroke-dasharray="0.01 {dot}" stroke-linecap="round"',
    ),
    "bracing": Ink("arch-bracing", "none", "currentColor", 0.0, 3.6),
    "hollow": Ink("arch-hollow", "none", "currentColor", 0.0, 1.2, ' stroke-dasharray="{dash}"'),
    "stop": Ink("arch-stop", "currentColor", "none", 0.0, 0.0),
    "joint": Ink("arch-joint", "none", "currentColor", 0.0, 1.6),
    "cover": Ink("arch-cover", "none", "currentColor", 0.0, 2.2, ' stroke-linecap="round"'),
    "abutment": Ink("arch-abutment", "currentColor", "none", 0.0, 0.0),
    "relief": Ink(
        "arch-relief", "none", "currentColor", 0.0, 1.6, ' stroke-dasharray="{dot} {dash}"'
    ),
    "changed": Ink("arch-changed", "none", "currentColor", 0.0, 1.4, ' stroke-dasharray="{dash}"'),
    "changed-dot": Ink("arch-changed-dot", "currentColor", "none", 0.0, 0.0),
    "number": Ink("arch-number", "currentColor", "none", 0.0, 0.0),
    "side-letter": Ink("arch-side", "currentColor", "none", 0.0, 0.0),
}


_ORDER: Final[tuple[Role, ...]] = tuple(INKS)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


class Run(NamedTuple):
    """A piece of a line in whole units: its two ends and, as text, the steps between them."""

    first: tuple[int, int]
    steps: str
    last: tuple[int, int]


def run(points: Iterable[tuple[float, float]], scale: int) -> Run:
    """Write a piece of a line as relative steps: short, and without rounding drift."""
    units = [(round(x * scale), round(y * scale)) for x, y in points]
    x0, y0 = units[0]
    steps = ""
    for x, y in units:
        if x != x0 or y != y0:
            steps += f"{x - x0} {y - y0} "
            x0, y0 = x, y
    return Run(units[0], steps, (x0, y0))


def path(runs: Iterable[Run], *, closed: bool) -> str:
    """Join pieces into one line, as the ``d`` of a path."""
    text = ""
    end: tuple[int, int] | None = None
    for (x, y), steps, last in runs:
        if end is None:
            text = f"M{x} {y}l{steps}"
        elif end == (x, y):
            text += steps
        else:
            text += f"{x - end[0]} {y - end[1]} {steps}"
        end = last
    return text.rstrip().replace(" -", "-") + ("z" if closed else "")


@lru_cache(maxsize=2048)
def _line(points: tuple[tuple[float, float], ...], scale: int, *, closed: bool) -> str:
    """Write a line in one piece; crowns are the same in every drawing of an arch."""
    return path([run(points, scale)], closed=closed)


def element(shape: Shape, scale: int) -> str:
    """Write one shape; ``scale`` is the units in a millimetre."""
    tooth = f' data-tooth="{shape.fdi}"' if shape.fdi is not None else ""
    if isinstance(shape, Outline):
        return f'<path{tooth} d="{_line(shape.points, scale, closed=shape.closed)}"/>'
    x, y = shape.centre
    if isinstance(shape, Dot):
        radius = round(shape.radius_mm * scale)
        return f'<circle{tooth} cx="{round(x * scale)}" cy="{round(y * scale)}" r="{radius}"/>'
    # The baseline lies a third of the size below the middle of a figure; every browser agrees on
    # that, not on dominant-baseline.
    below = y + shape.size_mm * 0.35
    at = f'x="{round(x * scale)}" y="{round(below * scale)}"'
    return f"<text{tooth} {at}>{escape(shape.text)}</text>"


def group_opening(role: Role, drawing: Drawing, *, text_mm: float | None = None) -> str:
    """Begin the group of a role; ``text_mm`` is the height of its texts, where it is texts."""
    ink, scale = INKS[role], scale_of(drawing)
    unit = drawing.mm_per_px * scale
    width = (ink.large_px if drawing.detailed else ink.small_px) * unit
    attributes = f'class="{ink.css_class}" fill="{ink.fill}" stroke="{ink.stroke}"'
    if width:
        attributes += f' stroke-width="{_number(width)}"'
    attributes += ink.extra.format(dash=_number(2 * unit), dot=_number(3 * unit))
    if text_mm is not None:
        attributes += f' font-size="{_number(text_mm * scale)}" text-anchor="middle"'
    return f"<g {attributes}>"


def _group(role: Role, shapes: list[Shape], drawing: Drawing) -> str:
    first, scale = shapes[0], scale_of(drawing)
    text_mm = first.size_mm if isinstance(first, Label) else None
    inside = "".join(element(shape, scale) for shape in shapes)
    return f"{group_opening(role, drawing, text_mm=text_mm)}{inside}</g>"


def _by_role(shapes: Iterable[Shape]) -> Iterator[tuple[Role, Iterator[Shape]]]:
    """Bring the shapes of one role together; crowns do not overlap, so their order is free."""
    ordered = sorted(shapes, key=lambda shape: _ORDER.index(shape.role))
    return groupby(ordered, key=lambda shape: shape.role)


def scale_of(drawing: Drawing) -> int:
    """Units of the SVG in a millimetre: what a small drawing does not show is not written."""
    return 100 if drawing.detailed else 10


def opening(drawing: Drawing) -> str:
    """Begin the ``<svg>`` element of a drawing."""
    left, top, width, height = (round(side * scale_of(drawing)) for side in drawing.box)
    height_px = _number(drawing.size_px * drawing.box[3] / drawing.box[2])
    return (
        f'<svg class="arch" role="img" width="{drawing.size_px}" height="{height_px}"'
        f' viewBox="{left} {top} {width} {height}" stroke-linejoin="round">'
    )


def to_svg(drawing: Drawing, *, title: str) -> str:
    """Write a drawing as an ``<svg>`` element.

    Parameters
    ----------
    drawing
        As from ``archdrawing.draw``.
    title
        The sentence that says what is drawn, for people who do not see it.
    """
    body = "".join(_group(role, list(shapes), drawing) for role, shapes in _by_role(drawing.shapes))
    return f"{opening(drawing)}<title>{escape(title)}</title>{body}</svg>"
