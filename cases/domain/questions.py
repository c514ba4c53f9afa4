"""Questions that a laboratory asks a practice, with the answers to choose from.

Each question also takes "Other" in words and "Please ring me". Silence is never an answer.
A question stops only the stages it names; the rest of the work goes on.

Words, answers and stages stopped: common practice, no published source.

Placeholders such as ``{tooth}`` in the words are filled in by `write_out`.
"""

from __future__ import annotations

from cases.domain.question_form import (
    ALWAYS_OFFERED,
    OTHER,
    RING_ME,
    Answer,
    Question,
    answer_to,
    answers_to,
    free_question,
    write_out,
)
from cases.domain.words import N_

__all__ = [
    "ALWAYS_OFFERED",
    "BY_KEY",
    "BY_NUMBER",
    "OTHER",
    "QUESTIONS",
    "RING_ME",
    "Answer",
    "Question",
    "answer_to",
    "answers_to",
    "free_question",
    "question",
    "write_out",
]

QUESTIONS: tuple[Question, ...] = (
    Question(
        1,
        "impression-taken",
        N_("When was the impression taken, and with what?"),
        (
            Answer("alginate", N_("Alginate, taken at …"), ("time",)),
            Answer("long-alginate", N_("Long-storage alginate, taken at …"), ("time", "text")),
            Answer("silicone", N_("Silicone, taken at …"), ("time",)),
            Answer("other-material", N_("Another material, taken at …"), ("time", "text")),
        ),
        stops=("pour", "pick-up"),
        reception=True,
    ),
    Question(
        2,
        "disinfected",
        N_("Was it disinfected?"),
        (
            Answer("yes", N_("Yes: with …, for … minutes"), ("agent", "minutes")),
            Answer("no", N_("No")),
            Answer("not-known", N_("Not known (we do it)")),
        ),
        reception=True,
    ),
    Question(
        3,
        "shade",
        N_("Which shade, by which guide?"),
        (
            Answer("shade", N_("This shade, by this guide: …"), ("shade",)),
            Answer("photograph", N_("Match the photograph")),
            Answer("old-piece", N_("Match the old piece")),
            Answer("laboratory", N_("You choose")),
        ),
        stops=("teeth",),
        reception=True,
    ),
    Question(
        4,
        "mould",
        N_("Which mould?"),
        (
            Answer("laboratory", N_("You choose to match")),
            Answer("as-before", N_("As before")),
            Answer("name", N_("This mould: …"), ("mould",)),
        ),
        stops=("teeth",),
    ),
    Question(
        5,
        "not-in-impression",
        N_("The {place} is not in the impression."),
        (
            Answer(
                "new-impression",
                N_("A new impression on …"),
                ("date",),
                still_waits="record-or-cast",
            ),
            Answer("end-at-cast", N_("End the base where the cast ends")),
            Answer("estimate", N_("You may estimate it")),
        ),
        stops=("block-out",),
    ),
    Question(
        6,
        "bite-not-found",
        N_("The bite can't be found from the casts."),
        (
            Answer("record", N_("A record comes on …"), ("date",), still_waits="record-or-cast"),
            Answer("rim", N_("Make a rim")),
            Answer("photograph", N_("Use the tooth contacts shown in the photograph")),
        ),
        stops=("mount",),
    ),
    Question(
        7,
        "teeth-to-extract",
        N_(
            "Which teeth will be taken out at delivery? Tick them on the arch, each with its "
            "depth: "
            "flush, 1 mm, 2 mm, or you judge."
        ),
        (
            Answer("these", N_("These teeth, ticked on the arch"), ("arch",)),
            Answer("none", N_("None")),
        ),
        stops=("cast-prep",),
    ),
    Question(
        8,
        "no-room",
        N_("There is no room for {tooth}."),
        (
            Answer("leave-out", N_("Leave it out")),
            Answer("narrower", N_("Narrower teeth")),
            Answer("overlap", N_("Overlap")),
            Answer("grind", N_("Slight grinding of …, I will do it"), ("teeth",)),
        ),
        stops=("teeth",),
    ),
    Question(
        9,
        "drawing",
        N_("Drawing attached: is it what you want?"),
        (
            Answer("yes", N_("Yes")),
            Answer("yes-but", N_("Yes, but …"), ("text",), still_waits="agreement"),
            Answer(
                "other-teeth", N_("Other teeth for clasps: …"), ("teeth",), still_waits="agreement"
            ),
            Answer("draw", N_("I'll draw it"), still_waits="agreement"),
            Answer("keep", N_("No: keep to what was ordered"), still_waits="agreement"),
        ),
        stops=("block-out",),
    ),
    Question(
        10,
        "clasp-shows",
        N_("A clasp on {tooth} would show."),
        (
            Answer("go-on", N_("Go on")),
            Answer("move", N_("Move it to …"), ("teeth",)),
            Answer("no-clasp", N_("No clasp on this side")),
            Answer("shorter", N_("Shorter")),
        ),
        stops=("block-out",),
    ),
    Question(
        11,
        "no-undercut",
        N_("Hold is small: {tooth} has no undercut."),
        (
            Answer("less-hold", N_("Go on with less hold")),
            Answer("other-tooth", N_("Another tooth: …"), ("teeth",)),
            Answer(
                "ledge",
                N_("Composite ledge, I will add it (new impression)"),
                still_waits="record-or-cast",
            ),
            Answer("two-more", N_("Two more clasps")),
        ),
        stops=("block-out",),
    ),
    Question(
        12,
        "leaning-tooth",
        N_("{tooth} leans: acrylic will leave a gap of about {gap} behind it."),
        (
            Answer("accept", N_("Accept")),
            Answer("tilt", N_("Tilt for it")),
            Answer(
                "reshape",
                N_("I will reshape and take a new impression"),
                still_waits="record-or-cast",
            ),
        ),
        stops=("block-out",),
    ),
    Question(
        13,
        "keep-cast",
        N_("Do you want a cast kept to fit on? (a copy, about half a day more)"),
        (Answer("yes", N_("Yes")), Answer("no", N_("No")), Answer("laboratory", N_("You decide"))),
        stops=("block-out",),
    ),
    Question(
        14,
        "borders",
        N_("Who reduces the borders?"),
        (
            Answer("reduced-2mm", N_("Laboratory, 2 mm short")),
            Answer("left-full", N_("Leave full for me")),
            Answer("as-drawn", N_("As drawn")),
        ),
        stops=("wax",),
    ),
    Question(
        15,
        "polish",
        N_("How far polished?"),
        (
            Answer("all-outer", N_("All outer surfaces")),
            Answer("outer-borders-left", N_("Borders left")),
            Answer("none", N_("None")),
        ),
        stops=("finish",),
    ),
    Question(
        16,
        "bar",
        N_("The bar?"),
        (Answer("yes", N_("Yes")), Answer("no", N_("No")), Answer("laboratory", N_("You decide"))),
        stops=("bar",),
    ),
    Question(
        17,
        "wire-over-bite",
        N_("Is a wire over the bite at {tooth} possible? There is {room} mm."),
        (
            Answer("make-room", N_("I will make room")),
            Answer("another-place", N_("Another place")),
            Answer("leave-out", N_("Leave it out")),
        ),
        stops=("clasps",),
    ),
    Question(
        18,
        "crossbite",
        N_("Crossbite, or grind the denture teeth in?"),
        (
            Answer("crossbite", N_("Crossbite")),
            Answer("ground-in", N_("Ordinary, ground in")),
            Answer("old-piece", N_("As the old piece")),
        ),
        stops=("teeth",),
    ),
    Question(
        19,
        "front-flange",
        N_("Flange in front, or teeth to the gum?"),
        (
            Answer("flange", N_("Flange")),
            Answer("to-the-gum", N_("To the gum")),
            Answer("short-flange", N_("Short flange")),
        ),
        stops=("teeth",),
    ),
    Question(
        20,
        "allergy",
        N_("Any allergy to metal or acrylic that we should know?"),
        (
            Answer("none-known", N_("None known")),
            Answer("nickel", N_("Nickel"), still_waits="agreement"),
            Answer("acrylic", N_("Acrylic"), still_waits="agreement"),
            Answer("other-allergy", N_("Another: …"), ("text",), still_waits="agreement"),
        ),
        stops=("clasps", "pack", "self-cure"),
    ),
    Question(
        21,
        "try-in",
        N_("Try-in?"),
        (Answer("yes", N_("Yes, on …"), ("date",)), Answer("no", N_("Straight to finish"))),
        # Teeth may be set meanwhile: only what follows them waits.
        stops=("try-in", "wax"),
        reception=True,
    ),
    Question(
        22,
        "date-cannot-be-kept",
        N_("The date can't be kept."),
        (
            Answer("new-day", N_("New day …"), ("date",)),
            Answer("finish-without", N_("Finish without try-in or polish: say which"), ("text",)),
        ),
        reception=True,
    ),
    Question(
        23,
        "fault-found",
        N_("We found {found}."),
        (
            Answer("repair", N_("Repair and send")),
            Answer("remake", N_("Remake, new day …"), ("date",)),
            Answer("send", N_("Send as it is (I sign)")),
        ),
        stops=("finish",),
    ),
    Question(
        24,
        "casts-and-old-piece",
        N_("What shall we do with casts, old piece, tray?"),
        (
            Answer("send-back", N_("Send back")),
            Answer("keep", N_("Keep until …"), ("date",)),
            Answer("throw-away", N_("May be thrown away")),
        ),
        reception=True,
    ),
    Question(
        25,
        "change-of-order",
        N_("The change you asked for alters the order."),
        (
            Answer("confirm", N_("I confirm in writing")),
            Answer("keep", N_("Keep the old order")),
        ),
        stops_stage_asked_at=True,
    ),
)

BY_NUMBER: dict[int, Question] = {asked.number: asked for asked in QUESTIONS}
BY_KEY: dict[str, Question] = {asked.key: asked for asked in QUESTIONS}


def question(number: int) -> Question:
    """Return the question with this number in the laboratory's list.

    Raises
    ------
    LookupError
        When there is none.
    """
    if number not in BY_NUMBER:
        raise LookupError(f"There is no question number {number}. Choose one of the list.")
    return BY_NUMBER[number]
