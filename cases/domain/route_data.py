"""The default stages of an all-acrylic interim partial denture, heat-cured in a flask.

Every number is a first value that a lab edits, and the lab's own record replaces the minutes.
The makers of resin, wire, gypsum and disinfectant beat all of them.

Attended minutes are for one case alone by a competent technician: judgement throughout.
Stations, order, things held and "may it rest overnight": common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from cases.domain.check_data import CHECKS
from cases.domain.network import Held, NightWhen, RouteTemplate, StageSpec
from cases.domain.route_edges import EDGES
from cases.domain.route_short import SHORT_STAGES
from cases.domain.words import N_

COMMON = "common practice, no published source; minutes: judgement"

# The skills that the default route asks for, with the words for people.
SKILLS: dict[str, str] = {
    "desk": N_("Desk: receive, pack and send"),
    "model": N_("Models: pour, trim, copy, base and rim"),
    "survey": N_("Survey and block-out"),
    "wire": N_("Wire: clasps, rests and bars"),
    "join": N_("Solder or weld"),
    "set-up": N_("Set-up: mount, set teeth, correct the bite"),
    "wax": N_("Wax up"),
    "flask": N_("Flask, boil out and separate"),
    "pack": N_("Pack, cure and deflask"),
    "finish": N_("Fit, finish and polish"),
    "inspect": N_("Pass for flasking and inspect"),
}

STATIONS: dict[str, str] = {
    "desk": N_("Desk"),
    "wet-bench": N_("Wet bench"),
    "plaster-bench": N_("Plaster bench"),
    "trimmer": N_("Trimmer"),
    "bench": N_("Bench"),
    "wax-bench": N_("Wax bench"),
    "surveyor": N_("Surveyor"),
    "duplicating": N_("Duplicating"),
    "articulator": N_("Articulator"),
    "wire-bench": N_("Wire bench"),
    "torch-or-welder": N_("Torch or welder"),
    "flask-bench": N_("Flask bench"),
    "boil-out-unit": N_("Boil-out unit"),
    "press": N_("Press"),
    "clamp": N_("Clamp"),
    "bath": N_("Bath"),
    "rack": N_("Rack"),
    "finishing": N_("Finishing"),
    "polishing": N_("Polishing"),
    "pressure-pot": N_("Pressure pot"),
    "printer": N_("Printer"),
    "any": N_("Any place"),
    "": N_("Not in the laboratory"),
}


def _every(**formula: float) -> Mapping[str, Mapping[str, float]]:
    """The same formula for every block-out method."""
    return {"*": formula}


WET = N_("Yes, in water.")
# Softening 4 to 6 min: Phillips' Science of Dental Materials, from memory; 10 min: teaching
# notes, read (weak).
SOFTENING = N_("Soften 4–10 min in boiling water, by the size of the flask.")
# 10 min from dough to last closing: judgement; 5 min is the least working time of ISO 20795-1
# and ADA specification 12, from memory.
DOUGH = N_(
    "Sandy to dough 5–15 min by the maker. Dough to the last closing at most 10 min, unless the "
    "maker says otherwise."
)
CAST_IN_HAND = (Held("cast", "finish"),)

CAST_STAGES: tuple[StageSpec, ...] = (
    StageSpec(
        "receive", N_("Unpack and log"), "attended", "always", _every(fixed=4, N=2),
        "desk", "desk", "yes", N_("Casts may."), N_("Your box has arrived."),
        holds=(Held("box", "send"),), mark=COMMON,
        night_when=(
            NightWhen("pour", "no", N_("Impressions may not: pour them today.")),
            NightWhen("pick-up", "no", N_("Impressions may not: pour them today.")),
        ),
    ),
    StageSpec(
        "disinfect", N_("Disinfect and rinse"), "attended", "not-proven", _every(fixed=4),
        "desk", "wet-bench", "no", N_("Never leave it in the bath: rinse and pour."),
        N_("What you sent is being disinfected."), mark=COMMON,
    ),
    StageSpec(
        "pour", N_("Pour casts"), "attended", "pour", _every(fixed=8, N=4),
        "model", "plaster-bench", "no", N_("Never leave alginate on the cast overnight."),
        N_("The casts are being poured."), holds=(Held("impression", "trim"),), batch=True,
        mark=COMMON,
    ),
    StageSpec(
        "trim", N_("Part, trim, number, pass the casts"), "attended", "casts-to-trim",
        _every(fixed=3, N=3), "model", "trimmer", "yes", "", N_("The casts are being prepared."),
        mark=COMMON,
    ),
    StageSpec(
        "rim", N_("Base and wax rim for the bite"), "attended", "rim", _every(fixed=20),
        "model", "wax-bench", "yes", "", N_("A bite rim is being made for your patient."),
        needs_cast=True, at_practice=True, mark=COMMON,
    ),
    StageSpec(
        "cast-prep", N_("Cut the cast for immediate teeth"), "attended", "immediate",
        _every(fixed=5, X=4), "model", "bench", "yes", "",
        N_("The cast is being prepared for the teeth that you will extract."), needs_cast=True,
        photo_before=N_("Afterwards the standing teeth are gone from the cast. Back means a new "
        "pour, if the impression lives."), mark=COMMON,
    ),
    StageSpec(
        "survey", N_("Survey and draw the design"), "attended", "new-piece",
        _every(fixed=8, C=2, F=1), "survey", "surveyor", "yes", "",
        N_("The cast is being surveyed and the design drawn."), holds=CAST_IN_HAND,
        needs_cast=True, mark=COMMON,
    ),
    StageSpec(
        "agree", N_("Practice agrees the design"), "external", "agreement", _every(),
        "desk", "", "yes", "", N_("We wait for your answer on the design."), mark=COMMON,
    ),
    StageSpec(
        "block-out", N_("Block out and relieve"), "attended", "new-piece",
        {
            "none": {"fixed": 6},
            "plaster": {"fixed": 8, "F": 2},
            "wax-then-copy": {"fixed": 10, "F": 2},
            "copy-then-plaster": {"fixed": 8, "F": 2},
        },
        "survey", "surveyor", "yes", "", N_("Undercuts are being blocked out on the cast."),
        holds=CAST_IN_HAND, needs_cast=True, mark=COMMON,
    ),
    StageSpec(
        "copy-mould", N_("Take the mould of the master"), "attended", "copy", _every(fixed=10),
        "model", "duplicating", "yes", N_("Silicone may."), N_("The master cast is being copied."),
        holds=(Held("cast", "wait"),), needs_cast=True, mark=COMMON,
        night_when=(NightWhen("gel", "no", N_("Gel may not: it dries and shrinks.")),),
    ),
    StageSpec(
        "copy-cast", N_("Pour and pass the copy"), "attended", "copy", _every(fixed=8),
        "model", "plaster-bench", "yes", "", N_("The working cast is being poured."), mark=COMMON,
        night_when=(NightWhen("gel", "no", N_("Not in gel: part the copy today.")),),
    ),
    StageSpec(
        "mount", N_("Mount on the articulator"), "attended", "mounted", _every(fixed=12),
        "set-up", "articulator", "yes", "", N_("The casts are being mounted in the bite."),
        holds=(Held("cast", "wait"), Held("articulator", "bite")), needs_cast=True, mark=COMMON,
    ),
)  # fmt: skip

SETUP_STAGES: tuple[StageSpec, ...] = (
    StageSpec(
        "clasps", N_("Bend clasps and wire rests"), "attended", "wires",
        _every(fixed=4, C=10, R=6), "wire", "wire-bench", "yes", "",
        N_("The clasps are being bent."), holds=CAST_IN_HAND, needs_cast=True, mark=COMMON,
    ),
    StageSpec(
        "bar", N_("Shape the bar"), "attended", "bar", _every(fixed=18),
        "wire", "wire-bench", "yes", "", N_("The strengthening bar is being shaped."),
        # May be shaped on the master, then tried on the copy: common practice.
        holds=(Held("cast", "finish", "no-master"),), needs_cast=True, beside_copy=True,
        mark=COMMON,
    ),
    StageSpec(
        "join", N_("Solder or weld"), "attended", "joints", _every(fixed=6, J=4),
        "join", "torch-or-welder", "yes", "", N_("The wires are being joined."), mark=COMMON,
    ),
    StageSpec(
        "teeth", N_("Choose and set teeth"), "attended", "teeth", _every(fixed=4, T=5),
        "set-up", "wax-bench", "yes", "", N_("The teeth are being set."),
        holds=(Held("articulator", "finish", "mounted"),), needs_cast=True, mark=COMMON,
    ),
    StageSpec(
        "try-in", N_("Prepare try-in"), "attended", "try-in", _every(fixed=8),
        "set-up", "wax-bench", "yes", "", N_("The try-in is with you, or on its way."),
        needs_cast=True, at_practice=True, mark=COMMON,
    ),
    StageSpec(
        "wax", N_("Wax up"), "attended", "new-piece", _every(fixed=12, T=2, C=3, P=8),
        "wax", "wax-bench", "yes", N_("Cool and out of the sun."),
        N_("The denture is being waxed up."),
        needs_cast=True, mark=COMMON,
    ),
    StageSpec(
        "wax-pass", N_("Pass for flasking"), "attended", "new-piece", _every(fixed=4),
        "inspect", "any", "yes", "", N_("A second person is checking the wax-up."), mark=COMMON,
        other_than="wax",
    ),
)  # fmt: skip

FLASK_STAGES: tuple[StageSpec, ...] = (
    StageSpec(
        "flask-lower", N_("Flask, lower half"), "attended", "new-piece", _every(fixed=10),
        "flask", "flask-bench", "yes", N_("Kept damp."), N_("The denture is being flasked."),
        holds=(Held("flask", "deflask"),), batch=True, mark=COMMON,
        photo_before=N_("Afterwards wax, teeth and wires cannot be changed. Back means the "
                        "wax-up."),
    ),
    StageSpec(
        "flask-upper", N_("Flask, upper half and cap"), "attended", "new-piece", _every(fixed=10),
        "flask", "flask-bench", "yes", N_("Kept damp."), N_("The denture is being flasked."),
        batch=True, mark=COMMON,
    ),
    StageSpec(
        "boil-out", N_("Soften and flush out the wax"), "attended", "new-piece", _every(fixed=10),
        "flask", "boil-out-unit", "no", N_("The mould cools: separate it today."),
        N_("The wax is being flushed out of the mould."), batch=True, inside_words=SOFTENING,
        mark=COMMON,
    ),
    StageSpec(
        "separate", N_("Paint the separator"), "attended", "new-piece", _every(fixed=6),
        "flask", "flask-bench", "limit", N_("Better not: pack within 12 hours, best the same day."),
        N_("The mould is being made ready for the acrylic."), batch=True, mark=COMMON,
    ),
    StageSpec(
        "pack", N_("Mix, pack, trial-close, close"), "attended", "new-piece", _every(fixed=20, B=4),
        "pack", "press", "no", N_("Never: the dough goes on setting. Clamp and cure it."),
        N_("The acrylic is being packed."), holds=(Held("press", "finish"),), batch=True,
        mark=COMMON,
        inside_words=DOUGH,
        photo_before=N_("Afterwards wires, bar and plaster block-out can no longer be put back. "
        "Back means boiling out again, or a new working cast."),
    ),
    StageSpec(
        "clamp", N_("Rest under the clamp"), "unattended", "new-piece", _every(),
        "pack", "clamp", "limit", N_("Only if the cure starts within 6 hours."),
        N_("The acrylic is being packed."), holds=(Held("clamp", "cool"),), mark=COMMON,
    ),
    StageSpec(
        # Four minutes a load with its first flask; every further flask takes one more.
        "cure", N_("Cure"), "load", "new-piece", _every(fixed=4), "pack", "bath", "yes",
        N_("That is its use."),
        N_("The acrylic is curing."), holds=(Held("bath", "wait"),), batch=True,
        more_each=1, mark=COMMON,
    ),
    StageSpec(
        "cool", N_("Cool"), "attended", "new-piece", _every(fixed=2), "pack", "rack", "yes", "",
        N_("The denture is cooling in its flask."), mark=COMMON,
    ),
    StageSpec(
        "deflask", N_("Open the flask"), "attended", "new-piece", _every(fixed=8),
        "pack", "flask-bench", "yes", WET, N_("The denture is being taken out of its flask."),
        mark=COMMON,
    ),
)  # fmt: skip

FINISH_STAGES: tuple[StageSpec, ...] = (
    StageSpec(
        "bite", N_("Put back on the articulator and correct the bite"), "attended", "mounted",
        _every(fixed=8), "set-up", "articulator", "yes", WET, N_("The bite is being corrected."),
        mark=COMMON,
    ),
    StageSpec(
        "take-off",
        N_("Take the piece off its cast"), "attended", "new-piece", _every(fixed=4, C=2),
        "finish", "bench", "yes", WET, N_("The denture is being taken off its cast."), mark=COMMON,
        photo_before=N_("Afterwards the cast with its plaster block-out is lost: nothing is "
                        "left to "
        "fit to."), photo_when="no-master",
    ),
    StageSpec(
        "fit", N_("Seat on the master cast"), "attended", "master-kept", _every(fixed=8, C=3, F=1),
        "finish", "bench", "yes", WET, N_("The denture is being fitted to the master cast."),
        mark=COMMON,
    ),
    StageSpec(
        "finish", N_("Trim and finish to the ordered level"), "attended", "always",
        _every(fixed=12, T=2, C=3), "finish", "finishing", "yes", WET,
        N_("The denture is being trimmed and finished."), mark=COMMON,
        photo_before=N_("Afterwards what is ground off is gone. Back means a repair or a remake."),
    ),
    StageSpec(
        "polish", N_("Polish"), "attended", "polish", _every(fixed=10, T=1, P=4),
        "finish", "polishing", "yes", WET, N_("The denture is being polished."), batch=True,
        mark=COMMON,
    ),
    StageSpec(
        "inspect", N_("Inspect"), "attended", "always", _every(fixed=6, C=1),
        "inspect", "any", "yes", WET, N_("The denture is being inspected."), mark=COMMON,
        other_than="finish",
    ),
    StageSpec(
        "soak", N_("Lie in water"), "unattended", "new-piece", _every(),
        "desk", "rack", "yes", "",
        N_("The denture lies in water for a day, so that less of the acrylic's liquid stays in "
           "it."),
        mark="one day in water lowers leftover monomer (abstract of one study read); "
        "shortened when the van is due, and the paper then says so",
    ),
    StageSpec(
        "pack-out", N_("Disinfect, bag damp, papers"), "attended", "always", _every(fixed=6),
        "desk", "desk", "yes", "", N_("The denture is being packed."), mark=COMMON,
    ),
    StageSpec(
        "send", N_("Hand to the carrier"), "attended", "always", _every(fixed=3),
        "desk", "desk", "yes", "", N_("The box is ready for the carrier."), mark=COMMON,
    ),
)  # fmt: skip


def _in_bench_order() -> tuple[StageSpec, ...]:
    """Put the stages of the short routes where the bench meets them."""
    after: dict[str, list[StageSpec]] = {}
    for anchor, stage in SHORT_STAGES:
        after.setdefault(anchor, []).append(stage)
    ordered: list[StageSpec] = []
    for stage in CAST_STAGES + SETUP_STAGES + FLASK_STAGES + FINISH_STAGES:
        ordered += [stage, *after.get(stage.key, [])]
    return tuple(ordered)


@lru_cache(maxsize=1)
def default_template() -> RouteTemplate:
    """Return the network, edges and checks that a new lab starts with."""
    return RouteTemplate(_in_bench_order(), EDGES, CHECKS)
