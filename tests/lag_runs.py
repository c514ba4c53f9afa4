"""Runs with a probe in the bath and one in a dummy flask, for the tests of a bath's lag."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import exp
from typing import Any
from zoneinfo import ZoneInfo

WALL = ZoneInfo("Europe/Vienna")
BEGAN = datetime(2026, 12, 7, 9, 0, tzinfo=WALL)
"""Two days before ``factories.NOW``."""
CONFIRMED: dict[str, Any] = {
    "choice": {"form": "iso", "columns": [0], "column": 1, "unit": "C"},
    "flask_choice": {"form": "iso", "columns": [0], "column": 2, "unit": "C"},
    "ran_on": "2026-12-07",
}
"""How ``run_csv`` is read."""
RISE = 1.7


def bath(minute: float) -> float:
    """Return a bath that rises steadily to 74 °C and stays there."""
    return min(74.0, 23 + RISE * minute)


def flask(minute: float, lag: float) -> float:
    """Return what follows it by a lag of the first order, in closed form."""
    top = 51 / RISE
    rise = min(minute, top)
    warm = 23 + RISE * (rise - lag * (1 - exp(-rise / lag)))
    return warm if minute <= top else 74 - (74 - warm) * exp(-(minute - top) / lag)


def run_csv(lag: float, *, late: int = 0, gap: bool = False) -> bytes:
    """Return a run as one table, a row each minute; with ``gap`` some cells of each probe are
    missing, the flask's first among them."""
    lines = ["time,bath °C,flask °C"]
    for minute in range(late, 121):
        cells = [f"{bath(minute):.2f}", f"{flask(minute, lag):.2f}"]
        if gap and minute % 17 == 5:
            cells[0] = "--"
        if gap and minute % 13 == 0:
            cells[1] = ""
        at = BEGAN + timedelta(minutes=minute)
        lines.append(",".join([f"{at:%Y-%m-%dT%H:%M:%S}", *cells]))
    return "\n".join(lines).encode()


def one_csv(lag: float | None = None, *, late: int = 0) -> bytes:
    """Return the bath's, or with a lag the flask's own file, begun some minutes late."""
    lines = ["Zeit;Temp (°C)"]
    for minute in range(late, 121):
        celsius = bath(minute) if lag is None else flask(minute, lag)
        at = BEGAN + timedelta(minutes=minute)
        lines.append(f"{at:%d.%m.%Y %H:%M};{celsius:.2f}".replace(".", ",", 3).replace(",", ".", 2))
    return "\n".join(lines).encode()


def typed_run(lag: float) -> str:
    """Return a run as somebody writes it down, every five minutes."""
    return "\n".join(
        f"{BEGAN + timedelta(minutes=n):%H:%M} {bath(n):.1f} {flask(n, lag):.1f}"
        for n in range(0, 121, 5)
    )
