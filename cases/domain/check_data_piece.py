"""Default checks 21 to 35: bite, wires, bar, teeth and wax.

Marks as in the checks of the cast.
"""

from __future__ import annotations

from cases.domain.check_data_cast import (
    COMMON,
    GAUGE_MAX_MM,
    GAUGE_MIN_MM,
    MCCRACKEN,
    ZARB,
)
from cases.domain.check_spec import Again, CheckSpec, Measure
from cases.domain.words import N_

# Wires and bar, mm. common practice, no published source
OFF_RIDGE_MIN_MM, OFF_RIDGE_MAX_MM = 0.5, 1.0
TAIL_MIN_MM = 8.0
CROSSING_ROOM_MIN_MM = 0.5
BAR_COVER_MIN_MM = 1.0
# Bracing above the survey line, mm: at or above the line is McCracken, from memory; the
# reserve, which finishing and polishing take from, is judgement.
BRACING_WAX_MM, BRACING_FINISH_MM, BRACING_INSPECT_MM = 1.0, 0.5, 0.3
# Thinnest wax, mm: what finishing leaves, and a little more. judgement
WAX_PLATE_MIN_MM, WAX_PALATE_MIN_MM, WAX_OVER_METAL_MIN_MM = 2.5, 2.3, 1.3

_CALIPER = Measure("caliper", N_("Caliper height of the bracing"), "mm", from_design="caliper")
_BAND_WORDS = N_(
    "Bracing behind [subject]: on the fitting side, from the upper edge of the blocked-out band "
    "to the edge of the acrylic; where there is no band, the caliper height."
)


_ON_THE_MASTER = (
    Measure(
        "edge", N_("Cusp tip to the edge of the acrylic"), "mm", source_value="12",
        from_design="bracing",
    ),
)  # fmt: skip
# What tells of the bracing when the stone teeth are gone.
_WITHOUT_MASTER = (
    Measure(
        "band", N_("Upper edge of the blocked-out band to the edge of the acrylic"), "mm",
        from_design="band",
    ),
    Measure(
        "caliper",
        N_("Caliper height of the bracing"), "mm", source_value="30", from_design="no-band"
    ),
)  # fmt: skip


def _bracing_again(stage: str, low: float, limit: str, limit_without: str) -> tuple[Again, ...]:
    return (
        Again(
            stage, "master-kept", limits={"edge": (low, None)}, limit=limit,
            words=N_("Bracing behind [subject], seated on the master: cusp tip to the edge of the "
            "acrylic."), measures=_ON_THE_MASTER,
        ),
        Again(
            stage, "new-piece-no-master", limits={"band": (low, None)}, rule="bracing-band",
            words=_BAND_WORDS, measures=_WITHOUT_MASTER,
            limit=limit_without,
        ),
    )  # fmt: skip


WIRES: tuple[CheckSpec, ...] = (
    CheckSpec(
        21, "mount", "tooth", "whole",
        N_("Natural teeth hold the foil on the articulator where they hold it by hand."),
        N_("Mounted open. Take it off, mount again."),
        yes_no=True, mark=COMMON, limit=N_("foil at most 12 µm"),
    ),
    CheckSpec(
        22, "clasps", "clasp", "each-clasp",
        N_("Shoulder and first two thirds of [subject] above the survey line, last third below."),
        N_("Bend a new one."),
        yes_no=True, mark=MCCRACKEN,
        again=(
            Again("fit"),
            Again("inspect", "master-kept"),
            Again(
                "inspect", "new-piece-no-master",
                words=N_("Arm of [subject] stands as the photographs before flasking show it."),
            ),
        ),
    ),
    CheckSpec(
        23, "clasps", "clasp", "each-clasp",
        N_("Tip of [subject]: the gauge that touches where the wire lies."),
        N_("Move the tip. Do not “tighten” it."),
        measures=(
            Measure(
                "gauge", N_("Gauge that touches where the wire lies"), "mm", GAUGE_MIN_MM,
                GAUGE_MAX_MM, from_design="undercut",
            ),
        ),
        mark=f"{MCCRACKEN}; judgement", limit=N_("the gauge as designed"),
        again=(Again("fit", "master-kept"), Again("inspect", "master-kept")),
    ),
    CheckSpec(
        24, "clasps", "clasp", "each-clasp",
        N_("[subject] touches along its length and presses nowhere; tip round; no nick; bent "
           "once."),
        N_("A wire bent back at the same place is made again."),
        yes_no=True, mark=f"{MCCRACKEN}; {COMMON}", again=(Again("inspect"),),
    ),
    CheckSpec(
        25, "clasps", "clasp", "each-clasp",
        N_("Free arm of [subject]."),
        N_("Shorter is stiffer: half a millimetre off ten is 17 % more force."),
        measures=(Measure("arm", N_("Free arm"), "mm", from_design="free-arm"),),
        mark="judgement (beam arithmetic)", limit=N_("the design less 0.5 mm"),
        again=(Again("finish", "new-piece"),),
    ),
    CheckSpec(
        26, "clasps", "clasp", "each-clasp",
        N_("Tail of [subject]: off the ridge, and long enough, with a bend that cannot pull out."),
        N_("Lift it, or it shows through the fitting side."),
        measures=(
            Measure("off", N_("Off the ridge"), "mm", OFF_RIDGE_MIN_MM, OFF_RIDGE_MAX_MM),
            Measure("length", N_("Length of the tail"), "mm", low=TAIL_MIN_MM),
        ),
        mark=COMMON,
    ),
    CheckSpec(
        27, "clasps", "clasp", "each-clasp",
        N_("Room where [subject] crosses the bite, beyond the wire."),
        N_("Another crossing, or ask about easing the opponent."),
        measures=(Measure("room", N_("Room beyond the wire"), "mm", low=CROSSING_ROOM_MIN_MM),),
        mark=COMMON, again=(Again("bite"),),
    ),
    CheckSpec(
        28, "bar", "bar", "bar",
        N_("Bar off the cast all along; does not rock; fixed so that packing cannot move it[held]; "
        "ends inside the base."),
        N_("Seat it on stops again."),
        yes_no=True,
        measures=(
            Measure("off", N_("Off the cast"), "mm", OFF_RIDGE_MIN_MM, OFF_RIDGE_MAX_MM),
            Measure("cover", N_("Acrylic to come all round"), "mm", low=BAR_COVER_MIN_MM),
        ),
        mark=COMMON,
    ),
    CheckSpec(
        29, "teeth", "tooth", "each-replaced",
        N_("[subject]: mould and shade as ordered; hollowed clear of the wire; meets its opponent "
        "and keeps no natural tooth apart."),
        N_("Grind the denture tooth, never the stone."),
        yes_no=True, mark=COMMON, limit=N_("foil at most 12 µm"), again=(Again("wax"),),
    ),
)  # fmt: skip

WAX: tuple[CheckSpec, ...] = (
    CheckSpec(
        30, "wax", "clasp", "each-braced",
        N_("Bracing behind [subject]: cusp tip to the upper edge of the wax."),
        N_("Add wax: finishing takes some of it."),
        measures=(
            Measure(
                "edge", N_("Cusp tip to the upper edge of the wax"), "mm", low=BRACING_WAX_MM,
                source_value="12", from_design="bracing",
            ),
            _CALIPER,
        ),
        keeps=True, rule="bracing", mark=f"{MCCRACKEN}: at or above the line; judgement for the "
        "reserve", limit=N_("at least 1.0 mm above the survey line of that side"),
        again=(
            *_bracing_again(
                "finish", BRACING_FINISH_MM, N_("at least 0.5 mm above the line"),
                N_("at least 0.5 mm above the line; without a band at most 0.5 mm lost since the "
                "wax"),
            ),
            *_bracing_again(
                "inspect", BRACING_INSPECT_MM, N_("at least 0.3 mm above the line"),
                N_("at least 0.3 mm above the line; without a band at most 0.5 mm lost since the "
                "wax"),
            ),
        ),
    ),
    CheckSpec(
        31, "wax", "border", "each-free-end",
        N_("The [subject] is covered [covered], and not thin."),
        N_("Add wax."),
        yes_no=True, mark=f"{MCCRACKEN}; {ZARB}; {COMMON}",
        # Edge over the pad: common practice, no published source.
        limit=N_("edge at least 2.5 mm of wax"),
        again=(
            Again("finish", "new-piece", limit=N_("edge at least 2.0 mm")),
            Again("inspect", "new-piece", limit=N_("edge at least 2.0 mm")),
        ),
    ),
    CheckSpec(
        32, "wax", "border", "each-border",
        N_("Border at [subject] where it was ordered: [borders]; frena free."),
        N_("Set it to the order."),
        yes_no=True, mark=COMMON, limit=N_("full depth, 2 mm short or as drawn: the order"),
        again=(Again("finish", "new-piece"), Again("inspect", "new-piece")),
    ),
    CheckSpec(
        33, "wax", "clasp", "each-clasp",
        N_("Wax stops at the shoulder of [subject]: the free arm is bare."),
        N_("Clean it off: acrylic on the arm makes it short and stiff."),
        yes_no=True, mark=f"{COMMON} (a study: a small gap at the exit helped against fracture)",
        again=tuple(
            Again(
                stage, "new-piece",
                words=N_("Acrylic stops at the shoulder of [subject]: the free arm is bare."),
            )
            for stage in ("finish", "inspect")
        ),
    ),
    CheckSpec(
        34, "wax", "whole", "whole",
        N_("Thinnest place and thickest place of the wax."),
        N_("Build up. Over 10 mm: warn the bath."),
        measures=(
            Measure(
                "plate", N_("Thinnest place of the plate"), "mm", WAX_PLATE_MIN_MM,
                from_design="lower",
            ),
            Measure(
                "palate", N_("Thinnest place of the palate"), "mm", WAX_PALATE_MIN_MM,
                from_design="upper",
            ),
            Measure(
                "metal", N_("Thinnest place over wire and bar"), "mm", WAX_OVER_METAL_MIN_MM,
                from_design="metal",
            ),
            Measure("thickest", N_("Thickest place"), "mm"),
        ),
        keeps=True, rule="thickness", mark=f"{COMMON}; judgement",
    ),
    CheckSpec(
        35, "wax-pass", "whole", "whole",
        N_("Right, left, above, below photographed; compared with the drawing, tooth by tooth; a "
        "second person agrees."),
        N_("Back to wax."),
        yes_no=True, photo=True, mark=COMMON,
    ),
)  # fmt: skip

PIECE_CHECKS: tuple[CheckSpec, ...] = WIRES + WAX
