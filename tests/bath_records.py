"""Loads and loggers' files for the tests of a bath's record."""

from __future__ import annotations

import io
from datetime import date, datetime, timedelta
from math import exp
from typing import Any
from zoneinfo import ZoneInfo

from openpyxl import Workbook

from cases.domain.cure.program import LONG, SHORT, as_json
from cases.models import Bath, Case, CureProgram, Load, LoadFlask, ProbeCheck, Resin
from cases.services.bath_raw import take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.numbering import next_in
from cases.services.record import Recorder
from tests.factories import NOW, Shop, rows

WALL = ZoneInfo("Europe/Vienna")
BEGAN = datetime(2026, 12, 8, 22, 30, tzinfo=WALL)
"""When the load of these tests went into the bath: the evening before ``factories.NOW``."""
MINUTES = range(0, 520, 5)


def make_load(
    shop: Shop,
    *,
    short: bool = False,
    resumable: bool = True,
    state: str = "over",
    number: int = 7,
    bath: str = "Bath 1",
) -> Load:
    """Return a load that went in at BEGAN; its bath has one checked probe, right to the degree."""
    program = SHORT if short else LONG

    def make(record: Recorder) -> dict[str, Any]:
        resin = record.create(Resin, name=f"Test resin {number}", resumable=resumable)
        kept = record.create(
            CureProgram, resin=resin, name=program.name, version=1, document=as_json(program),
            saved_at=BEGAN,
        )  # fmt: skip
        where = Bath.objects.filter(name=bath).first() or record.create(Bath, name=bath, capacity=4)
        record.create(
            ProbeCheck, bath=where, probe="A", checked_on=date(2026, 11, 2), reads_high_k=0.0,
            against="reference thermometer", by=shop.people["pavo"], at=NOW,
        )  # fmt: skip
        minutes = program.bath_minutes
        gone = {"placed_at": BEGAN, "placed_by": shop.people["mara"], "starts_at": BEGAN,
                "ends_at": BEGAN + timedelta(minutes=minutes)}  # fmt: skip
        load = record.create(
            Load, number=number, bath=where, program=kept, state=state, made_at=BEGAN,
            made_by=shop.people["mara"], **({} if state == "gathering" else gone),
        )  # fmt: skip
        return {"load": load}

    made: Load = rows(make)["load"]
    return made


def celsius(minute: float, top: float = 74.0) -> float:
    """Return the bath of a perfect long cycle."""
    return round(min(top, 23 + 1.7 * minute), 1)


def stamp(pattern: str, minute: int, began: datetime = BEGAN) -> str:
    """Write the instant so many minutes after the beginning."""
    at = began + timedelta(minutes=minute)
    bare = at.replace(tzinfo=None)
    return pattern.format(
        at=at, e=minute, s=minute * 60, hh=minute // 60, mm=minute % 60, u=int(at.timestamp()),
        x=(bare - datetime(1899, 12, 30)) / timedelta(days=1),  # noqa: DTZ001 - a sheet has no zone
        p="AM" if at.hour < 12 else "PM", h=(at.hour - 1) % 12 + 1,
    )  # fmt: skip


def table(
    header: str, time: str, cell: str, *, comma: bool = False, began: datetime = BEGAN
) -> bytes:
    """Return a CSV of the perfect long cycle in a layout."""
    written = [header]
    for minute in MINUTES:
        heat = celsius(minute)
        text = cell.format(c=heat, f=round(heat * 1.8 + 32, 2))
        written.append(stamp(time, minute, began) + (text.replace(".", ",") if comma else text))
    return "\n".join(written).encode()


LAYOUTS: dict[str, tuple[str, str, str, bool, str]] = {
    "iso": ("time,temperature C", "{at:%Y-%m-%dT%H:%M}:00,", "{c}", False, "iso"),
    "comma": ("Zeit;Temp (°C)", "{at:%d.%m.%Y %H:%M};", "{c}", True, "dmy"),
    "american": ("When,Bath (°F)", "{at:%m/%d/%Y} {h:02}:{at:%M} {p},", "{f}", False, "mdy"),
    "apart": ("Date\tTime\t°C", "{at:%d/%m/%Y}\t{at:%H:%M}:00\t", "{c}", False, "dmy+"),
    "words": ("at;T [C]", "{at:%d} Dec 2026 {at:%H:%M};", "{c}", False, "dmy"),
    "seconds": ("Elapsed s,Probe (C)", "{s},", "{c}", False, "s"),
    "unix": ("stamp,Probe (C)", "{u},", "{c}", False, "unix"),
    "sheet": ("stamp;Probe (C)", "{x:.6f};", "{c}", True, "sheet"),
    "slashes": ("at|deg C|rh %", "{at:%Y/%m/%d %H:%M}|", "{c}|40", False, "ymd"),
    "clock": ("time,T (C)", "{at:%H:%M}:00,", "{c}", False, "clock"),
    "parted": ("Date,Time,T (C)", "{at:%b} {at.day}, {at:%Y},{at:%H:%M},", "{c}", False, "mdy+"),
}
"""Header, time, cell, decimal comma, and the form that a person confirms."""


def iso_csv(began: datetime = BEGAN) -> bytes:
    """Return the perfect long cycle in the plainest layout."""
    header, time, cell, comma, _form = LAYOUTS["iso"]
    return table(header, time, cell, comma=comma, began=began)


def points_csv(points: list[tuple[int, float]]) -> bytes:
    """Return minutes and °C as a file."""
    lines = ["time,temperature C"]
    lines += [f"{stamp('{at:%Y-%m-%dT%H:%M}:00', minute)},{heat}" for minute, heat in points]
    return "\n".join(lines).encode()


CUT = [(m, celsius(m)) for m in range(0, 180, 2)] + [
    (m, round(23 + 51 * exp(-(m - 180) / 150), 2)) for m in range(180, 300, 2)
]
"""The long cycle, its power cut after three hours and not back yet."""


def workbook(*, apart: bool = False, rows_above: int = 0) -> bytes:
    """Return the perfect long cycle as a workbook, with real dates in it."""
    book = Workbook()
    notes = book.active
    assert notes is not None
    notes.title = "Notes"
    notes.append(["Logger 7", "battery", "3 V"])
    sheet = book.create_sheet("Readings")
    for _n in range(rows_above):
        sheet.append(["exported"])
    sheet.append(["Day", "Time", "Bath (°C)"] if apart else ["At", "Bath (°C)"])
    for minute in MINUTES:
        at = (BEGAN + timedelta(minutes=minute)).replace(tzinfo=None)
        sheet.append([at.date(), at.time(), celsius(minute)] if apart else [at, celsius(minute)])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def typed(minutes: range = MINUTES) -> str:
    """Return the perfect long cycle as somebody writes it down."""
    return "\n".join(stamp("{at:%H:%M} ", m) + str(celsius(m)) for m in minutes)


def of_a_record(shop: Shop, case: Case, now: datetime = NOW) -> dict[str, Any]:
    """Make a load of one case, with a record that nobody decided on and a file nobody has read."""
    load = make_load(shop, number=next_in("load"))
    cure = case.stages.get(key="cure")
    rows(lambda record: {
        "flask": record.create(
            LoadFlask, load=load, case=case, stage=cure, attempt=cure.attempt, flask="9",
            thickest_mm=4.0, added_at=BEGAN,
            left_at=BEGAN + timedelta(minutes=LONG.bath_minutes),
        )
    })  # fmt: skip
    header, time, cell, comma, _form = LAYOUTS["seconds"]
    unread = take_in_file(io.BytesIO(table(header, time, cell, comma=comma)))
    kept = keep_bath_record(
        shop.envelope("mara", now=now),
        load=load.number,
        sha256=take_in_file(io.BytesIO(points_csv(CUT))),
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
        probe_at="bath",
        probe="A",
        file_name="bath 1, night of the eighth.csv",
    )
    return {"record load": load.number, "record": kept.result["record"], "raw hash": unread}
