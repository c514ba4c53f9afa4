"""Default checks 36 to 50, from the flask to the box, and those of the short routes.

Marks as in the checks of the cast.
"""

from __future__ import annotations

from cases.domain.check_data_cast import (
    CDC,
    COMMON,
    CONTACT_MIN,
    COPY_DIFFERENCE_MAX_MM,
    DISINFECTANT,
    JUDGEMENT,
    PHILLIPS,
    ZARB,
)
from cases.domain.check_spec import Again, CheckSpec, Measure, Told
from cases.domain.words import N_

TRIAL_CLOSINGS_MIN = 2.0  # common practice, no published source
PIN_OPEN_MAX_MM = 0.5  # a small opening is usual: Zarb, from memory; judgement for the number
PIN_OPEN_STOP_MM = 1.0  # mm; beyond it the flask did not close: judgement
# Thinnest acrylic to send, mm. common practice, no published source
PLATE_MIN_MM, PALATE_MIN_MM, OVER_METAL_MIN_MM = 2.0, 1.5, 1.0
FLANGE_MIN_MM, PAD_EDGE_MIN_MM, TOOTH_JOIN_MIN_MM = 2.0, 2.0, 2.0
# A press shows one of three things, and they differ by far: the pressure at its gauge, the force
# on the flask, the pressure in the resin. Kept, never judged. Figures taught (1000 to 3500 psi) are
# gauge readings: US laboratory manuals, from memory.
PRESS_UNITS = (N_("bar"), N_("psi"), N_("MPa"), N_("kN"), N_("t"))
PRESS_READ = (N_("at the gauge"), N_("as force on the flask"), N_("as pressure in the resin"))

FLASK: tuple[CheckSpec, ...] = (
    CheckSpec(
        36, "flask-lower", "whole", "whole",
        N_("Stone teeth and outer arms of the clasps buried in the half that keeps the cast, no "
        "undercut left in the plaster; same number on both halves."),
        N_("Dig out and pour again: a wire that opens with the upper half is lost."),
        yes_no=True, mark=COMMON,
    ),
    CheckSpec(
        37, "flask-upper", "whole", "whole",
        N_("Halves meet metal to metal."),
        N_("Clean the rims."),
        yes_no=True, mark=PHILLIPS, limit=N_("no gap"),
    ),
    CheckSpec(
        38, "boil-out", "whole", "whole",
        N_("No wax film after the last clean water. Wires, bar and plaster block-out are where the "
        "photograph shows them."),
        N_("Flush again; fix what moved before the separator."),
        yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        39, "separate", "whole", "whole",
        N_("Separator on all gypsum; none on teeth, wires or bar."),
        N_("Wipe it off with monomer on a brush (ventilated)."),
        yes_no=True, mark=PHILLIPS,
    ),
    CheckSpec(
        40, "pack", "whole", "whole",
        N_("Powder and liquid; minutes from mix to last closing; trial closings, the last opening "
        "without flash; press reading, with its unit and where it is read."),
        N_("Outside the maker's range: mix again."),
        measures=(
            Measure("powder", N_("Powder"), "g"),
            Measure("liquid", N_("Liquid"), "ml"),
            Measure("minutes", N_("From mix to last closing"), "min"),
            Measure("closings", N_("Trial closings"), "", low=TRIAL_CLOSINGS_MIN),
            Measure("press", N_("Press reading"), ""),
        ),
        told=(
            Told("unit", N_("Unit of the press reading"), of="press", choices=PRESS_UNITS),
            Told("read", N_("Where it is read"), of="press", choices=PRESS_READ),
        ),
        keeps=True, rule="mix", mark=f"{PHILLIPS}; {COMMON}",
        limit=N_("ratio and time by the maker; at least 2 closings; press: kept"),
    ),
    CheckSpec(
        41, "pack", "bar", "bar-and-tails",
        N_("Dough under the bar and round every tail first: [subject]. At the last opening nothing "
        "has moved and no plaster has chipped."),
        N_("Put it back now. After the next closing nobody can."),
        yes_no=True, mark=COMMON,
    ),
    CheckSpec(
        42, "bite", "whole", "whole",
        N_("Pin open before correcting; natural teeth hold the foil after."),
        N_("Over 1 mm is a flask that did not close: look there first."),
        yes_no=True,
        measures=(
            Measure(
                "pin", N_("Pin open before correcting"), "mm", high=PIN_OPEN_MAX_MM,
                refuse_high=PIN_OPEN_STOP_MM,
            ),
        ),
        mark=f"{ZARB}: small opening usual; judgement", limit=N_("at most 0.5 mm; over 1.0 mm: "
                                                                 "stop"),
        again=(
            Again(
                "inspect", as_yes_no=True, when="mounted",
                words=N_("Bite as corrected: natural teeth hold the foil with the piece in place."),
            ),
        ),
    ),
    CheckSpec(
        43, "fit", "face", "each-face",
        N_("Goes down on the master by hand without rocking at [subject]; eased only where it "
        "marked, never on bracing."),
        N_("Mark, ease, try again. Eased more than three times at one face: look at the "
           "block-out."),
        yes_no=True, mark=COMMON, again=(Again("inspect", "master-kept"),),
    ),
    CheckSpec(
        44, "deflask", "whole", "whole",
        N_("Opened hand-warm. Nothing broken or pulled; no pores, pale streaks or cracks, bar and "
        "tails not showing."),
        N_("Stop before grinding: photograph, decide repair or remake."),
        yes_no=True, photo=True, mark=f"{PHILLIPS}; judgement", limit=N_("flask at most 40 °C"),
    ),
)  # fmt: skip

FINISH: tuple[CheckSpec, ...] = (
    CheckSpec(
        45, "finish", "whole", "whole",
        N_("Thinnest place."),
        N_("Too thin to send without a concession."),
        when="new-piece",
        measures=(
            Measure(
                "plate", N_("Thinnest place of the plate"), "mm", PLATE_MIN_MM, from_design="lower"
            ),
            Measure(
                "palate", N_("Thinnest place of the palate"), "mm", PALATE_MIN_MM,
                from_design="upper",
            ),
            Measure(
                "metal", N_("Thinnest place over wire and bar"), "mm", OVER_METAL_MIN_MM,
                from_design="metal",
            ),
        ),
        mark=COMMON, again=(Again("inspect"),),
    ),
    CheckSpec(
        46, "finish", "bar", "bar-or-tails",
        N_("Bar ends and wire tails covered, or trimmed and sealed."),
        N_("Seal with self-cure by the maker."),
        yes_no=True, mark=COMMON, limit=N_("at least 1 mm"), again=(Again("inspect"),),
    ),
    CheckSpec(
        47, "finish", "whole", "whole",
        N_("Flash and blebs off; fitting side felt with gauze; papillae relief still there; clasps "
        "not caught by bur or wheel."),
        N_("Gauze that snags is a sore spot."),
        yes_no=True, mark=COMMON, again=(Again("inspect"),),
    ),
    CheckSpec(
        48, "inspect", "whole", "whole",
        N_("Against the drawing: teeth, clasps, bracing, pads, borders and finish as ordered "
        "([polish]). Clean; no smell of monomer."),
        N_("Send back to the stage that can mend it."),
        yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        49, "inspect", "whole", "whole",
        N_("The paper tells the dentist what was left to do at the chair, what must not be ground, "
        "and where block-out was not done."),
        N_("Write it."),
        yes_no=True, mark=COMMON,
    ),
    CheckSpec(
        50, "pack-out", "whole", "whole",
        N_("Disinfected; rinsed; bagged damp; in the box: piece, casts, bite, old piece, tray."),
        "",
        yes_no=True,
        measures=(Measure("minutes", N_("Wet with the disinfectant"), "min", low=CONTACT_MIN),),
        told=(DISINFECTANT,),
        mark=CDC, limit=N_("at least the label's contact time"),
    ),
)  # fmt: skip

SHORT: tuple[CheckSpec, ...] = (
    CheckSpec(
        51, "look", "whole", "whole",
        N_("The fault is found, its place written down and photographed as it came."),
        N_("Ask the practice before anything is ground."),
        yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        52, "pick-up", "cast", "cast",
        N_("The piece sits in its impression without rocking; its undercuts are waxed out."),
        N_("Seat it again, or ask for a new pick-up impression."),
        yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        53, "key", "whole", "whole",
        N_("Broken edges bevelled and clean; parts lie together without a gap and cannot move."),
        N_("Clean and fix them again before the resin."),
        yes_no=True, photo=True, mark=COMMON,
    ),
    CheckSpec(
        54, "self-cure", "whole", "whole",
        N_("Mixed, pressed and warmed as the maker of the self-curing resin says."),
        N_("Outside the maker's range: take it out and do it again."),
        yes_no=True,
        measures=(Measure("minutes", N_("In the pressure pot"), "min"),), keeps=True, mark=COMMON,
        limit=N_("by the maker"),
    ),
    CheckSpec(
        55, "print-model", "cast", "cast",
        N_("The printed model is the scan of this case; no layer lines or pulls where acrylic will "
        "touch."),
        N_("Print it again."),
        yes_no=True, mark=COMMON,
    ),
    CheckSpec(
        56, "stone-copy", "cast", "cast",
        N_("Farthest two teeth, across: stone copy against the printed model."),
        N_("Pour the copy again."),
        measures=(
            Measure("difference", N_("Copy differs from the model by"), "mm", None,
                    COPY_DIFFERENCE_MAX_MM),
        ),
        mark=JUDGEMENT,
    ),
    CheckSpec(
        57, "index", "whole", "whole",
        N_("The kept index goes down on the cast without rocking; every tooth sits in its place."),
        N_("Set the teeth anew; do not press an index that rocks."),
        yes_no=True, photo=True, mark=COMMON,
    ),
)  # fmt: skip

BASES: tuple[CheckSpec, ...] = (
    CheckSpec(
        59, "finish", "whole", "with-teeth",
        N_("Thinnest place of the bases."),
        N_("Too thin to send without a concession."),
        when="new-piece",
        measures=(
            Measure(
                "flange", N_("Thinnest place of a flange"), "mm", FLANGE_MIN_MM,
                from_design="back-teeth",
            ),
            Measure(
                "pad", N_("Thinnest edge at a pad or tuberosity"), "mm", PAD_EDGE_MIN_MM,
                from_design="free-end",
            ),
            Measure(
                "join", N_("Thinnest join of tooth and plate"), "mm", TOOTH_JOIN_MIN_MM
            ),
        ),
        mark=COMMON, again=(Again("inspect"),),
    ),
)  # fmt: skip

END_CHECKS: tuple[CheckSpec, ...] = FLASK + FINISH + SHORT
