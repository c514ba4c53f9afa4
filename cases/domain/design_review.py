"""The review of a design: every rule that speaks, gravest first, each with its fact and next step.

A design that is blocked can always be kept as a draft; it cannot be finalised.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from cases.domain import (
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
    found.sort(key=lambda one: (SEVERITIES.index(one.severity), _place(one.subject, row)))
    return tuple(found)


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
