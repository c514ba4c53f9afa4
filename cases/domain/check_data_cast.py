"""Default checks 1 to 20: from the box to the mounted cast.

Marks: "common practice" has no published source; textbooks are cited from memory; a lab edits
every limit, and the makers' instructions beat it.
"""

from __future__ import annotations

from cases.domain.check_spec import Again, CheckSpec, Measure, Told
from cases.domain.rule_sources import TEACHING_BOOK
from cases.domain.words import N_

MCCRACKEN = "McCracken's Removable Partial Prosthodontics, from memory"
STEWART = "Stewart's Clinical Removable Partial Prosthodontics, from memory"
PHILLIPS = "Phillips' Science of Dental Materials, from memory"
ZARB = "Prosthodontic Treatment for Edentulous Patients (Zarb), from memory"
CDC = "CDC guideline for dental settings 2003, from memory; the label decides"
COMMON = "common practice, no published source"
JUDGEMENT = "judgement"

# Limits of the casts, in the unit of the measure, each with its source.
CONTACT_MIN = 10.0  # minutes wet, usual label: CDC 2003, from memory
ALGINATE_POUR_MAX_MIN = 15.0  # conventional alginate, taken to poured: Phillips, from memory
ALGINATE_POUR_NEVER_OVER_MIN = 30.0  # the same, whatever else is accepted: judgement
GAUGE_MIN_MM, GAUGE_MAX_MM = 0.25, 0.50  # clasp tip undercut: McCracken, from memory
TIP_TO_GUM_MIN_MM = 1.0  # judgement; principle: Stewart and McCracken, from memory
RELIEF_MIN_MM, RELIEF_MAX_MM = 0.25, 0.50  # gum line and papillae: common practice
COPY_DIFFERENCE_MAX_MM = 0.2  # across the farthest two teeth, copy against master: judgement

DISINFECTANT = Told("agent", N_("Which disinfectant, by its name"), of="minutes")

RECEIVING: tuple[CheckSpec, ...] = (
    CheckSpec(
        1, "receive", "whole", "whole",
        N_("Everything the prescription speaks of is in the box."),
        N_("Say what is missing; start what does not need it."),
        yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        2, "receive", "border", "each-free-end",
        N_("The impression (or cast) shows the whole of the [subject]."),
        N_("Ask: new impression, or end the base where the cast ends."),
        when="fresh-start", yes_no=True, mark=f"{MCCRACKEN}; {ZARB}: cover the pad",
        limit=N_("free ends only"),
    ),
    CheckSpec(
        3, "receive", "whole", "whole",
        N_("No tear, pull or hole where acrylic, wire or bite will touch."),
        N_("Do not pour and hope. Photograph it and ask."),
        when="impression-or-cast", yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        4, "disinfect", "whole", "whole",
        N_("Minutes wet with the disinfectant, then rinsed. Not twice."),
        N_("Finish the time on the label."),
        measures=(Measure("minutes", N_("Wet with the disinfectant"), "min", low=CONTACT_MIN),),
        told=(DISINFECTANT,),
        mark=CDC, limit=N_("at least the label's contact time; not twice"),
    ),
    CheckSpec(
        5, "pour", "cast", "cast",
        N_("Minutes from taken to poured."),
        N_("Too old to trust. Ask for a new one, or go on by concession."),
        measures=(
            Measure(
                "minutes", N_("From taken to poured"), "min", high=ALGINATE_POUR_MAX_MIN,
                from_design="pour-limit", refuse_high=ALGINATE_POUR_NEVER_OVER_MIN,
            ),
        ),
        mark=PHILLIPS,
        limit=N_("the product's own limit; conventional alginate 15 min, never over 30"),
    ),
    CheckSpec(
        6, "trim", "face", "each-face",
        N_("No bubble, blob or broken edge on [subject] or the ridge beside it. "
        "Blobs off: nothing carved."),
        N_("Mend only where nothing will touch; else pour again while the impression lives."),
        when="new-piece", yes_no=True, mark=COMMON, again=(Again("copy-cast"),),
    ),
    CheckSpec(
        7, "trim", "cast", "cast",
        N_("Case number scratched in every cast; 10 mm of base; 6 mm of room above the teeth in "
        "the flask."),
        N_("Trim, or take the deeper flask."),
        yes_no=True, limit=N_("base at least 10 mm; room at least 6 mm"),
        mark="judgement for the base; the room from teaching slides (a quarter inch), weak",
    ),
    CheckSpec(
        8, "trim", "whole", "whole",
        N_("The casts go together by hand one way only, or there is a bite record."),
        N_("Needs a bite record or a rim."),
        when="mounted", yes_no=True, mark=COMMON,
    ),
    CheckSpec(
        9, "cast-prep", "tooth", "each-extracted",
        N_("Only [subject] is cut, to the depth the order says; photographed before and after."),
        N_("Stop. Pour a second cast before anything else is cut."),
        yes_no=True, photo=True, mark=COMMON, limit=N_("the depth ordered"),
    ),
)  # fmt: skip

SURVEY: tuple[CheckSpec, ...] = (
    CheckSpec(
        10, "survey", "cast", "cast",
        N_("Tilt fixed with three marks: the cast can be put back the same way."),
        N_("Mark it now; nobody can find it later."),
        yes_no=True, mark=f"{MCCRACKEN}; judgement for 10°", limit=N_("at most 10° from level"),
    ),
    CheckSpec(
        11, "survey", "clasp", "each-clasp",
        N_("Undercut for the tip of [subject]: the gauge touches with head and shank at the chosen "
        "tilt; at level the rod still shows daylight there."),
        N_("A tilt makes no hold. Other place, other tooth, or ask."),
        yes_no=True,
        measures=(
            Measure(
                "gauge", N_("Gauge that touches at the chosen tilt"), "mm", GAUGE_MIN_MM,
                GAUGE_MAX_MM, from_design="undercut",
            ),
        ),
        mark=f"{MCCRACKEN}; {TEACHING_BOOK}; judgement",
        limit=N_("the gauge as designed; at level: some"),
    ),
    CheckSpec(
        12, "survey", "clasp", "each-clasp",
        N_("Bracing side of [subject]: cusp tip (or edge) down to the survey line."),
        "",
        measures=(Measure("line", N_("Cusp tip to the survey line"), "mm"),), keeps=True,
        mark=JUDGEMENT,
    ),
    CheckSpec(
        13, "survey", "clasp", "each-clasp",
        N_("Tip of [subject] to the gum line, clear of the wire."),
        N_("Tip higher and shallower, or another tooth."),
        measures=(Measure("gap", N_("Tip to the gum line"), "mm", low=TIP_TO_GUM_MIN_MM),),
        mark=f"{STEWART}; {MCCRACKEN} for the principle; judgement for 1.0",
        again=(
            Again("clasps"),
            Again("finish", "master-kept"),
            Again(
                "finish", "new-piece-no-master", as_yes_no=True,
                words=N_("Tip of [subject] stands clear of the gum, as the photographs before "
                "flasking show it."),
            ),
        ),
    ),
)  # fmt: skip

BLOCK_OUT: tuple[CheckSpec, ...] = (
    CheckSpec(
        14, "block-out", "face", "each-face",
        N_("Rod round [subject]: it touches all the way from the survey line to the gum. No gap "
        "where acrylic will lie."),
        N_("Fill and cut again. What is missed here is ground blindly at the chair."),
        yes_no=True, mark=f"{MCCRACKEN}; judgement", limit=N_("no daylight"),
        again=(Again("copy-cast", "wax-then-copy"),),
    ),
    CheckSpec(
        15, "block-out", "clasp", "each-clasp",
        N_("Block-out is clear of where the tip of [subject] will lie."),
        N_("Clear it: the wire must reach the stone."),
        yes_no=True, mark=MCCRACKEN,
    ),
    CheckSpec(
        16, "block-out", "face", "each-relieved",
        N_("Gum line and papillae relieved at [subject]."),
        N_("Add a line of relief; without it the plate cuts the gum as it sinks."),
        measures=(Measure("relief", N_("Relief"), "mm", RELIEF_MIN_MM, RELIEF_MAX_MM),),
        mark=COMMON,
        again=(
            Again(
                "finish", "new-piece", as_yes_no=True,
                words=N_("Relief of the gum line and papillae at [subject] is still there."),
            ),
        ),
    ),
    CheckSpec(
        17, "block-out", "whole", "whole",
        N_("Photographed from both sides and above. Working cast for the flask: no wax left as "
        "block-out."),
        N_("Wax boils out and the resin runs in. Plaster, or make the copy."),
        yes_no=True, photo=True, mark=f"{COMMON} (student notes, read: weak)",
    ),
    CheckSpec(
        18, "copy-cast", "cast", "cast",
        N_("Farthest two teeth, across: copy against master."),
        N_("Pour the copy again."),
        measures=(
            Measure("difference", N_("Copy differs from master by"), "mm", None,
                    COPY_DIFFERENCE_MAX_MM),
        ),
        mark=JUDGEMENT,
    ),
    CheckSpec(
        19, "copy-cast", "cast", "cast",
        N_("Copy numbered; master cleaned of wax and put away in its place."),
        N_("Find its place now."),
        yes_no=True, mark=COMMON,
        again=(
            Again("fit", "master-kept", words=N_("The master is here, clean and whole.")),
            Again(
                "pack-out", "master-kept",
                words=N_("The master is in the box, or in its place, as the practice asked."),
            ),
        ),
    ),
    CheckSpec(
        20, "mount", "cast", "cast",
        N_("Base notched and keyed, so that it goes back after the cure."),
        N_("Notch before the plaster."),
        yes_no=True, mark=ZARB,
    ),
)  # fmt: skip

CAST_CHECKS: tuple[CheckSpec, ...] = RECEIVING + SURVEY + BLOCK_OUT

IMMEDIATE_CHECKS: tuple[CheckSpec, ...] = (
    # Without it nothing shows any more how the teeth stood, and a wrong cut cannot be mended.
    CheckSpec(
        58, "cast-prep", "cast", "cast",
        N_("A second cast, uncut, is there: numbered and put away before the first cut."),
        N_("Cut nothing. Pour a second cast; where the impression no longer lives, ask."),
        when="immediate", yes_no=True, mark=COMMON,
    ),
)  # fmt: skip
