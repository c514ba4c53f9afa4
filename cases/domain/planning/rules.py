"""Rules of preference: who is served first, from what is known before a plan is made.

Apparent tardiness cost: Vepsalainen & Morton, Management Science 1987, from memory. The others
are textbook rules.
"""

from __future__ import annotations

from dataclasses import dataclass

from cases.domain.planning.keys import Fading, Fixed, Key, WeightedDue
from cases.domain.planning.shop import Shop

LOOK_AHEAD = (0.1, 0.2, 0.35, 0.5, 0.7, 1.0)
"""Values of the look-ahead that did best on invented labs, each on some."""


@dataclass(frozen=True)
class Rule:
    """A rule by name, with the minutes that a load waits for others."""

    name: str
    key: Key
    moving: bool = False
    patience: int = 0


def due_date(shop: Shop) -> Key:
    """Earliest due date first: the plain rule that everything is compared with."""
    return Fixed([float(shop.problem.cases[case].due) for case in shop.case])


def weighted_due_date(shop: Shop) -> Key:
    """Due date, counted from now and shared by the weight."""
    cases = [shop.problem.cases[case] for case in shop.case]
    return WeightedDue([case.due for case in cases], [case.weight for case in cases])


def latest_start(shop: Shop) -> Key:
    """The least slack first: due date less what is still to be done."""
    cases = [shop.problem.cases[case] for case in shop.case]
    return Fixed([float(case.due - tail) for case, tail in zip(cases, shop.tail, strict=True)])


def weighted_shortest(shop: Shop) -> Key:
    """The most weight for each minute of hands first."""
    hands = shop.hands_left
    weights = [shop.problem.cases[case].weight for case in shop.case]
    return Fixed([left / weight for left, weight in zip(hands, weights, strict=True)])


def apparent_cost(shop: Shop, look_ahead: float) -> Key:
    """Weight for each minute of hands left, fading with the slack."""
    cases = [shop.problem.cases[case] for case in shop.case]
    hands = shop.hands_left
    dues = [case.due for case in cases] or [1]
    spread = max(1.0, look_ahead * (sum(dues) / len(dues) + max(shop.tail, default=1)) / 2)
    return Fading(
        [case.weight / left for case, left in zip(cases, hands, strict=True)],
        [case.due - tail for case, tail in zip(cases, shop.tail, strict=True)],
        spread,
    )


PATIENCE = (240, 120, 420)
"""How long a load waits for others; without waiting, baths run for one flask at a time."""


def plain(shop: Shop) -> list[Rule]:
    """Return the two rules that a plan is compared with: due date, and due date by weight."""
    return [
        Rule("due date", due_date(shop), patience=PATIENCE[0]),
        Rule("weighted due date", weighted_due_date(shop), True, PATIENCE[0]),
    ]


def portfolio(shop: Shop) -> list[Rule]:
    """Return the rules that are tried, the one that is best most often first."""
    loads = PATIENCE if any(stage.kind == "load" for stage in shop.stages) else (0,)
    rules = [
        Rule(f"apparent cost {ahead}", apparent_cost(shop, ahead), True, loads[at % len(loads)])
        for at, ahead in enumerate(LOOK_AHEAD)
    ]
    return [
        *rules,
        *plain(shop),
        Rule("latest start", latest_start(shop), patience=loads[0]),
        Rule("most weight a minute", weighted_shortest(shop), patience=loads[0]),
    ]
