"""SUP, BAR and THK: what carries the piece, the bar inside it, how thick its acrylic is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from cases.domain.crosssection import section_properties
from cases.domain.design import Bar, Design
from cases.domain.limit import Limit
from cases.domain.rule_facts import Facts
from cases.domain.rule_sources import COMMON, JUDGEMENT, MCCRACKEN, PHILLIPS
from cases.domain.rule_spec import Rule, RuleLimits, Trip
from cases.domain.words import N_

PLACES: Final[dict[str, str]] = {
    "lower-plate": N_("lower plate"),
    "palate": N_("palate"),
    "flange": N_("flange"),
    "over-wire": N_("cover over a wire"),
    "pad-edge": N_("edge at the pad"),
    "tooth-join": N_("join of tooth and plate"),
}
"""Where the thickness of the acrylic is looked at."""

ROOM_FOR_WIRE: Final = N_(
    "There is %(room)g mm over %(tooth)s, beside a bounded gap: room for a wire rest, which "
    "carries the piece. Offer one."
)
ROOM_AT_ONE: Final = N_(
    "Nothing carries the piece at %(tooth)s, beside a bounded gap, and nobody has said how much "
    "room the bite leaves there. With %(wire)g mm a wire rest finds room, with %(acrylic)g mm an "
    "acrylic stop: look on the articulator."
)
ROOM_AT_BOTH: Final = N_(
    "Nothing carries the piece at %(tooth)s and %(other)s, beside a bounded gap, and nobody has "
    "said how much room the bite leaves there. With %(wire)g mm a wire rest finds room, with "
    "%(acrylic)g mm an acrylic stop: look on the articulator."
)
LONG_PROGRAM: Final = N_(
    "The thickest acrylic is %(thick)g mm: choose a long program or a slow rise for the bath."
)
BAR_TOO_THIN: Final = N_(
    "%(cover)g mm of acrylic round the bar is less than %(least)g mm. Choose a smaller section, or "
    "make the plate thicker."
)
OVER_THE_BAR: Final = N_(
    "Over the bar %(cover)g mm of the plate would be left, less than %(least)g mm. Choose a "
    "smaller section, or make the plate thicker there."
)
STANDS_OUT: Final = N_(
    "The bar reaches %(out)g mm from the cast, and the plate is %(plate)g mm thick there: it would "
    "stand out. Take a flatter bar, or make the plate thicker."
)
TALLER_THAN_THE_PLATE: Final = N_(
    "The bar is %(out)g mm wide, and the plate stands %(plate)g mm high there: it would stand out. "
    "Take a narrower bar, or make the plate higher."
)
BAR_OFF: Final = N_(
    "The bar is to lie %(relief)g mm off the cast; usual is %(low)g to %(high)g mm. Change it, or "
    "keep it so."
)


def _lower_plate(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if facts.new_piece and facts.lower and facts.spans_both_sides:
        yield Trip()


def _support(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """A wall of a bounded gap that carries nothing yet: offered what its room allows.

    The room is entered with a clasp; where nobody entered it, it is asked to be looked at.
    """
    use, carried = limits["SUP-2"], facts.design.rests | facts.design.stops
    rooms = {one.tooth: one.room_mm for one in facts.clasps if one.room_mm is not None}
    for base in facts.bases:
        if base.right_wall is None or base.left_wall is None:
            continue
        bare = [one for one in (base.right_wall, base.left_wall) if one not in carried]
        if unknown := [wall for wall in bare if wall not in rooms]:
            asked: dict[str, object] = {
                "tooth": unknown[0], "other": unknown[-1],
                "wire": use["wire"], "acrylic": use["acrylic"],
            }  # fmt: skip
            words = ROOM_AT_BOTH if len(unknown) > 1 else ROOM_AT_ONE
            yield Trip(base.name, asked, words=words, severity="info")
        for wall in bare:
            room = rooms.get(wall, 0.0)
            if room >= use["wire"]:
                words = ROOM_FOR_WIRE if room < use["acrylic"] else ""
                yield Trip(str(wall), {"tooth": wall, "room": room}, words=words)


BAR_REASONS: Final = (
    N_("a plate joins both sides"),
    N_("the plate is low"),
    N_("it broke before"),
    N_("the bite is heavy"),
)


def why_bar(facts: Facts, limits: RuleLimits) -> tuple[str, ...]:
    """Return why a bar is advised; empty where nothing asks for one."""
    height = facts.design.plate_height_mm
    speaks = (
        facts.lower and facts.spans_both_sides,
        facts.lower and height is not None and height < limits["BAR-1"]["plate_height"],
        facts.broke_before,
        facts.lower and facts.heavy_bite,
    )
    return tuple(words for words, there in zip(BAR_REASONS, speaks, strict=True) if there)


def _bar_advised(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    design = facts.design
    declined = design.strengthener is not None and bool(design.strengthener.reason)
    if not facts.new_piece or design.bar or declined:
        return
    for why in why_bar(facts, limits):
        yield Trip("bar", {"why": why})


def bar_needs_reason(facts: Facts) -> bool:
    """Whether the bar of an upper stands there without a reason."""
    bar = facts.design.strengthener
    said = facts.broke_before or (bar is not None and bool(bar.reason))
    return facts.design.bar and not facts.lower and not said


def _upper_bar(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    if bar_needs_reason(facts):
        yield Trip("bar", beside=(("bar reason", ""),))


def _bar(facts: Facts) -> Bar | None:
    return facts.design.strengthener if facts.design.bar else None


def _section(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    bar, use = _bar(facts), limits["BAR-3"]
    if bar is None:
        return
    low, high = use[f"{bar.section}_least"], use[f"{bar.section}_most"]
    if bar.size_mm is not None and not low <= bar.size_mm <= high:
        told = {"size": bar.size_mm, "low": low, "high": high}
        yield Trip("bar", told, severity="advice")
    if bar.relief_mm is not None and not use["off_least"] <= bar.relief_mm <= use["off_most"]:
        told = {"relief": bar.relief_mm, "low": use["off_least"], "high": use["off_most"]}
        yield Trip("bar", told, words=BAR_OFF, severity="advice")
    if bar.cover_mm is not None and bar.cover_mm < use["cover"]:
        told = {"cover": bar.cover_mm, "least": use["cover"]}
        yield Trip("bar", told, words=BAR_TOO_THIN, severity="advice")
    if bar.size_mm is not None:
        yield from _within_the_plate(facts.design, bar, use["cover"])


def _within_the_plate(design: Design, bar: Bar, least: float) -> Iterator[Trip]:
    """Hold the section and its distance from the cast against the plate as it is drawn."""
    shape = section_properties(bar.section, bar.size_mm or 0.0)
    thick, high = design.plate_thickness_mm, design.plate_height_mm
    if thick is not None:
        out = round((bar.relief_mm or 0.0) + shape.height_mm, 2)
        left = round(thick - out, 2)
        if left < 0:
            told = {"out": out, "plate": thick}
            yield Trip("bar", told, words=STANDS_OUT, beside=(("plate thick", ""),))
        elif left < least and bar.relief_mm is not None and bar.cover_mm is None:
            # What is said of the cover may hold for a plate that is thickened over the bar.
            told = {"cover": left, "least": least}
            yield Trip("bar", told, words=OVER_THE_BAR, severity="advice")
    if high is not None and shape.width_mm > high:
        told = {"out": round(shape.width_mm, 2), "plate": high}
        yield Trip("bar", told, words=TALLER_THAN_THE_PLATE, beside=(("plate height", ""),))


def _stiffness(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    bar = _bar(facts)
    if bar is not None and bar.size_mm is not None:
        yield Trip("bar")


def _in_grinding(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    bar = _bar(facts)
    if bar is not None and bar.in_grinding:
        yield Trip("bar", beside=(("bar in grinding", ""),))


def _too_thin(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """Measured where somebody measured it, else as the plate is drawn."""
    drawn = {"lower-plate" if facts.lower else "palate": facts.design.plate_thickness_mm}
    for place, words in PLACES.items():
        thick = facts.thickness_mm.get(place, drawn.get(place))
        least = limits["THK-1"][place]
        if thick is not None and thick < least:
            told = {"place": words, "thick": thick, "least": least}
            # What was measured on the piece has no entry in the design.
            by_drawing = () if place in facts.thickness_mm else (("plate thick", ""),)
            yield Trip(place, told, beside=by_drawing)


def _too_thick(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    thick, use = facts.thickest_mm, limits["THK-2"]
    if thick is None:
        return
    if thick > use["warn"]:
        yield Trip(facts={"thick": thick})
    elif thick > use["long_program"]:
        yield Trip(facts={"thick": thick}, words=LONG_PROGRAM)


SUPPORT: tuple[Rule, ...] = (
    Rule(
        "SUP-1", "advice",
        N_(
            "Let the lower plate lie on the cingula of the front teeth and above the line of each "
            "tooth behind, relieved at the gum: tissue-borne acrylic sinks, and what lies above "
            "the line slows it. It is no rest unless the tooth was prepared."
        ),
        f"{MCCRACKEN}; Walmsley, Dental Update 2003, from memory", _lower_plate,
    ),
    Rule(
        "SUP-2", "advice",
        N_(
            "There is %(room)g mm over %(tooth)s, beside a bounded gap: room for a wire rest or an "
            "acrylic stop, which carry the piece. Offer one."
        ),
        MCCRACKEN, _support,
        (
            Limit("wire", 1.0, "mm", N_("Room for a wire rest"), 0.8, 2.0),
            Limit("acrylic", 1.5, "mm", N_("Room for an acrylic stop"), 1.0, 3.0),
        ),
    ),
)  # fmt: skip

BARS: tuple[Rule, ...] = (
    Rule(
        "BAR-1", "advice",
        N_("A bar is advised, because %(why)s. Draw one, or say why there is none."),
        f"{COMMON}; {JUDGEMENT}", _bar_advised,
        (Limit("plate_height", 8.0, "mm", N_("A plate is low below"), 6.0, 12.0),),
        question=16,
    ),
    Rule(
        "BAR-2", "cannot",
        N_("An upper piece has no bar unless the last one broke. Say why, or take the bar out."),
        COMMON, _upper_bar, question=16,
    ),
    Rule(
        "BAR-3", "cannot",
        N_(
            "A bar of %(size)g mm is not the usual section: %(low)g to %(high)g mm. Change it, or "
            "keep it so."
        ),
        COMMON, _section,
        (
            # 12 and 10 AWG.
            Limit("half_round_least", 2.05, "mm", N_("Half-round, at least"), 1.2, 2.6),
            Limit("half_round_most", 2.59, "mm", N_("Half-round, at most"), 2.0, 4.2),
            Limit("round_least", 1.2, "mm", N_("Round, at least"), 0.8, 1.5),
            Limit("round_most", 1.5, "mm", N_("Round, at most"), 1.2, 2.6),
            Limit("off_least", 0.5, "mm", N_("Off the cast, at least"), 0.2, 1.0),
            Limit("off_most", 1.0, "mm", N_("Off the cast, at most"), 0.5, 2.0),
            Limit("cover", 1.0, "mm", N_("Acrylic all round"), 0.5, 2.0),
        ),
    ),
    Rule(
        "BAR-4", "info",
        N_(
            "Steel does not stick to acrylic by itself: blast and prime it as the maker says, or "
            "count on the lower figure of stiffness (not bonded)."
        ),
        f"{PHILLIPS}; {JUDGEMENT}", _stiffness,
    ),
    Rule(
        "BAR-5", "concession",
        N_(
            "The bar lies where the dentist may grind. Move it, or ask for a concession."
        ),
        COMMON, _in_grinding,
    ),
)  # fmt: skip

THICKNESS: tuple[Rule, ...] = (
    Rule(
        "THK-1", "concession",
        N_(
            "The acrylic is %(thick)g mm thick (%(place)s), less than %(least)g mm. Make it "
            "thicker, or ask for a concession."
        ),
        COMMON, _too_thin,
        (
            Limit("lower-plate", 2.0, "mm", N_("Lower plate, at least"), 1.5, 3.0),
            Limit("palate", 1.5, "mm", N_("Palate, at least"), 1.2, 2.5),
            Limit("flange", 2.0, "mm", N_("Flange, at least"), 1.0, 3.0),
            Limit("over-wire", 1.0, "mm", N_("Over a wire, at least"), 0.8, 2.0),
            Limit("pad-edge", 2.0, "mm", N_("Edge at the pad, at least"), 1.5, 3.0),
            Limit("tooth-join", 2.0, "mm", N_("Join of tooth and plate, at least"), 1.5, 3.0),
        ),
    ),
    Rule(
        "THK-2", "advice",
        N_(
            "The thickest acrylic is %(thick)g mm: it may heat itself up in the cure and pore. "
            "Choose a long program or a slow rise, and tell the bath."
        ),
        f"{PHILLIPS}; the numbers: {JUDGEMENT}", _too_thick,
        (
            Limit("long_program", 6.0, "mm", N_("Long program, over"), 3.0, 8.0),
            Limit("warn", 10.0, "mm", N_("Warn, over"), 8.0, 12.0),
        ),
    ),
)  # fmt: skip

RULES: tuple[Rule, ...] = (*SUPPORT, *BARS, *THICKNESS)
