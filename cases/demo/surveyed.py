"""What the surveyor of the demo lab finds and decides on a cast, in keeping with its order."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, cast

from cases.demo.wishes import Wish
from cases.domain.design import Design, RouteKind, WorkOrder
from cases.domain.design_parts import Bar, Clasp, Side, Survey, Undercut
from cases.domain.design_review import advised_method
from cases.domain.rule_facts import Facts
from cases.domain.subjects import free_ends, gap_walls
from cases.domain.wire import diameter_mm

# The step of the first gap wall that makes each method the advised one, mm; judgement, demo only.
FIRST_STEP = {"none": 0.0, "plaster": 0.25, "wax-then-copy": 0.75, "copy-then-plaster": 0.75}
TILT_DEG = 3.0
BRACING_MM = 1.0
# Height and thickness of a plate that a bar lies in.
PLATE_MM = (9.0, 2.8)


def surveyed(design: Design, wish: Wish, *, did_not_seat: bool = False) -> Design:
    """Return the design with tilt, undercuts and bracing, and the bar where it has one.

    Parameters
    ----------
    did_not_seat
        This patient's last piece did not seat: the cast is wanted after the flask.
    """
    walls = dict(gap_walls(design))
    found = (
        *(
            Undercut(tooth, cast(Side, side), 0.0 if place else FIRST_STEP[design.method])
            for place, (tooth, side) in enumerate(gap_walls(design))
        ),
        *(seen for clasp in design.clasps for seen in _gauged(clasp)),
    )
    whole = replace(
        design,
        survey=Survey(tilt_deg=TILT_DEG, tilt_to="front", marked=True, undercuts=found),
        clasps=tuple(_braced(clasp, walls.get(clasp.tooth, "")) for clasp in design.clasps),
        strengthener=_bar(design) if design.bar else None,
        plate_height_mm=PLATE_MM[0] if design.bar else None,
        plate_thickness_mm=PLATE_MM[1] if design.bar else None,
        covered=tuple((area, "whole") for area in free_ends(design)),
    )
    order = WorkOrder(kind=cast(RouteKind, wish.kind), polish=wish.polish)  # type: ignore[arg-type]
    advised = advised_method(Facts(whole, order, last_did_not_seat=did_not_seat))
    chosen = "copy" if whole.master_kept else whole.method
    other = advised is not None and advised != chosen
    return replace(whole, advised=advised or "", method_reason="good-experience" if other else "")


def _gauged(clasp: Clasp) -> tuple[Undercut, Undercut]:
    """What the gauge shows under the arm of a clasp, and where its bracing lies."""
    under = clasp.undercut_mm or 0.0
    return (
        Undercut(clasp.tooth, clasp.face, under, level_mm=under),
        Undercut(clasp.tooth, clasp.bracing_face, 0.0),
    )


def _braced(clasp: Clasp, gap: str) -> Clasp:
    """Brace a clasp; its tip lies away from the gap beside it, mesially where there is none."""
    tip: Literal["mesial", "distal"] = "distal" if gap == "mesial" else "mesial"
    return replace(
        clasp,
        bracing="plate",
        bracing_mm=BRACING_MM,
        braces_first=True,
        level_mm=clasp.undercut_mm,
        tip=tip,
        wraps=True,
    )


def _bar(design: Design) -> Bar:
    why = "The last one broke." if design.arch == "upper" else ""
    return Bar(
        size_mm=round(diameter_mm(12), 4), gauge="12", gauge_system="awg",
        relief_mm=0.7, cover_mm=1.0, held="two stone stops", reason=why,
    )  # fmt: skip
