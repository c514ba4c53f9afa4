"""A change of plan: what differs between two versions, what it puts in question, who must agree.

Which stages look at a decision follows the table of decisions carried through to the end (common
practice, no published source).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from typing import Any

from cases.domain import teeth
from cases.domain.design import Clasp, Design
from cases.domain.subjects import lone_ends
from cases.domain.words import N_

CLASP_PARTS = (
    "wire_mm", "tip_wire_mm", "section", "alloy", "undercut_mm", "free_arm_mm", "tip", "face",
)  # fmt: skip
# The line is what the height of the bracing is counted from.
BRACING_PARTS = ("bracing", "bracing_mm", "braces_first", "line_mm")


@dataclass(frozen=True, slots=True)
class Change:
    """One decision that differs.

    Attributes
    ----------
    aspect
        A key of ``ASPECTS``.
    teeth
        The teeth concerned, to ring on the drawing; empty where it is the whole piece.
    stages
        The stages that look at this decision.
    words
        What it is, to be said before the teeth.
    """

    aspect: str
    teeth: frozenset[int]
    stages: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Aspect:
    """A decision of a design: how two versions differ in it, and the stages that look at it.

    ``parts`` are the fields of the design that hold it.
    """

    key: str
    words: str
    stages: tuple[str, ...]
    differs: Callable[[Design, Design], frozenset[int] | None]
    parts: tuple[str, ...] = ()


def _sets(name: str) -> Callable[[Design, Design], frozenset[int] | None]:
    def differs(before: Design, after: Design) -> frozenset[int] | None:
        return (getattr(before, name) ^ getattr(after, name)) or None

    return differs


def _whole(*names: str) -> Callable[[Design, Design], frozenset[int] | None]:
    def differs(before: Design, after: Design) -> frozenset[int] | None:
        same = all(getattr(before, name) == getattr(after, name) for name in names)
        return None if same else frozenset()

    return differs


def _gaps(before: Design, after: Design) -> frozenset[int] | None:
    return ((before.missing - before.replaced) ^ (after.missing - after.replaced)) or None


def _tilt(before: Design, after: Design) -> frozenset[int] | None:
    def way(design: Design) -> tuple[float | None, str]:
        return design.survey.tilt_deg, design.survey.tilt_to

    return None if way(before) == way(after) else frozenset()


def _faces(before: Design, after: Design) -> frozenset[int] | None:
    return frozenset(tooth for tooth, _side in before.blocked ^ after.blocked) or None


def _marks(before: Design, after: Design) -> frozenset[int] | None:
    return None if before.survey.marked == after.survey.marked else frozenset()


def _undercuts(before: Design, after: Design) -> frozenset[int] | None:
    return (
        frozenset(found.tooth for found in {*before.survey.undercuts} ^ {*after.survey.undercuts})
        or None
    )


def _rooms(before: Design, after: Design) -> frozenset[int] | None:
    return frozenset(room.tooth for room in {*before.rooms} ^ {*after.rooms}) or None


def _relief(before: Design, after: Design) -> frozenset[int] | None:
    faces = frozenset(tooth for tooth, _side in before.unrelieved ^ after.unrelieved)
    return None if not faces and before.relieved == after.relieved else faces


def _clasps(names: Iterable[str]) -> Callable[[Design, Design], frozenset[int] | None]:
    """Clasps that both versions have, and that differ in one of these parts."""
    parts = tuple(names)

    def differs(before: Design, after: Design) -> frozenset[int] | None:
        def part(clasp: Clasp) -> tuple[Any, ...]:
            return tuple(getattr(clasp, name) for name in parts)

        had = {clasp.tooth: part(clasp) for clasp in before.clasps}
        has = {clasp.tooth: part(clasp) for clasp in after.clasps}
        return frozenset(t for t in had.keys() & has.keys() if had[t] != has[t]) or None

    return differs


def _clasped(before: Design, after: Design) -> frozenset[int] | None:
    had = {clasp.tooth for clasp in before.clasps}
    return frozenset(had ^ {clasp.tooth for clasp in after.clasps}) or None


ASPECTS: tuple[Aspect, ...] = (
    Aspect(
        "replaced",
        N_("Teeth replaced"),
        ("survey", "block-out", "teeth", "try-in", "wax", "wax-pass"),
        _sets("replaced"),
        ("replaced", "missing"),
    ),
    Aspect("gaps", N_("Gaps without a tooth"), ("survey", "block-out", "wax"), _gaps, ("missing",)),
    Aspect("dropped", N_("Left out for want of room"), ("teeth",), _sets("dropped"), ("dropped",)),
    Aspect(
        "primary", N_("Milk teeth still there"), ("survey", "wax"), _sets("primary"), ("primary",)
    ),
    Aspect(
        "extracted",
        N_("Teeth taken out at delivery"),
        ("cast-prep", "teeth", "wax-pass"),
        _sets("extracted"),
        ("extracted",),
    ),
    Aspect(
        "clasped",
        N_("Teeth with a clasp"),
        ("survey", "block-out", "clasps", "wax", "wax-pass"),
        _clasped,
        ("clasps",),
    ),
    Aspect(
        "clasp",
        N_("Wire, undercut or arm of a clasp"),
        ("clasps", "wax", "wax-pass"),
        _clasps(CLASP_PARTS),
        ("clasps",),
    ),
    Aspect(
        "tips",
        N_("Undercut at level, or gum, at the tip of a clasp"),
        ("survey", "clasps", "finish"),
        _clasps(("level_mm", "gum_mm")),
        ("clasps",),
    ),
    Aspect(
        "crossing",
        N_("Room where a wire crosses the bite"),
        ("clasps", "wax", "bite"),
        _clasps(("room_mm",)),
        ("clasps",),
    ),
    Aspect(
        "wraps",
        N_("How far round its tooth a clasp holds"),
        ("clasps", "wax"),
        _clasps(("wraps",)),
        ("clasps",),
    ),
    Aspect(
        "joint-away",
        N_("How far a joint lies from a free arm"),
        ("join",),
        _clasps(("joint_mm",)),
        ("clasps",),
    ),
    Aspect(
        "bracing",
        N_("Bracing behind a clasp"),
        ("wax", "wax-pass", "finish", "inspect"),
        _clasps(BRACING_PARTS),
        ("clasps",),
    ),
    Aspect("rests", N_("Wire rests"), ("clasps", "wax", "wax-pass"), _sets("rests"), ("rests",)),
    Aspect("stops", N_("Acrylic stops"), ("wax", "wax-pass"), _sets("stops"), ("stops",)),
    Aspect(
        "abutments", N_("Abutments"), ("survey", "block-out"), _sets("abutments"), ("abutments",)
    ),
    Aspect(
        "joints",
        N_("Joints"),
        ("join",),
        _whole("joints", "joint_teeth"),
        ("joints", "joint_teeth"),
    ),
    Aspect(
        "bar",
        N_("The bar"),
        ("bar", "wax", "wax-pass", "boil-out", "pack"),
        _whole("bar", "strengthener"),
        ("bar", "strengthener"),
    ),
    Aspect(
        "plate",
        N_("Height or thickness of the plate"),
        ("wax", "wax-pass"),
        _whole("plate_height_mm", "plate_thickness_mm"),
        ("plate_height_mm", "plate_thickness_mm"),
    ),
    Aspect(
        "tilt",
        N_("The tilt of the cast"),
        ("survey", "block-out", "copy-cast", "clasps"),
        _tilt,
        ("survey",),
    ),
    Aspect("marks", N_("The marks of the tilt"), ("survey", "block-out"), _marks, ("survey",)),
    Aspect(
        "undercuts",
        N_("Undercuts found"),
        ("survey", "block-out", "copy-cast"),
        _undercuts,
        ("survey",),
    ),
    Aspect(
        "method",
        N_("How it is blocked out"),
        ("block-out", "copy-mould", "copy-cast"),
        _whole("method", "copy_in", "taper_deg"),
        ("method", "copy_in", "taper_deg"),
    ),
    Aspect("blocked", N_("Faces blocked out"), ("block-out", "copy-cast"), _faces, ("blocked",)),
    Aspect(
        "relief",
        N_("Areas relieved"),
        ("block-out", "copy-cast"),
        _relief,
        ("relieved", "unrelieved"),
    ),
    Aspect(
        "covered",
        N_("Pads or tuberosities covered"),
        ("wax", "wax-pass"),
        _whole("covered"),
        ("covered",),
    ),
    Aspect(
        "hollowed",
        N_("Denture teeth hollowed over a wire"),
        ("teeth",),
        _sets("hollowed"),
        ("hollowed",),
    ),
    Aspect("rooms", N_("Room for denture teeth"), ("teeth", "try-in"), _rooms, ("rooms",)),
    Aspect(
        "slope",
        N_("Whether the last tooth stands where the ridge climbs"),
        ("teeth", "wax"),
        _whole("on_slope"),
        ("on_slope",),
    ),
    Aspect(
        "crest",
        N_("The angle of the ridge lines to the bite"),
        ("teeth",),
        _whole("crest_angle_deg"),
        ("crest_angle_deg",),
    ),
    # What is told changes advice; the stages that look at it are those of the decision taken on it.
    Aspect("told", N_("Told, or seen on the cast"), (), _whole("told"), ("told",)),
    Aspect(
        "told-of-clasp",
        N_("Told of the tooth of a clasp, or whether its wire shows"),
        (),
        _clasps(("state", "shows")),
        ("clasps",),
    ),
    Aspect(
        "occlusion", N_("Notes on the bite"), ("teeth", "bite"), _whole("occlusion"), ("occlusion",)
    ),
)


def changes(before: Design, after: Design) -> tuple[Change, ...]:
    """Return the decisions that differ between two versions of one case's design."""
    found = []
    for aspect in ASPECTS:
        concerned = aspect.differs(before, after)
        if concerned is not None:
            found.append(Change(aspect.key, concerned, aspect.stages, aspect.words))
    return tuple(found)


def without(change: Change, before: Design, after: Design) -> Design:
    """Return ``after`` as it would be had this one decision stayed as it was before."""
    (aspect,) = (one for one in ASPECTS if one.key == change.aspect)
    return replace(after, **{name: getattr(before, name) for name in aspect.parts})


def changed_teeth(found: Iterable[Change]) -> frozenset[int]:
    """Return every tooth that a set of changes concerns."""
    return frozenset(tooth for change in found for tooth in change.teeth)


def questioned(found: Iterable[Change], done: Collection[str]) -> dict[str, tuple[Change, ...]]:
    """Return the finished stages that a change puts in question, with what questions them.

    Parameters
    ----------
    done
        Keys of the finished stages, in the order of the route; the answer keeps that order.
    """
    listed = tuple(found)
    table = {key: tuple(change for change in listed if key in change.stages) for key in done}
    return {key: because for key, because in table.items() if because}


PIECE_WIDE = frozenset({"replaced", "gaps", "extracted"})
"""Changes of single teeth that make another piece of the whole."""


def concerns(found: Iterable[Change], stage: str, subject: str) -> bool:
    """Tell whether changes concern a check: what passed it may not pass it as it is now drawn.

    A change that names teeth concerns the checks of those; one of the whole piece, every check of
    the stages that look at it.

    Parameters
    ----------
    stage
        Key of the stage at which it is asked.
    subject
        What is looked at ("44", "44 mesial", "base 45-47"); a subject that names no tooth, or a
        base, is part of the whole.
    """
    base = subject.startswith("base")
    named = frozenset() if base else frozenset(int(n) for n in re.findall(r"\b\d\d\b", subject))
    return any(
        stage in change.stages
        and (
            not change.teeth
            or bool(named & change.teeth)
            or (not named and change.aspect in PIECE_WIDE)
        )
        for change in found
    )


@dataclass(frozen=True, slots=True)
class Alteration:
    """A way in which a change alters what was ordered; the practice agrees to it in writing."""

    key: str
    words: str
    teeth: frozenset[int]


def alterations(before: Design, after: Design) -> tuple[Alteration, ...]:
    """Return where a change alters the prescription: teeth, side, a clasp that shows in front, a
    tooth that comes to bear a free end alone.

    What the technician decides within the order (a wire, an undercut, a bar) is none.
    """
    found = []
    fewer, more = before.replaced - after.replaced, after.replaced - before.replaced
    if fewer:
        found.append(Alteration("fewer-teeth", N_("Fewer teeth are replaced"), fewer))
    if more:
        found.append(Alteration("more-teeth", N_("More teeth are replaced"), more))
    if after.extracted != before.extracted:
        odd = after.extracted ^ before.extracted
        found.append(Alteration("extracted", N_("Other teeth are taken out at delivery"), odd))
    had = {clasp.tooth for clasp in before.clasps}
    new = frozenset(clasp.tooth for clasp in after.clasps) - had
    front = frozenset(tooth for tooth in new if teeth.is_anterior(tooth))
    if front:
        found.append(Alteration("clasp-in-front", N_("A clasp comes on a front tooth"), front))
    seen = {clasp.tooth for clasp in before.clasps if clasp.shows}
    shows = frozenset(clasp.tooth for clasp in after.clasps if clasp.shows) - seen - front
    if shows:
        found.append(Alteration("shows", N_("A clasp shows in front"), shows))
    lone = frozenset(lone_ends(after)) - frozenset(lone_ends(before))
    if lone:
        words = N_("A tooth that stands alone comes to bear a free end")
        found.append(Alteration("lone-tooth", words, lone))
    if had and new:
        sides = {teeth.is_right(tooth) for tooth in had}
        other = frozenset(tooth for tooth in new if teeth.is_right(tooth) not in sides)
        if other:
            found.append(Alteration("other-side", N_("A clasp comes on the other side"), other))
    return tuple(found)


LOOKED_AT: dict[str, tuple[str, ...]] = {
    "fewer-teeth": ("replaced", "gaps"),
    "more-teeth": ("replaced", "gaps"),
    "extracted": ("extracted",),
    "clasp-in-front": ("clasped",),
    "other-side": ("clasped",),
    "shows": ("clasped", "clasp"),
    "lone-tooth": ("replaced", "gaps", "abutments"),
}
"""The decisions (keys of ``ASPECTS``) that each alteration lies in."""


def stages_of(altered: Iterable[Alteration]) -> frozenset[str]:
    """Return the stages that look at what alterations alter: they wait for the practice."""
    named = {key for one in altered for key in LOOKED_AT[one.key]}
    return frozenset(stage for aspect in ASPECTS if aspect.key in named for stage in aspect.stages)
