"""Where the rules BLK-0 to BLK-15 speak on a design; their words are in ``rules_blockout``.

BLK-0 to BLK-7 say what ``blockout.advise`` found, with the faces. BLK-8
cannot be broken in a design: none of its methods is wax on the cast that goes into the flask. A
design that names such a method all the same, through a door that no screen has, is refused by this
rule and as a slip. The block-out check of the working cast asks for the wax once more.
"""

from __future__ import annotations

from collections.abc import Iterator

from cases.domain import blockout
from cases.domain.blockout import Advice, BlockOutLimits, Face
from cases.domain.design import BLOCK_OUT_METHODS, COPY_METHODS
from cases.domain.rule_facts import Facts
from cases.domain.rule_spec import RuleLimits, Trip
from cases.domain.words import N_

ADVISED_WORDS: dict[str, str] = {
    "none": N_("no block-out, relief only"),
    "plaster": N_("plaster on the cast"),
    "copy": N_("a copy"),
}

MANY_FACES = N_(
    "%(count)d faces beside the gaps are undercut. Make a copy: that is too much to place by eye "
    "in plaster, and thin plaster chips in the press."
)
ASK_REASON = N_(
    "The rules advise %(advised)s, and the design takes another way. Choose the reason from the "
    "list, or follow the advice."
)
NO_RELIEF = N_(
    "At %(tooth)s %(side)s the relief of gum line and papillae is left out; without it the plate "
    "cuts the gum as it sinks. Make it, or ask for a concession."
)
RELIEF_ENOUGH = N_(
    "The ridge under this base is undercut by %(step)g mm on one side: soft tissue gives a little "
    "there. Where the path can swing past it, relief is enough; else block it out or ask."
)
RELIEF_ENOUGH_BEHIND = N_(
    "The ridge behind, at %(tooth)s, is undercut by %(step)g mm on one side: soft tissue gives a "
    "little there. Where the path can swing past it, relief is enough; keep the flange full until "
    "told."
)
PARALLEL = N_(
    "Block out parallel to the path (0°), so that acrylic guides. A taper of 2–6° only on purpose."
)
ODD_TAPER = N_(
    "The block-out tapers by %(taper)g°; on purpose it is %(low)g to %(high)g°. Make it parallel "
    "(0°), so that acrylic guides, or keep to those."
)
MASTER_REASONS: tuple[tuple[str, str], ...] = (
    ("fit_back", N_("a fit-back on a cast is ordered")),
    ("cast_goes_home", N_("a cast goes back to the practice")),
    ("later_piece", N_("a later piece will be made on it")),
    ("last_did_not_seat", N_("this patient's last piece did not seat, or took over ten minutes")),
)
ALL_FREE_UNPOLISHED = N_("every base is a free end and nothing is polished")


def why_keep_master(facts: Facts) -> tuple[str, ...]:
    """Return why a cast has to live on after the flask; empty where nothing asks for it."""
    told = [words for name, words in MASTER_REASONS if getattr(facts, name)]
    free = all(base.right_wall is None or base.left_wall is None for base in facts.bases)
    if facts.bases and free and facts.order.polish == "none":
        told.append(ALL_FREE_UNPOLISHED)
    return tuple(told)


def blockout_limits(limits: RuleLimits) -> BlockOutLimits:
    """Return the limits of BLK-3 to BLK-5 as the advice takes them."""
    return BlockOutLimits(
        proximal_over_mm=limits["BLK-3"]["proximal"],
        lingual_over_mm=limits["BLK-3"]["lingual"],
        proximal_faces=limits["BLK-3"]["faces"],
        freestanding_from_mm=limits["BLK-4"]["both_sides"],
        facing_sum_from_mm=limits["BLK-5"]["sum"],
    )


def advice_of(facts: Facts, limits: RuleLimits) -> Advice | None:
    """Return the block-out advice for a design; None while nothing was surveyed that it needs."""
    keep = bool(why_keep_master(facts))
    if not facts.new_piece or not (facts.undercuts or keep):
        return None
    return blockout.advise(
        facts.undercuts,
        freestanding=facts.freestanding,
        facing_walls=facts.facing_walls,
        keep_master=keep,
        limits=blockout_limits(limits),
    )


def _place(face: Face) -> str:
    return f"{face[0]} {face[1]}"


def relief(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-0: relief is made wherever acrylic lies on a tooth, unless somebody answers for it."""
    if not facts.new_piece:
        return
    if facts.walls or facts.undercuts:
        yield Trip(severity="info")
    for tooth, side in sorted(facts.design.unrelieved):
        told = {"tooth": tooth, "side": side}
        yield Trip(f"{tooth} {side}", told, words=NO_RELIEF, beside=(("unrelieved", ""),))


def _spoken(facts: Facts, limits: RuleLimits, rule: str) -> bool:
    advice = advice_of(facts, limits)
    return advice is not None and rule in advice.rules


def none_needed(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-1: no face is undercut. Nothing is said before a face was surveyed."""
    if facts.undercuts and _spoken(facts, limits, "BLK-1"):
        yield Trip()


def plaster(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-2: few and shallow."""
    if _spoken(facts, limits, "BLK-2"):
        yield Trip()


def too_much(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-3: a deep face each, or many together."""
    if not facts.new_piece:
        return
    use = blockout_limits(limits)
    for face in blockout.too_deep(facts.undercuts, use):
        shown = {"tooth": face[0], "side": face[1], "step": facts.undercuts[face]}
        yield Trip(_place(face), shown)
    many = blockout.proximal_with_step(facts.undercuts)
    if len(many) >= use.proximal_faces:
        yield Trip(facts={"count": len(many)}, words=MANY_FACES)


def freestanding(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-4: a tooth alone between two gaps, undercut towards both."""
    use = blockout_limits(limits)
    if facts.new_piece:
        for tooth in blockout.undercut_both_sides(facts.undercuts, facts.freestanding, use):
            yield Trip(str(tooth), {"tooth": tooth})


def between_walls(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-5: two walls of one gap."""
    if not facts.new_piece:
        return
    tight = blockout.tight_walls(facts.undercuts, facts.facing_walls, blockout_limits(limits))
    for (right, _side), (left, _other) in tight:
        base = next(b for b in facts.bases if (b.right_wall, b.left_wall) == (right, left))
        yield Trip(base.name, {"tooth": right, "other": left})


def keep_master(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-6: the master must live."""
    if facts.new_piece:
        for why in why_keep_master(facts):
            yield Trip(facts={"why": why})


def which_copy(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-7: a copy is advised."""
    advice = advice_of(facts, limits)
    if advice is not None and advice.method == "copy":
        yield Trip()


def wax_in_flask(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-8: a way to block out that is none of ours."""
    if facts.design.method not in BLOCK_OUT_METHODS:
        yield Trip(facts={"method": facts.design.method}, beside=(("method", ""),))


# Where the ridge of a free end has its own undercut: behind the upper last molars towards the
# cheek, and under the mylohyoid ridge of the lower ones towards the tongue.
BEHIND: dict[str, tuple[frozenset[int], str]] = {
    "upper": (frozenset({17, 18, 27, 28}), "buccal"),
    "lower": (frozenset({37, 38, 47, 48}), "lingual"),
}


def _ridge_behind(facts: Facts) -> dict[Face, float]:
    places, side = BEHIND[facts.design.arch]
    return {
        face: step
        for face, step in facts.ridges.items()
        if step > 0 and face[0] in places and face[1] == side
    }


def ridge(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-9: the ridge under a base is undercut on two sides, or deeply on one; else relief."""
    most, behind = limits["BLK-9"]["one_side"], _ridge_behind(facts)
    for base in facts.bases:
        here = {
            face: step
            for face, step in facts.ridges.items()
            if step > 0 and face[0] in base.teeth and face not in behind
        }
        if here.keys() <= facts.design.blocked:
            continue
        told = {"step": max(here.values())}
        if len({side for _tooth, side in here}) > 1 or told["step"] > most:
            yield Trip(base.name, told)
        else:
            yield Trip(base.name, told, words=RELIEF_ENOUGH, severity="info")


def ridge_behind(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-10: tuberosities and mylohyoid spaces: block out, ask, or relief."""
    found, most = _ridge_behind(facts), limits["BLK-10"]["one_side"]
    quadrants = {tooth // 10 for tooth, _side in found}
    for (tooth, side), step in found.items():
        if (tooth, side) in facts.design.blocked:
            continue
        told: dict[str, object] = {"tooth": tooth, "step": step}
        if len(quadrants) > 1 or step > most:
            yield Trip(f"ridge {tooth} {side}", told)
        else:
            yield Trip(f"ridge {tooth} {side}", told, words=RELIEF_ENOUGH_BEHIND, severity="info")


def leaning_open(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-11: an undercut lower lingual face that is not blocked out."""
    for face in blockout.leaning(facts.undercuts):
        if face not in facts.design.blocked:
            told = {"tooth": face[0], "step": facts.undercuts[face]}
            yield Trip(_place(face), told, beside=(("blocked", ""),))


def tip_covered(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-12: the face on which an arm lies is blocked out."""
    for clasp in facts.clasps:
        if (clasp.tooth, clasp.face) in facts.design.blocked:
            told = {"tooth": clasp.tooth, "side": clasp.face}
            yield Trip(f"{clasp.tooth} {clasp.face}", told, beside=(("blocked", ""),))


def taper(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-13: something is blocked out, and how: parallel, on purpose, or with too odd a taper."""
    if not facts.design.blocked or facts.design.method == "none":
        return
    degrees, use = facts.design.taper_deg, limits["BLK-13"]
    if not degrees:
        yield Trip(severity="info", words=PARALLEL)
        return
    told = {"taper": degrees, "low": use["least"], "high": use["most"]}
    usual = use["least"] <= degrees <= use["most"]
    yield Trip(facts=told, words="" if usual else ODD_TAPER)


def no_time(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-14: a copy is advised, and there is no time for it."""
    advice, left = advice_of(facts, limits), facts.half_days_left
    copy = advice is not None and advice.method == "copy"
    if copy and left is not None and left < limits["BLK-14"]["half_days"]:
        yield Trip(facts={"left": left})


def other_than_advised(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """BLK-15: asks for the reason, and shows it once it is there."""
    advice, design = advice_of(facts, limits), facts.design
    if advice is None or design.provisional:
        return
    chosen = "copy" if design.method in COPY_METHODS else design.method
    if chosen == advice.method:
        return
    advised = {"advised": ADVISED_WORDS[advice.method]}
    if design.method_reason:
        yield Trip(facts=advised, severity="info")
    else:
        yield Trip(facts=advised, words=ASK_REASON, beside=(("method_reason", ""),))
