"""The acrylic on the arch: the outline of the base with its plate, and the run of the bar.

A lower base is a band behind the teeth, an upper one a plate over the palate; both widen over the
border where teeth are replaced. It is a picture of the plan, not the border of a real denture.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, hypot, sqrt
from typing import Final

from cases.domain import teeth
from cases.domain.archform import ArchForm, ArchInput, Point, form_of, order_of

# All in mm on the drawing; judgement, by eye.
FLANGE_MM: Final = 2.6  # the border beyond the cheek side of a replaced crown
PLATE_INNER_MM: Final = 9.6  # the inner edge of a lower plate, from the curve
PALATE_TURN_MM: Final = 6.0  # where the back edge of a palate plate leaves the teeth
PAD_MM: Final[dict[teeth.Arch, float]] = {"upper": 4.0, "lower": 5.0}  # beyond a free end
ROOM_BEHIND_MM: Final = 1.0  # beyond the third molars
END_RADIUS_MM: Final = 3.6
RAMP_MM: Final = 2.6  # over which the border falls away beside a standing tooth
HIDDEN_SHARE: Final = 0.12  # the plate reaches this far under a standing crown's middle
SPOON_MM: Final = 30.0
BAR_INSET_MM: Final = 4.0
SHORTEST_BAR_MM: Final = 8.0
ENDLESS_MM: Final = 1e3  # further than any arch goes
_STEP_MM: Final = 1.2
_NEAR_MM: Final = (0.0, 0.08, 0.3, 0.7, 1.2, 1.8, 2.6)
# For a picture a few centimetres wide, where a millimetre is a pixel.
_SMALL_STEP_MM: Final = 2.4
_SMALL_NEAR_MM: Final = (0.0, 0.3, 1.2, 2.6)
_CURVE_STEPS: Final = 18


@dataclass(frozen=True, slots=True)
class Span:
    """The stretch of the arch that the base covers, in mm along it, right end first."""

    start_mm: float
    end_mm: float

    @property
    def crosses_midline(self) -> bool:
        """Whether it reaches both sides."""
        return self.start_mm < 0 < self.end_mm

    @property
    def is_spoon(self) -> bool:
        """Whether it is so short in front that the plate hangs back from it like a spoon."""
        return self.crosses_midline and self.end_mm - self.start_mm < SPOON_MM


def _reach(
    form: ArchForm, design: ArchInput, absent: frozenset[int], index: int, outward: int
) -> float:
    """How far along the arch the base goes at its outermost tooth on one side."""
    row = teeth.teeth_of_arch(form.arch)
    place = form.places[row[index]]
    edge = place.end_mm if outward > 0 else place.start_mm
    if place.fdi not in design.replaced:
        return edge - outward * 0.4
    beyond = row[index + 1 :] if outward > 0 else row[:index]
    if absent.issuperset(beyond):
        paper_end = cell_edges(form.arch)[-2] + ROOM_BEHIND_MM
        return max(-paper_end, min(edge + outward * PAD_MM[form.arch], paper_end))
    neighbour = row[index + outward]
    if neighbour in absent:
        return edge
    return edge + outward * form.places[neighbour].width_mm * 0.55


def span_of(form: ArchForm, design: ArchInput) -> Span | None:
    """Find the stretch that the base covers: everything replaced, clasped or rested on.

    Returns
    -------
    Span or None
        None where nothing is replaced.
    """
    if not design.replaced:
        return None
    order, absent = order_of(form.arch), design.absent
    covered = [order[fdi] for fdi in (*design.replaced, *design.rests)]
    covered += [order[fdi] for fdi, _ in design.clasp_origins]
    return Span(
        _reach(form, design, absent, min(covered), -1),
        _reach(form, design, absent, max(covered), 1),
    )


def full_cells(form: ArchForm, design: ArchInput) -> tuple[bool, ...]:
    """Say where the border is full: at each place, the patient's right first.

    Returns
    -------
    tuple
        One for the room behind the right third molar, one for each place, one for the room behind
        the left third molar. Full where a tooth is replaced, and beyond it to the end of the arch
        where no tooth stands any more.
    """
    order = order_of(form.arch)
    full = [False] * (len(order) + 2)
    for fdi in design.replaced:
        full[order[fdi] + 1] = True
    absent = {order[fdi] + 1 for fdi in design.absent}
    first, last = 1, len(order)
    while first in absent:
        first += 1
    while last in absent:
        last -= 1
    for index in range(first - 1, 0, -1):
        if full[index]:
            full[:index] = [True] * index
            break
    for index in range(last + 1, len(order) + 1):
        if full[index]:
            full[index:] = [True] * (len(full) - index)
            break
    return tuple(full)


Stretch = tuple[float, float]


def full_stretches(edges_mm: tuple[float, ...], full: tuple[bool, ...]) -> tuple[Stretch, ...]:
    """Join neighbouring cells that are full; ``edges_mm`` are where they begin and end."""
    stretches: list[Stretch] = []
    for index, is_full in enumerate(full):
        if not is_full:
            continue
        if index and full[index - 1]:
            stretches[-1] = (stretches[-1][0], edges_mm[index + 1])
        else:
            stretches.append((edges_mm[index], edges_mm[index + 1]))
    return tuple(stretches)


@lru_cache(maxsize=len(teeth.ARCHES))
def cell_edges(arch: teeth.Arch) -> tuple[float, ...]:
    """Where the cells of ``full_cells`` meet, in mm along the arch; the outer ones have no end."""
    places = tuple(form_of(arch).places.values())
    sides = (*(place.start_mm for place in places), places[-1].end_mm)
    return (-ENDLESS_MM, *sides, ENDLESS_MM)


class BaseProfile:
    """How far the base reaches outward and inward at each point along the arch."""

    def __init__(self, form: ArchForm, full: tuple[Stretch, ...], span: Span) -> None:
        """``full``: the stretches along which the border is full."""
        self._form = form
        self._span = span
        self._upper = form.arch == "upper"
        self._full = full

    def _fullness(self, along_mm: float) -> float:
        best = 0.0
        for start, end in self._full:
            share = min(along_mm - start, end - along_mm) / RAMP_MM
            if share >= 1:
                return 1.0
            if share > 0:
                best = max(best, sqrt(1 - (1 - share) ** 2))
        return best

    def _rounding(self, along_mm: float) -> float:
        """1 away from the ends, falling to 0 at them along a quarter of a circle."""
        near = min(along_mm - self._span.start_mm, self._span.end_mm - along_mm)
        if near >= END_RADIUS_MM:
            return 1.0
        return sqrt(max(0.0, 1 - ((END_RADIUS_MM - near) / END_RADIUS_MM) ** 2))

    def at(self, along_mm: float) -> tuple[float, float]:
        """Outer and inner edge of the base, in mm from the curve."""
        depth, full = self._form.depth_at(along_mm), self._fullness(along_mm)
        outer = full * (depth / 2 + FLANGE_MM) - (1 - full) * depth * HIDDEN_SHARE
        inner = -PALATE_TURN_MM if self._upper else -PLATE_INNER_MM
        middle = inner if self._upper else (outer + inner) / 2
        rounding = self._rounding(along_mm)
        return middle + (outer - middle) * rounding, middle + (inner - middle) * rounding

    def stations(
        self, *, fine: bool, within: tuple[float, float] = (-ENDLESS_MM, ENDLESS_MM)
    ) -> list[float]:
        """Points along the span at which the edges are sampled; closer where they turn.

        ``within``: only those from the first on and before the second, in mm along the arch.
        """
        step, nears = (_STEP_MM, _NEAR_MM) if fine else (_SMALL_STEP_MM, _SMALL_NEAR_MM)
        turns = [self._span.start_mm, self._span.end_mm]
        turns += [edge for stretch in self._full for edge in stretch]
        start, end = max(self._span.start_mm, within[0]), min(self._span.end_mm, within[1])
        # On one grid for all designs: what was found for one serves the next.
        grid = _grid(self._form.arch, step)
        found = set(grid[bisect_left(grid, start) : bisect_right(grid, end)])
        for turn in turns:
            found.update(along for along in _beside(turn, nears) if start <= along <= end)
        return sorted(along for along in found if along < within[1])


@lru_cache(maxsize=2 * len(teeth.ARCHES))
def _grid(arch: teeth.Arch, step: float) -> tuple[float, ...]:
    """Points along a whole arch and the room behind it, a step apart."""
    ends = max(place.end_mm for place in form_of(arch).places.values()) + ROOM_BEHIND_MM
    most = ceil(ends / step)
    return tuple(round(k * step, 3) for k in range(-most, most + 1))


@lru_cache(maxsize=512)
def _beside(turn_mm: float, nears: tuple[float, ...]) -> tuple[float, ...]:
    """Points close to a turn of the edge, on both sides; the turns lie at the teeth."""
    return tuple(round(turn_mm + side * near, 3) for near in nears for side in (-1, 1))


def _bow(
    form: ArchForm, start_mm: float, end_mm: float, out_mm: float, inward: float, forward: float
) -> list[Point]:
    """Curve across the palate between two points of the arch.

    ``inward`` pulls it towards the tongue where it leaves the arch, ``forward`` to the front teeth;
    both as shares of the distance. A curve across the midline leaves towards the other side.
    """
    first, last = form.at(start_mm, out_mm), form.at(end_mm, out_mm)
    distance = hypot(last[0] - first[0], last[1] - first[1])
    front = form.at(0.0)[1]
    push = forward * distance * (1 if front > 0 else -1)
    slant = abs(last[1] - first[1]) / distance
    across = start_mm * end_mm < 0 and abs(end_mm - start_mm) >= SPOON_MM
    pull = inward * distance * (max(0.1, 1 - 1.3 * slant) if across else 1.0)
    controls = []
    for along, point in ((start_mm, first), (end_mm, last)):
        x, y = form.at(along, out_mm - 1.0)
        if across:
            x, y = point[0] - (1 if point[0] > 0 else -1), point[1]
        controls.append((point[0] + (x - point[0]) * pull, point[1] + (y - point[1]) * pull + push))
    curve = []
    for step in range(_CURVE_STEPS + 1):
        t = step / _CURVE_STEPS
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        ends = (first, controls[0], controls[1], last)
        curve.append(
            (
                sum(w * point[0] for w, point in zip(weights, ends, strict=True)),
                sum(w * point[1] for w, point in zip(weights, ends, strict=True)),
            )
        )
    return curve


def _palate_pull(span: Span) -> tuple[float, float]:
    """How the back edge of a palate plate bends: inward and forward, as ``_bow`` takes it."""
    if span.is_spoon:
        return 0.95, 0.0
    return (0.34, 0.1) if span.crosses_midline else (0.55, 0.0)


def base_outline(
    form: ArchForm, design: ArchInput, *, fine: bool = True
) -> tuple[Point, ...] | None:
    """Outline the acrylic, with fewer points for a small picture unless ``fine``.

    Returns
    -------
    tuple or None
        A closed polygon in mm; None where nothing is replaced.
    """
    span = span_of(form, design)
    if span is None:
        return None
    full = full_stretches(cell_edges(form.arch), full_cells(form, design))
    profile = BaseProfile(form, full, span)
    edges = [(along, *profile.at(along)) for along in profile.stations(fine=fine)]
    outer = [form.at(along, out) for along, out, _ in edges]
    if form.arch == "lower":
        return (*outer, *(form.at(along, inner) for along, _, inner in reversed(edges)))
    return (*outer, *palate_edge(form, span))


def palate_edge(form: ArchForm, span: Span) -> list[Point]:
    """The back edge of a plate over the palate, from the patient's left to the right."""
    return _bow(form, span.end_mm, span.start_mm, -PALATE_TURN_MM, *_palate_pull(span))


def bar_line(form: ArchForm, design: ArchInput) -> tuple[Point, ...] | None:
    """Line of the bar inside the base: behind the front teeth, or across the palate.

    Returns
    -------
    tuple or None
        An open line in mm; None without a bar, or where no base is there to hold it.
    """
    span = span_of(form, design) if design.bar else None
    return None if span is None else bar_along(form, span)


def bar_along(form: ArchForm, span: Span) -> tuple[Point, ...] | None:
    """Line of a bar inside a base; None where the base is too short for one."""
    start, end = span.start_mm + BAR_INSET_MM, span.end_mm - BAR_INSET_MM
    if span.crosses_midline:
        places = form.places.values()
        reach = max(place.along_mm for place in places if place.fdi % 10 == 6)
        start, end = max(start, -reach), min(end, reach)
    if end - start < SHORTEST_BAR_MM:
        return None
    canine = max(place.end_mm for place in form.places.values() if place.fdi % 10 == 3)
    if form.arch == "upper" and start < -canine and end > canine:
        return tuple(_bow(form, start, end, -8.5, 0.3, 0.12))
    count = max(4, round((end - start) / _STEP_MM))
    line = []
    for step in range(count + 1):
        along = start + (end - start) * step / count
        tongue_face = -form.depth_at(along) / 2
        line.append(form.at(along, (tongue_face - PLATE_INNER_MM) / 2))
    return tuple(line)
