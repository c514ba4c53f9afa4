"""The plan at once: every rule is played through, and the best plan is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from cases.domain.planning.decode import decode
from cases.domain.planning.floor import Floor
from cases.domain.planning.problem import Plan, Problem
from cases.domain.planning.rules import Rule, portfolio
from cases.domain.planning.score import Worth, to_plan, worth
from cases.domain.planning.shop import Shop

Stop = Callable[[], bool]
"""Says whether the budget is used up; the planner itself reads no clock."""


def go_on() -> bool:
    """A budget that never ends."""
    return False


@dataclass(frozen=True)
class Tried:
    """A rule that was played through."""

    rule: Rule
    floor: Floor
    worth: Worth


def play(shop: Shop, rule: Rule) -> Tried:
    """Play one rule through."""
    floor = decode(shop, rule.key, patience=rule.patience, moving=rule.moving)
    return Tried(rule, floor, worth(shop, floor))


def try_rules(shop: Shop, stop: Stop = go_on) -> list[Tried]:
    """Return the rules that were tried within the budget, at least one."""
    tried: list[Tried] = []
    for rule in portfolio(shop):
        tried.append(play(shop, rule))
        if stop():
            break
    return tried


def best_of(tried: list[Tried]) -> Tried:
    """Return the best; of equals the first."""
    return min(tried, key=lambda one: one.worth)


def dispatch(problem: Problem, stop: Stop = go_on) -> Plan:
    """Return the best plan of the rules."""
    shop = Shop(problem)
    return to_plan(shop, best_of(try_rules(shop, stop)).floor)
