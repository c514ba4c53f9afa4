"""Measure the planner: a job shop from a file, or the invented lab. Prints one line of JSON.

``python -m cases.domain.planning.benchmark FILE.json --seconds 30`` or
``python -m cases.domain.planning.benchmark --lab 50 4 --seed 1 --seconds 5``.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from argparse import ArgumentParser
from collections.abc import Sequence
from math import ceil
from pathlib import Path
from typing import Any

from cases.domain.planning.alone import least_lateness
from cases.domain.planning.compiled import engine
from cases.domain.planning.dispatch import Stop, best_of, play, try_rules
from cases.domain.planning.improve import search
from cases.domain.planning.jobshop import bound, from_file, result
from cases.domain.planning.lab import invent
from cases.domain.planning.rules import plain, portfolio
from cases.domain.planning.score import Worth, to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify
from cases.domain.words import gettext as _


def until(instant: float) -> Stop:
    """Return a budget that ends at an instant of the monotonic clock."""
    return lambda: time.monotonic() >= instant


def job_shop(shape: dict[str, Any], seconds: float, workers: int = 2) -> dict[str, Any]:
    """Solve a job shop within some seconds."""
    began = time.monotonic()
    problem, objective = from_file(shape)
    shop = Shop(problem)
    stop = until(began + seconds)
    known = [bound(shape, objective)]
    best = search(
        shop,
        try_rules(shop),
        stop=stop,
        enough=lambda worth: worth[0] == 0 and worth[1] <= known[0],
        workers=workers,
        bound=lambda value: known.append(ceil(value - 1e-6)),
    )
    plan = to_plan(shop, best.floor)
    broken = verify(problem, plan)
    if broken:
        raise SystemExit(f"The plan breaks a rule and is not shown: {broken[0]}")
    return {
        objective: result(plan, objective),
        "bound": max(known),
        "seconds": round(time.monotonic() - began, 2),
    }


def lab(
    cases: int,
    technicians: int,
    number: int,
    seconds: Sequence[float],
    *,
    loose: bool,
    workers: int = 2,
) -> dict[str, Any]:
    """Plan the invented lab once, and tell what the best plan was worth after some seconds."""
    problem = invent(cases, technicians, number, loose=loose)
    shop = Shop(problem)
    due_date, weighted = (play(shop, rule) for rule in plain(shop))
    began = time.monotonic()
    shop = Shop(problem)
    play(shop, portfolio(shop)[0])
    one_rule = time.monotonic() - began
    began = time.monotonic()
    shop = Shop(problem)
    stop = until(began + max(seconds))
    better: list[tuple[float, Worth]] = []
    # What it is compared with is among the rules too, should the budget end before their turn.
    tried = [*try_rules(shop, stop), due_date, weighted]
    first = best_of(tried)
    at_once = time.monotonic() - began
    better.append((at_once, first.worth))
    best = search(
        shop, tried, stop=stop, number=number, workers=workers,
        progress=lambda worth: better.append((time.monotonic() - began, worth)),
    )  # fmt: skip
    after = [
        min((worth for at, worth in better if at <= one), default=first.worth)[1]
        for one in sorted(seconds)[:-1]
    ]
    plan = to_plan(shop, best.floor)
    broken = verify(problem, plan)
    kilobytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {
        "cases": cases,
        "technicians": technicians,
        "seed": number,
        "seconds": sorted(seconds),
        "due_date_rule": round(due_date.worth[1] / 60, 1),
        "weighted_due_date_rule": round(weighted.worth[1] / 60, 1),
        "dispatcher": round(first.worth[1] / 60, 1),
        "plan": [round(late / 60, 1) for late in (*after, best.worth[1])],
        "bound": round(least_lateness(shop) / 60, 1),
        "violations": len(broken),
        "peak_memory_mb": round(kilobytes / 1024, 1),
        "stages": len(problem.stages),
        "unplanned": len(plan.unplanned),
        "one_rule_seconds": round(one_rule, 3),
        "dispatcher_seconds": round(at_once, 3),
    }


def main(arguments: list[str] | None = None) -> int:
    """Read the command line, and print one line."""
    parser = ArgumentParser(prog="benchmark", description=__doc__)
    parser.add_argument("file", nargs="?", type=Path, help="a job shop as JSON")
    parser.add_argument("--lab", nargs=2, type=int, metavar=("CASES", "TECHNICIANS"))
    parser.add_argument("--seed", type=int, default=0, help="the number of the invented lab")
    parser.add_argument(
        "--seconds", type=float, nargs="+", default=[5.0],
        help="the budget of time; of several of a lab, what the plan is worth after each",
    )  # fmt: skip
    parser.add_argument("--loose", action="store_true", help="a lab with time to spare")
    asked = parser.parse_args(arguments)
    engine.wait()
    if (asked.file is None) == (asked.lab is None):
        parser.error(_("Give either a file or --lab CASES TECHNICIANS."))
    if asked.lab is not None:
        cases, technicians = asked.lab
        found = lab(cases, technicians, asked.seed, asked.seconds, loose=asked.loose)
    else:
        try:
            shape = json.loads(asked.file.read_text(encoding="utf-8"))
            found = job_shop(shape, max(asked.seconds))
        except (OSError, ValueError) as wrong:
            parser.error(str(wrong))
    sys.stdout.write(json.dumps(found) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
