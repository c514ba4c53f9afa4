"""CLP-1 to CLP-14: the words, sources and limits of the clasp rules."""

from __future__ import annotations

from typing import Final

from cases.domain import clasp_findings as find
from cases.domain.clasp import LONG_ARM_MM, SHORT_ARM_UNDERCUT_MM, USUAL
from cases.domain.claspforecast import FITS_N, QUIET_SHARE, TOO_STIFF_N, TOO_WEAK_N, WHOLE_PIECE_N
from cases.domain.limit import Limit
from cases.domain.rule_sources import COMMON, JUDGEMENT, MCCRACKEN, PHILLIPS
from cases.domain.rule_spec import Rule
from cases.domain.teeth import Kind
from cases.domain.words import N_

_WIRE_WORDS: Final[dict[Kind, tuple[str, str]]] = {
    "molar": (N_("Wire of a molar"), N_("Undercut of a molar")),
    "premolar": (N_("Wire of a premolar"), N_("Undercut of a premolar")),
    "canine": (N_("Wire of a canine"), N_("Undercut of a canine")),
}


def _usual_limits() -> tuple[Limit, ...]:
    limits = [
        Limit("short_arm", LONG_ARM_MM, "mm", N_("A molar's arm is short below"), 8, 16),
        Limit(
            "short_arm_undercut", SHORT_ARM_UNDERCUT_MM, "mm",
            N_("Undercut of a molar with a short arm"), 0.25, 0.75,
        ),
        Limit("wire_tolerance", 0.05, "mm", N_("The same wire within"), 0.01, 0.2),
    ]  # fmt: skip
    for kind, (wire, undercut) in _WIRE_WORDS.items():
        limits.append(Limit(f"{kind}_wire", USUAL[kind].wire_mm, "mm", wire, 0.6, 1.3))
        limits.append(
            Limit(f"{kind}_undercut", USUAL[kind].undercut_mm, "mm", undercut, 0.25, 0.75)
        )
    return tuple(limits)


FORCE: tuple[Rule, ...] = (
    Rule(
        "CLP-1", "advice",
        N_(
            "The wire at %(tooth)s is %(wire)g mm; usual here is %(usual)g mm. Take the usual wire "
            "unless there is a reason for this one."
        ),
        f"{COMMON}; depth: {MCCRACKEN} (0.50), against a guideline in the International "
        "Dental Journal, read in its abstract (0.25 for premolars)",
        find.usual, _usual_limits(),
    ),
    Rule(
        "CLP-2", "concession",
        N_(
            "The wire at %(tooth)s will stay bent at the first insertion: at least %(low).0f MPa, "
            "and it yields at %(most).0f at most. Take a longer arm (%(arm).1f mm), a thinner wire "
            "or a shallower undercut; else only a concession passes it. Indicative: reckoned as a "
            "straight beam."
        ),
        f"{PHILLIPS} for the ranges of the alloy; straight beam, the share: {JUDGEMENT}",
        find.stays_bent,
        (
            Limit(
                "quiet_share", QUIET_SHARE, "", N_("Nothing is said up to this share of the yield"),
                0.3, 1.0,
            ),
        ),
    ),
    Rule(
        "CLP-3", "advice",
        N_(
            "The clasp at %(tooth)s is too stiff: about %(pull).1f N to pull it off. Take a "
            "thinner wire, a longer arm or a shallower undercut. Indicative: reckoned as a "
            "straight beam."
        ),
        f"{JUDGEMENT}, scaled from about {FITS_N.high:g} N wanted of a retainer (studies after "
        "Frank & Nicholls 1981, from memory)",
        find.one_holds,
        (
            Limit("weak", TOO_WEAK_N, "N", N_("Too weak below"), 0.2, 2.0),
            Limit("stiff", TOO_STIFF_N, "N", N_("Too stiff above"), 4.0, 15.0),
        ),
    ),
    Rule(
        "CLP-4", "advice",
        N_(
            "All clasps together hold about %(pull).1f N, more than %(wanted)g N, bases not "
            "counted. Take thinner wires or shallower undercuts. Orientation only."
        ),
        "Frank & Nicholls 1981 and later (300 to 750 g, for frameworks with free ends), from "
        f"memory; {JUDGEMENT}",
        find.all_hold,
        (
            Limit("least", WHOLE_PIECE_N.low, "N", N_("Whole piece, at least"), 1.0, 8.0),
            Limit("most", WHOLE_PIECE_N.high, "N", N_("Whole piece, at most"), 5.0, 30.0),
        ),
    ),
)  # fmt: skip

HOLD: tuple[Rule, ...] = (
    Rule(
        "CLP-5", "concession",
        N_(
            "Arm, bracing and acrylic do not reach past half the round of %(tooth)s: it will walk "
            "off the tooth. Go further round, or ask for a concession."
        ),
        MCCRACKEN, find.wraps,
    ),
    Rule(
        "CLP-6", "concession",
        N_(
            "What faces the clasp at %(tooth)s from the other side is not said. Name it and how "
            "high it stands, or ask for a concession."
        ),
        f"{MCCRACKEN}; a height above the line: {JUDGEMENT}", find.braced,
        # At the line is enough for the source; a lab may want a reserve from the start.
        (Limit("above_line", 0.0, "mm", N_("Bracing above the line, at least"), 0.0, 2.0),),
    ),
    Rule(
        "CLP-7", "advice",
        N_(
            "The tip at %(tooth)s lies on its %(side)s side, beside the gap. Let the arm come from "
            "the gap and its tip lie away from it: mesially at a free end."
        ),
        MCCRACKEN, find.tip_lies,
        (Limit("gum", 1.0, "mm", N_("Tip from the gum, at least"), 0.5, 3.0),),
    ),
    Rule(
        "CLP-8", "concession",
        N_(
            "There is %(room)g mm where the wire of %(tooth)s crosses the bite, and it needs "
            "%(need)g mm. Ask the dentist to make room, choose another place, or ask for a "
            "concession."
        ),
        COMMON, find.crosses_bite,
        (Limit("over_wire", 0.5, "mm", N_("Room over the wire"), 0.2, 1.5),),
        question=17,
    ),
    Rule(
        "CLP-9", "advice",
        N_(
            "The practice told that %(tooth)s is %(state)s. Ask: a lighter clasp, or another "
            "tooth? The practice decides."
        ),
        JUDGEMENT, find.weak_tooth, question=9,
    ),
    Rule(
        "CLP-10", "cannot",
        N_(
            "An allergy to nickel is told, and the wire at %(tooth)s (%(alloy)s) holds nickel. "
            "Take none of it until the practice has named an alloy."
        ),
        "Label of the wire, from memory: stainless steel and cobalt-chromium-nickel hold nickel",
        find.nickel,
    ),
    Rule(
        "CLP-11", "advice",
        N_(
            "There are %(count)d clasps; usual for class %(class)s are %(low)g to %(high)g. Add or "
            "leave out a clasp, or keep it so."
        ),
        COMMON, find.count,
        (
            Limit("least", 2, "", N_("Clasps, at least"), 1, 3),
            Limit("most_I", 2, "", N_("Clasps in class I, at most"), 2, 6),
            Limit("most_II", 3, "", N_("Clasps in class II, at most"), 2, 6),
            Limit("most_III", 4, "", N_("Clasps in class III, at most"), 2, 6),
            Limit("most_IV", 2, "", N_("Clasps in class IV, at most"), 2, 6),
        ),
    ),
    Rule(
        "CLP-12", "concession",
        N_(
            "A joint lies %(away)g mm from the free arm of %(tooth)s, nearer than %(least)g mm, "
            "and heat softens the wire. Move the joint, or ask for a concession."
        ),
        f"{PHILLIPS}; the number: {JUDGEMENT}", find.heat_joint,
        (Limit("away", 6.0, "mm", N_("Joint from the free arm, at least"), 3.0, 12.0),),
    ),
    Rule(
        "CLP-13", "cannot",
        N_(
            "%(gauge)s by which table? It is one wire by AWG and a thicker one by SWG: say the "
            "table, or millimetres."
        ),
        COMMON, find.gauge_alone,
    ),
    Rule(
        "CLP-14", "cannot",
        N_(
            "The clasp at %(tooth)s cannot be bent from this: not said is its %(parts)s. Enter it, "
            "or keep a draft."
        ),
        COMMON, find.whole,
    ),
)  # fmt: skip

RULES: tuple[Rule, ...] = (*FORCE, *HOLD)
