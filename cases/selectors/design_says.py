"""What the calculation says of a design as entered: class, rules, wires, bar; writes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from cases.domain.alloys import ALLOYS, Alloy
from cases.domain.arch import Classification, classify
from cases.domain.claspforecast import ClaspForecast, WholePiece, forecast, whole_piece
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.design_parts import STAINLESS
from cases.domain.design_review import advised_method, review
from cases.domain.order import OrderForm
from cases.domain.rule_facts import Facts, facts_of
from cases.domain.rule_spec import Finding, RuleLimits
from cases.domain.strengthener import BarInPlate, Plate, Strengthening, strengthen
from cases.domain.teeth import is_third_molar
from cases.domain.wire import Wire
from cases.models import Case


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
        What each clasp will do, by tooth; a clasp whose wire, arm or depth nobody said has none.
    whole
        All clasps together, once each of them is reckoned.
    bar
        What the bar does in its plate, where both are measured.
    """

    kennedy: Classification | None
    findings: tuple[Finding, ...]
    advised: str | None
    forecasts: Mapping[int, ClaspForecast]
    whole: WholePiece | None
    bar: Strengthening | None

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """What has to be mended or passed before the design can be kept as finished."""
        return tuple(finding for finding in self.findings if finding.blocks)


def classified(design: Design) -> Classification | None:
    """Return the Kennedy class of a design; milk teeth count as the teeth that will follow."""
    named = {clasp.tooth for clasp in design.clasps} | design.rests
    return classify(
        design.missing | design.extracted,
        not_replaced=design.missing - design.replaced,
        third_molar_abutments={
            tooth for tooth in named if is_third_molar(tooth) and tooth not in design.missing
        },
    )


def forecast_of(clasp: Clasp) -> ClaspForecast | None:
    """Reckon a clasp; None until its wire, its arm and its depth are said."""
    alloy = ALLOYS.get(clasp.alloy)
    if not (clasp.wire_mm and clasp.free_arm_mm and clasp.undercut_mm and alloy):
        return None
    wire = Wire(clasp.wire_mm, clasp.gauge or f"{clasp.wire_mm:g}", clasp.gauge_system or "mm")
    try:
        return forecast(
            wire=wire,
            alloy=alloy,
            undercut_mm=clasp.undercut_mm,
            arm_mm=clasp.free_arm_mm,
            section=clasp.section,
        )
    except ValueError:
        return None  # the rules say what is out of range


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


def facts_about(case: Case, design: Design) -> Facts:
    """Return what the rules look at, for a design of this case."""
    facts = facts_of(
        design,
        OrderForm.from_json(case.order),
        order=WorkOrder.from_json(case.work_order),
    )
    answered = case.questions.filter(answered_at__isnull=False).values_list("number", "subject")
    return replace(facts, answered=frozenset(answered))


def says(case: Case, design: Design, limits: RuleLimits | None = None) -> Says:
    """Return what the calculation says of a design of this case."""
    facts = facts_about(case, design)
    forecasts = {
        clasp.tooth: found for clasp in design.clasps if (found := forecast_of(clasp)) is not None
    }
    complete = bool(forecasts) and len(forecasts) == len(design.clasps)
    return Says(
        kennedy=classified(design),
        findings=review(facts, limits=limits),
        advised=advised_method(facts, limits=limits),
        forecasts=forecasts,
        whole=whole_piece(forecasts.values()) if complete else None,
        bar=bar_of(design),
    )
