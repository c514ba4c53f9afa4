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
        "When was the impression taken, and with what?",
        (
            Answer("alginate", "Alginate, taken at …", ("time",)),
            Answer("long-alginate", "Long-storage alginate, taken at …", ("time", "text")),
            Answer("silicone", "Silicone, taken at …", ("time",)),
            Answer("other-material", "Another material, taken at …", ("time", "text")),
        ),
        stops=("pour", "pick-up"),
        reception=True,
    ),
    Question(
        2,
        "disinfected",
        "Was it disinfected?",
        (
            Answer("yes", "Yes: with …, for … minutes", ("agent", "minutes")),
            Answer("no", "No"),
            Answer("not-known", "Not known (we do it)"),
        ),
        reception=True,
    ),
    Question(
        3,
        "shade",
        "Which shade, by which guide?",
        (
            Answer("shade", "This shade, by this guide: …", ("shade",)),
            Answer("photograph", "Match the photograph"),
            Answer("old-piece", "Match the old piece"),
            Answer("laboratory", "You choose"),
        ),
        stops=("teeth",),
        reception=True,
    ),
    Question(
        4,
        "mould",
        "Which mould?",
        (
            Answer("laboratory", "You choose to match"),
            Answer("as-before", "As before"),
            Answer("name", "This mould: …", ("mould",)),
        ),
        stops=("teeth",),
    ),
    Question(
        5,
        "not-in-impression",
        "The {place} is not in the impression.",
        (
            Answer(
                "new-impression", "A new impression on …", ("date",), still_waits="record-or-cast"
            ),
            Answer("end-at-cast", "End the base where the cast ends"),
            Answer("estimate", "You may estimate it"),
        ),
        stops=("block-out",),
    ),
    Question(
        6,
        "bite-not-found",
        "The bite can't be found from the casts.",
        (
            Answer("record", "A record comes on …", ("date",), still_waits="record-or-cast"),
            Answer("rim", "Make a rim"),
            Answer("photograph", "Use the tooth contacts shown in the photograph"),
        ),
        stops=("mount",),
    ),
    Question(
        7,
        "teeth-to-extract",
        "Which teeth will be taken out at delivery? Tick them on the arch, each with its depth: "
        "flush, 1 mm, 2 mm, or you judge.",
        (
            Answer("these", "These teeth, ticked on the arch", ("arch",)),
            Answer("none", "None"),
        ),
        stops=("cast-prep",),
    ),
    Question(
        8,
        "no-room",
        "There is no room for {tooth}.",
        (
            Answer("leave-out", "Leave it out"),
            Answer("narrower", "Narrower teeth"),
            Answer("overlap", "Overlap"),
            Answer("grind", "Slight grinding of …, I will do it", ("teeth",)),
        ),
        stops=("teeth",),
    ),
    Question(
        9,
        "drawing",
        "Drawing attached: is it what you want?",
        (
            Answer("yes", "Yes"),
            Answer("yes-but", "Yes, but …", ("text",), still_waits="agreement"),
            Answer("other-teeth", "Other teeth for clasps: …", ("teeth",), still_waits="agreement"),
            Answer("draw", "I'll draw it", still_waits="agreement"),
        ),
        stops=("block-out",),
    ),
    Question(
        10,
        "clasp-shows",
        "A clasp on {tooth} would show.",
        (
            Answer("go-on", "Go on"),
            Answer("move", "Move it to …", ("teeth",)),
            Answer("no-clasp", "No clasp on this side"),
            Answer("shorter", "Shorter"),
        ),
        stops=("block-out",),
    ),
    Question(
        11,
        "no-undercut",
        "Hold is small: {tooth} has no undercut.",
        (
            Answer("less-hold", "Go on with less hold"),
            Answer("other-tooth", "Another tooth: …", ("teeth",)),
            Answer(
                "ledge",
                "Composite ledge, I will add it (new impression)",
                still_waits="record-or-cast",
            ),
            Answer("two-more", "Two more clasps"),
        ),
        stops=("block-out",),
    ),
    Question(
        12,
        "leaning-tooth",
        "{tooth} leans: acrylic will leave a gap of about {gap} behind it.",
        (
            Answer("accept", "Accept"),
            Answer("tilt", "Tilt for it"),
            Answer(
                "reshape", "I will reshape and take a new impression", still_waits="record-or-cast"
            ),
        ),
        stops=("block-out",),
    ),
    Question(
        13,
        "keep-cast",
        "Do you want a cast kept to fit on? (a copy, about half a day more)",
        (Answer("yes", "Yes"), Answer("no", "No"), Answer("laboratory", "You decide")),
        stops=("block-out",),
    ),
    Question(
        14,
        "borders",
        "Who reduces the borders?",
        (
            Answer("reduced-2mm", "Laboratory, 2 mm short"),
            Answer("left-full", "Leave full for me"),
            Answer("as-drawn", "As drawn"),
        ),
        stops=("wax",),
    ),
    Question(
        15,
        "polish",
        "How far polished?",
        (
            Answer("all-outer", "All outer surfaces"),
            Answer("outer-borders-left", "Borders left"),
            Answer("none", "None"),
        ),
        stops=("finish",),
    ),
    Question(
        16,
        "bar",
        "The bar?",
        (Answer("yes", "Yes"), Answer("no", "No"), Answer("laboratory", "You decide")),
        stops=("bar",),
    ),
    Question(
        17,
        "wire-over-bite",
        "Is a wire over the bite at {tooth} possible? There is {room} mm.",
        (
            Answer("make-room", "I will make room"),
            Answer("another-place", "Another place"),
            Answer("leave-out", "Leave it out"),
        ),
        stops=("clasps",),
    ),
    Question(
        18,
        "crossbite",
        "Crossbite, or grind the denture teeth in?",
        (
            Answer("crossbite", "Crossbite"),
            Answer("ground-in", "Ordinary, ground in"),
            Answer("old-piece", "As the old piece"),
        ),
        stops=("teeth",),
    ),
    Question(
        19,
        "front-flange",
        "Flange in front, or teeth to the gum?",
        (
            Answer("flange", "Flange"),
            Answer("to-the-gum", "To the gum"),
            Answer("short-flange", "Short flange"),
        ),
        stops=("teeth",),
    ),
    Question(
        20,
        "allergy",
        "Any allergy to metal or acrylic that we should know?",
        (
            Answer("none-known", "None known"),
            Answer("nickel", "Nickel", still_waits="agreement"),
            Answer("acrylic", "Acrylic", still_waits="agreement"),
            Answer("other-allergy", "Another: …", ("text",), still_waits="agreement"),
        ),
        stops=("clasps", "pack", "self-cure"),
    ),
    Question(
        21,
        "try-in",
        "Try-in?",
        (Answer("yes", "Yes, on …", ("date",)), Answer("no", "Straight to finish")),
        # Teeth may be set meanwhile: only what follows them waits.
        stops=("try-in", "wax"),
        reception=True,
    ),
    Question(
        22,
        "date-cannot-be-kept",
        "The date can't be kept.",
        (
            Answer("new-day", "New day …", ("date",)),
            Answer("finish-without", "Finish without try-in or polish: say which", ("text",)),
        ),
        reception=True,
    ),
    Question(
        23,
        "fault-found",
        "We found {found}.",
        (
            Answer("repair", "Repair and send"),
            Answer("remake", "Remake, new day …", ("date",)),
            Answer("send", "Send as it is (I sign)"),
        ),
        stops=("finish",),
    ),
    Question(
        24,
        "casts-and-old-piece",
        "What shall we do with casts, old piece, tray?",
        (
            Answer("send-back", "Send back"),
            Answer("keep", "Keep until …", ("date",)),
            Answer("throw-away", "May be thrown away"),
        ),
        reception=True,
    ),
    Question(
        25,
        "change-of-order",
        "The change you asked for alters the order.",
        (
            Answer("confirm", "I confirm in writing"),
            Answer("keep", "Keep the old order"),
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
