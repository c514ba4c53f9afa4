"""Plan classic job shops with the lab's own planner, and print how near the optimum it came.

``python benchmarks/jobshops.py --seconds 30``. Instances: Fisher & Thompson 1963, Lawrence 1984,
Adams, Balas & Zawack 1988 (`jobshops.json` says where they were taken from). For tardiness, dues
are ⌊f·Σp⌋ and weights 4, 2, 1 for the first fifth, the next three and the last fifth of the jobs
(Singer & Pinedo 1998). Proves nothing about labs; a busy machine may fall short of an optimum.
"""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from cases.domain.planning.benchmark import job_shop

INSTANCES = Path(__file__).with_name("jobshops.json")
TARDINESS = (
    ("la18", 15, 34),
    ("la17", 15, 260),
    ("abz5", 15, 69),
    ("ft10", 15, 394),
    ("abz6", 13, 436),
)
"""Instance, ten times f, least total weighted tardiness: Singer & Pinedo, IIE Transactions 30
(1998) and followers, from memory; each was proved with CP-SAT when this planner was designed."""
MAKESPANS = ("ft06", "la01", "la06", "la11", "la16", "abz6", "ft20", "ft10", "abz5")


def shape_of(jobs: list[list[list[int]]], tenths: int | None) -> dict[str, Any]:
    """Return the shape of a job shop: tardiness with dues of ``tenths``/10 · Σp, or makespan."""
    if tenths is None:
        return {"objective": "makespan", "jobs": [{"operations": job} for job in jobs]}
    shaped = []
    for at, job in enumerate(jobs):
        weight = 4 if at < len(jobs) // 5 else 2 if at < len(jobs) - len(jobs) // 5 else 1
        due = tenths * sum(minutes for _, minutes in job) // 10
        shaped.append({"release": 0, "due": due, "weight": weight, "operations": job})
    return {"objective": "tardiness", "jobs": shaped}


def main() -> int:
    """Print the table, one line for each instance as it is done."""
    parser = ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", nargs="*", default=[], help="names of instances")
    asked = parser.parse_args()
    known = json.loads(INSTANCES.read_text(encoding="utf-8"))["instances"]
    rows = [(name, tenths, best) for name, tenths, best in TARDINESS]
    rows += [(name, None, known[name]["makespan"]) for name in MAKESPANS]
    say = sys.stdout.write
    say(f"{'instance':14}{'optimum':>9}{'reached':>9}{'bound':>8}{'seconds':>9}\n")
    short = 0
    for name, tenths, best in rows:
        if asked.only and name not in asked.only:
            continue
        shape = shape_of(known[name]["jobs"], tenths)
        found = job_shop(shape, asked.seconds, asked.workers)
        reached = found.get("total_weighted_tardiness", found.get("makespan"))
        what = f"{name} " + ("makespan" if tenths is None else f"f {tenths / 10}")
        say(f"{what:14}{best:9}{reached:9}{found['bound']:8}{found['seconds']:9}")
        say("\n" if reached == best else "  short\n")
        sys.stdout.flush()
        short += reached != best
    say(f"{short} short of the optimum\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
