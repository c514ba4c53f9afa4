"""What the design rules look at: the design, the order, and what the order and the bench told.

Only what somebody said or measured is a fact; None or an empty value where nobody did.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from cases.domain import teeth
from cases.domain.arch import Classification, classify
from cases.domain.blockout import Face
from cases.domain.clasp import usual_wire
from cases.domain.claspforecast import ClaspForecast, forecast
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.impression import ALGINATES
from cases.domain.order_form import OrderForm
from cases.domain.subjects import (
    Base,
    bases,
    gap_walls,
    side_towards,
    standing,
    used_third_molars,
)
from cases.domain.wire import ALLOYS, Wire

NEW_PIECE_KINDS = frozenset({"new", "remake"})


@dataclass(frozen=True)
class Facts:
    """Everything the rules look at, for one arch.

    Attributes
    ----------
    ordered
        Teeth that the practice ordered to be replaced; empty where it did not say.
    drawing_came
        Whether a drawing of the piece came with the order; None: nobody said.
    nickel, acrylic
        An allergy that was told.
    alloy_named
        Alloy that the practice named in answer to an allergy.
    acrylic_agreed
        The practice answered that the piece may be made of acrylic.
    loose_border
        An impression in alginate, or nobody knows in what, in no special tray.
    borders_said
        The order says who reduces the borders.
    broke_before, last_did_not_seat
        The old piece broke; this patient's last piece did not seat, or took over ten minutes.
    fit_back, cast_goes_home, later_piece
        A fit-back on a cast is ordered; a cast is sent back; a later piece will be made on it.
    heavy_bite
        The practice told of a heavy bite.
    half_days_left
        Half days between the end of the work as planned and when it has to leave.
    written_order_on
        The day of the dated, signed order to extract.
    depths
        Tooth to be extracted → how deep the cast is cut, as that order says.
    full_front_ridge
        The ridge of a front gap is full.
    thickness_mm
        Thinnest acrylic as measured, by place, a key of ``rules_piece.PLACES``.
    thickest_mm
        Thickest section of acrylic.
    agreed, answer_overdue
        The practice agreed to this design; it was asked, and its latest start has passed.
    answered
        Questions that it has answered, as (number, subject).
    """

    design: Design
    order: WorkOrder = field(default_factory=WorkOrder)
    ordered: frozenset[int] = frozenset()
    drawing_came: bool | None = None
    nickel: bool = False
    acrylic: bool = False
    alloy_named: str = ""
    acrylic_agreed: bool = False
    loose_border: bool = False
    borders_said: bool = False
    broke_before: bool = False
    last_did_not_seat: bool = False
    fit_back: bool = False
    cast_goes_home: bool = False
    later_piece: bool = False
    heavy_bite: bool = False
    half_days_left: float | None = None
    written_order_on: date | None = None
    depths: Mapping[int, str] = field(default_factory=dict)
    full_front_ridge: bool = False
    thickness_mm: Mapping[str, float] = field(default_factory=dict)
    thickest_mm: float | None = None
    agreed: bool = False
    answer_overdue: bool = False
    answered: frozenset[tuple[int, str]] = frozenset()

    @property
    def new_piece(self) -> bool:
        """Whether a piece is made, and so surveyed and blocked out, from the cast."""
        return self.order.kind in NEW_PIECE_KINDS

    @property
    def lower(self) -> bool:
        """Whether it is a lower piece."""
        return self.design.arch == "lower"

    @cached_property
    def clasps(self) -> tuple[Clasp, ...]:
        """The clasps, from the patient's right to the left."""
        row = teeth.teeth_of_arch(self.design.arch)
        return tuple(sorted(self.design.clasps, key=lambda clasp: row.index(clasp.tooth)))

    @cached_property
    def standing(self) -> frozenset[int]:
        """The teeth that stand after delivery."""
        return frozenset(standing(self.design))

    @cached_property
    def bases(self) -> tuple[Base, ...]:
        """The bases, right to left."""
        return bases(self.design)

    @cached_property
    def walls(self) -> frozenset[Face]:
        """The faces that bound the bases."""
        return frozenset(gap_walls(self.design))

    @cached_property
    def freestanding(self) -> frozenset[int]:
        """Teeth with a base on both sides."""
        count = [tooth for tooth, _side in self.walls]
        return frozenset(tooth for tooth in count if count.count(tooth) == 2)

    @cached_property
    def facing_walls(self) -> tuple[tuple[Face, Face], ...]:
        """The two walls of each bounded base."""
        return tuple(pair for base in self.bases if (pair := facing(base)) is not None)

    @cached_property
    def undercuts(self) -> dict[Face, float]:
        """The steps found on teeth where acrylic will lie."""
        return {
            (found.tooth, found.side): found.step_mm
            for found in self.design.survey.undercuts
            if found.tooth in self.standing and self._under_acrylic(found.tooth, found.side)
        }

    @cached_property
    def ridges(self) -> dict[Face, float]:
        """The steps found on ridge areas."""
        return {
            (found.tooth, found.side): found.step_mm
            for found in self.design.survey.undercuts
            if found.tooth in self.design.missing
        }

    @cached_property
    def kennedy(self) -> Classification | None:
        """The class of the arch as designed; None where no area counts.

        A third molar is an abutment where something of the piece lies on it, or it is named so.
        """
        design = self.design
        return classify(
            design.missing,
            not_replaced=design.missing - design.replaced,
            third_molar_abutments=used_third_molars(design),
        )

    @cached_property
    def spans_both_sides(self) -> bool:
        """Whether a plate joins the right and the left."""
        held = [tooth for base in self.bases for tooth in base.teeth]
        sides = {teeth.is_right(tooth) for tooth in (*held, *(c.tooth for c in self.clasps))}
        return bool(held) and len(sides) == 2

    @cached_property
    def forecasts(self) -> dict[int, ClaspForecast]:
        """What each clasp will do, by tooth, where wire, arm and some undercut are decided."""
        reckoned = ((c.tooth, _forecast(c, c.free_arm_mm)) for c in self.clasps)
        return {tooth: found for tooth, found in reckoned if found is not None}

    @cached_property
    def expected(self) -> dict[int, ClaspForecast]:
        """What each clasp may do whose arm alone nobody measured, by tooth: with the usual arm.

        No rule judges by it; it is shown while a design is drawn.
        """
        unmeasured = (clasp for clasp in self.clasps if clasp.free_arm_mm is None)
        reckoned = ((c.tooth, _forecast(c, usual_wire(c.tooth).arm_mm)) for c in unmeasured)
        return {
            tooth: replace(found, provisional=True)
            for tooth, found in reckoned
            if found is not None
        }

    def passed(self, rule: str, subject: str, mark: str) -> bool:
        """Whether a named person took on himself what this rule says here now, with a reason."""
        return any(
            one.rule == rule and one.subject == subject and one.passes(mark)
            for one in self.design.concessions
        )

    def _under_acrylic(self, tooth: int, side: str) -> bool:
        """A face beside a base, behind a tooth, opposite a clasp, or blocked out on purpose."""
        face = (tooth, side)
        if face in self.walls or face in self.design.blocked:
            return True
        clasp = self.design.clasp_on(tooth)
        if clasp is not None and side in (clasp.face, clasp.bracing_face):
            return side == clasp.bracing_face
        return side == "lingual"


def _forecast(clasp: Clasp, arm_mm: float | None) -> ClaspForecast | None:
    alloy = ALLOYS.get(clasp.alloy)
    if not (alloy and clasp.wire_mm and arm_mm and clasp.undercut_mm):
        return None
    if clasp.tip_wire_mm and (clasp.section != "round" or clasp.tip_wire_mm > clasp.wire_mm):
        return None  # a slip, which says so where it was made
    wire = Wire(clasp.wire_mm, clasp.gauge or f"{clasp.wire_mm:g}", clasp.gauge_system or "mm")
    return forecast(
        wire=wire,
        alloy=alloy,
        undercut_mm=clasp.undercut_mm,
        arm_mm=arm_mm,
        section=clasp.section,
        tip_share=(clasp.tip_wire_mm or clasp.wire_mm) / clasp.wire_mm,
    )


def facing(base: Base) -> tuple[Face, Face] | None:
    """Return the two walls of a base, None at a free end."""
    if base.right_wall is None or base.left_wall is None:
        return None
    return (
        (base.right_wall, side_towards(base.right_wall, True)),
        (base.left_wall, side_towards(base.left_wall, False)),
    )


def facts_of(design: Design, form: OrderForm, *, order: WorkOrder | None = None) -> Facts:
    """Return the facts that an order as received gives; the caller adds what the house knows.

    Parameters
    ----------
    form
        The part of the order that concerns this arch.
    order
        The facts of the route where later answers changed them; else those of the form.
    """
    loose = any(
        item.is_impression and item.material in ("", *ALGINATES) and item.tray != "special"
        for item in form.found("working")
    )
    return Facts(
        design=design,
        order=order or form.work_order(),
        ordered=frozenset(form.replaces),
        nickel="nickel" in form.allergies,
        acrylic="acrylic" in form.allergies,
        loose_border=loose,
        borders_said=bool(form.borders),
        written_order_on=form.ordered_on if form.extraction_order else None,
        depths={taken.tooth: taken.depth for taken in form.extractions if taken.depth},
    )
