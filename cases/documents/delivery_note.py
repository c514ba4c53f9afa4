"""The delivery note of a box, with one chairside sheet for each piece in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from cases.documents.arch import arch_height_mm, draw_arch
from cases.documents.facts import CaseFacts, House
from cases.documents.sheet import SOFT, Block, Flow, Paper, Sheet, make_pdf, numbered, page_paper
from cases.documents.type import Fitted, Weight, fit_lines, font_name, running
from cases.domain.chairside import DEFER, Part

HEAD_MM: Final = 30.0
ARCH_MM: Final = 24.0
CHAIR_ARCH_MM: Final = 58.0
PACKED: Final = gettext_noop(
    "Bagged damp: keep it moist until it is fitted, and rinse it before it is tried in."
)
"""Common practice, no published source."""


@dataclass(frozen=True)
class Piece:
    """A case in a box.

    ``soak``: how long it lay in water, where that was shortened; ``alone``: what is said about
    its pair when that is not in the box; ``returns``: what comes back with it.
    """

    facts: CaseFacts
    soak: str = ""
    alone: str = ""
    returns: tuple[str, ...] = ()


@dataclass(frozen=True)
class Box:
    """What a delivery note tells."""

    number: str
    practice: str
    address: str
    ships: str
    packed_at: datetime
    carrier: str
    pieces: tuple[Piece, ...]


def delivery_note_pdf(box: Box, house: House) -> bytes:
    """Draw the note and the chairside sheets.

    Raises
    ------
    CannotPrint, DoesNotFit
        For a character that no font has, or a text too long for its place.
    """
    paper = page_paper(house.paper)
    flows = [_note(box, house, paper)]
    flows += [_chairside(piece, box, house, paper) for piece in box.pieces]
    title = _("Delivery note %(number)s") % {"number": box.number}
    return make_pdf(paper, title, numbered(flows))


def _foot(box: Box, house: House) -> str:
    return _("%(lab)s, delivery note %(number)s, packed %(when)s") % {
        "lab": house.name,
        "number": box.number,
        "when": house.instant(box.packed_at),
    }


def _note(box: Box, house: House, paper: Paper) -> Flow:
    def head(sheet: Sheet) -> None:
        _letterhead(sheet, house, flow)
        y = flow.margin_mm + 16
        sheet.put(_("Delivery note %(number)s") % {"number": box.number}, flow.margin_mm, y,
                  width=flow.width_mm, size=20, floor=14, height=12, weight="bold")  # fmt: skip

    flow = Flow(paper, head, HEAD_MM, _foot(box, house))
    _to_whom(flow, box)
    count = len(box.pieces)
    flow.heading(
        ngettext("One piece in this box", "%(n)d pieces in this box", count) % {"n": count}
    )
    for piece in box.pieces:
        flow.add(_piece_block(flow, piece, house))
    flow.space(3)
    flow.paragraph(_(PACKED), size=10)
    flow.paragraph(
        _("A chairside sheet for each piece follows: read it before anything is ground."),
        size=10,
        weight="semi",
    )
    flow.space(8)
    flow.add(_signature(flow))
    return flow


def _letterhead(sheet: Sheet, house: House, flow: Flow) -> None:
    half = flow.width_mm * 0.5
    sheet.put(house.name, flow.margin_mm, flow.margin_mm, width=half, size=13, floor=8.5,
              height=12, weight="bold")  # fmt: skip
    address = ", ".join(line.strip() for line in house.address.splitlines() if line.strip())
    if address:
        lines = fit_lines(address, width_mm=half - 4, height_mm=11, size=9, floor=6.5)
        right = flow.margin_mm + flow.width_mm
        sheet.text(lines, right, flow.margin_mm + 0.8, grey=SOFT, right=True)
    sheet.rule(flow.margin_mm, flow.margin_mm + 12.5, flow.width_mm, line=0.4)


def _to_whom(flow: Flow, box: Box) -> None:
    flow.paragraph(box.practice, size=13, weight="bold")
    for line in box.address.splitlines():
        if line.strip():
            flow.paragraph(line, size=10.5, gap=0.2)
    flow.space(2)
    flow.paragraph(_("Leaves the lab on %(day)s.") % {"day": box.ships}, size=10.5)
    if box.carrier:
        flow.paragraph(_("Carrier's reference: %(ref)s.") % {"ref": box.carrier}, size=10.5)
    flow.space(4)


def _piece_words(facts: CaseFacts) -> list[str]:
    """Say what the piece is, what it replaces, and the version of the design it is made to."""
    said = [f"{facts.piece}.", _("Replaces %(teeth)s.") % {"teeth": facts.teeth}]
    return said + ([_design(facts)] if facts.design else [])


def _design(facts: CaseFacts) -> str:
    return _("Made to the design, %(version)s.") % {"version": facts.design}


def _piece_lines(piece: Piece) -> list[tuple[Weight, str]]:
    """Return what the note says of a piece, as (weight, sentence)."""
    facts = piece.facts
    lines: list[tuple[Weight, str]] = [
        ("semi", _("Patient reference %(ref)s") % {"ref": facts.patient_ref}),
        ("regular", " ".join(_piece_words(facts))),
        (
            "regular",
            _("Made for this one patient to the order of %(dentist)s, received %(day)s.")
            % {"dentist": facts.dentist, "day": facts.received},
        ),
    ]
    if facts.materials:
        lines.append(("regular", _("Ordered in: %(what)s.") % {"what": facts.materials}))
    back = ", ".join(piece.returns)
    lines.append(
        ("regular", _("Comes back with it: %(things)s.") % {"things": back} if back else "")
    )
    accepted = [_("Accepted as it is: %(what)s") % {"what": text} for text in facts.concessions]
    lines += [("semi", text) for text in (piece.alone, piece.soak, *accepted)]
    return [(weight, text) for weight, text in lines if text]


def _piece_block(flow: Flow, piece: Piece, house: House) -> Block:
    facts, left = piece.facts, ARCH_MM + 5
    width = flow.width_mm - left
    number = running(facts.number, width, 13, "bold")
    lines = [running(text, width, 10, weight) for weight, text in _piece_lines(piece)]
    tall = arch_height_mm(facts.arch, width_mm=ARCH_MM, detailed=False)
    text_mm = number.height_mm + 0.6 + sum(line.height_mm + 0.5 for line in lines)
    height = max(tall, text_mm) + 6.0

    def draw(sheet: Sheet, x: float, y: float) -> None:
        sheet.rule(x, y + 1, flow.width_mm, line=0.25)
        top = y + 3.5
        draw_arch(sheet.canvas, facts.arch, left_mm=x, width_mm=ARCH_MM, detailed=False,
                  bottom_mm=flow.paper.height_mm - top - tall, font_name=font_name())  # fmt: skip
        at = sheet.text(number, x + left, top) + 0.6
        for line in lines:
            at = sheet.text(line, x + left, at) + 0.5

    return Block(height, draw)


def _signature(flow: Flow) -> Block:
    def draw(sheet: Sheet, x: float, y: float) -> None:
        third = (flow.width_mm - 10) / 2
        for place, words in enumerate((_("Handed over, lab"), _("Received, practice"))):
            left = x + place * (third + 10)
            sheet.rule(left, y + 9, third, line=0.3)
            sheet.put(words, left, y + 10, width=third, size=8.5, grey=SOFT)

    return Block(16, draw)


def _chairside(piece: Piece, box: Box, house: House, paper: Paper) -> Flow:
    """Lay out the chairside sheet of one piece; it begins on a page of its own."""
    facts = piece.facts

    def head(sheet: Sheet) -> None:
        left, width = flow.margin_mm, flow.width_mm
        sheet.put(_("Chairside sheet"), left, flow.margin_mm, width=width - 60, size=20,
                  height=12, weight="bold")  # fmt: skip
        sheet.put(facts.number, left + width, flow.margin_mm, width=58, size=20, floor=12,
                  height=12, weight="bold", right=True)  # fmt: skip
        told = f"{facts.dentist}, {facts.practice}. {facts.piece}."
        if facts.design:
            told = f"{told} {_design(facts)}"
        sheet.put(told, left, flow.margin_mm + 9.5, width=width - 62, size=10, floor=7.5,
                  height=9)  # fmt: skip
        ref = _("Patient reference %(ref)s") % {"ref": facts.patient_ref}
        sheet.put(ref, left + width, flow.margin_mm + 9.5, width=60, size=10, floor=7,
                  right=True, weight="semi")  # fmt: skip
        sheet.rule(left, flow.margin_mm + 18.5, width, line=0.4)

    flow = Flow(paper, head, 22.0, _foot(box, house))
    first = [part for part in facts.chairside if part.key in {"block-out", "left"}]
    flow.add(_arch_beside(flow, facts, house, first))
    for part in facts.chairside:
        if part in first:
            continue
        if part.key == "keep":
            flow.add(_framed(flow, part))
        else:
            _part(flow, part)
    _told(flow, piece)
    flow.space(2)
    flow.paragraph(_(DEFER), size=9, grey=SOFT)
    return flow


def _told(flow: Flow, piece: Piece) -> None:
    lines = [piece.soak, *piece.facts.concessions]
    if any(lines):
        flow.heading(_("What you should know of this piece"), size=12.5)
        for line in lines:
            if line:
                flow.paragraph(line, indent=4, dot=True, size=10)
        flow.space(2.5)


def _part(flow: Flow, part: Part) -> None:
    flow.heading(_(part.title), size=12.5)
    for line in part.lines:
        flow.paragraph(_(line), indent=4, dot=True, size=10)
    flow.space(2.5)


def _arch_beside(flow: Flow, facts: CaseFacts, house: House, parts: list[Part]) -> Block:
    """Set the arch with what was blocked out and what was left beside it."""
    left = CHAIR_ARCH_MM + 6
    width = flow.width_mm - left
    told: list[Fitted] = []
    for part in parts:
        told.append(running(_(part.title), width, 12.5, "bold"))
        told += [running(_(line), width, 10) for line in part.lines]
    tall = arch_height_mm(facts.arch, width_mm=CHAIR_ARCH_MM, notation=house.notation)
    text_mm = sum(lines.height_mm + (2.4 if lines.weight == "bold" else 0.9) for lines in told)

    def draw(sheet: Sheet, x: float, y: float) -> None:
        draw_arch(sheet.canvas, facts.arch, left_mm=x, width_mm=CHAIR_ARCH_MM,
                  bottom_mm=flow.paper.height_mm - y - tall, notation=house.notation,
                  font_name=font_name("semi"))  # fmt: skip
        at = y
        for place, lines in enumerate(told):
            if lines.weight == "bold":
                at += 1.6 if place else 0
            at = sheet.text(lines, x + left, at) + (0.8 if lines.weight == "bold" else 0.9)

    return Block(max(tall, text_mm) + 4, draw)


def _framed(flow: Flow, part: Part) -> Block:
    """Set the part that must not be overlooked in a heavy frame."""
    pad = 4.0
    width = flow.width_mm - 2 * pad - 4
    title = running(_(part.title), width, 13, "bold")
    told = [running(_(line), width, 10.5) for line in part.lines]
    inner = title.height_mm + 1 + sum(lines.height_mm + 1 for lines in told)

    def draw(sheet: Sheet, x: float, y: float) -> None:
        sheet.box(x, y, flow.width_mm, inner + 2 * pad - 1, line=0.8, radius=1.5)
        at = sheet.text(title, x + pad, y + pad) + 1
        for lines in told:
            sheet.box(x + pad, at + 1.2, 1.9, 1.9, line=0, fill=0.0, radius=0)
            at = sheet.text(lines, x + pad + 4, at) + 1

    return Block(inner + 2 * pad + 4, draw)
