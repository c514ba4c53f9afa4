"""What the front desk can choose from when it logs an order: pairs of (value, words).

Values are stored and never change; words may be edited. Borders, edges and polish are three
separate orders: edges and flash are always taken off and so are no choice.

Lists: common practice, no published source.
"""

from __future__ import annotations

Choices = tuple[tuple[str, str], ...]

KINDS: Choices = (
    ("new", "New piece"),
    ("adjustment", "Adjustment"),
    ("repair", "Broken clasp or tooth"),
    ("addition", "Added tooth"),
    ("remake", "Remake"),
)

REMAKE_STARTS: Choices = (
    ("new-impression", "From a new impression"),
    ("kept-master", "From the kept master cast"),
    ("kept-wax-index", "From the kept wax index"),
)

ARCHES: Choices = (("upper", "Upper"), ("lower", "Lower"), ("both", "Both, as a pair"))

BORDERS: Choices = (
    ("left-full", "Left at full depth for the dentist"),
    ("reduced-2mm", "Laboratory reduces to 2 mm short of the fold"),
    ("as-drawn", "As drawn on the cast"),
)

EDGES_WORDS = "Edges and flash are always taken off."

POLISH: Choices = (
    ("none", "None (smooth, satin from the paper)"),
    ("outer-borders-left", "Outer surfaces, borders left"),
    ("all-outer", "All outer surfaces"),
)

POLISH_WORDS = "The fitting side is never polished."  # Zarb; Phillips: from memory

BITE: Choices = (
    ("by-hand", "Found by hand from the casts"),
    ("record", "Bite record"),
    ("rim", "Rim needed"),
)

SHADE_HOW: Choices = (
    ("named", "This shade, by this guide"),
    ("photograph", "Match the photograph"),
    ("old-piece", "Match the old piece"),
    ("laboratory", "Laboratory chooses"),
)

MOULD_HOW: Choices = (
    ("named", "This mould"),
    ("as-before", "As before"),
    ("laboratory", "Laboratory chooses to match"),
)

# What can come in the box, and in which form where there is more than one.
ITEMS: Choices = (
    ("working", "Arch to work on"),
    ("opposing", "Opposing arch"),
    ("bite", "Bite record"),
    ("shade-tab", "Shade tab"),
    ("tray", "Tray"),
    ("old-piece", "Old piece"),
)

FORMS: Choices = (("impression", "Impression"), ("cast", "Poured cast"), ("scan", "Scan"))

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

TRAYS: Choices = (("stock", "Stock tray"), ("special", "Special tray"))

DISINFECTED: Choices = (
    ("yes", "Yes"),
    ("no", "No"),
    ("not-known", "Not known (treat as contaminated)"),
)

DISINFECTED_BY: Choices = (("practice", "The practice"), ("laboratory", "The laboratory"))

EXTRACTION_DEPTHS: Choices = (
    ("flush", "Flush with the gum"),
    ("1mm", "1 mm deep"),
    ("2mm", "2 mm deep"),
    ("laboratory", "Laboratory decides"),
)

ALLERGIES: Choices = (
    ("none-known", "None known"),
    ("nickel", "Nickel"),
    ("acrylic", "Acrylic"),
    ("other-allergy", "Another"),
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
            return said
    raise ValueError(f"“{value}” is not one of: {', '.join(said for _, said in choices)}.")
