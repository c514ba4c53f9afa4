"""The drawing of a design on the arch, as plain shapes in millimetres.

One pure function, several outputs: the screen (``archsvg``), the ticket and the label
(``cases.documents.arch``) draw the same shapes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from cases.domain import archbase, archcrown, teeth
from cases.domain.archform import ArchForm, ArchInput, Place, Point, form_of
from cases.domain.archmarks import marks
from cases.domain.archshapes import Dot, Label, Outline, Role, Shape

# From this width on, in px, a drawing has numbers, letters and fissures.
# Judgement: at 180 px a number is 8 px high; below that only the pattern is read.
DETAILED_FROM_PX: Final = 180
DEFAULT_PX: Final = 64

# What lies outside the crowns, from the curve; judgement, so that nothing collides.
NUMBER_GAP_MM: Final = archbase.FLANGE_MM + 0.9
CLASP_GAP_MM: Final = 0.6
TIP_RADIUS_MM: Final = 1.15
SMALL_TIP_RADIUS_MM: Final = 1.5
NUMBER_SIZE_MM: Final = 3.6
LONG_NUMBER_SIZE_MM: Final = 2.9  # three characters
FIGURE_WIDTH: Final = 0.58  # of a character, as a share of its size; of the fonts in use
LETTER_SIZE_MM: Final = 4.6
CROWN_POINTS: Final = 40
SMALL_CROWN_POINTS: Final = 24
# How much of the way around the cheek side the arm goes before its tip.
ARM_REACH: Final = 0.8
# A milk tooth is drawn so much smaller than the tooth that will follow it; judgement, by eye.
PRIMARY_SHARE: Final = 0.84


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes in the order in which they are laid over each other.

    Attributes
    ----------
    box
        Left, top, width and height in mm of the paper that the shapes need.
    size_px
        Width on screen.
    """

    shapes: tuple[Shape, ...]
    box: tuple[float, float, float, float]
    size_px: int
    detailed: bool

    @property
    def mm_per_px(self) -> float:
        """Millimetres of the drawing in one pixel of the screen."""
        return self.box[2] / self.size_px


def _turned(shape: Shape) -> Shape:
    if isinstance(shape, Outline):
        points = tuple((-x, -y) for x, y in shape.points)
        return Outline(shape.role, points, shape.closed, shape.fdi)
    x, y = shape.centre
    if isinstance(shape, Dot):
        return Dot(shape.role, (-x, -y), shape.radius_mm, shape.fdi)
    return Label(shape.role, (-x, -y), shape.text, shape.size_mm, shape.fdi)


def crown_role(design: ArchInput, fdi: int) -> Role:
    """What a crown is drawn as."""
    if fdi in design.replaced:
        return "crown-replaced"
    return "crown-missing" if fdi in design.missing else "crown-present"


def _crowns(form: ArchForm, design: ArchInput, *, every_tooth: bool, steps: int) -> Iterator[Shape]:
    for fdi, place in form.places.items():
        role = crown_role(design, fdi)
        if role == "crown-missing" and teeth.is_third_molar(fdi) and not every_tooth:
            continue
        size = PRIMARY_SHARE if fdi in design.primary else 1.0
        yield Outline(role, _crown(form.arch, place, size, steps), fdi=fdi)


@lru_cache(maxsize=512)
def _crown(arch: teeth.Arch, place: Place, share: float, steps: int) -> tuple[Point, ...]:
    """Lay a crown over its place; all drawings of an arch share it."""
    local = archcrown.outline(
        arch, teeth.kind(place.fdi), place.width_mm * share, place.depth_mm * share, steps
    )
    return form_of(arch).around(place.fdi, local)


def _fissures(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    for fdi, place in form.places.items():
        if fdi in design.absent or fdi in design.replaced or teeth.is_anterior(fdi):
            continue
        for line in archcrown.fissures(teeth.kind(fdi), place.width_mm, place.depth_mm):
            yield Outline("fissure", form.around(fdi, line), closed=False, fdi=fdi)


def _crosses(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Cross out what is taken out at delivery, with a halo that parts the cross from any crown."""
    roles: tuple[Role, Role] = ("extracted-halo", "extracted")
    for role in roles:
        for fdi in design.extracted:
            place = form.places[fdi]
            u, v = place.width_mm * 0.27, place.depth_mm * 0.27
            for line in (((-u, -v), (u, v)), ((-u, v), (u, -v))):
                yield Outline(role, form.around(fdi, line), closed=False, fdi=fdi)


def _rests(form: ArchForm, design: ArchInput) -> Iterator[Shape]:
    """Draw each rest as a short stub over the edge from which the clasp comes, or the distal."""
    origins = dict(design.clasp_origins)
    for fdi in design.rests:
        place = form.places[fdi]
        side = -1 if origins.get(fdi, "distal") == "mesial" else 1
        edge, level = side * place.width_mm / 2, -place.depth_mm * 0.1
        line = ((edge * 1.1, level), (edge * 0.4, level))
        yield Outline("rest", form.around(fdi, line), closed=False, fdi=fdi)


def _clasps(form: ArchForm, design: ArchInput, radius_mm: float) -> Iterator[Shape]:
    """Draw each arm from the base over the shoulder along the buccal face to its tip."""
    for fdi, origin in design.clasp_origins:
        arm = _arm(form, fdi, 1 if origin == "distal" else -1)
        yield Outline("clasp", arm, closed=False, fdi=fdi)
        yield Dot("clasp-tip", arm[-1], radius_mm, fdi)


@lru_cache(maxsize=64)
def _arm(form: ArchForm, fdi: int, side: int) -> tuple[Point, ...]:
    """Lay an arm over its tooth; all drawings of an arch share it."""
    place = form.places[fdi]
    crown = archcrown.outline(form.arch, teeth.kind(fdi), place.width_mm, place.depth_mm)
    face = archcrown.facing(crown, distal=side > 0, share=ARM_REACH)
    arm = archcrown.widened(face, CLASP_GAP_MM)
    shoulder = (side * (place.width_mm / 2 + CLASP_GAP_MM * 0.6), -place.depth_mm * 0.32)
    return form.around(fdi, [shoulder, *arm])


def _number_size(system: str) -> tuple[float, float]:
    """Size of the numbers and width of the widest, in mm."""
    longest = 3 if system == "palmer" else 2
    size = LONG_NUMBER_SIZE_MM if longest > 2 else NUMBER_SIZE_MM
    return size, size * FIGURE_WIDTH * longest


def _numbers(form: ArchForm, design: ArchInput, system: str) -> Iterator[Shape]:
    """Set each number outside its crown, clear of a border: further out where it lies beside."""
    size, width = _number_size(system)
    depths = [place.depth_mm for place in form.places.values()]
    neighbours = zip(depths[:1] + depths, depths[1:] + depths[-1:], strict=False)
    for (fdi, place), (before, after) in zip(form.places.items(), neighbours, strict=True):
        if teeth.is_third_molar(fdi) and fdi in design.missing and fdi not in design.replaced:
            continue
        edge = max(place.depth_mm, (before + after) / 2) / 2 + NUMBER_GAP_MM
        (x0, y0), (x1, y1) = form.at(place.along_mm, edge), form.at(place.along_mm, edge + 1.0)
        room = abs(x1 - x0) * width / 2 + abs(y1 - y0) * size * 0.38
        centre = form.at(place.along_mm, edge + room)
        said = teeth.primary_before(fdi) if fdi in design.primary else fdi
        yield Label("number", centre, teeth.label(said, system), size, fdi)


def _letters(form: ArchForm) -> Iterator[Shape]:
    """Print R and L in the two free corners beside the front teeth."""
    half = form.curve.half_width_mm
    y = form.at(0.0, 2.0)[1]
    yield Label("side-letter", (-half - 6.0, y), "R", LETTER_SIZE_MM)
    yield Label("side-letter", (half + 6.0, y), "L", LETTER_SIZE_MM)


@lru_cache(maxsize=16)
def _box(form: ArchForm, system: str, *, detailed: bool) -> tuple[float, float, float, float]:
    """Frame every drawing of one arch alike, so that faces in a list can be compared."""
    size, width = _number_size(system)
    margin = NUMBER_GAP_MM + width + 0.4 if detailed else archbase.FLANGE_MM + 0.8
    margin_front = NUMBER_GAP_MM + size if detailed else margin
    deepest = max(place.depth_mm for place in form.places.values())
    half = form.curve.half_width_mm + deepest / 2 + margin
    last = max(form.places.values(), key=lambda place: place.along_mm)
    ends = (
        form.at(0.0, form.places[last.fdi - 7].depth_mm / 2 + margin_front)[1],
        form.at(last.end_mm + archbase.ROOM_BEHIND_MM + 0.5)[1],
    )
    return (-half, min(ends), 2 * half, max(ends) - min(ends))


def _appliance(
    form: ArchForm, design: ArchInput, *, every_tooth: bool, full: bool
) -> Iterator[Shape]:
    """Lay the shapes over each other, from the base up to the wires."""
    base = archbase.base_outline(form, design, fine=full)
    if base:
        yield Outline("base", base)
    bar = archbase.bar_line(form, design)
    if bar:
        yield Outline("bar", bar, closed=False)
    steps = CROWN_POINTS if full else SMALL_CROWN_POINTS
    yield from _crowns(form, design, every_tooth=every_tooth, steps=steps)
    if full:
        yield from _fissures(form, design)
    yield from _crosses(form, design)
    yield from _rests(form, design)
    yield from _clasps(form, design, TIP_RADIUS_MM if full else SMALL_TIP_RADIUS_MM)
    if full:
        yield from marks(form, design)


@lru_cache(maxsize=1024)
def draw(
    design: ArchInput,
    *,
    size: int = DEFAULT_PX,
    notation: str = "fdi",
    in_hand: bool = False,
    detailed: bool | None = None,
    every_tooth: bool = False,
) -> Drawing:
    """Draw a design on its arch.

    Parameters
    ----------
    design
        What to show.
    size
        Width on screen in px; it decides the thickness of lines and, unless ``detailed`` is given,
        whether there are numbers.
    notation
        ``"fdi"``, ``"universal"`` or ``"palmer"``, for the numbers.
    in_hand
        Turn the drawing by 180°, as one holds the cast. Never a mirror image.
    detailed
        Draw numbers, the letters R and L, and fissures.
    every_tooth
        Draw missing third molars too, for a page on which teeth are chosen.

    Raises
    ------
    ValueError
        If ``notation`` is another word or ``size`` is not positive.
    """
    if notation not in teeth.SYSTEMS:
        raise ValueError(f"{notation!r} is not a tooth numbering system.")
    if size <= 0:
        raise ValueError(f"A drawing cannot be {size} px wide.")
    form = form_of(design.arch)
    full = size >= DETAILED_FROM_PX if detailed is None else detailed
    shapes = list(_appliance(form, design, every_tooth=every_tooth, full=full))
    if full:
        shapes += _numbers(form, design, notation)
        shapes += _letters(form)
    box = _box(form, notation, detailed=full)
    if in_hand:
        shapes = [_turned(shape) for shape in shapes]
        box = (box[0], -box[1] - box[3], box[2], box[3])
    return Drawing(tuple(shapes), box, size, full)
