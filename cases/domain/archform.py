"""The form of the dental arch: where each tooth stands and how big it is.

Coordinates are millimetres as one looks at the patient: x to the viewer's right, y down the page.
The patient's right is on the viewer's left; an upper arch opens downward, a lower one upward.
Nothing is ever mirrored: turning a cast in the hand is a rotation by 180°.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import cos, hypot, pi, sin
from typing import Final, Literal

from cases.domain import teeth
from cases.domain.design import Clasp, Design

Point = tuple[float, float]
ClaspOrigin = Literal["distal", "mesial"]

# Crown sizes, in mm, positions 1 to 8 from the midline: along the arch, and from cheek to tongue.
# Source: Wheeler's Dental Anatomy, tables of average measurements, from memory.
# Lower widths a little larger in front than the table: judgement, so that incisors stay legible.
MESIODISTAL_MM: Final[dict[teeth.Arch, tuple[float, ...]]] = {
    "upper": (8.5, 6.5, 7.5, 7.0, 7.0, 10.0, 9.0, 8.5),
    "lower": (5.2, 5.7, 7.0, 7.0, 7.2, 11.0, 10.5, 10.0),
}
BUCCOLINGUAL_MM: Final[dict[teeth.Arch, tuple[float, ...]]] = {
    "upper": (7.0, 6.0, 8.0, 9.0, 9.0, 11.0, 11.0, 10.0),
    "lower": (6.0, 6.5, 7.5, 7.5, 8.0, 10.2, 10.0, 9.5),
}


@dataclass(frozen=True, slots=True)
class ArchCurve:
    """The super-ellipse through the middle of the crowns: |x/a|^n + |y/b|^n = 1.

    Attributes
    ----------
    half_width_mm, depth_mm
        The half axes a (across) and b (from the back to the front).
    exponent
        The n; 2 would be an ellipse, more is squarer.
    """

    half_width_mm: float
    depth_mm: float
    exponent: float


# Lower: judgement, fitted by eye so that fourteen average teeth fill it. Upper: the same, wider.
CURVES: Final[dict[teeth.Arch, ArchCurve]] = {
    "upper": ArchCurve(half_width_mm=28.0, depth_mm=45.0, exponent=2.25),
    "lower": ArchCurve(half_width_mm=26.5, depth_mm=43.0, exponent=2.25),
}

_CURVE_STEPS: Final = 240
_KEPT_FRAMES: Final = 4096


@lru_cache(maxsize=len(teeth.ARCHES))
def order_of(arch: teeth.Arch) -> dict[int, int]:
    """Give each permanent tooth of an arch its place in the row, 0 at the patient's right end."""
    return {fdi: index for index, fdi in enumerate(teeth.teeth_of_arch(arch))}


def _sorted_teeth(numbers: Iterable[int], arch: teeth.Arch) -> tuple[int, ...]:
    order = order_of(arch)
    try:
        return tuple(sorted(set(numbers), key=order.__getitem__))
    except KeyError as unknown:
        raise ValueError(
            f"{unknown.args[0]!r} is not a permanent tooth of the {arch} arch."
        ) from None


def _with_origin(clasp: Clasp) -> tuple[int, ClaspOrigin] | int:
    """The wire comes from the side away from its tip, once somebody has said where that lies."""
    if not clasp.tip:
        return clasp.tooth
    return clasp.tooth, "distal" if clasp.tip == "mesial" else "mesial"


_TEETH: Final = (
    "missing", "replaced", "extracted", "rests", "primary", "braced", "stops", "abutments",
    "joints", "hollowed", "changed",
)  # fmt: skip


@dataclass(frozen=True)
class ArchInput:
    """What the drawing of an arch shows. Any iterables are taken and put in order.

    Attributes
    ----------
    arch
        ``"upper"`` or ``"lower"``.
    missing
        FDI numbers of the teeth that are gone.
    replaced
        Teeth that the appliance replaces; one that is not in ``extracted`` is missing too.
    extracted
        Teeth still standing that are taken out at delivery.
    clasps
        Pairs (tooth, origin); the wire comes from the base at the ``"distal"`` or ``"mesial"``
        side and its tip lies at the other. A bare tooth number lets the drawing choose the side.
    rests
        Teeth that carry a rest.
    bar
        True where a bar strengthens the base.
    primary
        Places where the milk tooth still stands.
    braced, stops, abutments, joints, hollowed, changed
        Teeth marked on a large drawing: bracing away from the arm, an acrylic stop, an abutment
        with no wire, a soldered or welded joint, a denture tooth hollowed over a wire, and what a
        new version changed.
    blocked
        Blocked-out faces as (tooth, side).
    covered
        Areas behind a free end that are covered, like ``"right pad"``.
    relieved
        Areas relieved beside the gum lines, in words of ``design.RELIEF_AREAS``.

    Raises
    ------
    ValueError
        If a tooth is not a permanent tooth of this arch, or an origin is another word.
    """

    arch: teeth.Arch
    missing: tuple[int, ...] = ()
    replaced: tuple[int, ...] = ()
    extracted: tuple[int, ...] = ()
    clasps: tuple[tuple[int, ClaspOrigin] | int, ...] = ()
    rests: tuple[int, ...] = ()
    bar: bool = False
    primary: tuple[int, ...] = ()
    braced: tuple[int, ...] = ()
    stops: tuple[int, ...] = ()
    joints: tuple[int, ...] = ()
    hollowed: tuple[int, ...] = ()
    changed: tuple[int, ...] = ()
    blocked: tuple[tuple[int, str], ...] = ()
    covered: tuple[str, ...] = ()
    abutments: tuple[int, ...] = ()
    relieved: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Put everything in order, so that equal designs are equal inputs."""
        settle = object.__setattr__
        replaced, extracted = set(self.replaced), set(self.extracted)
        settle(self, "missing", tuple((set(self.missing) | replaced) - extracted))
        for name in _TEETH:
            given = getattr(self, name)
            settle(self, name, _sorted_teeth(given, self.arch) if given else ())
        settle(self, "clasps", self._settled_clasps())
        settle(self, "bar", bool(self.bar))
        for name in ("blocked", "covered", "relieved"):
            settle(self, name, tuple(sorted(getattr(self, name))))

    @classmethod
    def from_design(cls, design: Design, *, changed: Iterable[int] = ()) -> ArchInput:
        """Take what the drawing needs from a design.

        Parameters
        ----------
        changed
            Teeth to ring, where this is a new version.

        Raises
        ------
        ValueError
            If the design names a tooth that is not in its arch.
        """
        return cls(
            arch=design.arch,
            missing=tuple(design.missing),
            replaced=tuple(design.replaced),
            extracted=tuple(design.extracted),
            clasps=tuple(_with_origin(clasp) for clasp in design.clasps),
            rests=tuple(design.rests),
            bar=design.bar,
            primary=tuple(design.primary),
            braced=tuple(
                clasp.tooth for clasp in design.clasps if clasp.bracing not in ("", "none")
            ),
            stops=tuple(design.stops),
            joints=tuple(design.joint_teeth),
            hollowed=tuple(design.hollowed),
            changed=tuple(changed),
            blocked=tuple(design.blocked),
            covered=tuple(area for area, how in design.covered if how),
            abutments=tuple(design.abutments),
            relieved=tuple(design.relieved),
        )

    @property
    def absent(self) -> frozenset[int]:
        """Teeth without a natural crown once the appliance is delivered."""
        return frozenset(self.missing) | frozenset(self.extracted)

    @property
    def clasp_origins(self) -> tuple[tuple[int, ClaspOrigin], ...]:
        """Every clasp as (tooth, side that the wire comes from)."""
        return tuple(clasp for clasp in self.clasps if isinstance(clasp, tuple))

    def _settled_clasps(self) -> tuple[tuple[int, ClaspOrigin], ...]:
        origins: dict[int, ClaspOrigin] = {}
        for clasp in self.clasps:
            fdi, origin = clasp if isinstance(clasp, tuple) else (clasp, None)
            if origin not in ("distal", "mesial", None):
                raise ValueError(f"{origin!r} is not a side for a clasp to come from.")
            if fdi not in order_of(self.arch):
                raise ValueError(f"{fdi!r} is not a permanent tooth of the {self.arch} arch.")
            origins[fdi] = origin or self._likely_origin(fdi)
        return tuple((fdi, origins[fdi]) for fdi in _sorted_teeth(origins, self.arch))

    def _likely_origin(self, fdi: int) -> ClaspOrigin:
        """From the distal, unless only the gap on the mesial side carries a base."""
        row = teeth.teeth_of_arch(self.arch)
        index = order_of(self.arch)[fdi]
        outward = -1 if teeth.is_right(fdi) else 1
        distal, mesial = index + outward, index - outward
        has_distal = 0 <= distal < len(row) and row[distal] in self.replaced
        return "mesial" if row[mesial] in self.replaced and not has_distal else "distal"


@dataclass(frozen=True, slots=True)
class Place:
    """Where one tooth stands.

    Attributes
    ----------
    along_mm
        Signed way along the arch from the midline to the middle of the crown; the patient's left
        is positive.
    width_mm, depth_mm
        Size of the crown along the arch, and from cheek to tongue.
    """

    fdi: int
    along_mm: float
    width_mm: float
    depth_mm: float

    @property
    def distal(self) -> int:
        """Sign of ``along_mm`` towards the back: +1 on the patient's left."""
        return 1 if self.along_mm > 0 else -1

    @property
    def start_mm(self) -> float:
        """The side towards the patient's right."""
        return self.along_mm - self.width_mm / 2

    @property
    def end_mm(self) -> float:
        """The side towards the patient's left."""
        return self.along_mm + self.width_mm / 2


class ArchForm:
    """The curve of one arch with its sixteen places."""

    def __init__(self, arch: teeth.Arch) -> None:
        """Measure the curve once: way from the midline against position."""
        self.arch: teeth.Arch = arch
        self.curve = CURVES[arch]
        self.places = self._lay_out()
        self._middles = tuple(place.along_mm for place in self.places.values())
        self._depths = tuple(place.depth_mm for place in self.places.values())
        # y grows down the page: the front of a lower arch is below, of an upper one above.
        self._front = 1.0 if arch == "lower" else -1.0
        self._ways, self._points, self._tangents = self._measure()
        # All drawings of an arch ask for the same points along it again and again.
        self._frame = lru_cache(maxsize=_KEPT_FRAMES)(self._find_frame)
        self.depth_at = lru_cache(maxsize=_KEPT_FRAMES)(self._find_depth)

    def _lay_out(self) -> dict[int, Place]:
        places: dict[int, Place] = {}
        for fdi in teeth.teeth_of_arch(self.arch):
            position = fdi % 10
            widths = MESIODISTAL_MM[self.arch]
            along = sum(widths[: position - 1]) + widths[position - 1] / 2
            places[fdi] = Place(
                fdi=fdi,
                along_mm=-along if teeth.is_right(fdi) else along,
                width_mm=widths[position - 1],
                depth_mm=BUCCOLINGUAL_MM[self.arch][position - 1],
            )
        return places

    def _measure(self) -> tuple[list[float], list[Point], list[Point]]:
        """Walk the patient's left half from the midline back to the ends of the super-ellipse."""
        curve = self.curve
        points: list[Point] = []
        tangents: list[Point] = []
        for step in range(_CURVE_STEPS + 1):
            angle = pi / 2 * step / _CURVE_STEPS
            across = curve.half_width_mm * sin(angle) ** (2 / curve.exponent)
            forward = curve.depth_mm * cos(angle) ** (2 / curve.exponent)
            points.append((across, max(forward, 0.0)))
            # The tangent from the gradient of the implicit form: smooth at both ends.
            slope_x = (across / curve.half_width_mm) ** (curve.exponent - 1) / curve.half_width_mm
            slope_y = (max(forward, 0.0) / curve.depth_mm) ** (curve.exponent - 1) / curve.depth_mm
            length = hypot(slope_x, slope_y)
            tangents.append((slope_y / length, -slope_x / length))
        ways = [0.0]
        for (x0, y0), (x1, y1) in pairwise(points):
            ways.append(ways[-1] + hypot(x1 - x0, y1 - y0))
        return ways, points, tangents

    def _find_depth(self, along_mm: float) -> float:
        """Depth of the crowns here, in mm, between the middles of the neighbours."""
        index = bisect_left(self._middles, along_mm)
        if index in (0, len(self._middles)):
            return self._depths[min(index, len(self._depths) - 1)]
        before, after = self._middles[index - 1], self._middles[index]
        share = (along_mm - before) / (after - before)
        shallow, deep = self._depths[index - 1], self._depths[index]
        return shallow + share * (deep - shallow)

    def _find_frame(self, along_mm: float) -> tuple[float, float, float, float]:
        """Find the point and the tangent (towards the patient's left), front upward in y."""
        way = abs(along_mm)
        last = len(self._ways) - 1
        if way >= self._ways[last]:
            (x, y), (tx, ty) = self._points[last], self._tangents[last]
            y -= way - self._ways[last]
        else:
            index = bisect_right(self._ways, way) - 1
            share = (way - self._ways[index]) / (self._ways[index + 1] - self._ways[index])
            (x0, y0), (x1, y1) = self._points[index], self._points[index + 1]
            (tx0, ty0), (tx1, ty1) = self._tangents[index], self._tangents[index + 1]
            x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
            tx, ty = tx0 + share * (tx1 - tx0), ty0 + share * (ty1 - ty0)
            length = hypot(tx, ty)
            tx, ty = tx / length, ty / length
        return (x, y, tx, ty) if along_mm >= 0 else (-x, y, tx, -ty)

    def at(self, along_mm: float, out_mm: float = 0.0) -> Point:
        """Find a point by its way along the arch and its distance outward.

        Parameters
        ----------
        along_mm
            Signed way from the midline, the patient's left positive.
        out_mm
            Distance from the curve towards the cheek; negative is towards the tongue.

        Returns
        -------
        tuple
            x to the viewer's right and y down the page, in mm.
        """
        x, y, tx, ty = self._frame(along_mm)
        return x - ty * out_mm, self._front * (y + tx * out_mm)

    def around(self, fdi: int, outline: Iterable[Point]) -> tuple[Point, ...]:
        """Lay an outline over a tooth, turned to the arch.

        Parameters
        ----------
        fdi
            The tooth.
        outline
            Points (distal, outward) in mm from the middle of the crown.
        """
        place = self.places[fdi]
        x, y, tx, ty = self._frame(place.along_mm)
        side, front = place.distal, self._front
        return tuple(
            (x + side * u * tx - v * ty, front * (y + side * u * ty + v * tx)) for u, v in outline
        )


@lru_cache(maxsize=len(teeth.ARCHES))
def form_of(arch: teeth.Arch) -> ArchForm:
    """Give the form of an arch, measured once."""
    return ArchForm(arch)
