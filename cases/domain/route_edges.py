"""The default edges: what comes after what, how long it must wait, and how long it may.

Waits are minutes after the end of the earlier stage. Makers' instructions beat all of them.
"""

from __future__ import annotations

from cases.domain.network import EdgeSpec
from cases.domain.words import N_

# The label's contact time of the disinfectant, 10 min usual.
# Source: CDC, guideline for dental settings, 2003, from memory; the label decides.
CONTACT_MIN = 10.0
# "Pour at once after the rinse", as a number. judgement
AFTER_RINSE_MAX_MIN = 15.0
# Set of stone and plaster before parting: 60, 45 least.
# Source: Phillips' Science of Dental Materials, from memory.
GYPSUM_SET_MIN, GYPSUM_SET_LEAST_MIN = 60.0, 45.0
# Alginate dries on the cast and draws at it. judgement
ALGINATE_ON_CAST_MAX_MIN = 120.0
# Plaster block-out hardens before anybody rubs at it. judgement
PLASTER_BLOCK_OUT_MIN = 20.0
# Copy mould: silicone 15 to 45 by its maker, gel 45 to go firm. common practice
MOULD_MIN, SILICONE_LEAST_MIN = 45.0, 15.0
# Gel gives off water: pour the copy at once, part it soon. judgement
GEL_POUR_MAX_MIN, GEL_ON_COPY_MAX_MIN = 55.0, 120.0
# Mounting plaster, 20 least. judgement
MOUNTING_MIN, MOUNTING_LEAST_MIN = 30.0, 20.0
# A hot joint, before it goes near wax. judgement
JOINT_COOLS_MIN = 10.0
# The waxed cast soaks in slurry water before flasking. judgement
SLURRY_SOAK_MIN = 10.0
# Investing plaster between the flask halves. common practice, no published source
FLASK_LOWER_MIN, FLASK_LOWER_LEAST_MIN = 45.0, 30.0
FLASK_UPPER_MIN, FLASK_UPPER_LEAST_MIN = 60.0, 45.0
# A flasked case may lie damp for a day. judgement
FLASK_MAX_MIN = 24 * 60.0
# The separator goes on while the mould is warm. judgement
WARM_MOULD_MAX_MIN = 30.0
# The separator dries; packed the same day, 12 hours at most. judgement
SEPARATOR_DRY_MIN, SEPARATOR_MAX_MIN = 15.0, 12 * 60.0
# Rest under the clamp 30 to 60: common practice; not over 6 h, a study found 12 h worst for
# conversion (detail not seen).
CLAMP_MIN, CLAMP_MAX_MIN = 30.0, 6 * 60.0
# The default long cycle with boil: 74 °C 8 h + 100 °C 1 h.
# Source: Phillips' Science of Dental Materials, from memory. The resin's maker decides.
LONG_CYCLE_MIN = 8 * 60.0 + 60.0
# 30 in air + 15 in tap water; in the bath until hand-warm is best.
# Source: Phillips' Science of Dental Materials, from memory.
COOL_MIN = 30.0 + 15.0
# A day in water lowers leftover monomer (abstract of one study read). Soft: may be shortened.
SOAK_MIN = 24 * 60.0
# Printing, washing and curing a model. judgement; the printer decides
PRINT_MIN = 240.0
# Self-cure in the pressure pot. judgement; the resin's maker decides
SELF_CURE_MIN = 15.0

PHILLIPS = "Phillips' Science of Dental Materials, from memory"
CDC = "CDC guideline for dental settings 2003, from memory; the label decides"
COMMON = "common practice, no published source"
DAMP = N_("Keep it damp.")
ALGINATE = N_("Alginate dries on the cast; never leave it on overnight.")

_RECEIVING = (
    EdgeSpec("receive", "disinfect"),
    EdgeSpec("receive", "pour", "pour", latest_words=N_("Pour within the impression's own limit.")),
    EdgeSpec(
        "disinfect", "pour", "pour", CONTACT_MIN, CONTACT_MIN + AFTER_RINSE_MAX_MIN,
        latest_words=N_("Pour at once after the rinse."), mark=CDC,
    ),
    EdgeSpec("receive", "trim", "not-poured"),
    EdgeSpec("disinfect", "trim", "not-poured", CONTACT_MIN, mark=CDC),
    EdgeSpec(
        "pour", "trim", "alginate", GYPSUM_SET_MIN, ALGINATE_ON_CAST_MAX_MIN,
        GYPSUM_SET_LEAST_MIN, ALGINATE, PHILLIPS,
    ),
    EdgeSpec(
        "pour", "trim", "not-alginate", GYPSUM_SET_MIN, None, GYPSUM_SET_LEAST_MIN, mark=PHILLIPS
    ),
    EdgeSpec("trim", "rim"),
    EdgeSpec("trim", "cast-prep"),
    EdgeSpec("trim", "survey", latest_words=N_("The surface is dry before pencil and wax.")),
    EdgeSpec("cast-prep", "survey"),
    EdgeSpec("survey", "agree"),
)  # fmt: skip

_BLOCK_OUT_AND_COPY = (
    EdgeSpec("survey", "block-out", "not-copy-then-plaster"),
    EdgeSpec("agree", "block-out", "not-copy-then-plaster"),
    EdgeSpec("survey", "copy-mould", "copy-then-plaster"),
    EdgeSpec("agree", "copy-mould", "copy-then-plaster"),
    EdgeSpec("block-out", "copy-mould", "wax-then-copy"),
    EdgeSpec(
        "copy-mould", "copy-cast", "silicone", MOULD_MIN, None, SILICONE_LEAST_MIN,
        N_("By the silicone's maker."), COMMON,
    ),
    EdgeSpec(
        "copy-mould", "copy-cast", "gel", MOULD_MIN, GEL_POUR_MAX_MIN,
        latest_words=N_("Gel: pour within 10 minutes."),
    ),
)  # fmt: skip


def _after_copy(after: str, when: str) -> tuple[EdgeSpec, ...]:
    """The copy sets like any cast; a gel mould comes off before it dries."""
    gel = N_("Part it from the gel before the gel dries.")
    both = (
        ("silicone", None, ""),
        ("gel", GEL_ON_COPY_MAX_MIN, gel),
    )
    return tuple(
        EdgeSpec(
            "copy-cast", after, f"{when}-{material}", GYPSUM_SET_MIN, latest,
            GYPSUM_SET_LEAST_MIN, words, PHILLIPS,
        )
        for material, latest, words in both
    )  # fmt: skip


# "Working cast ready": plaster or none and copy-then-plaster after block-out, wax-then-copy
# after the copy.
_WORKING_CAST_READY = (
    *_after_copy("block-out", "copy-then-plaster"),
    *(
        edge
        for after in ("mount", "clasps", "bar")
        for edge in (
            EdgeSpec("block-out", after, "plaster-block-out", PLASTER_BLOCK_OUT_MIN),
            EdgeSpec("block-out", after, "relief-only"),
            *_after_copy(after, "wax-then-copy"),
        )
    ),
    EdgeSpec("rim", "mount"),
)

_SETUP = (
    EdgeSpec("clasps", "join"),
    EdgeSpec("bar", "join"),
    EdgeSpec("mount", "teeth", "always", MOUNTING_MIN, None, MOUNTING_LEAST_MIN),
    EdgeSpec("clasps", "teeth"),
    EdgeSpec("bar", "teeth"),
    EdgeSpec("join", "teeth", "always", JOINT_COOLS_MIN),
    EdgeSpec("teeth", "index"),
    EdgeSpec("teeth", "try-in"),
    EdgeSpec("index", "try-in"),
    EdgeSpec("teeth", "wax"),
    EdgeSpec("index", "wax"),
    EdgeSpec("try-in", "wax"),
    EdgeSpec("wax", "wax-pass"),
)

_FLASK = (
    EdgeSpec("wax-pass", "flask-lower", "always", SLURRY_SOAK_MIN),
    EdgeSpec(
        "flask-lower", "flask-upper", "always", FLASK_LOWER_MIN, FLASK_MAX_MIN,
        FLASK_LOWER_LEAST_MIN, DAMP, COMMON,
    ),
    EdgeSpec(
        "flask-upper", "boil-out", "always", FLASK_UPPER_MIN, FLASK_MAX_MIN,
        FLASK_UPPER_LEAST_MIN, DAMP, COMMON,
    ),
    EdgeSpec(
        "boil-out", "separate", "always", 0, WARM_MOULD_MAX_MIN,
        latest_words=N_("While the mould is warm."),
    ),
    EdgeSpec(
        "separate", "pack", "always", SEPARATOR_DRY_MIN, SEPARATOR_MAX_MIN,
        latest_words=N_("Best the same day; the mould hand-warm at most."),
    ),
    EdgeSpec("pack", "clamp"),
    EdgeSpec(
        "clamp", "cure", "always", CLAMP_MIN, CLAMP_MAX_MIN,
        latest_words=N_("A longer rest may harm the cure."), mark=COMMON,
    ),
    EdgeSpec("cure", "cool", "always", LONG_CYCLE_MIN, mark=PHILLIPS),
    EdgeSpec("cool", "deflask", "always", COOL_MIN, mark=PHILLIPS),
)  # fmt: skip

_FINISH = (
    EdgeSpec("deflask", "bite"),
    EdgeSpec("deflask", "take-off"),
    EdgeSpec("bite", "take-off"),
    EdgeSpec("take-off", "fit"),
    EdgeSpec("take-off", "finish"),
    EdgeSpec("fit", "finish"),
    EdgeSpec("finish", "polish"),
    EdgeSpec("finish", "inspect"),
    EdgeSpec("polish", "inspect"),
    EdgeSpec("inspect", "soak"),
    EdgeSpec(
        "soak", "pack-out", "always", SOAK_MIN, None, 0,
        N_("Shorter only when the van is due, and the paper then says so."),
        "abstract of one study read",
    ),
    EdgeSpec(
        "pack-out", "send", "always", CONTACT_MIN, latest_words=N_("The ship cut-off."),
        mark=CDC,
    ),
)  # fmt: skip

_SHORT = (
    EdgeSpec("receive", "look"),
    EdgeSpec("disinfect", "look", "always", CONTACT_MIN, mark=CDC),
    EdgeSpec("look", "finish"),
    EdgeSpec("receive", "pick-up"),
    EdgeSpec(
        "disinfect", "pick-up", "pick-up", CONTACT_MIN, CONTACT_MIN + AFTER_RINSE_MAX_MIN,
        latest_words=N_("Pour at once after the rinse."), mark=CDC,
    ),
    EdgeSpec(
        "pick-up", "trim", "alginate", GYPSUM_SET_MIN, ALGINATE_ON_CAST_MAX_MIN,
        GYPSUM_SET_LEAST_MIN, ALGINATE, PHILLIPS,
    ),
    EdgeSpec(
        "pick-up", "trim", "not-alginate", GYPSUM_SET_MIN, None, GYPSUM_SET_LEAST_MIN,
        mark=PHILLIPS,
    ),
    EdgeSpec("receive", "print-model"),
    EdgeSpec("print-model", "stone-copy", "always", PRINT_MIN),
    EdgeSpec(
        "stone-copy", "trim", "always", GYPSUM_SET_MIN, None, GYPSUM_SET_LEAST_MIN, mark=PHILLIPS
    ),
    EdgeSpec("teeth", "key"),
    EdgeSpec("key", "self-cure"),
    EdgeSpec("self-cure", "finish", "always", SELF_CURE_MIN),
)  # fmt: skip

EDGES: tuple[EdgeSpec, ...] = (
    _RECEIVING + _BLOCK_OUT_AND_COPY + _WORKING_CAST_READY + _SETUP + _FLASK + _FINISH + _SHORT
)
