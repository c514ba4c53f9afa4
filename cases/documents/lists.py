"""Lists on paper: the van's round of a day, and the day's print for a dead network."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.documents.arch import arch_height_mm, draw_arch
from cases.documents.facts import House
from cases.documents.sheet import SOFT, Block, Flow, Sheet, make_pdf, numbered, page_paper
from cases.documents.type import font_name, running
from cases.domain.archform import ArchInput

ROW_ARCH_MM: Final = 12.0


@dataclass(frozen=True)
class Stop:
    """One practice on the van's round."""

    practice: str
    address: str
    phone: str
    boxes: tuple[str, ...]
    """One text a box, "D26-0012 (2 pieces)"."""
    pick_ups: tuple[str, ...]


@dataclass(frozen=True)
class Round:
    """The stops of one route on one day."""

    route: str
    stops: tuple[Stop, ...]


@dataclass(frozen=True)
class DayRow:
    """An open case on the day's print."""

    number: str
    arch: ArchInput
    practice: str
    patient_ref: str
    stage: str
    who: str
    leaves: str
    marks: str


def _flow(house: House, title: str, under: str, foot: str) -> Flow:
    paper = page_paper(house.paper)

    def head(sheet: Sheet) -> None:
        sheet.put(title, flow.margin_mm, flow.margin_mm, width=flow.width_mm, size=18, floor=11,
                  height=10, weight="bold")  # fmt: skip
        sheet.put(under, flow.margin_mm, flow.margin_mm + 8.5, width=flow.width_mm, size=9.5,
                  floor=7, height=8, grey=SOFT)  # fmt: skip
        sheet.rule(flow.margin_mm, flow.margin_mm + 14.5, flow.width_mm, line=0.4)

    flow = Flow(paper, head, 17.0, foot, margin_mm=13.0)
    return flow


def van_list_pdf(day: date, rounds: tuple[Round, ...], house: House, *, now: datetime) -> bytes:
    """Draw the round of a day: where to stop, what to hand over, what to fetch.

    No patient's reference stands on it: it travels in the van.
    """
    stops = sum(len(one.stops) for one in rounds)
    under = ngettext("%(n)d stop.", "%(n)d stops.", stops) % {"n": stops}
    foot = _("%(lab)s, printed %(when)s") % {"lab": house.name, "when": house.instant(now)}
    flow = _flow(house, _("Van, %(day)s") % {"day": house.day(day)}, under, foot)
    if not stops:
        flow.paragraph(_("Nothing goes out and nothing is to be fetched."), size=12)
    for one in rounds:
        flow.heading(one.route or _("Without a route"), size=13)
        for stop in one.stops:
            flow.add(_stop_block(flow, stop))
        flow.space(4)
    return make_pdf(flow.paper, _("Van list"), numbered([flow]))


def _stop_block(flow: Flow, stop: Stop) -> Block:
    left_width = flow.width_mm * 0.42
    right_width = flow.width_mm - left_width - 6
    address = ", ".join(line.strip() for line in stop.address.splitlines() if line.strip())
    place = [running(stop.practice, left_width, 12, "bold")]
    place += [running(text, left_width, 9.5) for text in (address, stop.phone) if text]
    said = [_("Hand over %(box)s") % {"box": box} for box in stop.boxes]
    said += [_("Fetch: %(what)s") % {"what": what} for what in stop.pick_ups]
    tasks = [running(words, right_width - 6, 10.5) for words in said]
    height = max(
        sum(lines.height_mm + 0.4 for lines in place),
        sum(lines.height_mm + 1.6 for lines in tasks),
    )

    def draw(sheet: Sheet, x: float, y: float) -> None:
        at = y + 2
        for lines in place:
            at = sheet.text(lines, x, at) + 0.4
        at = y + 2
        for lines in tasks:
            sheet.tick_box(x + left_width + 6, at + 0.5, 3.6)
            at = sheet.text(lines, x + left_width + 12, at) + 1.6
        sheet.rule(x, y + height + 4, flow.width_mm)

    return Block(height + 5, draw)


COLUMNS: Final = (0.095, 0.255, 0.37, 0.28)
"""Shares of the width: arch, case, stage and who, when it leaves."""


def day_print_pdf(rows: tuple[DayRow, ...], house: House, *, now: datetime) -> bytes:
    """Draw every open case with where it stands, for the hours without a network."""
    count = len(rows)
    under = _("As it stood %(when)s. Note by hand what is done, and enter it when the network is "
              "back.") % {"when": house.instant(now)}  # fmt: skip
    title = ngettext("One open case", "%(n)d open cases", count) % {"n": count}
    foot = _("%(lab)s, stays in the lab: patient references") % {"lab": house.name}
    flow = _flow(house, title if count else _("No open cases"), under, foot)
    for row in rows:
        flow.add(_day_block(flow, row))
    return make_pdf(flow.paper, _("Open cases"), numbered([flow]))


def _day_block(flow: Flow, row: DayRow) -> Block:
    widths = [flow.width_mm * share for share in COLUMNS]
    gap = 3.0
    columns = (
        (running(row.number, widths[1] - gap, 11.5, "bold"),
         running(f"{row.practice}, {row.patient_ref}", widths[1] - gap, 8.5)),
        (running(row.stage, widths[2] - gap, 9.5, "semi"),
         running(row.who, widths[2] - gap, 8.5)),
        (running(row.leaves, widths[3] - 8, 9.5),
         *([running(row.marks, widths[3] - 8, 8.5, "semi")] if row.marks else [])),
    )  # fmt: skip
    tall = arch_height_mm(row.arch, width_mm=ROW_ARCH_MM, detailed=False)
    height = max(tall, *(sum(lines.height_mm + 0.3 for lines in column) for column in columns))

    def draw(sheet: Sheet, x: float, y: float) -> None:
        top = y + 1.4
        draw_arch(sheet.canvas, row.arch, left_mm=x, width_mm=ROW_ARCH_MM, detailed=False,
                  bottom_mm=flow.paper.height_mm - top - tall, font_name=font_name())  # fmt: skip
        left = x + widths[0]
        for column, width in zip(columns, widths[1:], strict=True):
            at = top
            for lines in column:
                at = sheet.text(lines, left, at) + 0.3
            left += width
        sheet.tick_box(x + flow.width_mm - 5, top + 0.4, 4.2)
        sheet.rule(x, y + height + 2.6, flow.width_mm)

    return Block(height + 2.8, draw)
