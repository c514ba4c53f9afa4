"""The arch on paper: line art with solid grey crowns."""

from __future__ import annotations

from io import BytesIO

import pytest
from pypdf import PdfReader
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from cases.documents.arch import arch_height_mm, draw_arch
from cases.domain.archdrawing import draw
from cases.domain.archform import ArchInput, form_of

DESIGN = ArchInput("lower", missing=(38, 48), replaced=(35, 36, 37), clasps=(34, 44), bar=True)
PAGE_MM = 100.0
PIXELS_PER_MM = 8


def page(width_mm: float = 80.0, *, in_hand: bool = False, notation: str = "fdi") -> bytes:
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(PAGE_MM * mm, PAGE_MM * mm))
    draw_arch(
        canvas,
        DESIGN,
        left_mm=10,
        bottom_mm=10,
        width_mm=width_mm,
        in_hand=in_hand,
        notation=notation,
    )
    canvas.save()
    return buffer.getvalue()


def grey_at(pdf: bytes, fdi: int, *, in_hand: bool = False) -> tuple[int, int, int]:
    """Colour printed in the middle of a crown of the 80 mm drawing."""
    import pypdfium2

    drawing = draw(DESIGN, detailed=True, in_hand=in_hand)
    x, y = form_of("lower").at(form_of("lower").places[fdi].along_mm)
    x, y = (-x, -y) if in_hand else (x, y)
    left, top, width, height = drawing.box
    scale = 80.0 / width
    from_left, from_bottom = 10 + (x - left) * scale, 10 + (height - (y - top)) * scale
    document = pypdfium2.PdfDocument(pdf)
    image = document[0].render(scale=PIXELS_PER_MM / mm).to_pil().convert("RGB")
    document.close()
    pixel = image.getpixel(
        (round(from_left * PIXELS_PER_MM), round((PAGE_MM - from_bottom) * PIXELS_PER_MM))
    )
    assert isinstance(pixel, tuple)
    return pixel[0], pixel[1], pixel[2]


@pytest.mark.parametrize("in_hand", [False, True])
def test_replaced_crowns_are_solid_grey_and_standing_ones_white(in_hand: bool) -> None:
    pdf = page(in_hand=in_hand)

    assert grey_at(pdf, 36, in_hand=in_hand) == (153, 153, 153)
    assert grey_at(pdf, 41, in_hand=in_hand) == (255, 255, 255)


def test_wide_print_has_the_numbers_in_the_readers_notation() -> None:
    words = PdfReader(BytesIO(page(notation="universal"))).pages[0].extract_text().split()

    assert {"19", "30", "R", "L"} <= set(words)
    assert "48" not in words


def test_narrow_print_has_no_text() -> None:
    assert not PdfReader(BytesIO(page(24.0))).pages[0].extract_text().strip()


def test_height_told_is_the_height_taken() -> None:
    canvas = Canvas(BytesIO())

    taken = draw_arch(canvas, DESIGN, left_mm=0, bottom_mm=0, width_mm=50)

    assert taken == arch_height_mm(DESIGN, width_mm=50)
    assert 30 < taken < 50


def test_draw_arch_refuses_an_empty_width() -> None:
    with pytest.raises(ValueError, match="0 mm wide"):
        draw_arch(Canvas(BytesIO()), DESIGN, left_mm=0, bottom_mm=0, width_mm=0)
