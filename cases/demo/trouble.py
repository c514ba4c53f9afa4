"""What goes wrong in the demo lab, how often, and what is said about it.

Rates: judgement, for the demo only; they say nothing about any laboratory.
"""

from __future__ import annotations

from cases.demo import words
from cases.demo.readings import can_fail
from cases.demo.state import House, Job
from cases.selectors.driving import CheckStand

MEND, CONCEDE, HAND_OVER = 0.055, 0.02, 0.02
BACK = {"wax-pass": 0.09, "inspect": 0.07, "wax": 0.02, "fit": 0.04, "flask-lower": 0.01}
CAST_LOST, TIME_WRONG, MISHAP, NOTE, CALL = 0.06, 0.02, 0.012, 0.015, 0.12
FORGETS = 0.2
"""How often somebody who leaves in the middle of a stage forgets to put it down."""
QUESTION = 0.2
"""How often the surveyor asks the practice something."""


def choose(house: House, jobs: list[Job], key: str) -> str:
    """Return what goes wrong with a stage that begins: nothing, mostly."""
    if len(jobs) > 1 or "pair" in jobs[0].wish.flags:
        return ""
    chance = house.rng.random()
    back = BACK.get(key, 0.0)
    if chance < back and jobs[0].stages[key].attempt == 1:
        return "back"
    chance -= back
    if chance < MEND:
        return "mend"
    chance -= MEND
    if chance < CONCEDE:
        return "concede"
    chance -= CONCEDE
    can = key in ("clasps", "teeth", "wax", "finish")
    return "hand-over" if can and chance < HAND_OVER else ""


def cast_lost(house: House, job: Job) -> bool:
    """Tell whether the cast did not survive deflasking."""
    return house.rng.random() < CAST_LOST and job.target != "bite"


def check_to_fail(house: House, checks: list[CheckStand]) -> CheckStand | None:
    """Return one of the checks that can fail."""
    able = [check for check in checks if can_fail(check) and check.state == "open"]
    return house.rng.choice(able) if able else None


def way_back(key: str) -> tuple[str, str, str]:
    """Return where a stage sends the work back to, why, and in what words."""
    return words.SENT_BACK[key]


def concession(house: House) -> tuple[str, str]:
    """Return reason and words of a concession."""
    return house.rng.choice(words.CONCEDED), house.rng.choice(
        ("", "Looked at together.", "Practice told by telephone.")
    )


def hand_over_words(house: House) -> str:
    """Return the line that says where the work stands."""
    return house.rng.choice(words.HAND_OVERS)


def time_was_wrong(house: House) -> bool:
    """Tell whether somebody corrects the minutes."""
    return house.rng.random() < TIME_WRONG


def forgets(house: House) -> bool:
    """Tell whether somebody goes home and leaves the stage running."""
    return house.rng.random() < FORGETS


def time_reason(house: House) -> str:
    """Return why the minutes are corrected."""
    return house.rng.choice(words.CORRECTED)
