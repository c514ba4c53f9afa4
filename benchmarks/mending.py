"""How quickly a plan is mended and a day promised, and how right the stated chances are.

Prints two tables; proves nothing. Milliseconds are of the processor, of one core, in Python:
what others do on the machine is not counted. ``python benchmarks/mending.py 50x4 400x16``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from cases.domain.planning.chance import Days, chances
from cases.domain.planning.dispatch import play
from cases.domain.planning.lab import invent
from cases.domain.planning.mend import DAY, Mended, mend, mended
from cases.domain.planning.problem import Plan, Planned, Problem
from cases.domain.planning.quote import Newcomer, quote, with_case
from cases.domain.planning.replay import replay
from cases.domain.planning.rules import portfolio
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.spread import draw, usual
from cases.domain.planning.standing import Standing
from cases.domain.planning.verify import verify
from cases.domain.planning.why import Reasons
from tests.domain.planning.courses import anew, in_order, live
from tests.domain.planning.events import arrived, away, overrun

SIZES = ("50x4", "150x8", "400x16")
SEEDS = (1, 2, 3)
REPLAYS, COURSES = 100, 10
ROUTES = 5
"""For new cases with the routes of so many others a day is asked in each lab."""
CALIBRATED = "25x3"
AtNight = Callable[[Problem, tuple[Planned, ...]], tuple[Planned, ...]]
EVENINGS = tuple(day * DAY + 600 for day in range(60))


def timed(work: Callable[[], object]) -> float:
    """Return the milliseconds of the processor that some work takes, the least of three."""
    least = float("inf")
    for _ in range(3):
        began = time.process_time()
        work()
        least = min(least, time.process_time() - began)
    return least * 1000


def first_of(planned: tuple[Planned, ...]) -> Planned:
    """Return a stage that begins at once."""
    return min(
        (one for one in planned if not one.bath and not one.together),
        key=lambda one: (one.start, one.stage),
    )


def events(problem: Problem) -> dict[str, Problem]:
    """Return what may happen, by name."""
    return {
        "nothing": problem,
        "an hour over": overrun(problem, first_of(problem.last), 60),
        "away today": away(problem, problem.persons[0].key, 0, DAY),
        "a new case": arrived(problem, "new", problem.cases[0].key, problem.cases[0].due),
    }


def moved_today(before: Problem, found: Mended) -> tuple[int, int]:
    """Return how many stages of today go to other hands, and how many of them had to."""
    attended = {stage.key for stage in before.stages if stage.kind == "attended"}
    moved = [
        one
        for one in found.changes
        if one.kind == "person" and one.stage in attended and one.was and one.was.start < DAY
    ]
    return len(moved), sum(one.away for one in moved)


@dataclass(frozen=True)
class Lab:
    """An invented lab with a plan in force."""

    problem: Problem
    shop: Shop
    plan: Plan


def lab(size: str, seed: int) -> Lab:
    """Return the lab of a size and a number, planned by the first of the rules."""
    cases, hands = (int(part) for part in size.split("x"))
    problem = invent(cases, hands, seed)
    shop = Shop(problem)
    plan = to_plan(shop, play(shop, portfolio(shop)[0]).floor)
    return Lab(replace(problem, last=plan.planned), shop, plan)


def newcomer(problem: Problem, like: int = 0) -> Newcomer:
    """Return a new case with the route of another."""
    more = arrived(problem, "new", problem.cases[like].key, 0)
    old = set(problem.held)
    return Newcomer(
        more.cases[-1],
        tuple(stage for stage in more.stages if stage.case == "new"),
        tuple(held for held in more.held if held not in old),
    )


def say(*cells: object) -> None:
    """Print a row."""
    sys.stdout.write("| " + " | ".join(str(cell) for cell in cells) + " |\n")
    sys.stdout.flush()


def mending(size: str, seed: int) -> None:
    """Print a row for each event: how long, what it does to lateness and to people."""
    one = lab(size, seed)
    for name, problem in events(one.problem).items():
        shop = Shop(problem)
        whole = timed(lambda problem=problem: mend(problem))
        pass_ = timed(lambda shop=shop, last=problem.last: mended(shop, last))
        found = mend(problem)
        fresh = play(shop, portfolio(shop)[0]).worth
        moved, forced = moved_today(one.problem, found)
        say(
            size, seed, name, round(whole), round(pass_), f"{moved} ({forced})",
            round(one.plan.lateness / 60), round(found.plan.lateness / 60), round(fresh[1] / 60),
            len(found.plan.unplanned), len(verify(problem, found.plan)),
        )  # fmt: skip


def promising(size: str, seed: int) -> None:
    """Print how long a promise, a replay, a judged plan and all reasons take."""
    one = lab(size, seed)
    new = newcomer(one.problem)
    found = quote(one.problem, one.plan, new, EVENINGS)
    standing, times = Standing(one.shop, one.plan.planned), draw(one.shop, usual, 0, 0)

    def reasons() -> None:
        asked = Reasons(one.problem, one.plan)
        for planned in one.plan.planned:
            asked.of(planned.stage)

    say(
        size, seed,
        round(timed(lambda: quote(one.problem, one.plan, new, EVENINGS))),
        found.earliest.day // DAY if found.earliest else "none",
        len(found.offers),
        round(timed(lambda: replay(standing, times=times, forward_from=0))),
        round(timed(lambda: draw(one.shop, usual, 0, 1))),
        round(timed(lambda: Days(one.shop).expected(one.plan.planned))),
        round(timed(reasons)),
    )  # fmt: skip


class Kept:
    """Promises by their stated chance, in fifths and all together, and how many were kept."""

    def __init__(self) -> None:
        self.sums = [[0, 0.0, 0] for _ in range(6)]

    def count(self, chance: float, kept: bool) -> None:
        """Count a promise."""
        for row in (self.sums[min(4, int(chance * 5))], self.sums[5]):
            row[0] += 1
            row[1] += chance
            row[2] += kept

    def say(self, *of: object) -> None:
        """Print a row for each fifth in which there was a promise, and the last for all."""
        for at, (count, chance, kept) in enumerate(self.sums):
            name = "all" if at == 5 else f"{at * 20}-{at * 20 + 20} %"
            if count:
                say(*of, name, count, f"{100 * chance / count:.1f}", f"{100 * kept / count:.1f}")


def calibration(size: str, labs: int, at_night: AtNight, courses: int) -> None:
    """Print for stated chances how many promises were kept, by a lab that does so at night."""
    found = Kept()
    for seed in range(labs):
        one = lab(size, seed)
        promised = tuple(
            replace(case, due=leaves.at // DAY * DAY + 600)
            for case, leaves in zip(one.problem.cases, one.plan.leaves, strict=True)
        )
        problem = replace(one.problem, cases=promised)
        stated = chances(problem, one.plan, replays=REPLAYS, number=1)
        for day in range(courses):
            minutes = list(draw(one.shop, usual, 77, day).minutes)
            arrived_at = live(problem, one.plan, minutes, 30, at_night)
            for case, at in zip(promised, arrived_at, strict=True):
                found.count(stated[case.key].kept, at <= case.due)
    found.say("the days of its plan", at_night.__name__)


def promised(size: str, labs: int, at_night: AtNight, courses: int) -> None:
    """Print the same of days that were named for new cases: the earliest that is safe and the two
    after it, with the chances that the desk is told of them."""
    found = Kept()
    for seed in range(labs):
        one = lab(size, seed)
        for like in range(ROUTES):
            new = newcomer(one.problem, like)
            offer = quote(one.problem, one.plan, new, EVENINGS).earliest
            if offer is None:
                continue
            problem = with_case(one.problem, new, offer.day)
            key = new.case.key
            stated = chances(problem, offer.plan, cases=[key], replays=REPLAYS, number=1)[key]
            place = [case.key for case in problem.cases].index(key)
            for day in range(courses):
                minutes = list(draw(Shop(problem), usual, 77 + like, day).minutes)
                left = live(problem, offer.plan, minutes, 30, at_night)[place]
                for van in (offer.day, offer.day + DAY, offer.day + 2 * DAY):
                    found.count(stated.by(van), left <= van)
    found.say("the days named for a new case", at_night.__name__)


def main(sizes: list[str]) -> None:
    """Print all tables for some sizes."""
    say("lab", "seed", "event", "mend ms", "without shop", "moved today (forced)",
        "late h before", "mended", "fresh", "unplanned", "violations")  # fmt: skip
    for size in sizes:
        for seed in SEEDS:
            mending(size, seed)
    say("lab", "seed", "quote ms", "day", "days asked", "a replay", "a draw", "judged over 8",
        "all reasons")  # fmt: skip
    for size in sizes:
        for seed in SEEDS:
            promising(size, seed)
    say("promised", "at night", "stated", "promises", "mean stated %", f"kept % ({CALIBRATED})")
    calibration(CALIBRATED, 10, in_order, COURSES)
    calibration(CALIBRATED, 4, anew, 3)
    promised(CALIBRATED, 10, in_order, COURSES)
    promised(CALIBRATED, 4, anew, 3)


if __name__ == "__main__":
    main(sys.argv[1:] or list(SIZES))
