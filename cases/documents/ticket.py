"""The case ticket: the paper that goes through the lab with the pan (A5 or half Letter)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from cases.documents.arch import arch_height_mm, draw_arch
from cases.documents.facts import CaseFacts, House, Tick
from cases.documents.sheet import SOFT, Paper, Sheet, make_pdf, ticket_paper
from cases.documents.type import DoesNotFit, Fitted, fit, fit_lines, font_name
from cases.domain.cautions import DEFER

MARGIN: Final = 8.0
QR_MM: Final = 27.0
ARCH_MM: Final = 58.0
COLUMNS: Final = 2
ROW_MM: Final = 4.7
LEAST_ROW_MM: Final = 3.3
"""Below this a stage cannot be read at arm's length. Judgement."""
FOOT_MM: Final = 10.5
MIDDLE_TOP: Final = MARGIN + 31.5
"""Where arch and facts begin: below number, piece and marks."""
LABEL_MM: Final = 19.0
MOST_FACTS_MM: Final = 105.0
"""Facts that need more would leave no room for the stages."""
REMARK_MM: Final = 10.0
ORDERS_MM: Final = 13.0


def ticket_pdf(facts: CaseFacts, house: House) -> bytes:
    """Draw the ticket of a case.

    The first page holds everything; stages that find no room there go on to a second page.

    Raises
    ------
    CannotPrint, DoesNotFit
        For a character that no font has, or a text too long for its place.
    """
    paper = ticket_paper(house.paper)
    pages: list[Callable[[Sheet], None]] = []
    first = _First(facts, house, paper)
    rest = first.left_over()
    pages.append(first.draw)
    if rest:
        pages.append(lambda sheet: _second(sheet, facts, rest))
    return make_pdf(paper, _("Ticket %(number)s") % {"number": facts.number}, pages)


def _facts_lines(facts: CaseFacts) -> list[tuple[str, str]]:
    """Return what stands beside the arch, as (word, text); empty texts are left out."""
    lines = [
        (_("Practice"), facts.practice),
        (_("Dentist"), facts.dentist),
        (_("Patient"), facts.patient_ref),
        (_("Appointment"), facts.appointment),
        (_("Leaves"), facts.leaves),
        (_("Replaces"), facts.teeth),
        (_("At delivery"), facts.extracted and _("%(teeth)s out") % {"teeth": facts.extracted}),
        (_("Clasps"), facts.clasps),
        (_("Block-out"), facts.block_out),
        (_("Design"), facts.design),
        (_("Shade"), facts.shade),
        (_("Mould"), facts.mould),
        (_("Bite"), facts.bite),
        (_("Material"), facts.materials),
        (_("Pair"), facts.twin),
        (_("Remake of"), facts.remake_of),
    ]
    return [(word, text) for word, text in lines if text]


@dataclass(frozen=True)
class _Fact:
    """One word and its text beside the arch, fitted, with where they stand."""

    word: str
    text: Fitted
    y: float


def _beside_arch(facts: CaseFacts, width: float) -> tuple[tuple[_Fact, ...], float]:
    """Fit what stands beside the arch; return it and the height that it takes."""
    y, placed = MIDDLE_TOP, []
    for word, text in _facts_lines(facts):
        strong = word in {_("Patient"), _("Leaves"), _("Replaces")}
        lines = fit(text, width_mm=width - LABEL_MM, height_mm=MOST_FACTS_MM, size=9.5, floor=7.5,
                    weight="bold" if strong else "regular")  # fmt: skip
        placed.append(_Fact(word, lines, y))
        y += max(lines.height_mm, 3.9) + 0.45
    if y - MIDDLE_TOP > MOST_FACTS_MM:
        raise DoesNotFit(max((fact.text.lines for fact in placed), key=len)[0])
    return tuple(placed), y


@dataclass(frozen=True)
class _First:
    facts: CaseFacts
    house: House
    paper: Paper

    @property
    def _width(self) -> float:
        return self.paper.width_mm - 2 * MARGIN

    @property
    def _facts_left(self) -> float:
        return MARGIN + ARCH_MM + 5

    @property
    def _facts_width(self) -> float:
        return self.paper.width_mm - MARGIN - self._facts_left

    @property
    def _under_arch(self) -> float:
        height = arch_height_mm(self.facts.arch, width_mm=ARCH_MM, notation=self.house.notation)
        return MIDDLE_TOP + height + 2.0

    def _orders_top(self) -> float:
        _placed, bottom = _beside_arch(self.facts, self._facts_width)
        return max(bottom, self._under_arch + (REMARK_MM if self._remark() else 0)) + 1.6

    def _stages_top(self) -> float:
        return self._orders_top() + ORDERS_MM + 2.5

    def _room(self) -> float:
        return self.paper.height_mm - MARGIN - FOOT_MM - self._stages_top() - 6.0

    def _rows(self) -> int:
        return int(self._room() / LEAST_ROW_MM)

    def left_over(self) -> tuple[Tick, ...]:
        """Return the stages that do not find room on this page."""
        return self.facts.stages[self._rows() * COLUMNS :]

    def draw(self, sheet: Sheet) -> None:
        """Draw the page from top to bottom."""
        self._head(sheet)
        self._middle(sheet)
        self._orders(sheet)
        top = self._stages_top()
        sheet.put(_("Stages, in order"), MARGIN, top, width=self._width - 40, size=8.5,
                  weight="bold")  # fmt: skip
        if self.left_over():
            sheet.put(_("goes on overleaf"), self.paper.width_mm - MARGIN, top, width=40,
                      size=8.5, right=True, grey=SOFT)  # fmt: skip
        shown = self.facts.stages[: self._rows() * COLUMNS]
        stages(sheet, shown, MARGIN, top + 5.0, self._width, self._room())
        self._foot(sheet)

    def _head(self, sheet: Sheet) -> None:
        facts, right = self.facts, self.paper.width_mm - MARGIN
        sheet.qr(facts.number, right - QR_MM + 2.5, MARGIN - 2.5, QR_MM)
        width = self._width - QR_MM - 2
        sheet.put(self.house.name, MARGIN, MARGIN - 1, width=width, size=9, floor=6.5, grey=SOFT,
                  height=8)  # fmt: skip
        sheet.put(facts.number, MARGIN, MARGIN + 2.2, width=width, size=34, floor=24,
                  height=20, weight="bold")  # fmt: skip
        sheet.put(facts.piece, MARGIN, MARGIN + 16.8, width=width, size=12, floor=8,
                  weight="semi")  # fmt: skip
        x = MARGIN
        for words in self._marks():
            x += sheet.tag(words, x, MARGIN + 22.6, size=8.5) + 2
        sheet.rule(MARGIN, MIDDLE_TOP - 2.2, self._width, line=0.4)

    def _marks(self) -> list[str]:
        facts = self.facts
        return [
            words
            for words, said in (
                (_("RUSH"), facts.rush),
                (_("DRAFT DESIGN"), facts.draft),
                (_("Treat as contaminated"), facts.contaminated),
                (_("Allergy told"), bool(facts.allergies)),
            )
            if said
        ]

    def _remark(self) -> str:
        told = self.facts.allergies
        allergy = _("Allergy told: %(what)s.") % {"what": told} if told else ""
        return " ".join(part for part in (allergy, self.facts.description) if part)

    def _middle(self, sheet: Sheet) -> None:
        draw_arch(
            sheet.canvas,
            self.facts.arch,
            left_mm=MARGIN,
            bottom_mm=self.paper.height_mm - self._under_arch + 2.0,
            width_mm=ARCH_MM,
            notation=self.house.notation,
            font_name=font_name("semi"),
        )
        if self._remark():
            room = self._orders_top() - 1.6 - self._under_arch
            lines = fit_lines(self._remark(), width_mm=ARCH_MM, height_mm=room, size=9, floor=6)
            sheet.text(lines, MARGIN, self._under_arch)
        placed, _bottom = _beside_arch(self.facts, self._facts_width)
        x = self._facts_left
        for fact in placed:
            sheet.put(fact.word, x, fact.y + 0.3, width=LABEL_MM - 1, size=8, floor=6, grey=SOFT)
            sheet.text(fact.text, x + LABEL_MM, fact.y)

    def _orders(self, sheet: Sheet) -> None:
        """Draw the three orders side by side: borders, edges, polish."""
        top, gap = self._orders_top(), 2.0
        width = (self._width - 2 * gap) / 3
        told = (
            (_("Borders"), self.facts.borders),
            (_("Edges and flash"), _("Always taken off")),
            (_("Polish"), self.facts.polish),
        )
        for place, (word, text) in enumerate(told):
            x = MARGIN + place * (width + gap)
            sheet.box(x, top, width, ORDERS_MM, line=0.3)
            sheet.put(word, x + 1.8, top + 0.7, width=width - 3.6, size=7.5, grey=SOFT)
            lines = fit_lines(text, width_mm=width - 3.6, height_mm=ORDERS_MM - 4.4, size=9.5,
                              floor=6.5, weight="semi")  # fmt: skip
            sheet.text(lines, x + 1.8, top + 4.0)

    def _foot(self, sheet: Sheet) -> None:
        y = self.paper.height_mm - MARGIN - FOOT_MM + 1.5
        sheet.rule(MARGIN, y - 1, self._width, line=0.25)
        said = _("Take care: %(hazards)s.") % {"hazards": "; ".join(self.facts.cautions)}
        text = f"{said} {_(DEFER)}" if self.facts.cautions else _(DEFER)
        lines = fit_lines(text, width_mm=self._width, height_mm=FOOT_MM - 1.0, size=7.5, floor=5.5)
        sheet.text(lines, MARGIN, y)


def stages(
    sheet: Sheet, ticks: tuple[Tick, ...], x: float, y: float, width: float, height: float
) -> None:
    """Draw stages as a tick list in two columns, read down the first and then the second."""
    if not ticks:
        return
    rows = -(-len(ticks) // COLUMNS)
    step = min(ROW_MM, height / rows)
    column = width / COLUMNS
    square = min(3.0, step - 0.9)
    for place, tick in enumerate(ticks):
        left = x + (place // rows) * column
        top = y + (place % rows) * step
        sheet.tick_box(left, top + (step - square) / 2, square, state=tick.state)
        name = tick.name if tick.state != "out" else _("%(stage)s: left out") % {"stage": tick.name}
        size = min(9.0, step * 2.1)
        sheet.put(name, left + square + 1.6, top + (step - size * 0.43) / 2 - 0.2,
                  width=column - square - 4, height=step + 1, size=size, floor=5.5,
                  grey=SOFT if tick.state == "out" else 0)  # fmt: skip


def _second(sheet: Sheet, facts: CaseFacts, ticks: tuple[Tick, ...]) -> None:
    """Draw the stages that found no room on the first page."""
    width = sheet.paper.width_mm - 2 * MARGIN
    sheet.qr(facts.number, sheet.paper.width_mm - MARGIN - 17, MARGIN - 2, 19)
    sheet.put(facts.number, MARGIN, MARGIN, width=width - 20, size=24, height=12, weight="bold")
    sheet.put(_("Stages, continued"), MARGIN, MARGIN + 12, width=width - 20, size=10)
    room = sheet.paper.height_mm - 2 * MARGIN - 22
    if len(ticks) > int(room / LEAST_ROW_MM) * COLUMNS:
        raise DoesNotFit(_("The list of stages"))
    stages(sheet, ticks, MARGIN, MARGIN + 22, width, room)
