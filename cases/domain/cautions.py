"""Cautions of the bench: the usual warnings for each hazard, shown at the stages that have it.

They remind; they do not replace the safety data sheet, the maker's instructions or the rules of
the place. The program never shows that something is safe.
"""

from __future__ import annotations

from dataclasses import dataclass

from cases.domain.words import N_

DEFER = N_(
    "Reminder only: follow the safety data sheet, the maker's instructions and your local "
    "authority."
)


@dataclass(frozen=True)
class Caution:
    """One hazard with what to do, in plain words, and where the words come from."""

    key: str
    title: str
    words: tuple[str, ...]
    source: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "monomer",
        N_("Monomer (liquid and vapour)"),
        (
            N_("Work under extraction or with the window open, and keep the bottle closed."),
            # Open cup, about: from memory of makers' data sheets.
            N_(
                "No flame, torch or boil-out burner near it: the vapour is heavier than air, "
                "creeps along the bench and catches fire (flash point about 10 °C)."
            ),
            N_(
                "Keep it off the skin: it can make you allergic for life, and it passes through "
                "ordinary gloves."
            ),
            # NIOSH REL and OSHA PEL, cdc.gov/niosh/idlh/80626, read; Directive 2009/161/EU, row
            # not seen, from memory. Both are averages over 8 hours.
            N_(
                "Limits for the air of the room: 100 ppm over 8 hours in the United States, 50 ppm "
                "in the European Union; your country may ask for less."
            ),
            # ACGIH TLV, 50 ppm TWA and 100 ppm STEL: OSHA's chemical sampling information of 2008,
            # archived at webarchive.library.unt.edu, read; the present book of the ACGIH was not
            # seen. Directive 2009/161/EU, 100 ppm for a short time: row not seen, from memory.
            N_(
                "For a quarter of an hour: 100 ppm by the ACGIH, which asks for 50 ppm over 8 "
                "hours, and 100 ppm as the European Union's indicative limit."
            ),
            # NIOSH IDLH and lower explosive limit, cdc.gov/niosh/idlh/80626, read.
            N_(
                "At 1,000 ppm the vapour is a danger to life at once, and from 1.7 % in the air it "
                "can explode."
            ),
            N_(
                "Never weigh powder into a beaker that is wet with monomer: it can heat up by "
                "itself."
            ),
        ),
        "NIOSH and OSHA for 100 ppm, NIOSH for 1,000 ppm and 1.7 %, read; ACGIH as OSHA gave it in "
        "2008, read; EU limits (Directive 2009/161/EU) and flash point from memory; skin and fire: "
        "common practice",
    ),
    Caution(
        "powder",
        N_("Powder (benzoyl peroxide)"),
        (
            N_(
                "It holds benzoyl peroxide, which feeds a fire: keep it from heat, sparks, flames "
                "and anything that burns, and wipe up what is spilt with a damp cloth."
            ),
            N_("Its dust irritates eyes and skin and can make you allergic: do not let it fly."),
            # NIOSH REL and OSHA PEL, TWA: cdc.gov/niosh/idlh/94360.html, read.
            N_(
                "Limit for the dust of benzoyl peroxide: 5 mg in a cubic metre over 8 hours in the "
                "United States; your country may ask for less."
            ),
        ),
        "NIOSH and OSHA for 5 mg/m³, read (cdc.gov/niosh/idlh/94360.html); oxidiser and "
        "sensitiser: safety data sheets, from memory",
    ),
    Caution(
        "press",
        N_("Press, clamp and pressure pot"),
        (
            N_("Hands clear before you close. Stand the flask in the middle of the plate."),
            N_("Never go above the pressure that the press's maker allows."),
            N_("A spring clamp jumps when it opens: hold it."),
            N_("A pressure pot: let the air out before you open the lid."),
        ),
        "common practice, no published source; OSHA 1910.212 for guards, from memory",
    ),
    Caution(
        "boiling-water",
        N_("Boiling water and hot wax"),
        (
            N_("Open the lid away from you and let the steam out first."),
            N_("Use tongs and heat-proof gloves; keep the floor dry."),
            N_("The bath needs its low-water cut-out and an earth-leakage breaker."),
            # Twenty minutes: widely taught, from memory.
            N_(
                "A burn: cool running water at once, by your first-aid rule; 20 minutes are widely "
                "taught."
            ),
        ),
        "common practice, no published source; the tank's manual",
    ),
    Caution(
        "torch",
        N_("Torch, solder and weld"),
        (
            N_(
                "Eye shade, extraction, hair tied back; nothing that burns on the bench, and no "
                "monomer in the room."
            ),
            N_("No solder with cadmium. Fluoride flux smokes: do not breathe it."),
            N_("Gas cylinders chained, valves shut when you leave."),
            N_("Set the hot work down where nobody will pick it up."),
        ),
        "OSHA 1910.252, from memory; common practice",
    ),
    Caution(
        "plaster-dust",
        N_("Plaster and stone dust"),
        (
            N_(
                "Weigh, mix and trim with extraction; trim wet. Do not sweep dry or blow off "
                "with air."
            ),
            # Respirable crystalline silica: OSHA 29 CFR 1910.1053, from memory; a trade article
            # seen agrees.
            N_(
                "Stone and investment can hold silica: 50 µg in a cubic metre over 8 hours is the "
                "limit in the United States; from 25 µg on it asks for measuring and more."
            ),
        ),
        "OSHA 29 CFR 1910.1053, from memory",
    ),
    Caution(
        "grinding-dust",
        N_("Grinding acrylic and metal"),
        (
            N_("Extraction on, eye protection on, hair and sleeves tied back."),
            N_("Cut wire ends fly: hold the end, or cut under a cloth."),
            N_("Hold the piece so that a wheel that catches a clasp throws it away from you."),
            N_("Nickel and beryllium alloys: never grind without extraction."),
        ),
        "common practice, no published source; OSHA 1910.1024 for beryllium, from memory",
    ),
    Caution(
        "infection",
        N_("What comes out of a mouth"),
        (
            N_("Gloves, glasses and mask until it is cleaned, disinfected and rinsed."),
            N_("Not known whether it was disinfected means: not disinfected."),
            N_(
                "Keep the contact time on the disinfectant's label. Do not do it twice: it can "
                "spoil "
                "the impression."
            ),
            N_("Fresh pumice and a clean wheel for each patient."),
        ),
        "CDC, Guidelines for Infection Control in Dental Health-Care Settings, MMWR 2003;52 "
        "(RR-17), from memory; not twice: common practice",
    ),
    Caution(
        "hot-flask",
        N_("Hot flask"),
        (
            N_("Tongs or heat-proof gloves. A flask that looks cold may not be."),
            N_("Do not cool it quickly and do not open it hot: the piece warps."),
        ),
        "common practice; slow cooling: Phillips' Science of Dental Materials, from memory",
    ),
    Caution(
        "overnight-cure",
        N_("Cure with nobody there"),
        (
            N_("Timer, low-water cut-out and lid in order; nothing that burns beside the bath."),
            N_("Only where the building's fire and insurance rules allow it."),
        ),
        "common practice, no published source; the site's rules",
    ),
)

BY_KEY: dict[str, Caution] = {caution.key: caution for caution in CAUTIONS}

# Which hazards a stage has. Judgement; a laboratory may know more of its own rooms.
AT_STAGE: dict[str, tuple[str, ...]] = {
    "receive": ("infection",),
    "disinfect": ("infection",),
    "look": ("infection",),
    "pour": ("plaster-dust", "infection"),
    "pick-up": ("plaster-dust", "infection"),
    "stone-copy": ("plaster-dust",),
    "trim": ("plaster-dust",),
    "rim": ("boiling-water",),
    "cast-prep": ("plaster-dust",),
    "block-out": ("plaster-dust",),
    "copy-mould": ("boiling-water",),
    "copy-cast": ("plaster-dust",),
    "mount": ("plaster-dust",),
    "clasps": ("grinding-dust",),
    "bar": ("grinding-dust",),
    "join": ("torch",),
    "teeth": ("grinding-dust", "boiling-water"),
    "index": ("boiling-water",),
    "key": ("boiling-water",),
    "self-cure": ("monomer", "powder", "press"),
    "try-in": ("infection",),
    "wax": ("boiling-water",),
    "flask-lower": ("plaster-dust",),
    "flask-upper": ("plaster-dust",),
    "boil-out": ("boiling-water", "hot-flask"),
    "separate": ("hot-flask", "monomer"),
    "pack": ("monomer", "powder", "press"),
    "clamp": ("press",),
    "cure": ("boiling-water", "hot-flask", "overnight-cure"),
    "cool": ("hot-flask",),
    "deflask": ("hot-flask", "press", "plaster-dust"),
    "bite": ("grinding-dust",),
    "take-off": ("plaster-dust",),
    "fit": ("grinding-dust",),
    "finish": ("grinding-dust",),
    "polish": ("grinding-dust", "infection"),
    "inspect": ("infection",),
    "pack-out": ("infection",),
}


def for_stage(key: str) -> tuple[Caution, ...]:
    """Return the cautions of a stage, the first hazard first; none for a stage without."""
    return tuple(BY_KEY[hazard] for hazard in AT_STAGE.get(key, ()))
