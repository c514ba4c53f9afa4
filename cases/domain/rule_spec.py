"""Design rules as data: what a rule is, what it found, and the limits that a lab may change.

A rule carries its severity, its words, its source with a mark, its limits and the function that
finds where it speaks. A lab changes limits within their bounds; nothing silences a rule or takes
its source away. A rule without a source and mark cannot be made.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import Literal, get_args

from cases.domain.design_parts import RuleConcession, said_mark
from cases.domain.limit import Limit
from cases.domain.questions import BY_NUMBER
from cases.domain.rule_facts import Facts
from cases.domain.words import N_, gettext

Severity = Literal["cannot", "concession", "asks", "advice", "info"]
SEVERITIES: tuple[Severity, ...] = get_args(Severity)
"""Gravest first: refused; passed by a named person only; the practice is asked; shown, the
technician decides; said."""

SEVERITY_WORDS: dict[Severity, str] = {
    "cannot": N_("Cannot be"),
    "concession": N_("Needs a concession"),
    "asks": N_("Ask the practice"),
    "advice": N_("Advice"),
    "info": N_("To know"),
}

MARKS: tuple[str, ...] = (
    "from memory",
    "common practice, no published source",
    "judgement",
    ", read",
)

ASKS_A_NAME: tuple[str, ...] = ("from memory", ", read")
"""Marks that say how somebody knows a source, and so nothing where none is named."""

RuleLimits = Mapping[str, Mapping[str, float]]
"""Every limit of every rule, by rule and by name, in its unit."""

# Facts of a sentence that are teeth: the screen says them in the reader's notation.
TOOTH_PLACES: frozenset[str] = frozenset({"tooth", "other"})
TEETH_PLACE = "teeth"


def well_sourced(source: str) -> bool:
    """Whether every part of a source bears a mark, and what was remembered or read has a name.

    Parts stand between semicolons. A name is a word with a capital letter, or an address, in front
    of its mark: "a textbook, from memory" names nobody.
    """
    return all(any(mark in part for mark in MARKS) and _named(part) for part in source.split(";"))


def _named(part: str) -> bool:
    """Whether something is named before each mark of a part that asks for a name."""
    before = re.split("|".join(map(re.escape, ASKS_A_NAME)), part)[:-1]
    return all(any(map(_is_name, words.split())) for words in before)


def _is_name(word: str) -> bool:
    bare = word.strip("(),:.")
    return len(bare) > 1 and (bare[0].isupper() or "." in bare) and not bare[0].isdigit()


@dataclass(frozen=True, slots=True)
class Trip:
    """Where a rule speaks.

    Attributes
    ----------
    subject
        "44", "44 mesial", "base 45-47", "right pad", "bar"; empty for the whole piece.
    facts
        What the words have places for; teeth under ``tooth``, ``other`` or ``teeth``.
    words, severity, question
        Instead of the rule's own, where given.
    beside
        The entries that want mending, as in ``design_slips.slips`` ("wire 44"), each with what is
        said beside it: empty for what the finding says. Its places are filled by ``facts``.
    """

    subject: str = ""
    facts: Mapping[str, object] = field(default_factory=dict)
    words: str = ""
    severity: Severity | None = None
    question: int | None = None
    beside: tuple[tuple[str, str], ...] = ()


Finder = Callable[[Facts, RuleLimits], Iterable[Trip]]


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Attributes
    ----------
    severity
        The gravest it can have; a single finding may be milder.
    words
        The fact and the next step, with named places (``%(tooth)s``).
    source
        Where it comes from, with one of ``MARKS``.
    question
        Number of the question to the practice that it leads to; None where it leads to none.

    Raises
    ------
    ValueError
        Its source is not ``well_sourced``, its severity or question is none, or its words no full
        stop.
    """

    id: str
    severity: Severity
    words: str
    source: str
    find: Finder
    limits: tuple[Limit, ...] = ()
    question: int | None = None

    def __post_init__(self) -> None:
        if not well_sourced(self.source):
            raise ValueError(f"The rule {self.id} names no source with a mark.")
        if self.severity not in SEVERITIES:
            raise ValueError(f"The rule {self.id} has the severity “{self.severity}”.")
        if not self.words.endswith((".", "?")):
            raise ValueError(f"The rule {self.id} does not say a whole sentence.")
        if self.question is not None and self.question not in BY_NUMBER:
            raise ValueError(f"The rule {self.id} leads to no question of the list.")


@dataclass(frozen=True)
class Finding:
    """What a rule found on one design.

    Attributes
    ----------
    pattern, facts
        The sentence before its places were filled, and what fills them.
    question
        Number of the question to ask the practice; None: nothing to ask.
    passed
        A named person took it on himself, with a reason.
    beside
        The entries that want mending, each with the pattern of what is said beside it.
    """

    rule: str
    severity: Severity
    subject: str
    pattern: str
    facts: Mapping[str, object]
    source: str
    question: int | None = None
    passed: bool = False
    beside: tuple[tuple[str, str], ...] = ()

    def say(self, label: Callable[[int], str] = str) -> str:
        """Return the sentence in the reader's language, teeth as ``label`` writes them."""
        return say(self.pattern, self.facts, label)

    @property
    def mark(self) -> str:
        """A short mark of what it says; another where the facts are others."""
        return said_mark(self.pattern, self.facts)

    def keep(self, concession: RuleConcession) -> RuleConcession:
        """Return a concession with what this finding says, to be read long after."""
        facts = tuple(sorted(self.facts.items()))
        return replace(concession, words=self.pattern, facts=facts, seen="")  # type: ignore[arg-type]

    @property
    def sentence(self) -> str:
        """The fact and the next step, teeth as FDI numbers."""
        return self.say()

    @property
    def blocks(self) -> bool:
        """Whether the design cannot be finalised because of it."""
        return self.severity == "cannot" or (self.severity == "concession" and not self.passed)


def say(pattern: str, facts: Mapping[str, object], label: Callable[[int], str] = str) -> str:
    """Fill the places of a sentence in the reader's language, teeth as ``label`` writes them."""
    return gettext(pattern) % {name: _said(name, fact, label) for name, fact in facts.items()}


def _said(name: str, fact: object, label: Callable[[int], str]) -> object:
    if name in TOOTH_PLACES and isinstance(fact, int):
        return label(fact)
    if name == TEETH_PLACE and isinstance(fact, tuple):
        return ", ".join(label(tooth) for tooth in fact)
    if isinstance(fact, tuple):
        return ", ".join(gettext(word) for word in fact)
    return gettext(fact) if isinstance(fact, str) and fact else fact


def load(*groups: Iterable[Rule]) -> dict[str, Rule]:
    """Put rules together by their id, in their order.

    Raises
    ------
    ValueError
        Two rules have one id, or two limits of a rule one name.
    """
    book: dict[str, Rule] = {}
    for rule in (rule for group in groups for rule in group):
        if rule.id in book:
            raise ValueError(f"There are two rules {rule.id}.")
        names = [limit.name for limit in rule.limits]
        if len(names) != len(set(names)):
            raise ValueError(f"The rule {rule.id} has two limits of one name.")
        book[rule.id] = rule
    return book


def with_limits(
    book: Mapping[str, Rule], changed: RuleLimits | None = None
) -> dict[str, dict[str, float]]:
    """Return every limit of a book, those that a lab changed with its own value.

    Raises
    ------
    ValueError
        A rule or a limit is not in the book, or the value lies outside its bounds; a source is no
        limit, and there is no value that switches a rule off.
    """
    table = {rule.id: {limit.name: limit.value for limit in rule.limits} for rule in book.values()}
    for rule_id, values in (changed or {}).items():
        if rule_id not in book:
            raise ValueError(gettext("There is no rule %(rule)s.") % {"rule": rule_id})
        known = {limit.name: limit for limit in book[rule_id].limits}
        for name, value in values.items():
            if name not in known:
                raise ValueError(
                    gettext("The rule %(rule)s has no limit “%(limit)s”.")
                    % {"rule": rule_id, "limit": name}
                )
            table[rule_id][name] = _bounded(rule_id, known[name], value)
    return table


def _bounded(rule_id: str, limit: Limit, value: object) -> float:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not isfinite(value) or not limit.low <= value <= limit.high:  # type: ignore[arg-type, operator]
        raise ValueError(
            gettext(
                "“%(limit)s” of %(rule)s is a number from %(low)g to %(high)g%(unit)s. Enter one "
                "between them."
            )
            % {
                "limit": gettext(limit.words), "rule": rule_id, "low": limit.low,
                "high": limit.high, "unit": limit.said_unit,
            }
        )  # fmt: skip
    return float(value)  # type: ignore[arg-type]


def findings_of(rule: Rule, facts: Facts, limits: RuleLimits) -> Iterator[Finding]:
    """Yield what a rule finds, each marked as passed where a concession of the design covers it."""
    for trip in rule.find(facts, limits):
        severity = trip.severity or rule.severity
        pattern = trip.words or rule.words
        mark = said_mark(pattern, trip.facts) if severity == "concession" else ""
        yield Finding(
            rule=rule.id,
            severity=severity,
            subject=trip.subject,
            pattern=pattern,
            facts=trip.facts,
            source=rule.source,
            question=trip.question if trip.question is not None else rule.question,
            passed=bool(mark) and facts.passed(rule.id, trip.subject, mark),
            beside=tuple((entry, words or pattern) for entry, words in trip.beside),
        )
