"""A page in millimetres: text, rules, boxes, ticks and codes, and pages that follow each other."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import segno
from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from cases.documents.type import LEADING, Fitted, Weight, clean, fit, running, runs, width_pt

HAIR: Final = 0.18
"""Line width in mm of a rule that only divides."""
FRAME: Final = 0.4
"""Line width in mm of a frame that is looked for."""
ASCENT: Final = 0.93
"""Top of a line to its base line, as a share of the type size. Judgement, by eye."""
SOFT: Final = 0.32
"""Grey of the second voice: still dark on an office printer."""
QR_QUIET: Final = 4
"""Modules of white round a QR code: ISO/IEC 18004, from memory."""


@dataclass(frozen=True)
class Paper:
    """A size of paper in mm, portrait."""

    width_mm: float
    height_mm: float


A5: Final = Paper(148, 210)
A4: Final = Paper(210, 297)
LETTER: Final = Paper(215.9, 279.4)
HALF_LETTER: Final = Paper(139.7, 215.9)


def ticket_paper(choice: str) -> Paper:
    """Return the size of a ticket for the lab's choice of paper (``"a5"`` or ``"letter"``)."""
    return A5 if choice == "a5" else HALF_LETTER


def page_paper(choice: str) -> Paper:
    """Return the size of notes and lists for the lab's choice of paper."""
    return A4 if choice == "a5" else LETTER


class Sheet:
    """One page being drawn. ``x`` and ``y`` are in mm from the left and from the *top*."""

    def __init__(self, canvas: Canvas, paper: Paper) -> None:
        self.canvas = canvas
        self.paper = paper

    def _y(self, y: float) -> float:
        return (self.paper.height_mm - y) * mm

    def text(
        self, fitted: Fitted, x: float, y: float, *, grey: float = 0.0, right: bool = False
    ) -> float:
        """Set fitted lines with their top left (or top right) at x, y; return the lower edge."""
        self.canvas.setFillGray(grey)
        step = fitted.size * LEADING
        base = self._y(y) - fitted.size * ASCENT
        for line in fitted.lines:
            left = x * mm
            if right:
                left -= width_pt(line, fitted.size, fitted.weight)
            self._line(line, fitted, left, base)
            base -= step
        return y + fitted.height_mm

    def _line(self, line: str, fitted: Fitted, left: float, base: float) -> None:
        """Set one line as one text object, so that it can be read out as one."""
        out = self.canvas.beginText(left, base)
        for name, piece in runs(line, fitted.weight):
            out.setFont(name, fitted.size)
            out.textOut(piece)
        self.canvas.drawText(out)

    def put(
        self,
        text: str,
        x: float,
        y: float,
        *,
        width: float,
        height: float = 6.0,
        size: float = 10.0,
        floor: float = 7.0,
        weight: Weight = "regular",
        grey: float = 0.0,
        right: bool = False,
    ) -> float:
        """Fit a short text into its box and set it; return the lower edge."""
        words = fit(text, width_mm=width, height_mm=height, size=size, floor=floor, weight=weight)
        return self.text(words, x, y, grey=grey, right=right)

    def rule(self, x: float, y: float, width: float, *, line: float = HAIR) -> None:
        """Draw a level line."""
        self.canvas.setStrokeGray(0)
        self.canvas.setLineWidth(line * mm)
        self.canvas.line(x * mm, self._y(y), (x + width) * mm, self._y(y))

    def box(
        self, x: float, y: float, width: float, height: float, *, line: float = FRAME,
        fill: float | None = None, radius: float = 1.2,
    ) -> None:  # fmt: skip
        """Draw a frame, or a solid ground when ``fill`` (0 black … 1 white) is given."""
        canvas = self.canvas
        canvas.saveState()
        canvas.setStrokeGray(0)
        canvas.setLineWidth(line * mm)
        if fill is not None:
            canvas.setFillGray(fill)
        canvas.roundRect(
            x * mm, self._y(y + height), width * mm, height * mm, radius * mm,
            stroke=int(line > 0), fill=int(fill is not None),
        )  # fmt: skip
        canvas.restoreState()

    def tag(self, words: str, x: float, y: float, *, size: float = 9.0) -> float:
        """Set white words on a solid ground; return its width."""
        said = clean(words)
        width = width_pt(said, size, "bold") / mm + 3.2
        self.box(x, y, width, size * 1.5 / mm, line=0, fill=0.0, radius=0.8)
        self.text(Fitted((said,), size, "bold"), x + 1.6, y + size * 0.13 / mm, grey=1.0)
        return width

    def tick_box(self, x: float, y: float, size: float, *, state: str = "open") -> None:
        """Draw a square to tick: ``open``, ``done`` (with a tick) or ``out`` (crossed out)."""
        self.box(x, y, size, size, line=0.25, radius=0.3)
        canvas = self.canvas
        canvas.setStrokeGray(0)
        canvas.setLineWidth(0.45 * mm)
        if state == "done":
            path = canvas.beginPath()
            path.moveTo((x + size * 0.18) * mm, self._y(y + size * 0.52))
            path.lineTo((x + size * 0.42) * mm, self._y(y + size * 0.8))
            path.lineTo((x + size * 0.95) * mm, self._y(y - size * 0.08))
            canvas.drawPath(path)
        elif state == "out":
            self.rule(x, y + size / 2, size, line=0.35)

    def qr(self, data: str, x: float, y: float, size: float) -> None:
        """Draw a QR code with its quiet zone inside ``size`` mm."""
        matrix = segno.make_qr(data, error="m").matrix
        count = len(matrix) + 2 * QR_QUIET
        module = size / count
        self.canvas.setFillGray(0)
        for row, line in enumerate(matrix):
            top = y + (row + QR_QUIET) * module
            for start, length in _dark_spans(line):
                left = x + (start + QR_QUIET) * module
                self.canvas.rect(
                    left * mm, self._y(top + module), length * module * mm, module * mm,
                    stroke=0, fill=1,
                )  # fmt: skip


def _dark_spans(line: Iterable[int]) -> list[tuple[int, int]]:
    """Return the dark runs of a row of modules as (start, length)."""
    spans: list[tuple[int, int]] = []
    for place, dark in enumerate(line):
        if not dark:
            continue
        if spans and spans[-1][0] + spans[-1][1] == place:
            spans[-1] = (spans[-1][0], spans[-1][1] + 1)
        else:
            spans.append((place, 1))
    return spans


def make_pdf(paper: Paper, title: str, pages: Sequence[Callable[[Sheet], None]]) -> bytes:
    """Draw pages and return the document; the same pages give the same bytes."""
    out = io.BytesIO()
    canvas = Canvas(
        out, pagesize=(paper.width_mm * mm, paper.height_mm * mm), invariant=1, pageCompression=1
    )
    canvas.setTitle(title)
    canvas.setCreator("labflow")
    for draw in pages:
        draw(Sheet(canvas, paper))
        canvas.showPage()
    canvas.save()
    return out.getvalue()


@dataclass(frozen=True)
class Block:
    """A piece of a page that stays together: its height in mm and how it is drawn at (x, y).

    ``with_next`` keeps it on the page of what follows (a heading).
    """

    height_mm: float
    draw: Callable[[Sheet, float, float], object]
    with_next: bool = False


@dataclass
class Flow:
    """Blocks one below the other, over as many pages as they need.

    ``head`` is drawn on top of every page within ``head_mm``.
    """

    paper: Paper
    head: Callable[[Sheet], None]
    head_mm: float
    foot_words: str
    margin_mm: float = 15.0
    foot_mm: float = 10.0
    blocks: list[Block] = field(default_factory=list)

    @property
    def width_mm(self) -> float:
        """The width between the margins."""
        return self.paper.width_mm - 2 * self.margin_mm

    def add(self, block: Block) -> None:
        """Put a block below the others."""
        self.blocks.append(block)

    def space(self, height_mm: float) -> None:
        """Leave a gap."""
        self.add(Block(height_mm, lambda sheet, x, y: None))

    def heading(self, words: str, *, size: float = 12.0) -> None:
        """Add a heading that stays with what follows."""
        lines = running(words, self.width_mm, size, "bold")
        self.add(
            Block(
                lines.height_mm + 1.0,
                lambda sheet, x, y: sheet.text(lines, x, y),
                with_next=True,
            )
        )

    def paragraph(
        self, words: str, *, size: float = 10.0, weight: Weight = "regular", grey: float = 0.0,
        indent: float = 0.0, dot: bool = False, gap: float = 0.9,
    ) -> None:  # fmt: skip
        """Add running text; ``dot`` sets a point before it."""
        lines = running(words, self.width_mm - indent, size, weight)

        def draw(sheet: Sheet, x: float, y: float) -> None:
            if dot:
                middle = y + size * 0.62 / mm
                sheet.canvas.setFillGray(grey)
                radius = 0.55 * mm
                left = (x + indent - 2.6) * mm
                sheet.canvas.circle(left, sheet._y(middle), radius, stroke=0, fill=1)
            sheet.text(lines, x + indent, y, grey=grey)

        self.add(Block(lines.height_mm + gap, draw))

    def laid_out(self) -> list[list[Block]]:
        """Return the blocks page by page; headings stay with what follows them."""
        room = self.paper.height_mm - self.margin_mm - self.head_mm - self.margin_mm - self.foot_mm
        pages: list[list[Block]] = [[]]
        used = 0.0
        for place, block in enumerate(self.blocks):
            need = block.height_mm
            following = place
            while self.blocks[following].with_next and following + 1 < len(self.blocks):
                following += 1
                need += self.blocks[following].height_mm
            if used + need > room and pages[-1]:
                pages.append([])
                used = 0.0
            pages[-1].append(block)
            used += block.height_mm
        return pages

    def pages(self) -> list[Callable[[Sheet], None]]:
        """Return a drawing function for each page of this flow."""
        return [self._page(blocks) for blocks in self.laid_out()]

    def _page(self, blocks: list[Block]) -> Callable[[Sheet], None]:
        def draw(sheet: Sheet) -> None:
            self.head(sheet)
            y = self.margin_mm + self.head_mm
            for block in blocks:
                block.draw(sheet, self.margin_mm, y)
                y += block.height_mm

        return draw


def numbered(
    flows: Sequence[Flow],
) -> list[Callable[[Sheet], None]]:
    """Return the pages of all flows, each with its foot line and "page 2 of 5"."""
    drawn = [(flow, page) for flow in flows for page in flow.pages()]
    total = len(drawn)
    return [_footed(flow, page, n, total) for n, (flow, page) in enumerate(drawn, start=1)]


def _footed(
    flow: Flow, page: Callable[[Sheet], None], number: int, total: int
) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        page(sheet)
        y = flow.paper.height_mm - flow.margin_mm - 3.0
        sheet.rule(flow.margin_mm, y - 1.6, flow.width_mm)
        where = _("page %(n)d of %(total)d") % {"n": number, "total": total}
        sheet.put(flow.foot_words, flow.margin_mm, y, width=flow.width_mm - 32, size=8, floor=6,
                  height=8, grey=SOFT)  # fmt: skip
        right = flow.paper.width_mm - flow.margin_mm
        sheet.put(where, right, y, width=30, size=8, right=True, grey=SOFT)

    return draw
