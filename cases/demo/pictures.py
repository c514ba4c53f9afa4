"""Invented photographs: the arch of a design, drawn as it might lie on the bench."""

from __future__ import annotations

import io
from functools import cache
from typing import Any

from cases.domain.archdrawing import draw
from cases.domain.archform import ArchInput
from cases.domain.archshapes import Dot, Outline
from cases.domain.design import Design
from cases.services.files import take_in

WIDE, HIGH, MARGIN = 560, 420, 24
CLOTHS = ((86, 99, 104), (112, 104, 92), (70, 84, 78), (120, 112, 110))
"""Grounds that a cast was laid on."""
FILLS = {
    "base": (226, 158, 146), "crown-present": (232, 222, 190), "crown-replaced": (250, 247, 236),
    "clasp-tip": (205, 210, 214),
}  # fmt: skip
LINES = {
    "base": (178, 112, 100), "crown-present": (150, 140, 112), "crown-replaced": (150, 146, 138),
    "crown-missing": (128, 118, 104), "bar": (190, 196, 200), "clasp": (205, 210, 214),
    "rest": (205, 210, 214), "extracted": (90, 40, 36),
}  # fmt: skip


def picture(data: dict[str, Any], ground: int) -> dict[str, Any]:
    """Return the stored picture of a design (``Design.to_json``) on one of the grounds."""
    design = Design.from_json(data)
    return dict(_stored(ArchInput.from_design(design), ground % len(CLOTHS)))


@cache
def _stored(arch: ArchInput, ground: int) -> dict[str, Any]:
    from PIL import Image, ImageDraw, ImageFilter

    drawing = draw(arch, size=HIGH, detailed=False)
    left, top, width, height = drawing.box
    scale = min((WIDE - 2 * MARGIN) / width, (HIGH - 2 * MARGIN) / height)
    shift_x = (WIDE - width * scale) / 2 - left * scale
    shift_y = (HIGH - height * scale) / 2 - top * scale

    def place(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * scale + shift_x, point[1] * scale + shift_y

    photo = Image.new("RGB", (WIDE, HIGH), CLOTHS[ground])
    pen = ImageDraw.Draw(photo)
    pen.ellipse((30, 14, WIDE - 30, HIGH - 8), fill=(214, 203, 172))  # the stone of the cast
    for shape in drawing.shapes:
        role = shape.role
        if isinstance(shape, Outline):
            points = [place(point) for point in shape.points]
            if shape.closed and role in FILLS:
                pen.polygon(points, fill=FILLS[role])
            if role in LINES:
                closing = [*points, points[0]] if shape.closed else points
                pen.line(closing, fill=LINES[role], width=4 if role in ("clasp", "bar") else 2)
        elif isinstance(shape, Dot):
            x, y = place(shape.centre)
            radius = shape.radius_mm * scale
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=(205, 210, 214))
    buffer = io.BytesIO()
    photo.filter(ImageFilter.GaussianBlur(0.8)).save(buffer, "PNG")
    buffer.seek(0)
    return vars(take_in(buffer)[0])
