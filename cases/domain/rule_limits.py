"""The limits that a laboratory changed: read back, changed further, refused where two cross."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from cases.domain.design_review import RULES
from cases.domain.rule_spec import RuleLimits, with_limits
from cases.domain.words import gettext as _

Changed = dict[str, dict[str, float]]

# Limits of one rule of which the first never lies above the second.
IN_ORDER: Final[dict[str, tuple[tuple[str, str], ...]]] = {
    "CLP-3": (("weak", "stiff"),),
    "CLP-4": (("least", "most"),),
    "CLP-11": tuple(("least", f"most_{kennedy}") for kennedy in ("I", "II", "III", "IV")),
    "BLK-13": (("least", "most"),),
    "BAR-3": (
        ("half_round_least", "half_round_most"),
        ("round_least", "round_most"),
        ("off_least", "off_most"),
    ),
    "THK-2": (("long_program", "warn"),),
}


class LimitRefused(ValueError):
    """A limit cannot be set so; the message says why, ``rule`` and ``limit`` where."""

    def __init__(self, rule: str, limit: str, words: str) -> None:
        super().__init__(words)
        self.rule = rule
        self.limit = limit


def usable(stored: RuleLimits) -> Changed:
    """Return the stored limits that the rules of today know, each within its bounds.

    A rule that was dropped or bounds that were drawn closer since leave the usual value in force.
    """
    kept: Changed = {}
    for rule, values in stored.items():
        for name, value in values.items():
            try:
                with_limits(RULES, {rule: {name: value}})
            except ValueError:
                continue
            kept.setdefault(rule, {})[name] = value
    return kept


def changed_by(stored: RuleLimits, values: Mapping[str, Mapping[str, object]]) -> Changed:
    """Return the changed limits after further ones were set; a usual value counts as unchanged.

    Raises
    ------
    LimitRefused
        A rule or limit is not in the book, a value lies outside its bounds or is no number, or
        two limits of a rule would cross.
    """
    table = with_limits(RULES, usable(stored))
    for rule, ones in values.items():
        for name, value in ones.items():
            try:
                table[rule][name] = with_limits(RULES, {rule: {name: value}})[rule][name]  # type: ignore[dict-item]
            except ValueError as error:
                raise LimitRefused(rule, name, str(error)) from error
    for rule, ones in values.items():
        for name in ones:
            _refuse_crossed(rule, name, table[rule])
    usual = with_limits(RULES)
    return {
        rule: odd
        for rule, limits in table.items()
        if (odd := {name: one for name, one in limits.items() if one != usual[rule][name]})
    }


def _refuse_crossed(rule: str, name: str, values: Mapping[str, float]) -> None:
    words = {limit.name: _(limit.words) for limit in RULES[rule].limits}
    for low, high in IN_ORDER.get(rule, ()):
        if name in (low, high) and values[low] > values[high]:
            raise LimitRefused(
                rule,
                name,
                _("“%(low)s” (%(less)g) would lie above “%(high)s” (%(more)g). Change one of them.")
                % {
                    "low": words[low], "less": values[low],
                    "high": words[high], "more": values[high],
                },
            )  # fmt: skip
