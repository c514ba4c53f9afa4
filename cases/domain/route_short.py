"""The few extra stages of the short routes: adjustment, repair, addition, remake, scan.

Minutes: judgement. Order and places: common practice, no published source. Resin that cures
by itself follows its maker's instructions in everything.
"""

from __future__ import annotations

from cases.domain.network import Held, StageSpec
from cases.domain.words import N_

MARK = "common practice, no published source; minutes: judgement"

# Each stage with the key of the stage it follows in the list of the editor.
SHORT_STAGES: tuple[tuple[str, StageSpec], ...] = (
    (
        "disinfect",
        StageSpec(
            "look", N_("Look and decide"), "attended", "adjustment", {"*": {"fixed": 5}},
            "finish", "bench", "yes", N_("In water."),
            N_("Your piece is being looked at."), mark=MARK,
        ),
    ),
    (
        "disinfect",
        StageSpec(
            "pick-up", N_("Pour over the piece in its pick-up impression"), "attended", "pick-up",
            {"*": {"fixed": 8, "N": 4}}, "model", "plaster-bench", "no",
            N_("Never leave alginate on the cast overnight."),
            N_("The cast for the repair is being "
            "poured."), holds=(Held("impression", "trim"),), batch=True, mark=MARK,
        ),
    ),
    (
        "disinfect",
        StageSpec(
            "print-model", N_("Make the printed model"), "attended", "scan",
            {"*": {"fixed": 12}}, "model", "printer", "yes", "",
            N_("The model of your scan is being "
            "printed."), mark=MARK,
        ),
    ),
    (
        "disinfect",
        StageSpec(
            "stone-copy", N_("Copy the printed model in stone"), "attended", "scan",
            {"*": {"fixed": 18}}, "model", "duplicating", "yes", "",
            N_("The cast of your scan is being made."), mark=MARK,
        ),
    ),
    (
        "teeth",
        StageSpec(
            "index", N_("Put teeth and wax back from the kept index"), "attended", "index",
            {"*": {"fixed": 10, "T": 2}}, "set-up", "wax-bench", "yes", "",
            N_("The teeth are being set."), holds=(Held("articulator", "finish", "mounted"),),
            needs_cast=True, mark=MARK,
        ),
    ),
    (
        "wax-pass",
        StageSpec(
            "key", N_("Hold the parts with wax or a putty key"), "attended", "mending",
            {"*": {"fixed": 12, "T": 2, "C": 2}}, "set-up", "bench", "yes", "",
            N_("The repair is being built up."), needs_cast=True, mark=MARK,
        ),
    ),
    (
        "wax-pass",
        StageSpec(
            "self-cure", N_("Cure the repair in the pressure pot"), "attended", "mending",
            {"*": {"fixed": 10}}, "pack", "pressure-pot", "no",
            N_("Never: take it out when the maker's time is over."), N_("The repair is curing."),
            mark=MARK,
            photo_before=N_("Afterwards the parts cannot be moved. Back means breaking it again."),
        ),
    ),
)  # fmt: skip
