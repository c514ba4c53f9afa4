"""Plan invented labs and print how late each way of planning leaves them.

``python benchmarks/plans.py --all --seeds 5 --seconds 5 30 60`` for all sizes; a last figure of
600 shows what a long run finds. Each lab is planned once, in a process of its own, so that memory
is its own, and asked after so many seconds. The table is the median over the labs of a size,
lateness as weighted hours; ``/due`` is the share of what the plain due-date rule leaves late,
``over rule`` how many plans were later than the best rule's, ``bad`` how many rules the
independent check saw broken (none, both), ``bound`` what no plan is below (each case alone in the
lab). Proves nothing; a busy machine is slow, not wrong.
"""

from __future__ import annotations

import json
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
SIZES = ("50/4", "150/8", "400/16", "1000/30")


def run(size: str, seed: int, seconds: list[float], *, loose: bool) -> dict[str, Any]:
    """Plan one lab in a process of its own."""
    cases, technicians = size.split("/")
    command = [
        sys.executable, "-m", "cases.domain.planning.benchmark", "--lab", cases, technicians,
        "--seed", str(seed), "--seconds", *map(str, seconds), *(["--loose"] if loose else []),
    ]  # fmt: skip
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)  # noqa: S603
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def row(cells: Sequence[object]) -> str:
    """Return a line of the table."""
    return "".join(f"{cell!s:>{10 if at > 1 else 8}}" for at, cell in enumerate(cells)) + "\n"


def head(seconds: list[float]) -> str:
    """Return the names of the columns."""
    after = [f"{one:g} s" for one in seconds]
    return row(
        ("size", "lab", "bound", "due date", "weighted", "one rule", "rules s", "at once", *after,
         *(f"/due {one}" for one in after), "over rule", "MB", "bad")
    )  # fmt: skip


def line(size: str, found: list[dict[str, Any]], *, loose: bool) -> str:
    """Return the medians over the labs of a size."""

    def mid(key: str, digits: int = 1) -> float:
        return round(median(one[key] for one in found), digits)

    counts = range(len(found[0]["plan"]))
    plans = [round(median(one["plan"][at] for one in found), 1) for at in counts]
    late = [one for one in found if one["due_date_rule"]]
    shares = [
        round(median(one["plan"][at] / one["due_date_rule"] for one in late), 2) if late else "-"
        for at in counts
    ]
    above = sum(one["plan"][0] > one["dispatcher"] for one in found)
    return row(
        (size, "loose" if loose else "full", mid("bound"), mid("due_date_rule"),
         mid("weighted_due_date_rule"), mid("one_rule_seconds", 3), mid("dispatcher_seconds", 2),
         mid("dispatcher"), *plans, *shares, above, mid("peak_memory_mb"),
         sum(one["violations"] for one in found))
    )  # fmt: skip


def main() -> int:
    """Print the table as it is measured."""
    parser = ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", nargs="*", default=list(SIZES[:2]), help="cases/technicians")
    parser.add_argument("--seeds", type=int, default=2, help="labs of each size")
    parser.add_argument("--seconds", type=float, nargs="*", default=[5.0])
    parser.add_argument("--all", action="store_true", help="all sizes")
    asked = parser.parse_args()
    seconds = sorted(asked.seconds)
    sys.stdout.write(head(seconds))
    for size in SIZES if asked.all else asked.sizes:
        for loose in (False, True):
            found = [run(size, seed, seconds, loose=loose) for seed in range(1, asked.seeds + 1)]
            sys.stdout.write(line(size, found, loose=loose))
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
