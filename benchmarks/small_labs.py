"""Plan small invented labs, and print how near the proven optimum and the best of a long run the
planner comes.

``python benchmarks/small_labs.py --seconds 5 60 --long 600``. The invented labs of few cases have
time to spare, and nothing to be late; so their dates come forward to a share of their distance
(``--due``, judgement). Nothing is done for two cases at once in them, for only then is what the
solver says of its own model a bound for every plan. Lateness is in weighted minutes. The long run
goes on from the best plan and stops at the proof. Proves what it says is proved and nothing else.
"""

from __future__ import annotations

import sys
import time
from argparse import ArgumentParser
from dataclasses import replace
from math import ceil
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from cases.domain.planning.alone import least_lateness
from cases.domain.planning.benchmark import until
from cases.domain.planning.compiled import engine
from cases.domain.planning.dispatch import play, try_rules
from cases.domain.planning.improve import search
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Problem
from cases.domain.planning.rules import plain
from cases.domain.planning.score import Worth, to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify

SIZES = ("3/1", "4/1", "6/2", "8/2")


def pressed(problem: Problem, due: float) -> Problem:
    """Return a lab with its dates brought forward, in which each case is worked on alone."""
    return replace(
        problem,
        cases=tuple(replace(case, due=int(case.due * due)) for case in problem.cases),
        stages=tuple(replace(stage, batch="", setup=0) for stage in problem.stages),
    )


def line(size: str, number: int, due: float, seconds: list[float], most: float) -> str:
    """Plan one lab for ``seconds``, then until the proof or for ``most``; return its line."""
    cases, technicians = map(int, size.split("/"))
    problem = pressed(invent(cases, technicians, number), due)
    shop = Shop(problem)
    rule = play(shop, plain(shop)[0])
    began = time.monotonic()
    better: list[tuple[float, Worth]] = []
    tried = try_rules(shop)
    best = search(
        shop, tried, stop=until(began + max(seconds)), number=number, workers=2,
        progress=lambda worth: better.append((time.monotonic() - began, worth)),
    )  # fmt: skip
    first = min(one.worth for one in tried)
    after = [
        round(min([first, *(worth for at, worth in better if at <= one)])[1]) for one in seconds
    ]
    known = [float(ceil(least_lateness(shop)))]
    began = time.monotonic()
    best = search(
        shop, [best], stop=until(began + most), number=number, workers=2,
        enough=lambda worth: worth[0] == 0 and worth[1] <= max(known),
        bound=lambda value: known.append(ceil(value - 1e-6)),
    )  # fmt: skip
    took = time.monotonic() - began
    broken = verify(problem, to_plan(shop, best.floor))
    late, least = round(best.worth[1]), round(max(known))
    cells = [size, number, len(problem.stages), round(rule.worth[1]), *after, late, least]
    said = "proved" if late <= least else ""
    return "".join(f"{cell:>9}" for cell in cells) + f"{took:9.0f}{len(broken):5}  {said}\n"


def main() -> int:
    """Print the table as it is measured."""
    parser = ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", nargs="*", default=list(SIZES), help="cases/technicians")
    parser.add_argument("--seeds", type=int, default=2, help="labs of each size")
    parser.add_argument("--seconds", type=float, nargs="*", default=[5.0])
    parser.add_argument("--long", type=float, default=60.0, help="seconds of the long run")
    parser.add_argument("--due", type=float, default=0.35, help="share of the days that is left")
    asked = parser.parse_args()
    engine.wait()
    seconds = sorted(asked.seconds)
    after = [f"{one:g} s" for one in seconds]
    heads = ["size", "lab", "stages", "due date", *after, "best", "bound", "long s"]
    sys.stdout.write("".join(f"{one:>9}" for one in heads) + "  bad\n")
    for size in asked.sizes:
        for number in range(1, asked.seeds + 1):
            sys.stdout.write(line(size, number, asked.due, seconds, asked.long))
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
