"""IMM, AGR and ALL: extractions on a written order, agreement of the practice, allergy.

IMM-1 sees the written order; the photograph and the second, uncut cast are asked at the stage that
cuts the cast. IMM-2 is about teeth taken out at delivery; of a tooth that may be lost later the
practice decides (CLP-9).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from cases.domain.rule_facts import Facts
from cases.domain.rule_sources import COMMON
from cases.domain.rule_spec import Rule, RuleLimits, Trip
from cases.domain.subjects import lone_ends
from cases.domain.words import N_

DEPTH_MISSING: Final = N_(
    "%(tooth)s is taken out at delivery, and the written order does not name it with its depth. "
    "Ask the dentist: no tooth is cut off the cast without one."
)
CLASP_SHOWS: Final = N_(
    "The practice has to agree to the design before the block-out, because the clasp on %(tooth)s "
    "would show. Send the drawing."
)
LONE_TOOTH: Final = N_(
    "The practice has to agree to the design before the block-out, because %(tooth)s stands alone "
    "and carries a free end. Send the drawing."
)


def _written_order(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    for tooth in sorted(facts.design.extracted):
        told, beside = {"tooth": tooth}, (("extracted", ""),)
        if facts.written_order_on is None:
            yield Trip(str(tooth), told, beside=beside)
        elif not facts.depths.get(tooth):
            yield Trip(str(tooth), told, words=DEPTH_MISSING, beside=beside)


def _clasp_on_extracted(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    going = facts.design.extracted | facts.depths.keys()
    for clasp in facts.clasps:
        if clasp.tooth in going:
            yield Trip(str(clasp.tooth), {"tooth": clasp.tooth}, beside=(("clasps", ""),))


def why_agree(facts: Facts) -> tuple[Trip, ...]:
    """Return why the practice has to agree before the block-out; empty where it need not."""
    return tuple(_reasons(facts)) if facts.new_piece else ()


def _reasons(facts: Facts) -> Iterator[Trip]:
    if facts.drawing_came is False:
        yield Trip(facts={"why": N_("no drawing came")})
    if facts.ordered and facts.ordered != facts.design.replaced:
        yield Trip(facts={"why": N_("it replaces other teeth than were ordered")})
    for clasp in facts.clasps:
        if clasp.shows:
            told = {"tooth": clasp.tooth}
            yield Trip(str(clasp.tooth), told, words=CLASP_SHOWS, question=10)
    for wall in lone_ends(facts.design):
        yield Trip(str(wall), {"tooth": wall}, words=LONE_TOOTH)
    if facts.design.extracted:
        yield Trip(facts={"why": N_("teeth are taken out at delivery")})
    if facts.nickel or facts.acrylic:
        yield Trip(facts={"why": N_("an allergy is told")})


def _agreement(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if not facts.agreed and not facts.design.needs_agreement:
        yield from why_agree(facts)


def _never_taken_as_yes(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if facts.answer_overdue and not facts.agreed:
        yield Trip()


def _acrylic(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if facts.acrylic and not facts.acrylic_agreed:
        yield Trip(beside=(("told", ""),))


RULES: tuple[Rule, ...] = (
    Rule(
        "IMM-1", "cannot",
        N_(
            "%(tooth)s is taken out at delivery, and there is no dated and signed order for it. "
            "Ask the dentist: no tooth is cut off the cast without one."
        ),
        COMMON, _written_order, question=7,
    ),
    Rule(
        "IMM-2", "cannot",
        N_("%(tooth)s is taken out at delivery: it cannot carry a clasp. Choose another."),
        COMMON, _clasp_on_extracted,
    ),
    Rule(
        "AGR-1", "asks",
        N_(
            "The practice has to agree to the design before the block-out, because %(why)s. Send "
            "the drawing."
        ),
        COMMON, _agreement, question=9,
    ),
    Rule(
        "AGR-2", "info",
        N_(
            "The practice has not answered by the latest start. Silence is never taken as yes: the "
            "date moves."
        ),
        COMMON, _never_taken_as_yes,
    ),
    Rule(
        "ALL-1", "cannot",
        N_(
            "An allergy to acrylic is told. The practice decides whether this piece may be made of "
            "it: wait for the answer."
        ),
        COMMON, _acrylic,
    ),
)  # fmt: skip
