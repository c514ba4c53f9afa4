"""Measure a turn of the planner on a full lab: read it, plan it, mend it, check and store it.

Run it by ``make bench``. Prints milliseconds of the processor, the median of some runs, on a
scratch database that is removed afterwards. Never a test: a busy machine is slow, not wrong.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.pages import say, scratch

if TYPE_CHECKING:
    from tests.factories import Shop

SIZES = ((50, 4), (150, 8), (400, 16))
"""Open cases and technicians."""
AIM_SECONDS = 2.0
"""Wished for at the largest size: from something that happened to the mended plan in force."""
RUNS = 3


def _timed(run: Callable[[], Any]) -> tuple[float, Any]:
    began = time.process_time()
    answer = run()
    return (time.process_time() - began) * 1000, answer


def _best_of(run: Callable[[], Any]) -> tuple[float, Any]:
    found = [_timed(run) for _ in range(RUNS)]
    return median(took for took, _answer in found), found[-1][1]


def full_lab(cases: int, technicians: int) -> Shop:
    """Return a lab with so many open cases in every state, and hands, flasks and baths to fit."""
    from benchmarks.fill import fill, first_cases
    from cases.models import Bath, Skill, Station, Thing
    from tests.factories import NOW, make_person, make_shop, rows

    shop = make_shop(NOW - timedelta(days=5))
    skills = list(Skill.objects.all())

    def more(record: Any) -> dict[str, Any]:
        for number in range(technicians - 3):
            make_person(record, f"hand{number}", skills=skills, is_technician=True)
        for kind in ("flask", "articulator", "clamp"):
            for number in range(100, 100 + cases // 8):
                record.create(Thing, kind=kind, label=str(number))
        record.create(Bath, name="Bath 2", capacity=6)
        for station in Station.objects.all():
            record.change(station, count=max(2, technicians // 2))
        return {}

    rows(more, NOW - timedelta(days=5))
    sources = first_cases(shop, NOW)
    fill(sources, open_cases=cases - len(sources), finished=0, now=NOW, serial=0)
    return shop


def measure(cases: int, technicians: int) -> None:
    """Print the line of one size."""
    from cases.domain.planning.verify import verify
    from cases.models import Plan
    from cases.selectors.planning.build import build
    from cases.services.hold import hold_case
    from cases.services.plan_publish import publish
    from cases.services.plan_think import think
    from cases.services.planner import mend
    from tests.factories import NOW

    shop = full_lab(cases, technicians)
    read, built = _best_of(lambda: build(NOW))
    first, made = _timed(lambda: think(NOW))
    check, broken = _best_of(lambda: verify(made.problem, made.plan))
    store, _plan = _timed(lambda: publish(made, NOW, seconds=0))
    case = shop.practice.cases.filter(state="open").latest("pk")
    hold_case(
        shop.envelope("noor", now=NOW), case=case.pk, version=case.version, reason="on-order",
        waits_for="supplier",
    )  # fmt: skip
    later = NOW + timedelta(seconds=2)
    again, mended = _best_of(lambda: think(later))
    turn, _stored = _best_of(lambda: mend(later))
    newest = Plan.objects.latest("pk")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    say(
        f"{cases:5} / {technicians:2}  {len(built.problem.stages):6}  {read:6.0f}  {first:8.0f}"
        f"  {again:6.0f}  {check:6.0f}  {store:6.0f}  {turn:8.0f}  {mended.plan.moves:5}"
        f"  {len(made.plan.unplanned):4}  {len(broken):4}  {memory:6.0f}"
    )
    if newest.how != "mend":
        say("        the last plan was not mended but made anew")
    if cases == SIZES[-1][0]:
        word = "kept" if turn / 1000 <= AIM_SECONDS else "MISSED"
        say(f"aim: mended and in force within {AIM_SECONDS:g} s at {cases} cases: {word}")


def main() -> None:
    """Measure each size in a house of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, help="only this size (with --technicians)")
    parser.add_argument("--technicians", type=int, default=16)
    asked = parser.parse_args()
    if asked.cases:
        with scratch():
            measure(asked.cases, asked.technicians)
        return
    say("Milliseconds of the processor; turn: mended, checked and stored. SQLite.")
    say(
        "cases / hands  stages    read  by rules    mend   check   store      turn"
        "  moved  none  fail      MB"
    )
    for cases, technicians in SIZES:
        size = ("--cases", str(cases), "--technicians", str(technicians))
        subprocess.run([sys.executable, __file__, *size], check=True)  # noqa: S603


if __name__ == "__main__":
    main()
