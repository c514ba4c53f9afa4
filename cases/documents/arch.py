"""The arch of a case on paper: the shapes of the screen as line art."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from cases.domain.archdrawing import Drawing, draw
from cases.domain.archform import ArchInput, Point
from cases.domain.archshapes import Dot, Label, Outline, Role

# From this width on a printed arch has numbers: at 38 mm they are 4.7 pt high. Judgement.
DETAILED_FROM_MM: Final = 38.0
# Lines are given for this width and grow thinner below it, down to half.
FULL_WIDTH_MM: Final = 60.0
THINNEST_SHARE: Final = 0.5
# A cap of a figure stands this far above its middle, as a share of the size.
FIGURE_MIDDLE: Final = 0.35


@dataclass(frozen=True, slots=True)
class Pen:
    """How one role is printed: grey of the fill and of the line (0 black, 1 white), line in mm."""

    line_mm: float
    fill: float | None = None
    line: float = 0.0
    dash_mm: float | None = None


PENS: Final[dict[Role, Pen]] = {
    "base": Pen(0.25, fill=0.9, line=0.35),
    "bar": Pen(0.9),
    "crown-present": Pen(0.25, fill=1.0),
    "crown-missing": Pen(0.2, line=0.4, dash_mm=0.6),
    "crown-replaced": Pen(0.4, fill=0.6),
    "fissure": Pen(0.15, line=0.5),
    "extracted-halo": Pen(1.1, line=1.0),
    "extracted": Pen(0.4),
    "rest": Pen(1.0),
    "clasp": Pen(0.75),
    "clasp-tip": Pen(0.0, fill=0.0),
    "blocked": Pen(0.5, dash_mm=0.5),
    "bracing": Pen(0.9),
    "hollow": Pen(0.25, dash_mm=0.5),
    "stop": Pen(0.0, fill=0.0),
    "joint": Pen(0.35),
    "cover": Pen(0.5),
    "abutment": Pen(0.0, fill=0.0),
    "relief": Pen(0.3, dash_mm=0.4),
    "changed": Pen(0.3, dash_mm=0.8),
    "changed-dot": Pen(0.0, fill=0.0),
    "number": Pen(0.0, fill=0.0),
    "side-letter": Pen(0.0, fill=0.0),
}


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Turns points of the drawing, y down, into points of the page, y up."""

    canvas: Canvas
    drawing: Drawing
    left_mm: float
    top_mm: float
    scale: float

    def at(self, point: Point) -> Point:
        left, top, _, _ = self.drawing.box
        return (
            (self.left_mm + (point[0] - left) * self.scale) * mm,
            (self.top_mm - (point[1] - top) * self.scale) * mm,
        )


def _draw_outline(sheet: _Sheet, shape: Outline, pen: Pen) -> None:
    path = sheet.canvas.beginPath()
    first, *rest = (sheet.at(point) for point in shape.points)
    path.moveTo(*first)
    for point in rest:
        path.lineTo(*point)
    if shape.closed:
        path.close()
    sheet.canvas.drawPath(path, stroke=1, fill=int(pen.fill is not None))


def _draw_shape(sheet: _Sheet, shape: Outline | Dot | Label, font_name: str, share: float) -> None:
    pen, canvas = PENS[shape.role], sheet.canvas
    canvas.setStrokeGray(pen.line)
    canvas.setLineWidth(pen.line_mm * share * mm)
    canvas.setDash(*(([pen.dash_mm * mm, pen.dash_mm * mm],) if pen.dash_mm else ([],)))
    if pen.fill is not None:
        canvas.setFillGray(pen.fill)
    if isinstance(shape, Outline):
        _draw_outline(sheet, shape, pen)
        return
    x, y = sheet.at(shape.centre)
    if isinstance(shape, Dot):
        canvas.circle(x, y, shape.radius_mm * sheet.scale * mm, stroke=0, fill=1)
        return
    size = shape.size_mm * sheet.scale * mm
    canvas.setFont(font_name, size)
    canvas.drawCentredString(x, y - size * FIGURE_MIDDLE, shape.text)


def _drawing(
    design: ArchInput, width_mm: float, notation: str, *, in_hand: bool, detailed: bool | None
) -> Drawing:
    full = width_mm >= DETAILED_FROM_MM if detailed is None else detailed
    return draw(design, notation=notation, in_hand=in_hand, detailed=full)


def arch_height_mm(
    design: ArchInput,
    *,
    width_mm: float,
    notation: str = "fdi",
    detailed: bool | None = None,
) -> float:
    """Tell how high an arch of this width will be on paper, in mm."""
    box = _drawing(design, width_mm, notation, in_hand=False, detailed=detailed).box
    return width_mm * box[3] / box[2]


def draw_arch(
    canvas: Canvas,
    design: ArchInput,
    *,
    left_mm: float,
    bottom_mm: float,
    width_mm: float,
    notation: str = "fdi",
    in_hand: bool = False,
    detailed: bool | None = None,
    font_name: str = "Helvetica",
) -> float:
    """Draw the arch of a design on a page, in greys that survive an office printer.

    Parameters
    ----------
    canvas
        A reportlab canvas with its origin at the bottom left.
    design
        What to show.
    left_mm, bottom_mm, width_mm
        Where, in mm of the page.
    notation
        The reader's tooth numbering.
    in_hand
        Turned by 180°.
    detailed
        With numbers and letters; by default where the drawing is wide enough to read them.
    font_name
        A font that the canvas knows; figures, R and L and the letters of Palmer are drawn.

    Returns
    -------
    float
        The height taken, in mm.

    Raises
    ------
    ValueError
        If the notation is another word or the width is not positive.
    """
    if width_mm <= 0:
        raise ValueError(f"An arch cannot be {width_mm} mm wide.")
    drawing = _drawing(design, width_mm, notation, in_hand=in_hand, detailed=detailed)
    scale = width_mm / drawing.box[2]
    height_mm = drawing.box[3] * scale
    share = max(THINNEST_SHARE, min(1.0, width_mm / FULL_WIDTH_MM))
    sheet = _Sheet(canvas, drawing, left_mm, bottom_mm + height_mm, scale)
    canvas.saveState()
    canvas.setLineJoin(1)
    canvas.setLineCap(1)
    for shape in drawing.shapes:
        _draw_shape(sheet, shape, font_name, share)
    canvas.restoreState()
    return height_mm
