"""The review of a design: every rule that speaks, gravest first, each with its fact and next step.

A design that is blocked can always be kept as a draft; it cannot be finalised.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from cases.domain import (
    blockout,
    rules_blockout,
    rules_clasp,
    rules_order,
    rules_path,
    rules_piece,
    rules_teeth,
    teeth,
)
from cases.domain.blockout import Method
from cases.domain.blockout_findings import advice_of
from cases.domain.claspforecast import Wanted
from cases.domain.quantity import Band
from cases.domain.rule_facts import Facts
from cases.domain.rule_spec import (
    SEVERITIES,
    Finding,
    Rule,
    RuleLimits,
    findings_of,
    load,
    with_limits,
)

RULES: Final[dict[str, Rule]] = load(
    rules_path.RULES,
    rules_blockout.RULES,
    rules_clasp.RULES,
    rules_piece.RULES,
    rules_teeth.RULES,
    rules_order.RULES,
)
"""Every rule by its id, in the order of the bench's own list."""

USUAL_LIMITS: Final = with_limits(RULES)
# BLK-14 puts off what the four before it advise.
DECIDING: Final = (*blockout.DECIDING[:4], "BLK-14", *blockout.DECIDING[4:])

_FIRST_NUMBER: Final = re.compile(r"\d+")


def review(facts: Facts, limits: RuleLimits | None = None) -> tuple[Finding, ...]:
    """Return what the rules say of a design: by severity, then by place along the arch.

    Parameters
    ----------
    facts
        Design and order; what nobody measured yet, most rules pass over in silence.
    limits
        Limits that the lab changed, by rule and name.

    Raises
    ------
    ValueError
        A changed limit is none, or lies outside its bounds.
    """
    table = with_limits(RULES, limits) if limits else USUAL_LIMITS
    found = [
        finding
        for rule in RULES.values()
        for finding in findings_of(rule, facts, table)
        if not _answered(finding, facts)
    ]
    row = teeth.teeth_of_arch(facts.design.arch)
    # Sorting keeps what is equal in the order of the rules.
    found.sort(key=lambda one: (SEVERITIES.index(one.severity), *_rank(one, row)))
    return tuple(found)


def _rank(finding: Finding, row: tuple[int, ...]) -> tuple[int, int]:
    """By place along the arch; what decides how to block out in the order in which it decides."""
    if finding.rule in DECIDING:
        return -1, DECIDING.index(finding.rule)
    return _place(finding.subject, row), -1


def wanted_of(limits: RuleLimits | None) -> Wanted:
    """Return what the forecasts of clasps are judged by, so that they agree with the rules."""
    table = with_limits(RULES, limits) if limits else USUAL_LIMITS
    whole = table["CLP-4"]
    return Wanted(
        table["CLP-2"]["quiet_share"],
        table["CLP-3"]["weak"],
        table["CLP-3"]["stiff"],
        Band(whole["least"], whole["most"]),
    )


def _answered(finding: Finding, facts: Facts) -> bool:
    """A question is not asked twice about one thing."""
    return finding.severity == "asks" and (finding.question, finding.subject) in facts.answered


def _place(subject: str, row: tuple[int, ...]) -> int:
    """The whole piece first, then right to left, then what stands at no tooth."""
    if not subject:
        return -1
    number = _FIRST_NUMBER.search(subject)
    return row.index(int(number[0])) if number and int(number[0]) in row else len(row)


def blocking(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what keeps a design from being finalised: refused, or a concession not given."""
    return tuple(finding for finding in findings if finding.blocks)


def advised_method(facts: Facts, limits: RuleLimits | None = None) -> Method | None:
    """Return the block-out that the rules advise; None while nothing was surveyed.

    Raises
    ------
    ValueError
        As ``review``.
    """
    advice = advice_of(facts, with_limits(RULES, limits) if limits else USUAL_LIMITS)
    return advice.method if advice is not None else None
