"""Where the rules CLP-1 to CLP-14 speak on a design; their words are in ``rules_clasp``."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from cases.domain import teeth
from cases.domain.alloys import STEELS
from cases.domain.claspforecast import whole_piece
from cases.domain.design import Clasp
from cases.domain.rule_facts import Facts
from cases.domain.rule_spec import RuleLimits, Trip
from cases.domain.subjects import side_towards
from cases.domain.wire import ALLOYS, of_which_table
from cases.domain.words import N_

OTHER_DEPTH = N_(
    "The tip at %(tooth)s goes %(undercut)g mm deep; usual here is %(usual)g mm. Textbooks give "
    "0.50 mm for wire, a guideline 0.25 mm for premolars: decide, and say why if asked."
)
NEAR_YIELD = N_(
    "The wire at %(tooth)s comes near its yield: up to %(high).0f MPa of %(least).0f. Take a "
    "longer arm (%(arm).1f mm), a thinner wire or a shallower undercut. Indicative: reckoned as a "
    "straight beam."
)
MAY_BEND = N_(
    "The wire at %(tooth)s may stay bent at the first insertion: %(low).0f to %(high).0f MPa, and "
    "it yields at %(least).0f to %(most).0f. Take a longer arm (%(arm).1f mm), a thinner wire or a "
    "shallower undercut, or ask for a concession. Indicative: reckoned as a straight beam."
)
TOO_WEAK = N_(
    "The clasp at %(tooth)s holds too little: about %(pull).1f N. Take a thicker wire, a shorter "
    "arm or a deeper undercut. Indicative: reckoned as a straight beam."
)
NO_UNDERCUT = N_(
    "%(tooth)s has no undercut, so its clasp holds next to nothing. Ask the dentist: less hold, "
    "another tooth, or a ledge?"
)
WHOLE_TOO_WEAK = N_(
    "All clasps together hold about %(pull).1f N, less than %(wanted)g N, bases not counted. Look "
    "for a deeper undercut or a further clasp. Orientation only."
)
NOTHING_FACES = N_(
    "Nothing faces the clasp at %(tooth)s from the other side. Draw a plate or a collar there, or "
    "ask for a concession."
)
BELOW_LINE = N_(
    "The bracing behind %(tooth)s is drawn %(below)g mm below the survey line. Draw it to the line "
    "or above it, or ask for a concession."
)
TOO_LOW = N_(
    "The bracing behind %(tooth)s is drawn %(height)g mm above the survey line; the laboratory "
    "wants %(least)g mm. Draw it higher."
)
HEIGHT_NOT_SAID = N_(
    "How high the bracing behind %(tooth)s stands is not said. Enter its edge above the survey "
    "line, or ask for a concession."
)
TIP_FIRST = N_(
    "The tip of the clasp meets %(tooth)s before its bracing does, and pushes it aside on the way "
    "in. Let the bracing touch before the tip or with it, or ask for a concession."
)
FIRST_NOT_SAID = N_(
    "Whether the bracing touches %(tooth)s before the tip of its clasp, or with it, is not judged. "
    "Try it along the path and choose, or ask for a concession."
)
TIP_NOT_SAID = N_(
    "Where the tip at %(tooth)s lies is not said. At a free end it lies mesially on the cheek "
    "side, and the arm comes from behind: choose it."
)
TIP_ON_TONGUE_SIDE = N_(
    "The arm at %(tooth)s lies on the tongue side, beside a free end. Its tip lies mesially on the "
    "cheek side there: change the side, or decide for this one."
)
TIP_AT_GUM = N_(
    "The tip at %(tooth)s lies %(gum)g mm from the gum, less than %(least)g mm. Lift it, or choose "
    "a shallower undercut."
)
NO_CLASP = N_("There is no clasp at all. Ask the dentist whether the piece shall hold without.")
NICKEL_STEEL = N_(
    "An allergy to nickel is told, and the steel of this part holds nickel. Leave it out until the "
    "practice has named steel for it all the same."
)

EITHER_TABLE = N_(
    "%(gauge)s by which table? %(awg).2f mm (AWG) or %(swg).2f mm (SWG)? Say the table, or "
    "millimetres."
)
OF_THE_OLD_PIECE = N_(
    "The clasp at %(tooth)s is not whole: not said is its %(parts)s. Enter it; or say, as a "
    "concession, that the clasp is there already."
)
# What a wire cannot be bent without: the entry, its words, and what is said beside it.
PARTS: tuple[tuple[str, str, str], ...] = (
    ("wire", N_("wire"), N_("No wire is said for %(tooth)s. Enter its gauge or its millimetres.")),
    (
        "arm", N_("free arm"),
        N_(
            "The free arm at %(tooth)s is not said. Measure it along the wire, from where it "
            "leaves the acrylic to the tip."
        ),
    ),
    (
        "undercut", N_("undercut"),
        N_("How deep the tip at %(tooth)s goes is not said. Choose the step of the gauge."),
    ),
    (
        "tip", N_("side of the tip"),
        N_("On which side of %(tooth)s the tip lies is not said. Choose mesial or distal."),
    ),
)  # fmt: skip


def usual_depth(clasp: Clasp, limits: RuleLimits) -> tuple[float, float] | None:
    """Return the usual wire and undercut of a tooth in mm; None for an incisor."""
    use, kind = limits["CLP-1"], teeth.kind(clasp.tooth)
    if kind == "incisor":
        return None
    depth = use[f"{kind}_undercut"]
    if kind == "molar" and clasp.free_arm_mm is not None and clasp.free_arm_mm < use["short_arm"]:
        depth = use["short_arm_undercut"]
    return use[f"{kind}_wire"], depth


def usual(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-1: another wire or another depth than usual for this kind of tooth."""
    for clasp in facts.clasps:
        expected = usual_depth(clasp, limits)
        if expected is None:
            continue
        wire, depth = expected
        where = str(clasp.tooth)
        far = limits["CLP-1"]["wire_tolerance"]
        # Rounded, so that 0.95 is not beyond 0.9 by more than 0.05.
        if clasp.wire_mm is not None and round(abs(clasp.wire_mm - wire), 6) > far:
            yield Trip(where, {"tooth": clasp.tooth, "wire": clasp.wire_mm, "usual": wire})
        if clasp.undercut_mm is not None and clasp.undercut_mm != depth:
            shown = {"tooth": clasp.tooth, "undercut": clasp.undercut_mm, "usual": depth}
            yield Trip(where, shown, words=OTHER_DEPTH)


def stays_bent(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-2: what the wire bears at the first insertion."""
    for tooth, found in facts.forecasts.items():
        stress, strength = found.stress_mpa, found.alloy.yield_mpa
        told: dict[str, object] = {
            "tooth": tooth, "low": stress.low, "high": stress.high,
            "least": strength.low, "most": strength.high,
            # Rounded up: the arm named has to be long enough.
            "arm": ceil(found.shortest_arm_mm.high * 10) / 10,
        }  # fmt: skip
        beside = ((f"arm {tooth}", ""),)
        if stress.low > strength.high:
            yield Trip(str(tooth), told, beside=beside)
        elif stress.high > strength.low:
            yield Trip(str(tooth), told, words=MAY_BEND, beside=beside)
        elif stress.middle > limits["CLP-2"]["quiet_share"] * strength.low:
            yield Trip(str(tooth), told, words=NEAR_YIELD, severity="advice")


def one_holds(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-3: the pull of each clasp."""
    use = limits["CLP-3"]
    for tooth, found in facts.forecasts.items():
        told: dict[str, object] = {"tooth": tooth, "pull": found.withdrawal_n.middle}
        if found.withdrawal_n.middle > use["stiff"]:
            yield Trip(str(tooth), told)
        elif found.withdrawal_n.middle < use["weak"]:
            yield Trip(str(tooth), told, words=TOO_WEAK)
    for clasp in facts.clasps:
        if clasp.undercut_mm == 0:
            told = {"tooth": clasp.tooth}
            yield Trip(str(clasp.tooth), told, words=NO_UNDERCUT, question=11)


def all_hold(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-4: the pull of the whole piece, once every clasp is decided."""
    if len(facts.forecasts) < len(facts.clasps):
        return
    whole, use = whole_piece(facts.forecasts.values()), limits["CLP-4"]
    if whole is None:
        return
    pull = whole.withdrawal_n.middle
    if pull > use["most"]:
        yield Trip(facts={"pull": pull, "wanted": use["most"]})
    elif pull < use["least"]:
        yield Trip(facts={"pull": pull, "wanted": use["least"]}, words=WHOLE_TOO_WEAK)


def wraps(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-5: the tooth is not held past half its round."""
    for clasp in facts.clasps:
        if clasp.wraps is False:
            where = str(clasp.tooth)
            yield Trip(where, {"tooth": clasp.tooth}, beside=((f"wraps {where}", ""),))


def braced(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-6: what faces the clasp, how high and when; speaks also where nobody said it."""
    least = limits["CLP-6"]["above_line"]
    for clasp in facts.clasps:
        where, tooth = str(clasp.tooth), {"tooth": clasp.tooth}
        named, high = ((f"bracing {where}", ""),), ((f"height {where}", ""),)
        if not clasp.bracing:
            yield Trip(where, tooth, beside=named)
        elif clasp.bracing == "none":
            yield Trip(where, tooth, words=NOTHING_FACES, beside=named)
        elif clasp.bracing_mm is None:
            yield Trip(where, tooth, words=HEIGHT_NOT_SAID, beside=high)
        elif clasp.bracing_mm < 0:
            below = {**tooth, "below": -clasp.bracing_mm}
            yield Trip(where, below, words=BELOW_LINE, beside=high)
        elif not clasp.braces_first:
            words = FIRST_NOT_SAID if clasp.braces_first is None else TIP_FIRST
            yield Trip(where, tooth, words=words, beside=((f"meets {where}", ""),))
        elif clasp.bracing_mm < least:
            told = {**tooth, "height": clasp.bracing_mm, "least": least}
            yield Trip(where, told, words=TOO_LOW, severity="advice")


def tip_lies(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-7: the tip points away from the gap, at a free end cheekwards, and clears the gum."""
    least = limits["CLP-7"]["gum"]
    for clasp in facts.clasps:
        where, tooth = str(clasp.tooth), {"tooth": clasp.tooth}
        gap, free = _gap_side(facts, clasp.tooth)
        if gap and clasp.tip == gap:
            yield Trip(where, {**tooth, "side": gap})
        if free and not clasp.tip:
            yield Trip(where, tooth, words=TIP_NOT_SAID)
        if free and clasp.face == "lingual":
            yield Trip(where, tooth, words=TIP_ON_TONGUE_SIDE)
        if clasp.gum_mm is not None and clasp.gum_mm < least:
            yield Trip(where, {**tooth, "gum": clasp.gum_mm, "least": least}, words=TIP_AT_GUM)


def _gap_side(facts: Facts, tooth: int) -> tuple[str, bool]:
    """Return the side of a tooth that looks at its base, and whether that is a free end.

    A free end comes before another base; the side is empty where there is none, or it is unclear.
    """
    sides: dict[str, bool] = {}
    for base in facts.bases:
        free = base.right_wall is None or base.left_wall is None
        if base.right_wall == tooth:
            sides[side_towards(tooth, True)] = free
        if base.left_wall == tooth:
            sides[side_towards(tooth, False)] = free
    if len(sides) > 1:
        sides = {side: free for side, free in sides.items() if free}
    return next(iter(sides.items())) if len(sides) == 1 else ("", False)


def crosses_bite(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-8: room where the wire crosses the bite."""
    for clasp in facts.clasps:
        if clasp.room_mm is None or clasp.wire_mm is None:
            continue
        need = round(clasp.wire_mm + limits["CLP-8"]["over_wire"], 6)
        if clasp.room_mm < need:
            told = {"tooth": clasp.tooth, "room": clasp.room_mm, "need": need}
            yield Trip(str(clasp.tooth), told, beside=((f"room {clasp.tooth}", ""),))


STATE_WORDS: dict[str, str] = {
    "loose": N_("loose"),
    "to-be-lost": N_("to be lost"),
    "root-filled": N_("root-filled"),
}


def weak_tooth(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-9: the practice told something of the tooth."""
    for clasp in facts.clasps:
        if clasp.state:
            state = STATE_WORDS[clasp.state]
            yield Trip(str(clasp.tooth), {"tooth": clasp.tooth, "state": state})


def nickel(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-10: nickel is told, and a part holds it; passed once the practice named an alloy."""
    if not facts.nickel:
        return
    for clasp in facts.clasps:
        alloy = ALLOYS.get(clasp.alloy)
        if (alloy is None or alloy.nickel) and clasp.alloy != facts.alloy_named:
            name = alloy.name if alloy is not None else clasp.alloy
            told = {"tooth": clasp.tooth, "alloy": name}
            yield Trip(str(clasp.tooth), told, beside=((f"alloy {clasp.tooth}", ""),))
    if facts.alloy_named in STEELS:
        return
    for tooth in sorted(facts.design.rests):
        yield Trip(f"rest {tooth}", words=NICKEL_STEEL, beside=(("rests", ""),))
    if facts.design.bar:
        yield Trip("bar", words=NICKEL_STEEL, beside=(("bar", ""),))


def count(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-11: how many clasps for the class; none at all leads to a question."""
    kennedy, use = facts.kennedy, limits["CLP-11"]
    if kennedy is None or kennedy.kennedy == "edentulous" or not facts.new_piece:
        return
    if not facts.clasps:
        yield Trip(words=NO_CLASP, question=9)
        return
    low, high = use["least"], use[f"most_{kennedy.kennedy}"]
    if not low <= len(facts.clasps) <= high:
        told = {"count": len(facts.clasps), "class": str(kennedy), "low": low, "high": high}
        yield Trip(facts=told)


def whole(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-14: what a clasp cannot be bent without is not said.

    Nothing is bent where a piece is only adjusted; where one is mended, a clasp may be an old one
    that nobody measured.
    """
    if facts.order.kind == "adjustment":
        return
    for clasp in facts.clasps:
        said = {
            "wire": clasp.wire_mm or clasp.gauge or None, "arm": clasp.free_arm_mm,
            "undercut": clasp.undercut_mm, "tip": clasp.tip or None,
        }  # fmt: skip
        lacks = [part for part in PARTS if said[part[0]] is None]
        if lacks:
            yield Trip(
                str(clasp.tooth),
                {"tooth": clasp.tooth, "parts": tuple(words for _entry, words, _said in lacks)},
                words="" if facts.new_piece else OF_THE_OLD_PIECE,
                severity=None if facts.new_piece else "concession",
                beside=tuple((f"{entry} {clasp.tooth}", say) for entry, _words, say in lacks),
            )


def heat_joint(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-12: a joint made with heat near the free arm."""
    least = limits["CLP-12"]["away"]
    for clasp in facts.clasps:
        if clasp.joint_mm is not None and clasp.joint_mm < least:
            told = {"tooth": clasp.tooth, "away": clasp.joint_mm, "least": least}
            yield Trip(str(clasp.tooth), told, beside=((f"joint {clasp.tooth}", ""),))


def gauge_alone(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """CLP-13: a gauge without its table."""
    for clasp in facts.clasps:
        if clasp.gauge and not clasp.gauge_system:
            yield _by_which_table(clasp.gauge, str(clasp.tooth), f"wire {clasp.tooth}")
    bar = facts.design.strengthener
    if bar is not None and bar.gauge and not bar.gauge_system:
        yield _by_which_table(bar.gauge, "bar", "bar size")


def _by_which_table(gauge: str, subject: str, entry: str) -> Trip:
    both = of_which_table(gauge)
    told: dict[str, object] = {"gauge": gauge}
    if both is None:
        return Trip(subject, told, beside=((entry, ""),))
    told |= {"awg": both[0], "swg": both[1]}
    return Trip(subject, told, words=EITHER_TABLE, beside=((entry, ""),))
