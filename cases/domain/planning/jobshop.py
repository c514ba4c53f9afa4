"""A classic job shop as a lab: a job is a case, a machine a station, an operation unattended."""

from __future__ import annotations

from typing import Any, Literal

from cases.domain.planning.problem import After, Case, Plan, Problem, Stage, Station

Objective = Literal["total_weighted_tardiness", "makespan"]
NAMES: dict[str, Objective] = {"tardiness": "total_weighted_tardiness", "makespan": "makespan"}
LAST = "the end"


def from_file(shape: dict[str, Any]) -> tuple[Problem, Objective]:
    """Return the problem of a file's shape, and what is asked for.

    Raises
    ------
    ValueError
        When the shape is not that of a job shop.
    """
    name = shape.get("objective", "tardiness")
    jobs = shape.get("jobs")
    if name not in NAMES or not isinstance(jobs, list) or not jobs:
        raise ValueError("Give “jobs”, and as objective “tardiness” or “makespan”.")
    makespan = name == "makespan"
    cases: list[Case] = []
    stages: list[Stage] = []
    machines: dict[str, None] = {}
    try:
        for at, job in enumerate(jobs):
            release = int(job.get("release", 0))
            if not makespan:
                due, weight = int(job["due"]), float(job.get("weight", 1))
                cases.append(Case(str(at), due, weight, release))
            for step, (machine, minutes) in enumerate(job["operations"]):
                machines[str(machine)] = None
                after = (After(f"{at}.{step - 1}"),) if step else ()
                stages.append(
                    Stage(
                        f"{at}.{step}", LAST if makespan else str(at), "unattended", int(minutes),
                        station=str(machine), after=after, not_before=0 if step else release,
                    )
                )  # fmt: skip
    except (KeyError, TypeError, AttributeError) as wrong:
        raise ValueError(
            "A job needs “operations” of [machine, duration], and for tardiness “due”."
        ) from wrong
    if makespan:
        # One case that is late from the beginning on: its lateness is the makespan.
        cases.append(Case(LAST, 0))
    horizon = 10 * (1 + sum(stage.minutes for stage in stages)) + max(
        (stage.not_before for stage in stages), default=0
    )
    problem = Problem(
        tuple(cases),
        tuple(stages),
        stations=tuple(Station(machine) for machine in machines),
        horizon=horizon,
    )
    return problem, NAMES[name]


def result(plan: Plan, objective: Objective) -> float:
    """Return the figure asked for."""
    if objective == "makespan":
        return max((one.end for one in plan.planned), default=0)
    return int(plan.lateness) if plan.lateness == int(plan.lateness) else plan.lateness


def bound(shape: dict[str, Any], objective: Objective) -> float:
    """Return a value that no plan is below: each job alone, for the makespan each machine too."""
    alone = [
        (job, int(job.get("release", 0)) + sum(int(minutes) for _, minutes in job["operations"]))
        for job in shape["jobs"]
    ]
    if objective == "total_weighted_tardiness":
        total = sum(
            float(job.get("weight", 1)) * max(0, end - int(job["due"])) for job, end in alone
        )
        return int(total) if total == int(total) else total
    machines: dict[str, tuple[int, int, int]] = {}
    for job, end in alone:
        before = int(job.get("release", 0))
        for machine, minutes in job["operations"]:
            head, work, tail = machines.get(str(machine), (1 << 40, 0, 1 << 40))
            machines[str(machine)] = (
                min(head, before), work + int(minutes), min(tail, end - before - int(minutes)),
            )  # fmt: skip
            before += int(minutes)
    return max(*(end for _, end in alone), *(sum(three) for three in machines.values()))
