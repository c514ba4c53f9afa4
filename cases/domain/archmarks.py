"""What a large drawing of an arch shows beside its crowns and wires.

Blocked-out faces, bracing, stops, joints, hollowed denture teeth, covered areas, and what a new
version changed. A small drawing, the face of a case in a list, leaves them out.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, pi, sin
from typing import Final

from cases.domain import archbase, archcrown, teeth
from cases.domain.archform import ArchForm, ArchInput, Place, Point
from cases.domain.archshapes import Dot, Outline, Shape

# All in mm on the drawing; judgement, by eye.
FACE_GAP_MM: Final = 0.9
BRACING_GAP_MM: Final = 0.8
BRACING_SHARE: Final = 0.62  # of the tongue side of a crown that its bracing lies along
STOP_MM: Final = 1.5
JOINT_RADIUS_MM: Final = 1.3
HOLLOW_SHARE: Final = 0.5
CHANGED_GAP_MM: Final = 1.5
COVER_MM: Final = 3.4
_ROUND: Final = 16


def _round_crown(form: ArchForm, place: Place, gap_mm: float) -> list[Point]:
    crown = archcrown.outline(form.arch, teeth.kind(place.fdi), place.width_mm, place.depth_mm)
    return archcrown.widened(list(crown), gap_mm)


def _face_line(place: Place, side: str) -> list[Point]:
    """A straight line beside one face of a crown, in mm (distal, outward) from its middle."""
    half_w, half_d = place.width_mm / 2, place.depth_mm / 2
    if side in ("mesial", "distal"):
        u = (half_w + FACE_GAP_MM * 0.2) * (1 if side == "distal" else -1)
        return [(u, -half_d * 0.62), (u, half_d * 0.38)]
    v = (half_d + FACE_GAP_MM) * (1 if side == "buccal" else -1)
    return [(-half_w * 0.55, v), (half_w * 0.55, v)]


def blocked(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Mark each blocked-out face with a dotted line beside it."""
    for fdi, side in design.blocked:
        yield Outline(
            "blocked", form.around(fdi, _face_line(form.places[fdi], side)), closed=False, fdi=fdi
        )


def bracing(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Draw what faces each clasp, along the side of the tooth away from its arm."""
    for fdi in design.braced:
        place = form.places[fdi]
        around = _round_crown(form, place, BRACING_GAP_MM)
        # The tongue side of the outline: its second half, see archcrown.facing.
        inner = around[len(around) // 2 :]
        spare = round(len(inner) * (1 - BRACING_SHARE) / 2)
        line = inner[spare : len(inner) - spare]
        yield Outline("bracing", form.around(fdi, line), closed=False, fdi=fdi)


def stops(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Draw an acrylic stop as a small square at the tongue side of its crown."""
    for fdi in design.stops:
        v = -form.places[fdi].depth_mm * 0.32
        square = [
            (-STOP_MM, v - STOP_MM), (STOP_MM, v - STOP_MM),
            (STOP_MM, v + STOP_MM), (-STOP_MM, v + STOP_MM),
        ]  # fmt: skip
        yield Outline("stop", form.around(fdi, square), fdi=fdi)


def joints(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Draw a soldered or welded joint as a ring at the tongue side."""
    for fdi in design.joints:
        place = form.places[fdi]
        u, v = place.width_mm / 2, -place.depth_mm / 2 - JOINT_RADIUS_MM
        turns = [2 * pi * step / _ROUND for step in range(_ROUND)]
        ring = [
            (u + JOINT_RADIUS_MM * cos(turn), v + JOINT_RADIUS_MM * sin(turn)) for turn in turns
        ]
        yield Outline("joint", form.around(fdi, ring), fdi=fdi)


def hollows(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Draw a second, smaller outline inside a denture tooth that is hollowed over a wire."""
    for fdi in design.hollowed:
        place = form.places[fdi]
        crown = archcrown.outline(
            form.arch,
            teeth.kind(fdi),
            place.width_mm * HOLLOW_SHARE,
            place.depth_mm * HOLLOW_SHARE,
        )
        yield Outline("hollow", form.around(fdi, crown), fdi=fdi)


def covers(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Draw a bow behind each free end whose pad or tuberosity is covered."""
    span = archbase.span_of(form, design)
    if span is None:
        return
    for area in design.covered:
        end = span.start_mm if area.startswith("right") else span.end_mm
        out = -1 if area.startswith("right") else 1
        if any(
            out * place.end_mm > out * end and place.fdi not in design.absent
            for place in form.places.values()
        ):
            continue  # a crown stands there; the words say the rest
        line = [
            form.at(end + out * (0.9 - abs(t) * 0.35), t * COVER_MM)
            for t in (-1.0, -0.6, -0.2, 0.2, 0.6, 1.0)
        ]
        yield Outline("cover", tuple(line), closed=False)


def changed(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Ring each tooth at which a new version differs from the one before."""
    for fdi in design.changed:
        place = form.places[fdi]
        yield Outline(
            "changed", form.around(fdi, _round_crown(form, place, CHANGED_GAP_MM)), fdi=fdi
        )
        u, v = place.width_mm / 2 + CHANGED_GAP_MM, place.depth_mm / 2 + CHANGED_GAP_MM
        yield Dot("changed-dot", form.around(fdi, [(u * 0.8, v * 0.8)])[0], 0.9, fdi)


def marks(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Yield every mark of a large drawing, in the order in which they are laid over each other."""
    for draw in (blocked, bracing, hollows, stops, joints, covers, changed):
        yield from draw(form, design)
