"""What the calculation says of a design as entered: class, rules, wires, bar; writes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.translation import gettext as _

from cases.domain.alloys import ALLOYS, Alloy
from cases.domain.arch import Classification
from cases.domain.claspforecast import ClaspForecast, WholePiece, judged, whole_piece
from cases.domain.design import Design, WorkOrder
from cases.domain.design_change import alterations
from cases.domain.design_parts import STAINLESS
from cases.domain.design_review import advised_method, review, wanted_of
from cases.domain.order import OrderForm
from cases.domain.rule_facts import Facts, facts_of
from cases.domain.rule_spec import Finding, RuleLimits
from cases.domain.strengthener import BarInPlate, Plate, Strengthening, strengthen
from cases.domain.told import facts_told
from cases.models import Case
from cases.selectors.design_known import Known, known_of


@dataclass(frozen=True)
class Says:
    """What is said of one design.

    Attributes
    ----------
    kennedy
        The class, or None where nothing is classified.
    findings
        Every rule that speaks, gravest first.
    advised
        The block-out advised: "none", "plaster" or "copy"; None while nothing was surveyed.
    forecasts
        What each clasp will do, by tooth; a clasp whose wire or depth nobody said has none, one
        whose arm nobody measured a provisional one with the usual arm.
    whole
        All clasps together, once each of them is reckoned.
    bar
        What the bar does in its plate, where both are measured.
    known
        What the house knows without anybody entering it, as sentences.
    """

    kennedy: Classification | None
    findings: tuple[Finding, ...]
    advised: str | None
    forecasts: Mapping[int, ClaspForecast]
    whole: WholePiece | None
    bar: Strengthening | None
    known: tuple[str, ...] = ()

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """What has to be mended or passed before the design can be kept as finished."""
        return tuple(finding for finding in self.findings if finding.blocks)


def bar_of(design: Design) -> Strengthening | None:
    """Reckon the bar in its plate; None until bar and plate are measured."""
    bar = design.strengthener
    if not design.bar or bar is None or bar.size_mm is None or bar.relief_mm is None:
        return None
    if design.plate_height_mm is None or design.plate_thickness_mm is None:
        return None
    steel: Alloy = ALLOYS[STAINLESS]
    try:
        return strengthen(
            plate=Plate(design.plate_height_mm, design.plate_thickness_mm),
            bar=BarInPlate(bar.section, bar.size_mm, bar.relief_mm),
            alloy=steel,
        )
    except ValueError:
        return None  # a bar that stands out of the acrylic: the rules say so


def facts_about(case: Case, design: Design, known: Known | None = None) -> Facts:
    """Return what the rules look at, for a design of this case: the order, what the house knows
    (read anew unless given), and what the design says was told."""
    facts = facts_of(
        design,
        OrderForm.from_json(case.order),
        order=WorkOrder.from_json(case.work_order),
    )
    known = known or known_of(case)
    agreed = any(not alterations(one, design) for one in known.agreed_to)
    return replace(facts, **{**known.facts, "agreed": agreed, **facts_told(design.told)})


def says(
    case: Case,
    design: Design,
    limits: RuleLimits | None = None,
    *,
    now: datetime | None = None,
) -> Says:
    """Return what the calculation says of a design of this case.

    Parameters
    ----------
    now
        With it the time left until the piece leaves is looked at as well.
    """
    known = known_of(case, now)
    facts = facts_about(case, design, known)
    wanted = wanted_of(limits)
    reckoned = {**facts.forecasts, **facts.expected}
    forecasts = {tooth: judged(one, wanted) for tooth, one in reckoned.items()}
    complete = bool(forecasts) and len(forecasts) == len(design.clasps)
    return Says(
        kennedy=facts.kennedy,
        findings=review(facts, limits=limits),
        advised=advised_method(facts, limits=limits),
        forecasts=forecasts,
        whole=whole_piece(forecasts.values(), wanted) if complete else None,
        bar=bar_of(design),
        known=(*known.words, *([_("The practice agreed to the drawing.")] if facts.agreed else [])),
    )
