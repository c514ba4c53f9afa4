"""BOR-1 to 5 and TTH-1 to 5: how far the borders go, and where the denture teeth stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from cases.domain import teeth
from cases.domain.limit import Limit
from cases.domain.rule_facts import Facts
from cases.domain.rule_sources import COMMON, GYSI, JUDGEMENT, MCCRACKEN, ZARB
from cases.domain.rule_spec import Rule, RuleLimits, Trip
from cases.domain.subjects import Base, free_ends
from cases.domain.words import N_

# What each area has to be covered with at least.
PAD_COVERED: Final = frozenset({"whole", "front-half"})
TUBEROSITY_COVERED: Final = frozenset({"whole", "to-the-notch"})

# A free end is covered unless a named person says otherwise: silence decides nothing.
PAD_UNSAID: Final = N_(
    "Nobody has said how far the pad of this free end is covered. Say so, at least its front half, "
    "or ask for a concession."
)
TUBEROSITY_UNSAID: Final = N_(
    "Nobody has said how far the tuberosity of this free end is covered. Say so, to the notch "
    "behind it, or ask for a concession."
)
NARROW_BEHIND: Final = N_(
    "There is %(room)g mm for %(tooth)s and its mould is %(mould)g mm wide. Choose a narrower "
    "mould, overlap, or leave it out, and tell the practice."
)


def _loose_border(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if facts.new_piece and facts.loose_border and not facts.borders_said:
        yield Trip()


def _covered(facts: Facts, arch: str, enough: frozenset[str], unsaid: str) -> Iterator[Trip]:
    if facts.design.arch != arch or not facts.new_piece:
        return
    said = dict(facts.design.covered)
    for area in free_ends(facts.design):
        how, beside = said.get(area), ((f"cover {area}", ""),)
        if not how:
            yield Trip(area, words=unsaid, beside=beside)
        elif how not in enough:
            yield Trip(area, question=5 if how == "as-cast" else None, beside=beside)


def _pad(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    yield from _covered(facts, "lower", PAD_COVERED, PAD_UNSAID)


def _tuberosity(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    yield from _covered(facts, "upper", TUBEROSITY_COVERED, TUBEROSITY_UNSAID)


def _no_pad_rule(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """A pad is drawn as covered where a tooth bounds the gap behind."""
    ends = free_ends(facts.design)
    for area, how in facts.design.covered:
        if how and area not in ends:
            yield Trip(area)


def _front(base: Base) -> bool:
    return any(teeth.kind(tooth) == "incisor" for tooth in base.teeth)


def _flange(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if facts.full_front_ridge:
        for base in facts.bases:
            if _front(base):
                yield Trip(base.name)


def _over_crest(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    back = [tooth for tooth in facts.design.replaced if not teeth.is_anterior(tooth)]
    if facts.new_piece and facts.lower and back:
        yield Trip()


def _last_tooth(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """Only a lower ridge climbs to a pad."""
    if not facts.lower:
        return
    sides = facts.design.on_slope
    for base in facts.bases:
        if "right" in sides and base.right_wall is None:
            yield Trip(str(base.teeth[0]), {"tooth": base.teeth[0]})
        if "left" in sides and base.left_wall is None:
            yield Trip(str(base.teeth[-1]), {"tooth": base.teeth[-1]})


def _narrow(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    less = limits["TTH-3"]["less"]
    for room in facts.design.rooms:
        if room.tooth not in facts.design.replaced:
            continue
        if room.width_mm is None or room.mould_mm is None:
            continue
        if room.width_mm < round(room.mould_mm - less, 6):
            told = {"tooth": room.tooth, "room": room.width_mm, "mould": room.mould_mm}
            if teeth.is_anterior(room.tooth):
                yield Trip(str(room.tooth), told)
            else:
                yield Trip(str(room.tooth), told, words=NARROW_BEHIND, severity="advice")


def _low(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    least = limits["TTH-4"]["height"]
    for room in facts.design.rooms:
        height = room.height_mm
        if room.tooth in facts.design.replaced and height is not None and height < least:
            yield Trip(str(room.tooth), {"tooth": room.tooth, "room": height, "least": least})


def _crossbite(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    angle, least = facts.design.crest_angle_deg, limits["TTH-5"]["angle"]
    if angle is not None and angle < least and not facts.design.occlusion:
        yield Trip(facts={"angle": angle, "least": least})


BORDERS: tuple[Rule, ...] = (
    Rule(
        "BOR-1", "asks",
        N_(
            "The impression is alginate in a stock tray, so the fold is probably pushed out. Wax "
            "to full depth, and ask who reduces the borders."
        ),
        COMMON, _loose_border, question=14,
    ),
    Rule(
        "BOR-2", "concession",
        N_(
            "The pad of this free end is covered less than in its front half. Cover it as far as "
            "it was taken, ask for what is not on the cast, or ask for a concession."
        ),
        f"{MCCRACKEN}; {ZARB}: sources range", _pad,
    ),
    Rule(
        "BOR-3", "concession",
        N_(
            "The tuberosity of this free end is not covered to the notch behind it. Cover it, ask "
            "for what is not on the cast, or ask for a concession."
        ),
        ZARB, _tuberosity,
    ),
    Rule(
        "BOR-4", "info",
        N_("A tooth bounds the gap here, so no pad or tuberosity has to be covered."),
        COMMON, _no_pad_rule,
    ),
    Rule(
        "BOR-5", "asks",
        N_("The ridge of the front gap is full. Ask: a flange, or teeth fitted to the gum?"),
        COMMON, _flange, question=19,
    ),
)  # fmt: skip

TEETH: tuple[Rule, ...] = (
    Rule(
        "TTH-1", "advice",
        N_(
            "Set the lower back teeth over the crest, their lingual cusps inside the lines from "
            "the canine to the sides of the pad."
        ),
        f"{ZARB}; Pound, from memory", _over_crest,
    ),
    Rule(
        "TTH-2", "asks",
        N_(
            "%(tooth)s would stand where the ridge climbs to the pad. Leave one tooth out rather "
            "than set it on the slope, and ask the dentist."
        ),
        ZARB, _last_tooth, question=8,
    ),
    Rule(
        "TTH-3", "asks",
        N_(
            "There is %(room)g mm for %(tooth)s and its mould is %(mould)g mm wide. Ask the "
            "dentist: narrower teeth, overlap, or leave it out?"
        ),
        COMMON, _narrow,
        (Limit("less", 1.0, "mm", N_("Room narrower than the mould by more than"), 0.0, 2.0),),
        question=8,
    ),
    Rule(
        "TTH-4", "asks",
        N_(
            "There is %(room)g mm of height for %(tooth)s, less than %(least)g mm. Ask: grind in, "
            "a tooth shell, or a tooth of acrylic?"
        ),
        JUDGEMENT, _low,
        (Limit("height", 5.0, "mm", N_("Height between tooth and ridge"), 3.0, 8.0),),
        question=8,
    ),
    Rule(
        "TTH-5", "asks",
        N_(
            "The line between the ridges stands at %(angle)g° to the bite plane, less than "
            "%(least)g°. Offer a crossbite, and ask the dentist."
        ),
        GYSI, _crossbite,
        (Limit("angle", 80.0, "°", N_("Ridge lines to the bite plane"), 70.0, 88.0),),
        question=18,
    ),
)  # fmt: skip

RULES: tuple[Rule, ...] = (*BORDERS, *TEETH)
