"""The pan label: number, code and arch, readable from the bench. No patient reference on it."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext as _

from cases.documents.arch import arch_height_mm, draw_arch
from cases.documents.facts import CaseFacts, House
from cases.documents.sheet import Paper, Sheet, make_pdf
from cases.documents.type import font_name

LABEL: Final = Paper(62, 29)
"""A usual width of label rolls, in mm. Common practice, no published source."""
QR_MM: Final = 27.0
ARCH_MM: Final = 19.0
GAP: Final = 1.6


def label_pdf(facts: CaseFacts, house: House) -> bytes:
    """Draw the label of a case's pan.

    It says what is needed to find the pan and nothing about the patient: the number, its code,
    the practice's short code, the day it leaves, rush, the arch, and the version of the design it
    is drawn from.
    """

    def draw(sheet: Sheet) -> None:
        sheet.qr(facts.number, -0.6, 1.0, QR_MM)
        left = QR_MM - 0.6
        width = LABEL.width_mm - left - GAP
        sheet.put(facts.number, left, GAP, width=width, size=19, floor=10, height=9,
                  weight="bold")  # fmt: skip
        height = arch_height_mm(facts.arch, width_mm=ARCH_MM, detailed=False)
        bottom = max(1.2, (LABEL.height_mm - 10.0 - height) / 2)
        draw_arch(sheet.canvas, facts.arch, left_mm=LABEL.width_mm - ARCH_MM - GAP,
                  bottom_mm=bottom, width_mm=ARCH_MM, detailed=False,
                  font_name=font_name())  # fmt: skip
        text = width - ARCH_MM - 0.6
        sheet.put(facts.practice_code, left, 10.2, width=text, size=12, floor=7, height=6,
                  weight="semi")  # fmt: skip
        if facts.leaves_short:
            day = facts.leaves_short.rsplit(" ", 1)[0]
            sheet.put(day, left, 15.6, width=text, size=9, floor=6, height=8)
        if facts.design_short:
            sheet.put(facts.design_short, left, 19.6, width=text, size=6.5, floor=5, height=3)
        if facts.rush:
            sheet.tag(_("RUSH"), left, 22.6, size=8.5)

    return make_pdf(LABEL, _("Label %(number)s") % {"number": facts.number}, [draw])
