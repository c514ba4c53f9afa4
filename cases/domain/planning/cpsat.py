"""Plans by constraints: OR-Tools' CP-SAT on a whole small lab, or on a part of a plan.

The plan at hand is the hint of every variable, and the one that is kept when nothing better is
found. The solver is imported here and nowhere else; where that fails, `available` is false and
the planner goes on without it.

`cp_model_probing_level = 0`: probing used up most of a short budget and reported nothing
despite a complete feasible hint (or-tools issue 3750). A limit of time is not repeatable (issue
4195): with ``effort`` the solver counts its own work instead, with one worker.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from threading import Event, Thread
from typing import Any

from cases.domain.planning.cpmodel import Impossible, Model
from cases.domain.planning.dispatch import Stop, Tried
from cases.domain.planning.rules import Rule
from cases.domain.planning.score import to_plan, worth
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify

LOOK_EVERY = 0.05
"""Seconds between two looks at the budget while the solver works."""
ROOM = 24 * 60
"""Minutes after the end of the plan at hand that a freed case may still use."""


@cache
def _solver() -> Any:
    try:
        return import_module("ortools.sat.python.cp_model")
    except ImportError:
        return None


def available() -> bool:
    """Return whether the solver can be imported."""
    return _solver() is not None


@dataclass(frozen=True)
class Effort:
    """How much the solver may do: ``work`` in its own repeatable measure, ``workers`` at once.

    With more than one worker, or without ``work``, two runs may differ.
    """

    work: float | None = None
    workers: int = 1
    number: int = 0


@dataclass(frozen=True)
class Solved:
    """What came out: the best plan, and what is known about better ones.

    ``finished`` says that no plan is less late with what was freed, batches as they were.
    ``bound`` is a value that the weighted lateness of no plan at all is below; None where
    something stood fast, or batches and the end of the time looked at could hide a better one.
    ``refused`` counts solutions that the independent check found fault with: there should be none.
    """

    best: Tried
    finished: bool
    bound: float | None
    refused: int = 0


def _watched(solver: Any, model: Any, callback: Any, stop: Stop) -> Any:
    """Solve, and end when the budget does."""
    done = Event()

    def watch() -> None:
        while not done.wait(LOOK_EVERY):
            if stop():
                solver.stop_search()

    watcher = Thread(target=watch, daemon=True)
    watcher.start()
    try:
        return solver.solve(model, callback)
    finally:
        done.set()
        watcher.join()


class _Run:
    """One freed part of one plan."""

    def __init__(
        self, shop: Shop, start: Tried, stop: Stop, effort: Effort, found: Callable[[Tried], None]
    ) -> None:
        self.cp, self.shop, self.stop, self.effort = _solver(), shop, stop, effort
        self.best, self.found = start, found
        self.refused = 0

    def take(self, made: Model, value: Callable[[Any], int]) -> None:
        """Keep a solution, if it is better and the independent check finds no fault."""
        floor = made.read(value)
        worth_of = worth(self.shop, floor)
        if worth_of >= self.best.worth:
            return
        if verify(self.shop.asked, to_plan(self.shop, floor)):
            self.refused += 1
            return
        rule = Rule("constraints", self.best.rule.key, patience=self.best.rule.patience)
        self.best = Tried(rule, floor, worth_of)
        self.found(self.best)

    def solve(self, made: Model) -> tuple[Any, Any]:
        """Solve what is asked now; return the solver and its status."""
        cp, run = self.cp, self
        solver = cp.CpSolver()
        own = solver.parameters
        own.cp_model_probing_level = 0
        own.num_workers = self.effort.workers
        own.random_seed = self.effort.number % (1 << 31)
        if self.effort.work is not None:
            own.max_deterministic_time = self.effort.work

        class Keep(cp.CpSolverSolutionCallback):  # type: ignore[misc,name-defined]
            def on_solution_callback(self) -> None:
                run.take(made, self.value)

        return solver, _watched(solver, made.model, Keep(), self.stop)


def solve(
    shop: Shop,
    start: Tried,
    freed: set[int],
    *,
    stop: Stop,
    effort: Effort,
    found: Callable[[Tried], None] = lambda _better: None,
    lateness_only: bool = False,
) -> Solved:
    """Free some stages of a plan and look for a better one; lateness first, then moves and flow.

    ``found`` is told each better plan as it comes. What comes back is never worse than ``start``.

    Raises
    ------
    RuntimeError
        When the solver is not there; ask ``available`` before.
    """
    if not available():
        raise RuntimeError("OR-Tools cannot be imported.")
    run = _Run(shop, start, stop, effort, found)
    ends = [start.floor.end[at] for at in freed]
    nothing = Solved(start, False, None)
    if not ends:
        return nothing
    try:
        made = Model(run.cp, shop, start.floor, freed, max(ends) + ROOM)
    except Impossible:
        return nothing
    if not made.freed or stop():
        return nothing
    for var, value in made.hints:
        made.model.add_hint(var, value)
    made.model.minimize(made.late)
    solver, status = run.solve(made)
    finished = status == run.cp.OPTIMAL
    bound = solver.best_objective_bound / made.scale if _is_whole(shop, start, made) else None
    if finished and not (lateness_only or stop()):
        made.model.add(made.late <= round(solver.objective_value))
        made.model.clear_hints()
        for var, _ in made.hints:
            made.model.add_hint(var, solver.value(var))
        made.model.minimize(made.moved * made.flow_most + made.flow)
        run.solve(made)
    return Solved(run.best, finished, bound, run.refused)


def _is_whole(shop: Shop, start: Tried, made: Model) -> bool:
    """Return whether every plan that could be less late is among those looked at."""
    if len(made.freed) < len(shop.stages) or any(stage.batch for stage in shop.stages):
        return False
    cases = shop.problem.cases
    late = start.worth[1]
    last = max(max(one.due, one.release) + late / one.weight for one in cases if one.weight > 0)
    return start.worth[0] == 0 and last <= made.until and all(one.weight > 0 for one in cases)
