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
ABUTMENT_MM: Final = 1.3
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


def abutments(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Mark an abutment with a small triangle at the tongue side, its tip to the crown."""
    for fdi in design.abutments:
        v = -form.places[fdi].depth_mm / 2
        triangle = [(0.0, v - 0.3), (-ABUTMENT_MM, v - 0.3 - 1.6 * ABUTMENT_MM)]
        triangle.append((ABUTMENT_MM, triangle[1][1]))
        yield Outline("abutment", form.around(fdi, triangle), fdi=fdi)


def relief(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Outline the areas relieved beside the gum lines; which they are the entries say."""
    for area in design.relieved:
        for line, closed in _AREAS[area](form, design):
            yield Outline("relief", tuple(line), closed=closed)


_Lines = Iterator[tuple[list[Point], bool]]


def _oval(middle: Point, half_x: float, half_y: float) -> list[Point]:
    turns = [2 * pi * step / (2 * _ROUND) for step in range(2 * _ROUND)]
    return [(middle[0] + half_x * cos(turn), middle[1] + half_y * sin(turn)) for turn in turns]


def _behind_front(form: ArchForm, deep_mm: float) -> Point:
    """A point on the midline, so far behind the curve of the front teeth."""
    return form.at(0.0, -deep_mm)


def _torus(form: ArchForm, design: ArchInput) -> _Lines:
    """In the middle of the palate; in a lower arch behind the premolars of both sides."""
    if form.arch == "upper":
        yield _oval(_behind_front(form, 26.0), 4.0, 8.0), True
        return
    for fdi in (44, 34):
        place = form.places[fdi]
        v = -place.depth_mm / 2 - 3.0
        yield list(form.around(fdi, [(u, v + w) for u, w in _oval((0.0, 0.0), 5.0, 1.6)])), True


def _suture(form: ArchForm, design: ArchInput) -> _Lines:
    yield [_behind_front(form, 12.0), _behind_front(form, 40.0)], False


def _papilla(form: ArchForm, design: ArchInput) -> _Lines:
    yield _oval(_behind_front(form, 7.5), 1.6, 2.4), True


def _frena(form: ArchForm, design: ArchInput) -> _Lines:
    """A notch in the border at the midline and beside the first premolars."""
    border = archbase.FLANGE_MM
    right, left = (14, 24) if form.arch == "upper" else (44, 34)
    for fdi in (right, None, left):
        along = 0.0 if fdi is None else form.places[fdi].along_mm
        depth = form.places[fdi or right].depth_mm / 2
        edge, top = depth + border, depth - 0.4
        yield [form.at(along - 1.2, edge), form.at(along, top), form.at(along + 1.2, edge)], False


def _ridge(form: ArchForm, design: ArchInput) -> _Lines:
    """A line along the crest of every gap."""
    for fdi in design.missing:
        place = form.places[fdi]
        yield [form.at(place.start_mm), form.at(place.end_mm)], False


_AREAS: Final = {
    "torus": _torus,
    "palate-suture": _suture,
    "incisive-papilla": _papilla,
    "frena": _frena,
    "sharp-ridge": _ridge,
}


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
    for draw in (relief, blocked, bracing, hollows, stops, abutments, joints, covers, changed):
        yield from draw(form, design)
