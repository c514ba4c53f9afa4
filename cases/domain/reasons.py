"""Reason lists: why a stage was sent back, a piece remade, work held, a check let pass.

One main reason is chosen and any number of further ones. "Other" asks for words.
Keys are stored and never change; words may be edited.

All lists: common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Reason:
    """One reason to choose.

    ``needs_text``: it says nothing without words beside it ("Other", "decided by …").
    """

    key: str
    words: str
    needs_text: bool = False


@dataclass(frozen=True)
class ReasonList:
    """The reasons for one kind of event, "Other" last."""

    key: str
    title: str
    reasons: tuple[Reason, ...]

    def get(self, key: str) -> Reason:
        """Return the reason with this key.

        Raises
        ------
        ValueError
            When the list has no such reason.
        """
        for reason in self.reasons:
            if reason.key == key:
                return reason
        raise ValueError(f"“{key}” is not a reason in the list “{self.title}”. Choose one of it.")


@dataclass(frozen=True)
class Choice:
    """A reason as chosen: one main reason, any further ones, and words."""

    main: str
    further: tuple[str, ...] = ()
    text: str = ""


OTHER = Reason("other", "Other (write)", needs_text=True)


def _list(key: str, title: str, *reasons: tuple[str, str] | Reason) -> ReasonList:
    made = (reason if isinstance(reason, Reason) else Reason(*reason) for reason in reasons)
    return ReasonList(key, title, (*made, OTHER))


SEND_BACK = _list(
    "send-back",
    "Sent back to an earlier stage",
    ("bracing-low", "Bracing too low"),
    ("undercut-open", "Undercut found that was not blocked out"),
    ("clasp-not-as-designed", "Clasp not as designed"),
    ("clasp-damaged", "Clasp bent or nicked"),
    ("wax-thickness", "Wax too thin or too thick"),
    ("teeth-or-bite", "Tooth position or bite"),
    ("border-order", "Border not as ordered"),
    ("wire-moved", "Wire or bar moved"),
    ("cast-damaged", "Cast damaged"),
    ("wrong-tooth", "Wrong tooth, shade or mould"),
    ("mould-not-ready", "Mould not clean or separator missing"),
    ("plan-changed", "Plan changed by the practice"),
)

REMAKE = _list(
    "remake",
    "Remake",
    ("does-not-seat-cast-true", "Does not seat, cast true"),
    ("does-not-seat-cast-not-true", "Does not seat, impression or cast not true"),
    ("wrong-bite", "Wrong bite"),
    ("order-changed", "Order changed after processing"),
    ("broken-in-mouth", "Broken in the mouth"),
    ("broken-or-lost", "Broken or lost in the laboratory or on the way"),
    ("pores", "Pores or poor cure"),
    ("wrong-teeth", "Wrong teeth, shade or mould"),
    ("further-tooth-lost", "Further tooth lost"),
    ("no-hold", "No hold"),
    ("not-accepted", "Patient did not accept it"),
    ("wrong-design", "Wrong design sent to the bench"),
)

# Where the cause lay. Not a verdict on a person.
REMAKE_ORIGIN: tuple[Reason, ...] = (
    Reason("impression", "Taking the impression"),
    Reason("order", "Order"),
    Reason("design", "Design"),
    Reason("bench", "Bench"),
    Reason("material", "Material"),
    Reason("transport", "Transport"),
    Reason("mouth-changed", "The mouth changed"),
    Reason("not-known", "Not known yet"),
)

ADJUSTMENT = _list(
    "adjustment",
    "Adjustment",
    ("tight-tooth-side", "Tight on a tooth side"),
    ("tight-behind-clasp", "Tight behind a clasp"),
    ("presses-gum-line", "Plate presses the gum line"),
    ("border-long", "Border too long"),
    ("sore-spot", "Sore spot under the base"),
    ("bite-high", "Bite high"),
    ("clasp-loose", "Clasp loose"),
    ("clasp-tight", "Clasp too tight"),
    ("tip-touches", "Tip touches the gum or cheek"),
    ("edge-sharp", "Edge sharp"),
    ("rocks", "Rocks"),
    ("speech-room", "Speech or tongue room"),
)

HOLD = _list(
    "hold",
    "Hold",
    ("answer", "Waiting for an answer"),
    ("agreement", "Waiting for agreement to the design"),
    ("record-or-cast", "Waiting for a record, cast or impression"),
    ("signature", "Waiting for signature or written order"),
    ("try-in", "Try-in at the practice"),
    ("date-moved", "Date moved by the practice"),
    ("on-order", "Teeth or material on order"),
    ("impression-unusable", "Impression or cast not usable"),
    ("disinfection-unknown", "Not known whether disinfected"),
    ("equipment", "Equipment out of use"),
    ("cure-in-doubt", "Cure in doubt, being judged"),
    ("person-away", "Person with the skill away"),
    ("account", "Payment or account question"),
)

# Whom a held case can wait for.
HOLD_WAITS_FOR: tuple[Reason, ...] = (
    Reason("practice", "The practice"),
    Reason("supplier", "A supplier"),
    Reason("laboratory", "Somebody in the laboratory"),
    Reason("repairer", "Whoever mends the equipment"),
)

_USUALLY_WAITS_FOR: dict[str, str] = {
    "on-order": "supplier",
    "equipment": "repairer",
    "disinfection-unknown": "laboratory",
    "cure-in-doubt": "laboratory",
    "person-away": "laboratory",
}

SKIP = _list(
    "skip",
    "Stage skipped",
    ("not-ordered", "Not ordered"),
    ("came-poured", "Cast came poured"),
    ("no-undercut", "No undercut to block out"),
    ("no-opposing", "No opposing cast"),
    ("cast-lost", "Cast did not survive deflasking"),
    ("done-by-practice", "Done by the practice"),
    ("left-to-dentist", "Left to the dentist"),
    ("joined", "Joined with the neighbouring case's stage"),
    ("done-earlier", "Already done on an earlier version"),
    Reason("no-time", "No time, decided by …", needs_text=True),
)

CONCESSION = _list(
    "concession",
    "Concession",
    ("dentist-agreed", "Dentist agreed"),
    ("no-room", "No room for more"),
    ("tooth-goes-soon", "Tooth will be extracted soon"),
    ("short-wear", "Worn only a short while"),
    ("shallow-and-soft", "Undercut shallow and soft"),
    ("reserve-used", "Reserve used, still at the line"),
    ("cosmetic", "Cosmetic only"),
    ("at-the-limit", "Measured twice, at the limit"),
    ("mended", "Mended, not as new, safe by inspection"),
    ("impression-over-time", "Impression over time but cast judged true"),
    ("lot-past-date", "Lot past its date, maker asked"),
)

BLOCK_OUT_OTHER = _list(
    "block-out-other",
    "Block-out other than advised",
    ("no-time", "No time for a copy"),
    ("cast-weak", "Cast too weak for plaster"),
    ("practice-asked", "Practice asked for it"),
    ("good-experience", "Good experience with this pattern"),
    ("surveyor-busy", "Surveyor not free"),
    ("no-copy-material", "Copy material not at hand"),
    ("path-changes", "Undercut will be used by a change of path"),
    ("tooth-reshaped", "Tooth will be reshaped"),
)

TIME_CORRECTED = _list(
    "time-corrected",
    "Time corrected",
    ("forgot-start", "Forgot to start"),
    ("forgot-stop", "Forgot to stop"),
    ("interrupted", "Interrupted by the telephone or counter"),
    ("helped", "Helped by another"),
    ("several-cases", "Several cases together"),
    ("teaching", "Teaching"),
    ("wrong-case", "Wrong case"),
)

REASON_LISTS: dict[str, ReasonList] = {
    reasons.key: reasons
    for reasons in (
        SEND_BACK,
        REMAKE,
        ADJUSTMENT,
        HOLD,
        SKIP,
        CONCESSION,
        BLOCK_OUT_OTHER,
        TIME_CORRECTED,
    )
}


def usually_waits_for(hold_reason: str) -> str:
    """Return the `HOLD_WAITS_FOR` key offered first for a reason of the hold list.

    Raises
    ------
    ValueError
        When the reason is not in the hold list.
    """
    HOLD.get(hold_reason)
    return _USUALLY_WAITS_FOR.get(hold_reason, "practice")


def choose(reasons: ReasonList, main: str, further: Sequence[str] = (), text: str = "") -> Choice:
    """Check a choice and return it, with repeated further reasons dropped.

    Raises
    ------
    ValueError
        No main reason, one that is not in the list, or words missing where they are needed.
    """
    if not main:
        raise ValueError(f"Choose a main reason: {reasons.title.lower()}.")
    chosen = [reasons.get(key) for key in dict.fromkeys((main, *further))]
    words = text.strip()
    for reason in chosen:
        if reason.needs_text and not words:
            raise ValueError(f"“{reason.words}” needs words beside it. Write them.")
    return Choice(main, tuple(reason.key for reason in chosen[1:]), words)
