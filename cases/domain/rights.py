"""Who may do what: the one table of capabilities. What is not in it is denied."""

from __future__ import annotations

from collections.abc import Iterable

from cases.domain.words import N_

CAPABILITIES: dict[str, str] = {
    "see-cases": N_("see every case of the lab"),
    "log-cases": N_("log what came in, correct entries, give dates"),
    "work": N_("start, check and finish stages"),
    "skip": N_("leave a stage out, with a reason"),
    "countersign": N_("sign a student's work, accept a failed check"),
    "hold": N_("hold and release a case, ask the practice"),
    "note": N_("write notes and add photographs"),
    "close-cases": N_("cancel or remake a case"),
    "dispatch": N_("pack, print papers, hand to the carrier"),
    "assign": N_("give work to people"),
    "see-flow": N_("see throughput, lateness and rework"),
    "correct-times": N_("correct anybody's minutes"),
    "settings": N_("change the lab's people, hours, route and things"),
    "see-own-practice": N_("see the cases of the own practice"),
    "answer-simple": N_("answer dates and shades for the practice"),
    "answer": N_("answer every question for the practice"),
    "report": N_("report how a piece seated"),
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
