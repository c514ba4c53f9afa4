"""What a design offers to check: gaps, free ends, faces, clasps, and the subjects they make.

A subject is a short stable text ("44", "44 mesial", "right pad", "base 45-47") that names the
place on the cast; an empty one means the whole piece or the whole cast.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from cases.domain import teeth
from cases.domain.design import Design
from cases.domain.words import N_


@dataclass(frozen=True, slots=True)
class Base:
    """One run of denture teeth on one base.

    ``teeth``: FDI numbers from the patient's right to the left. ``right_wall``/``left_wall``:
    the standing tooth beside the run on that side, None where nothing stands behind.
    """

    teeth: tuple[int, ...]
    right_wall: int | None
    left_wall: int | None

    @property
    def name(self) -> str:
        """The base as the bench says it: "base 45-47", or "base 15"."""
        first, last = sorted((self.teeth[0], self.teeth[-1]))
        return f"base {first}" if first == last else f"base {first}-{last}"


def used_third_molars(design: Design) -> frozenset[int]:
    """Return the third molars that bear or bound the piece: a clasp, a rest, a stop or block-out
    lies on them, or they are named as abutments."""
    named = {clasp.tooth for clasp in design.clasps} | design.rests | design.stops
    named |= design.abutments | {tooth for tooth, _side in design.blocked}
    return frozenset(tooth for tooth in named if teeth.is_third_molar(tooth)) - design.missing


def standing(design: Design) -> tuple[int, ...]:
    """List the teeth still standing after delivery, from the patient's right to the left.

    A third molar that nobody named counts as not there, as usual in classing an arch
    (Applegate, from memory).
    """
    named = used_third_molars(design)
    return tuple(
        tooth
        for tooth in teeth.teeth_of_arch(design.arch)
        if tooth not in design.missing
        and tooth not in design.extracted
        and (not teeth.is_third_molar(tooth) or tooth in named)
    )


def bases(design: Design) -> tuple[Base, ...]:
    """Return the bases: replaced teeth between which no tooth stands, right to left."""
    stands = set(standing(design))
    found: list[Base] = []
    run: list[int] = []
    wall: int | None = None
    for tooth in teeth.teeth_of_arch(design.arch):
        if tooth in stands:
            if run:
                found.append(Base(tuple(run), wall, tooth))
            run, wall = [], tooth
        elif tooth in design.replaced:
            run.append(tooth)
    if run:
        found.append(Base(tuple(run), wall, None))
    return tuple(found)


def free_ends(design: Design) -> tuple[str, ...]:
    """Return the areas that a free end should cover: pads (lower), tuberosities (upper)."""
    area = "pad" if design.arch == "lower" else "tuberosity"
    found = bases(design)
    ends = []
    if any(base.right_wall is None for base in found):
        ends.append(f"right {area}")
    if any(base.left_wall is None for base in found):
        ends.append(f"left {area}")
    return tuple(ends)


def side_towards(tooth: int, neighbour_is_left: bool) -> str:
    """Name the side of ``tooth`` that looks to a neighbour on the patient's left or right."""
    return "mesial" if teeth.is_right(tooth) == neighbour_is_left else "distal"


def gap_walls(design: Design) -> tuple[tuple[int, str], ...]:
    """Return the tooth faces that bound the bases, as (tooth, side), right to left."""
    walls: list[tuple[int, str]] = []
    for base in bases(design):
        if base.right_wall is not None:
            walls.append((base.right_wall, side_towards(base.right_wall, True)))
        if base.left_wall is not None:
            walls.append((base.left_wall, side_towards(base.left_wall, False)))
    return tuple(walls)


def lone_ends(design: Design) -> tuple[int, ...]:
    """Return the teeth that stand alone, a base on either side, and bear a free end; right to
    left."""
    walls = [tooth for tooth, _side in gap_walls(design)]
    ends = [
        base.right_wall or base.left_wall
        for base in bases(design)
        if (base.right_wall is None) != (base.left_wall is None)
    ]
    return tuple(tooth for tooth in ends if tooth is not None and walls.count(tooth) > 1)


def faces(design: Design) -> tuple[tuple[int, str], ...]:
    """Return the faces that acrylic lies against: the gap walls and every blocked-out face."""
    row = teeth.teeth_of_arch(design.arch)
    both = set(gap_walls(design)) | set(design.blocked)
    return tuple(sorted(both, key=lambda face: (row.index(face[0]), face[1])))


def _face_words(design: Design, face: tuple[int, str]) -> str:
    tooth, side = face
    return f"{tooth} {side}" if tooth in standing(design) else f"ridge {tooth} {side}"


def _in_row(design: Design, numbers: frozenset[int]) -> tuple[str, ...]:
    return tuple(str(tooth) for tooth in teeth.teeth_of_arch(design.arch) if tooth in numbers)


def _each_clasp(design: Design) -> tuple[str, ...]:
    return _in_row(design, frozenset(clasp.tooth for clasp in design.clasps))


def _each_braced(design: Design) -> tuple[str, ...]:
    """Every clasp but those that, by a concession, nothing faces."""
    braced = frozenset(clasp.tooth for clasp in design.clasps if clasp.bracing != "none")
    return _in_row(design, braced)


def _bar(design: Design) -> tuple[str, ...]:
    return ("bar",) if design.bar else ()


def _bar_or_tails(design: Design) -> tuple[str, ...]:
    if design.bar:
        return ("bar",)
    return ("tails",) if design.clasps or design.rests else ()


def _each_tail(design: Design) -> tuple[str, ...]:
    rests = tuple(f"rest {tooth}" for tooth in _in_row(design, design.rests))
    return (*_bar(design), *_each_clasp(design), *rests)


_TABLE: tuple[tuple[str, str, Callable[[Design], tuple[str, ...]]], ...] = (
    ("whole", N_("Once, for the whole piece"), lambda design: ("",)),
    ("cast", N_("Once, for the casts"), lambda design: ("",)),
    (
        "with-teeth",
        N_("Once, where teeth are replaced"),
        lambda design: ("",) if design.replaced else (),
    ),
    ("each-clasp", N_("For each clasped tooth"), _each_clasp),
    ("each-braced", N_("For each clasped tooth that something faces"), _each_braced),
    (
        "each-face",
        N_("For each face that acrylic lies against"),
        lambda design: tuple(_face_words(design, face) for face in faces(design)),
    ),
    (
        "each-relieved",
        N_("For each face that acrylic lies against and whose gum line is relieved"),
        lambda design: tuple(
            _face_words(design, face) for face in faces(design) if face not in design.unrelieved
        ),
    ),
    ("each-free-end", N_("For each pad or tuberosity of a free end"), free_ends),
    (
        "each-border",
        N_("For the border of each base"),
        lambda design: tuple(base.name for base in bases(design)),
    ),
    (
        "each-replaced",
        N_("For each tooth replaced"),
        lambda design: _in_row(design, design.replaced),
    ),
    (
        "each-extracted",
        N_("For each tooth extracted at delivery"),
        lambda design: _in_row(design, design.extracted),
    ),
    ("bar", N_("For the bar"), _bar),
    ("bar-or-tails", N_("For the bar, or the wire tails where there is none"), _bar_or_tails),
    ("bar-and-tails", N_("For the bar and for each clasp and wire rest"), _each_tail),
)

SUBJECTS: dict[str, Callable[[Design], tuple[str, ...]]] = {
    name: ask for name, _words, ask in _TABLE
}
SUBJECT_WORDS: dict[str, str] = {name: words for name, words, _ask in _TABLE}


def subjects_of(subjects: str, design: Design) -> tuple[str, ...]:
    """Return the subjects a check is asked for ("44", "44 mesial", "right pad", "").

    Parameters
    ----------
    subjects
        A name of ``SUBJECTS``.

    Raises
    ------
    ValueError
        Nobody knows this kind of subject.
    """
    ask = SUBJECTS.get(subjects)
    if ask is None:
        raise ValueError(f"Nobody knows the subjects “{subjects}”.")
    return ask(design)
