"""What the dentist reads at the chair: block-out, what was left to do, where not to grind.

Plain sentences made from the design and the order. They report what the laboratory did and the
usual cautions; what to do in the mouth is the dentist's decision.

All wording: common practice, no published source, except where a line names one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from cases.domain import subjects
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.teeth import teeth_of_arch
from cases.domain.words import N_
from cases.domain.words import gettext as _

# Acrylic over a bar, mm. common practice, no published source
BAR_COVER_MM = 1.0

Say = Callable[[int], str]
"""Writes an FDI number in the reader's notation."""

DEFER = N_(
    "This sheet reports what the laboratory did. What is adjusted in the mouth, and whether it "
    "may be worn, is for the treating dentist to judge; the makers' instructions for the "
    "acrylic, the wire and the disinfectant come first."
)


@dataclass(frozen=True)
class Part:
    """One part of the sheet: ``key`` block-out, left, keep, seat or wires; lines are sentences."""

    key: str
    title: str
    lines: tuple[str, ...]


def chairside(design: Design, order: WorkOrder, *, say: Say = str) -> tuple[Part, ...]:
    """Return the parts of the sheet that this piece needs, in the order they are read.

    Parameters
    ----------
    design
        As it was drawn on the cast; ``provisional`` when nobody drew one (an adjustment).
    order
        Who takes the borders down, and how far it is polished.
    say
        Writes a tooth in the reader's notation.
    """
    parts = (
        Part("block-out", _("What was blocked out"), _blocked(design, say)),
        Part("left", _("Left for you"), _left(design, order, say)),
        Part("keep", _("Do not grind here"), _keep(design, say)),
        Part("seat", _("If it does not go down"), _seat(design, say)),
        Part("wires", _("Adjusting the wires"), _wires(design, say)),
    )
    return tuple(part for part in parts if part.lines)


def _teeth(numbers: Sequence[int] | frozenset[int], design: Design, say: Say) -> str:
    row = teeth_of_arch(design.arch)
    return _and([say(tooth) for tooth in row if tooth in numbers])


def _and(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return _("%(most)s and %(last)s") % {"most": ", ".join(words[:-1]), "last": words[-1]}


def _side(design: Design, side: str) -> str:
    return "palatal" if side == "lingual" and design.arch == "upper" else side


def _faces(faces: Sequence[tuple[int, str]], design: Design, say: Say) -> str:
    """Write faces as "44 mesial and distal; the ridge at 46 lingual"."""
    standing = set(subjects.standing(design))
    told = []
    for tooth in teeth_of_arch(design.arch):
        sides = [_side(design, side) for number, side in faces if number == tooth]
        if sides:
            where = (
                say(tooth)
                if tooth in standing
                else _("the ridge at %(tooth)s") % {"tooth": say(tooth)}
            )
            told.append(f"{where} {_and(sides)}")
    return "; ".join(told)


METHODS: dict[str, str] = {
    "plaster": N_(
        "Plaster on the working cast, shaped by hand. That cast was lost when the flask "
        "was opened, so the piece could not be seated on a cast afterwards."
    ),
    "wax-then-copy": N_(
        "Wax cut at the surveyor on the master cast, then a copy was poured and the "
        "piece made on the copy. The master cast was kept to seat it on."
    ),
    "copy-then-plaster": N_(
        "A copy was poured first and blocked out with plaster; the piece was "
        "made on the copy. The master cast, with the true shapes of the teeth, was kept to seat "
        "it on."
    ),
}


def _blocked(design: Design, say: Say) -> tuple[str, ...]:
    if design.provisional:
        return (_("Not blocked out: no design was drawn on a cast for this work."),)
    if not design.blocked:
        first = _(
            "Not blocked out: no undercut was filled. Only the gum lines and papillae were "
            "relieved."
        )
        return (first, *_walls_left(design, say))
    how = METHODS.get(design.method, N_("Relief only; nothing was built up on the cast."))
    faces = _faces(sorted(design.blocked), design, say)
    return (
        _("Blocked out: %(faces)s.") % {"faces": faces},
        _("How: %(how)s") % {"how": _(how)},
        *_walls_left(design, say),
    )


def _walls_left(design: Design, say: Say) -> tuple[str, ...]:
    left = [face for face in subjects.gap_walls(design) if face not in design.blocked]
    if not left or not design.blocked:
        return ()
    return (
        _("Acrylic lies against these faces without block-out: %(faces)s.")
        % {"faces": _faces(left, design, say)},
    )


BORDERS: dict[str, str] = {
    "left-full": N_("Borders: left at full depth. Take them down to what the mouth needs."),
    "reduced-2mm": N_(
        "Borders: taken back to 2 mm short of the fold. Nothing was left to do, unless they press."
    ),
    "as-drawn": N_("Borders: as drawn on the cast."),
}
POLISH: dict[str, str] = {
    "none": N_("Polish: not polished, as ordered; smooth from the paper. Polish it after easing."),
    "outer-borders-left": N_("Polish: outer surfaces polished, borders left for you as ordered."),
    "all-outer": N_("Polish: all outer surfaces polished. Polish again what you ease."),
}
# The fitting side is never polished: Zarb; Phillips: from memory.
FITTING_SIDE = N_("The fitting side is never polished: it would lose what lies against the gum.")


def _left(design: Design, order: WorkOrder, say: Say) -> tuple[str, ...]:
    lines = [BORDERS[order.borders], POLISH[order.polish], FITTING_SIDE]
    if design.extracted:
        teeth = _teeth(design.extracted, design, say)
        lines.insert(
            0,
            _(
                "To be taken out at delivery, by your written order: %(teeth)s. The cast was "
                "cut for it."
            )
            % {"teeth": teeth},
        )
    return tuple(lines)


def _clasped(design: Design) -> frozenset[int]:
    return frozenset(clasp.tooth for clasp in design.clasps)


def _keep(design: Design, say: Say) -> tuple[str, ...]:
    lines = []
    if design.clasps:
        # At or above the survey line of that side: McCracken, from memory.
        lines.append(
            _(
                "Behind %(teeth)s: the strip of acrylic that touches the tooth opposite the "
                "clasp arm. It braces the tooth. Ground away, nothing faces the arm, and the "
                "arm can move the tooth."
            )
            % {"teeth": _teeth(_clasped(design), design, say)}
        )
    if design.blocked:
        lines.append(
            _(
                "The flat band under that strip was blocked out and stands clear of the tooth: it "
                "does not hold the piece up, and grinding it only makes the acrylic thin."
            )
        )
    if design.rests:
        lines.append(
            _("The rest seats and wire rests at %(teeth)s: they keep the piece from sinking.")
            % {"teeth": _teeth(design.rests, design, say)}
        )
    if design.bar:
        lines.append(
            _("Over the bar inside the acrylic: it wants at least %(cover)s of acrylic all round.")
            % {"cover": _mm(BAR_COVER_MM)}
        )
    if design.clasps or design.rests:
        lines.append(_("Over the wire tails: a bur that nicks a wire starts the break."))
    return tuple(lines)


def _seat(design: Design, say: Say) -> tuple[str, ...]:
    lines = [
        _(
            "Do not force it. Mark it (paste, spray or a thin silicone), see where the acrylic "
            "shows through, ease only there and a little at a time, and try again."
        )
    ]
    walls = [face for face in subjects.gap_walls(design) if face not in design.blocked]
    if walls and not design.provisional:
        lines.append(
            _("Look first at the faces without block-out: %(faces)s.")
            % {"faces": _faces(walls, design, say)}
        )
    return tuple(lines)


def _wires(design: Design, say: Say) -> tuple[str, ...]:
    if not design.clasps:
        return ()
    told = "; ".join(_clasp(clasp, say) for clasp in in_arch_order(design))
    return (
        _("Clasps: %(clasps)s.") % {"clasps": told},
        _(
            "Try it before you bend anything: each arm was bent on the cast to touch along its "
            "length and press nowhere."
        ),
        _(
            "Hold the arm with smooth pliers close to where it leaves the acrylic, so that the "
            "bend "
            "does not work in the acrylic; move the rest with finger or a second pair of pliers."
        ),
        _(
            "Small bends, and try after each. Never bend twice at the same place: a wire bent back "
            "there can break. If it must go back, have the clasp made anew."
        ),
        _(
            "Leave the tip round, clear of the gum, and in the undercut. Tighter is not always "
            "better: a stiff arm can stay bent or load the tooth."
        ),
        _(
            "Nobody should bend wires or ease acrylic at home: ask the patient to come back "
            "instead."
        ),
    )


def in_arch_order(design: Design) -> tuple[Clasp, ...]:
    """Return the clasps from the patient's right to the left."""
    row = teeth_of_arch(design.arch)
    return tuple(sorted(design.clasps, key=lambda clasp: row.index(clasp.tooth)))


def _mm(value: float) -> str:
    """Write a length; the hard space keeps number and unit on one line."""
    return f"{value:g}\u00a0mm"


def _clasp(clasp: Clasp, say: Say) -> str:
    facts = [
        _("%(gauge)s wire") % {"gauge": _mm(clasp.wire_mm)} if clasp.wire_mm else "",
        _("undercut %(depth)s") % {"depth": _mm(clasp.undercut_mm)} if clasp.undercut_mm else "",
        _("free arm %(length)s") % {"length": _mm(clasp.free_arm_mm)} if clasp.free_arm_mm else "",
    ]
    said = ", ".join(fact for fact in facts if fact)
    return f"{say(clasp.tooth)}: {said}" if said else say(clasp.tooth)
