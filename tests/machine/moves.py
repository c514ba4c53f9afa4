"""All moves of the machine, from their families."""

from __future__ import annotations

import importlib
import pkgutil

import cases.services
from cases.services.record import VERBS
from tests.machine import (  # noqa: F401 - importing a family lists its moves
    bench_moves,
    case_moves,
    cut_moves,
    desk_moves,
    dough_moves,
    feed_moves,
    lab_moves,
    load_moves,
    plan_moves,
    practice_moves,
    remedy_moves,
    staff_moves,
    tablet_moves,
    van_moves,
)
from tests.machine.registry import MOVES, weights_for

FAMILIES = ("", "desk", "case", "staff", "", "lab", "tablet", "case", "practice")
"""The family that a run favours, in turn; in the others the work of the bench goes furthest."""


def all_verbs() -> set[str]:
    """Return the name of every verb there is, from every module of services."""
    for module in pkgutil.iter_modules(cases.services.__path__):
        importlib.import_module(f"cases.services.{module.name}")
    return set(VERBS)


__all__ = ["FAMILIES", "MOVES", "all_verbs", "weights_for"]
