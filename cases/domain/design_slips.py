"""What cannot be in a design at all, not even in a draft: slips, refused where they are made.

What a rule forbids but a mouth may show is no slip: the review of ``design_review`` says it, and
keeps the design from being finalised only. Nor is it a slip of a draft that a second half is not
said yet: which way the cast is tilted, what the joints join, how the faces are blocked out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final

from cases.domain import teeth
from cases.domain.design import BLOCK_OUT_METHODS, Design
from cases.domain.design_parts import SIDES, STEPS_MM, Clasp
from cases.domain.told import WORDS, contradicts
from cases.domain.wire import ALLOYS, THICKEST_MM, THINNEST_MM
from cases.domain.words import gettext as _

# The longest free arm that lies on a tooth of this kind, from the shoulder round the buccal side
# to the tip, in mm: about the breadth of the crown and half its depth again. judgement
LONGEST_ARM_MM: Final[dict[teeth.Kind, float]] = {
    "incisor": 13.0,
    "canine": 14.0,
    "premolar": 15.0,
    "molar": 20.0,
}
# Clasp wire that a bench bends with pliers. judgement, mm
CLASP_WIRE_MM: Final = (0.5, 1.5)
# No cast is surveyed at a tilt beyond this. judgement, degrees
STEEPEST_DEG: Final = 45.0


Label = Callable[[int], str]
"""Writes a tooth as the reader does."""
Look = Callable[[Design, Label], Iterable[str]]


def flaws(design: Design, label: Label = str) -> tuple[str, ...]:
    """Return what cannot be in a design, each as a sentence with the way out."""
    return tuple(sentence for _entry, sentence in slips(design, label))


def slips(design: Design, label: Label = str) -> tuple[tuple[str, str], ...]:
    """Return what cannot be in a design as (entry, sentence), teeth as ``label`` writes them.

    The entry is where it was made: "replaced", "rests", "clasps", "method", "joints", "bar size",
    "bar reason", "told" or "survey"; of one clasp "wire", "thin", "arm", "undercut" or "alloy" with
    its tooth behind ("wire 44").
    """
    found: list[tuple[str, str]] = []
    looks: tuple[tuple[str, Look], ...] = (
        ("replaced", _other_arch), ("replaced", _gone), ("rests", _carried), ("clasps", _clasps),
    )  # fmt: skip
    found += [(entry, said) for entry, look in looks for said in look(design, label)]
    found += _wires(design, label)
    looks = (
        ("method", _numbers), ("joints", _joints), ("bar size", _bar_size),
        ("bar reason", _upper_bar), ("told", _told),
    )  # fmt: skip
    found += [(entry, said) for entry, look in looks for said in look(design, label)]
    return tuple(found or [("survey", said) for said in _survey(design, label)])


def _named(design: Design) -> frozenset[int]:
    """Every tooth that the design names anywhere."""
    return (
        design.missing | design.replaced | design.extracted | design.rests | design.stops
        | design.dropped | design.abutments | design.primary | design.hollowed | design.joint_teeth
        | {clasp.tooth for clasp in design.clasps}
        | {tooth for tooth, _side in design.blocked | design.unrelieved}
        | {room.tooth for room in design.rooms}
        | {found.tooth for found in design.survey.undercuts}
    )  # fmt: skip


def _each(numbers: Iterable[int], words: str, label: Label) -> list[str]:
    return [words % {"tooth": label(tooth)} for tooth in sorted(numbers)]


def _other_arch(design: Design, label: Label) -> list[str]:
    row = teeth.teeth_of_arch(design.arch)
    return [
        _("%(tooth)s is no tooth of the %(arch)s arch. Take it out.")
        % {"tooth": label(tooth), "arch": design.arch}
        for tooth in sorted(_named(design))
        if tooth not in row
    ]


def _gone(design: Design, label: Label) -> list[str]:
    """Teeth that are there and not there, or replaced and not replaced."""
    milk = design.primary & (design.missing - design.extracted)
    return [
        *_each(
            design.replaced - design.missing,
            _("%(tooth)s is replaced but not among the missing teeth. Mark it missing."),
            label,
        ),
        *_each(
            design.extracted - design.missing,
            _("%(tooth)s is to be extracted but not among the missing teeth. Mark it missing."),
            label,
        ),
        *_each(
            design.dropped & design.replaced,
            _("%(tooth)s is both replaced and left out for want of room. Choose one."),
            label,
        ),
        *_each(
            design.dropped - design.missing,
            _("%(tooth)s is left out for want of room but not missing. Mark it missing."),
            label,
        ),
        *_each(
            design.hollowed - design.replaced,
            _("%(tooth)s is to be hollowed, but no denture tooth comes there. Take it out."),
            label,
        ),
        *_each(
            milk,
            _("A milk tooth stands at %(tooth)s, and it is marked missing. Choose one."),
            label,
        ),
    ]


def _carried(design: Design, label: Label) -> list[str]:
    return [
        *_each(
            design.rests & design.missing,
            _("%(tooth)s is missing: it cannot carry a wire rest. Choose another."),
            label,
        ),
        *_each(
            design.stops & design.missing,
            _("%(tooth)s is missing: it cannot carry an acrylic stop. Choose another."),
            label,
        ),
        *_each(
            design.abutments & design.missing,
            _("%(tooth)s is missing: it cannot be an abutment. Choose another."),
            label,
        ),
    ]


def _clasps(design: Design, label: Label) -> Iterator[str]:
    clasped = [clasp.tooth for clasp in design.clasps]
    for tooth in sorted(set(clasped)):
        told = {"tooth": label(tooth)}
        if tooth in design.extracted:
            yield _("%(tooth)s will be extracted: it cannot carry a clasp. Choose another.") % told
        elif tooth in design.missing:
            yield _("%(tooth)s is missing: it cannot carry a clasp. Choose another.") % told
        if clasped.count(tooth) > 1:
            yield _("%(tooth)s has two clasps. Keep one.") % told


def _wires(design: Design, label: Label) -> Iterator[tuple[str, str]]:
    for clasp in design.clasps:
        if teeth.is_tooth(clasp.tooth):
            for entry, said in _wire(clasp, label(clasp.tooth)):
                yield f"{entry} {clasp.tooth}", said


def _wire(clasp: Clasp, tooth: str) -> Iterator[tuple[str, str]]:
    thinnest, thickest = CLASP_WIRE_MM
    if clasp.wire_mm is not None and not thinnest <= clasp.wire_mm <= thickest:
        yield (
            "wire",
            _(
                "The wire at %(tooth)s is %(wire)g mm: clasps are bent of %(least)g to %(most)g "
                "mm. Choose another gauge."
            )
            % {"tooth": tooth, "wire": clasp.wire_mm, "least": thinnest, "most": thickest},
        )
    yield from _taper(clasp, tooth)
    longest = LONGEST_ARM_MM[teeth.kind(clasp.tooth)]
    if clasp.free_arm_mm is not None and not 0 < clasp.free_arm_mm <= longest:
        yield (
            "arm",
            _(
                "A free arm of %(arm)g mm does not lie on %(tooth)s: at most %(longest)g mm. "
                "Measure along the wire from where it leaves the acrylic."
            )
            % {"tooth": tooth, "arm": clasp.free_arm_mm, "longest": longest},
        )
    if clasp.undercut_mm is not None and clasp.undercut_mm not in STEPS_MM:
        yield (
            "undercut",
            _(
                "%(undercut)g mm at %(tooth)s is no step of the gauge. Choose 0, 0.25, 0.50, "
                "0.75 or more."
            )
            % {"tooth": tooth, "undercut": clasp.undercut_mm},
        )
    if clasp.alloy not in ALLOYS:
        yield (
            "alloy",
            _("Nobody knows the alloy “%(alloy)s” of the wire at %(tooth)s. Choose another.")
            % {
                "tooth": tooth,
                "alloy": clasp.alloy,
            },
        )


def _taper(clasp: Clasp, tooth: str) -> Iterator[tuple[str, str]]:
    thin = clasp.tip_wire_mm
    if thin is None:
        return
    told = {"tooth": tooth, "tip": thin}
    if clasp.section != "round":
        yield (
            "thin",
            _(
                "The wire at %(tooth)s is half-round, and only a round one is reckoned tapered. "
                "Choose round, or leave the wire at the tip empty."
            )
            % told,
        )
    elif not 0 < thin <= (clasp.wire_mm or CLASP_WIRE_MM[1]):
        yield (
            "thin",
            _(
                "A tip of %(tip)g mm at %(tooth)s is no taper: it is thinner than the wire where "
                "that leaves the acrylic. Correct the one or the other."
            )
            % told,
        )


def _numbers(design: Design, label: Label) -> Iterator[str]:
    if design.method == "none" and design.blocked and not design.draft:
        yield _(
            "Faces are marked as blocked out, but the method is none. Choose a method, or take "
            "the faces out."
        )
    if design.method not in BLOCK_OUT_METHODS:
        yield _(
            "“%(method)s” is no way to block out here, and wax boils out of the flask. Choose "
            "plaster, or make a copy."
        ) % {"method": design.method}


def _joints(design: Design, label: Label) -> Iterator[str]:
    if design.joints < 0:
        yield _("Joints are counted from 0. Enter how many there are.")
    joined = design.clasps or design.rests or design.bar
    if design.joints and not joined and not design.draft:
        yield _("There are joints, but no wire or bar to join. Enter 0 joints.")


def _bar_size(design: Design, label: Label) -> Iterator[str]:
    size = design.strengthener.size_mm if design.strengthener is not None else None
    if size is not None and not THINNEST_MM <= size <= THICKEST_MM:
        yield _(
            "A bar of %(size)g mm is none: bars are %(least)g to %(most)g mm. Choose another gauge."
        ) % {"size": size, "least": THINNEST_MM, "most": THICKEST_MM}


def _upper_bar(design: Design, label: Label) -> Iterator[str]:
    bar = design.strengthener
    said = "broke-before" in design.told or (bar is not None and bool(bar.reason.strip()))
    if design.bar and design.arch == "upper" and not said:
        yield _("An upper piece has no bar as a rule. Say why it has one, or take the bar out.")


def _told(design: Design, label: Label) -> Iterator[str]:
    for word in sorted(design.told - WORDS):
        yield _("“%(word)s” is nothing that can be told. Choose one of the list.") % {"word": word}
    if contradicts(design.told):
        yield _("A drawing came or none, and one alloy was named or none. Choose one.")


def _survey(design: Design, label: Label) -> Iterator[str]:
    tilt = design.survey.tilt_deg
    if tilt is not None and not 0 <= tilt <= STEEPEST_DEG:
        yield _("A tilt of %(tilt)g° is none. Enter 0 to %(most)g degrees.") % {
            "tilt": tilt,
            "most": STEEPEST_DEG,
        }
    elif tilt and not design.survey.tilt_to and not design.draft:
        yield _(
            "The cast is tilted by %(tilt)g° and is said to be level. Choose which way, or enter 0."
        ) % {"tilt": tilt}
    yield from _deeper_than_seen(design, label)
    for found in design.survey.undercuts:
        if found.side not in SIDES or found.step_mm not in STEPS_MM:
            yield _(
                "%(step)g mm at %(tooth)s %(side)s is no step of the gauge. Choose 0, 0.25, 0.50, "
                "0.75 or more."
            ) % {"step": found.step_mm, "tooth": label(found.tooth), "side": found.side}


def _deeper_than_seen(design: Design, label: Label) -> Iterator[str]:
    """Find tips that go deeper than the gauge showed on their face; a shallower one may be."""
    seen = {(found.tooth, found.side): found.step_mm for found in design.survey.undercuts}
    for clasp in design.clasps:
        step = seen.get((clasp.tooth, clasp.face))
        if step is None or clasp.undercut_mm is None or clasp.undercut_mm <= step:
            continue
        yield _(
            "The tip at %(tooth)s goes %(tip)g mm deep, and the gauge showed %(step)g mm on that "
            "face. Correct the one or the other."
        ) % {"tooth": label(clasp.tooth), "tip": clasp.undercut_mm, "step": step}
