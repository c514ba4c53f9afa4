"""What the front desk can choose from when it logs an order: pairs of (value, words).

Values are stored and never change; words may be edited. Borders, edges and polish are three
separate orders: edges and flash are always taken off and so are no choice.

Lists: common practice, no published source.
"""

from __future__ import annotations

from cases.domain.words import N_
from cases.domain.words import gettext as _

Choices = tuple[tuple[str, str], ...]

KINDS: Choices = (
    ("new", N_("New piece")),
    ("adjustment", N_("Adjustment")),
    ("repair", N_("Broken clasp or tooth")),
    ("addition", N_("Added tooth")),
    ("remake", N_("Remake")),
)

REMAKE_STARTS: Choices = (
    ("new-impression", N_("From a new impression")),
    ("kept-master", N_("From the kept master cast")),
    ("kept-wax-index", N_("From the kept wax index")),
)

ARCHES: Choices = (("upper", N_("Upper")), ("lower", N_("Lower")), ("both", N_("Both, as a pair")))

BORDERS: Choices = (
    ("left-full", N_("Left at full depth for the dentist")),
    ("reduced-2mm", N_("Laboratory reduces to 2 mm short of the fold")),
    ("as-drawn", N_("As drawn on the cast")),
)


POLISH: Choices = (
    ("none", N_("None (smooth, satin from the paper)")),
    ("outer-borders-left", N_("Outer surfaces, borders left")),
    ("all-outer", N_("All outer surfaces")),
)

POLISH_WORDS = N_("The fitting side is never polished.")  # Zarb; Phillips: from memory

BITE: Choices = (
    ("by-hand", N_("Found by hand from the casts")),
    ("record", N_("Bite record")),
    ("rim", N_("Rim needed")),
)

SHADE_HOW: Choices = (
    ("named", N_("This shade, by this guide")),
    ("photograph", N_("Match the photograph")),
    ("old-piece", N_("Match the old piece")),
    ("laboratory", N_("Laboratory chooses")),
)

MOULD_HOW: Choices = (
    ("named", N_("This mould")),
    ("as-before", N_("As before")),
    ("laboratory", N_("Laboratory chooses to match")),
)

# What can come in the box, and in which form where there is more than one.
ITEMS: Choices = (
    ("working", N_("Arch to work on")),
    ("opposing", N_("Opposing arch")),
    ("bite", N_("Bite record")),
    ("shade-tab", N_("Shade tab")),
    ("tray", N_("Tray")),
    ("old-piece", N_("Old piece")),
)

FORMS: Choices = (
    ("impression", N_("Impression")),
    ("cast", N_("Poured cast")),
    ("scan", N_("Scan")),
)

ITEMS_WITH_FORM: frozenset[str] = frozenset({"working", "opposing"})

# Stages that need the item: only these wait when it follows later. A stage that the case's
# route has not is passed over.
ITEM_STAGES: dict[str, tuple[str, ...]] = {
    "working": ("pour", "pick-up", "print-model", "trim"),
    "opposing": ("mount",),
    "bite": ("mount",),
    "shade-tab": ("teeth",),
    "tray": (),
    "old-piece": ("teeth",),
}

TRAYS: Choices = (("stock", N_("Stock tray")), ("special", N_("Special tray")))

DISINFECTED: Choices = (
    ("yes", N_("Yes")),
    ("no", N_("No")),
    ("not-known", N_("Not known (treat as contaminated)")),
)

DISINFECTED_BY: Choices = (("practice", N_("The practice")), ("laboratory", N_("The laboratory")))

EXTRACTION_DEPTHS: Choices = (
    ("flush", N_("Flush with the gum")),
    ("1mm", N_("1 mm deep")),
    ("2mm", N_("2 mm deep")),
    ("laboratory", N_("Laboratory decides")),
)

ALLERGIES: Choices = (
    ("none-known", N_("None known")),
    ("nickel", N_("Nickel")),
    ("acrylic", N_("Acrylic")),
    ("other-allergy", N_("Another")),
)


def values(choices: Choices) -> frozenset[str]:
    """Return the values of a list of choices."""
    return frozenset(value for value, _ in choices)


def words(choices: Choices, value: str) -> str:
    """Return the words of a value.

    Raises
    ------
    ValueError
        When the list has no such value.
    """
    for known, said in choices:
        if known == value:
            return _(said)
    offered = ", ".join(said for key, said in choices)
    raise ValueError(f"“{value}” is not one of: {offered}.")
