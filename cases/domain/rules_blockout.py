"""BLK-0 to BLK-15: the words, sources and limits of the block-out rules."""

from __future__ import annotations

from cases.domain import blockout_findings as find
from cases.domain.limit import Limit
from cases.domain.rule_sources import COMMON, JUDGEMENT, MCCRACKEN, STUDENT_NOTES
from cases.domain.rule_spec import Rule
from cases.domain.words import N_

RULES: tuple[Rule, ...] = (
    Rule(
        "BLK-0", "concession",
        N_(
            "Relief of gum lines and papillae is always made: no undercut does not mean no relief. "
            "Leaving it out takes a concession, face by face."
        ),
        COMMON, find.relief,
    ),
    Rule(
        "BLK-1", "advice",
        N_("The rod touches from the survey line to the gum everywhere. Relief only."),
        JUDGEMENT, find.none_needed,
    ),
    Rule(
        "BLK-2", "advice",
        N_(
            "The undercuts are few and shallow: plaster on the cast is enough. No cast will be "
            "left to fit to; bracing and undercuts can then be judged only from the fitting side."
        ),
        f"{COMMON} ({STUDENT_NOTES}: plaster goes with heat cure)", find.plaster,
    ),
    Rule(
        "BLK-3", "advice",
        N_(
            "The undercut at %(tooth)s %(side)s is %(step)g mm. Make a copy: that is too much to "
            "place by eye in plaster, and thin plaster chips in the press."
        ),
        JUDGEMENT, find.too_much,
        (
            Limit("proximal", 0.5, "mm", N_("Mesial or distal face, over this step"), 0.25, 0.75),
            Limit("lingual", 0.75, "mm", N_("Lingual face, over this step"), 0.25, 0.75),
            Limit("faces", 3, "", N_("Mesial and distal faces with any step"), 2, 6),
        ),
    ),
    Rule(
        "BLK-4", "advice",
        N_(
            "%(tooth)s stands alone and is undercut on both sides. Make a copy: the path is held "
            "by that one tooth, and its stone neck breaks first."
        ),
        JUDGEMENT, find.freestanding,
        (Limit("both_sides", 0.25, "mm", N_("Step on both sides"), 0.25, 0.75),),
    ),
    Rule(
        "BLK-5", "advice",
        N_(
            "The base has to pass between %(tooth)s and %(other)s, both undercut. Make a copy: "
            "parallel walls need the surveyor."
        ),
        JUDGEMENT, find.between_walls,
        (Limit("sum", 0.75, "mm", N_("Steps of both walls together"), 0.5, 1.5),),
    ),
    Rule(
        "BLK-6", "advice",
        N_("The master must live, because %(why)s. Make a copy."),
        f"{COMMON}; {JUDGEMENT}", find.keep_master,
    ),
    Rule(
        "BLK-7", "advice",
        N_(
            "A copy is advised. Wax first: the master shows what the acrylic should clear, after "
            "the wax is steamed off. Copy first, then plaster on it: quicker to correct, when the "
            "true tooth shapes are wanted on the master."
        ),
        COMMON, find.which_copy,
    ),
    Rule(
        "BLK-8", "cannot",
        N_(
            "“%(method)s” is no way to block out the cast that goes into the flask. Wax boils out: "
            "the resin will fill the undercut you closed. Choose plaster, or make a copy."
        ),
        f"{COMMON} ({STUDENT_NOTES}: wax with self-cure only)", find.wax_in_flask,
    ),
    Rule(
        "BLK-9", "advice",
        N_(
            "The ridge under this base is undercut by %(step)g mm, or on two sides. Block it out "
            "or ask the dentist: soft tissue gives a little on one side, not on two."
        ),
        f"{COMMON}; {JUDGEMENT}", find.ridge,
        (Limit("one_side", 0.75, "mm", N_("Most on one side"), 0.25, 0.75),),
    ),
    Rule(
        "BLK-10", "advice",
        N_(
            "The ridge behind, at %(tooth)s, is undercut by %(step)g mm and the path cannot swing "
            "past it. Block it out or ask the dentist, and keep the flange full until told."
        ),
        COMMON, find.ridge_behind,
        (Limit("one_side", 0.75, "mm", N_("Most on one side"), 0.25, 0.75),),
    ),
    Rule(
        "BLK-11", "concession",
        N_(
            "The lingual side of %(tooth)s is undercut by %(step)g mm and is not blocked out. "
            "Lower back teeth lean in: the line is high and the undercut under it. Block it out "
            "from the survey line down to the gum, or ask for a concession."
        ),
        MCCRACKEN, find.leaning_open,
    ),
    Rule(
        "BLK-12", "cannot",
        N_(
            "The %(side)s side of %(tooth)s is to be blocked out, and the tip of its clasp lies "
            "there. Keep it free where the last third of the arm lies: take that face out."
        ),
        MCCRACKEN, find.tip_covered,
    ),
    Rule(
        "BLK-13", "advice",
        N_(
            "The block-out tapers by %(taper)g°. Parallel (0°), so that acrylic guides; %(low)g to "
            "%(high)g° only on purpose."
        ),
        COMMON, find.taper,
        (
            Limit("least", 2, "°", N_("Taper on purpose, at least"), 0.5, 4),
            Limit("most", 6, "°", N_("Taper on purpose, at most"), 3, 10),
        ),
    ),
    Rule(
        "BLK-14", "advice",
        N_(
            "A copy is advised, and only %(left)g half days are left. Without the time for it, "
            "choose plaster with the reason “No time for a copy”: the paper will say that it was "
            "blocked out by hand."
        ),
        JUDGEMENT, find.no_time,
        (Limit("half_days", 1, "", N_("Half days that a copy takes"), 0.5, 4),),
    ),
    Rule(
        "BLK-15", "cannot",
        N_("The rules advise %(advised)s; another way was chosen, and the reason is kept."),
        COMMON, find.other_than_advised,
    ),
)  # fmt: skip
