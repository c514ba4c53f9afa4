"""Who may do what: the one table of capabilities. What is not in it is denied."""

from __future__ import annotations

from collections.abc import Iterable

CAPABILITIES: dict[str, str] = {
    "see-cases": "see every case of the lab",
    "log-cases": "log what came in, correct entries, give dates",
    "work": "start, check and finish stages",
    "skip": "leave a stage out, with a reason",
    "countersign": "sign a student's work, accept a failed check",
    "hold": "hold and release a case, ask the practice",
    "note": "write notes and add photographs",
    "close-cases": "cancel or remake a case",
    "dispatch": "pack, print papers, hand to the carrier",
    "assign": "give work to people",
    "see-flow": "see throughput, lateness and rework",
    "correct-times": "correct anybody's minutes",
    "settings": "change the lab's people, hours, route and things",
    "see-own-practice": "see the cases of the own practice",
    "answer-simple": "answer dates and shades for the practice",
    "answer": "answer every question for the practice",
    "report": "report how a piece seated",
}

ROLES: dict[str, frozenset[str]] = {
    "desk": frozenset(
        {"see-cases", "log-cases", "hold", "note", "close-cases", "dispatch", "assign"}
    ),
    "technician": frozenset({"see-cases", "work", "skip", "countersign", "hold", "note"}),
    "manager": frozenset(
        {
            "see-cases",
            "log-cases",
            "skip",
            "countersign",
            "hold",
            "note",
            "close-cases",
            "dispatch",
            "assign",
            "see-flow",
            "correct-times",
            "settings",
        }
    ),
    "dentist": frozenset({"see-own-practice", "answer-simple", "answer", "report"}),
    "reception": frozenset({"see-own-practice", "answer-simple"}),
}

BENCH_DOOR = "bench"
"""The door of a shared tablet: a PIN opens the technician's capabilities and no others."""


def capabilities(roles: Iterable[str], *, door: str) -> frozenset[str]:
    """Return the capabilities that ``roles`` give at ``door``.

    A person may have several roles and then has what any of them gives; at the bench door
    a PIN stands for the person, so only the technician's capabilities count there.
    """
    held = frozenset(role for role in roles if role in ROLES)
    if door == BENCH_DOOR:
        held &= {"technician"}
    return frozenset().union(*(ROLES[role] for role in held))
