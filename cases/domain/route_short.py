"""The few extra stages of the short routes: adjustment, repair, addition, remake, scan.

Minutes: judgement. Order and places: common practice, no published source. Resin that cures
by itself follows its maker's instructions in everything.
"""

from __future__ import annotations

from cases.domain.network import Held, StageSpec

MARK = "common practice, no published source; minutes: judgement"

# Each stage with the key of the stage it follows in the list of the editor.
SHORT_STAGES: tuple[tuple[str, StageSpec], ...] = (
    (
        "disinfect",
        StageSpec(
            "look", "Look and decide", "attended", "adjustment", {"*": {"fixed": 5}},
            "finish", "bench", "yes", "In water.", "Your piece is being looked at.", mark=MARK,
        ),
    ),
    (
        "disinfect",
        StageSpec(
            "pick-up", "Pour over the piece in its pick-up impression", "attended", "pick-up",
            {"*": {"fixed": 8, "N": 4}}, "model", "plaster-bench", "no",
            "Never leave alginate on the cast overnight.", "The cast for the repair is being "
            "poured.", holds=(Held("impression", "trim"),), batch=True, mark=MARK,
        ),
    ),
    (
        "disinfect",
        StageSpec(
            "print-model", "Make the printed model", "attended", "scan",
            {"*": {"fixed": 12}}, "model", "printer", "yes", "", "The model of your scan is being "
            "printed.", mark=MARK,
        ),
    ),
    (
        "disinfect",
        StageSpec(
            "stone-copy", "Copy the printed model in stone", "attended", "scan",
            {"*": {"fixed": 18}}, "model", "duplicating", "yes", "",
            "The cast of your scan is being made.", mark=MARK,
        ),
    ),
    (
        "teeth",
        StageSpec(
            "index", "Put teeth and wax back from the kept index", "attended", "index",
            {"*": {"fixed": 10, "T": 2}}, "set-up", "wax-bench", "yes", "",
            "The teeth are being set.", holds=(Held("articulator", "finish", "mounted"),),
            needs_cast=True, mark=MARK,
        ),
    ),
    (
        "wax-pass",
        StageSpec(
            "key", "Hold the parts with wax or a putty key", "attended", "mending",
            {"*": {"fixed": 12, "T": 2, "C": 2}}, "set-up", "bench", "yes", "",
            "The repair is being built up.", needs_cast=True, mark=MARK,
        ),
    ),
    (
        "wax-pass",
        StageSpec(
            "self-cure", "Cure the repair in the pressure pot", "attended", "mending",
            {"*": {"fixed": 10}}, "pack", "pressure-pot", "no",
            "Never: take it out when the maker's time is over.", "The repair is curing.",
            mark=MARK,
            photo_before="Afterwards the parts cannot be moved. Back means breaking it again.",
        ),
    ),
)  # fmt: skip
