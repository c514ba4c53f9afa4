"""Reason lists: why a stage was sent back, a piece remade, work held, a check let pass.

One main reason is chosen and any number of further ones. "Other" asks for words.
Keys are stored and never change; words may be edited.

All lists: common practice, no published source.
"""

from __future__ import annotations

from dataclasses import dataclass

from cases.domain.words import N_


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


OTHER = Reason("other", N_("Other (write)"), needs_text=True)


def _list(key: str, title: str, *reasons: tuple[str, str] | Reason) -> ReasonList:
    made = (reason if isinstance(reason, Reason) else Reason(*reason) for reason in reasons)
    return ReasonList(key, title, (*made, OTHER))


SEND_BACK = _list(
    "send-back",
    N_("Sent back to an earlier stage"),
    ("bracing-low", N_("Bracing too low")),
    ("undercut-open", N_("Undercut found that was not blocked out")),
    ("clasp-not-as-designed", N_("Clasp not as designed")),
    ("clasp-damaged", N_("Clasp bent or nicked")),
    ("wax-thickness", N_("Wax too thin or too thick")),
    ("teeth-or-bite", N_("Tooth position or bite")),
    ("border-order", N_("Border not as ordered")),
    ("wire-moved", N_("Wire or bar moved")),
    ("cast-damaged", N_("Cast damaged")),
    ("wrong-tooth", N_("Wrong tooth, shade or mould")),
    ("mould-not-ready", N_("Mould not clean or separator missing")),
    ("plan-changed", N_("Plan changed by the practice")),
    ("cure-cut", N_("Cure cut short")),
    ("cure-record", N_("Cure not accepted by the record of its bath")),
)

REMAKE = _list(
    "remake",
    N_("Remake"),
    ("does-not-seat-cast-true", N_("Does not seat, cast true")),
    ("does-not-seat-cast-not-true", N_("Does not seat, impression or cast not true")),
    ("wrong-bite", N_("Wrong bite")),
    ("order-changed", N_("Order changed after processing")),
    ("broken-in-mouth", N_("Broken in the mouth")),
    ("broken-or-lost", N_("Broken or lost in the laboratory or on the way")),
    ("pores", N_("Pores or poor cure")),
    ("wrong-teeth", N_("Wrong teeth, shade or mould")),
    ("further-tooth-lost", N_("Further tooth lost")),
    ("no-hold", N_("No hold")),
    ("not-accepted", N_("Patient did not accept it")),
    ("wrong-design", N_("Wrong design sent to the bench")),
)

# Where the cause lay. Not a verdict on a person.
REMAKE_ORIGIN: tuple[Reason, ...] = (
    Reason("impression", N_("Taking the impression")),
    Reason("order", N_("Order")),
    Reason("design", N_("Design")),
    Reason("bench", N_("Bench")),
    Reason("material", N_("Material")),
    Reason("transport", N_("Transport")),
    Reason("mouth-changed", N_("The mouth changed")),
    Reason("not-known", N_("Not known yet")),
)

ADJUSTMENT = _list(
    "adjustment",
    N_("Adjustment"),
    ("tight-tooth-side", N_("Tight on a tooth side")),
    ("tight-behind-clasp", N_("Tight behind a clasp")),
    ("presses-gum-line", N_("Plate presses the gum line")),
    ("border-long", N_("Border too long")),
    ("sore-spot", N_("Sore spot under the base")),
    ("bite-high", N_("Bite high")),
    ("clasp-loose", N_("Clasp loose")),
    ("clasp-tight", N_("Clasp too tight")),
    ("tip-touches", N_("Tip touches the gum or cheek")),
    ("edge-sharp", N_("Edge sharp")),
    ("rocks", N_("Rocks")),
    ("speech-room", N_("Speech or tongue room")),
)

HOLD = _list(
    "hold",
    N_("Hold"),
    ("answer", N_("Waiting for an answer")),
    ("agreement", N_("Waiting for agreement to the design")),
    ("design-back", N_("Waiting for the design to go back to what was agreed")),
    ("record-or-cast", N_("Waiting for a record, cast or impression")),
    ("signature", N_("Waiting for signature or written order")),
    ("try-in", N_("Try-in at the practice")),
    ("date-moved", N_("Date moved by the practice")),
    ("on-order", N_("Teeth or material on order")),
    ("impression-unusable", N_("Impression or cast not usable")),
    ("disinfection-unknown", N_("Not known whether disinfected")),
    ("equipment", N_("Equipment out of use")),
    ("cure-in-doubt", N_("Cure in doubt, being judged")),
    ("person-away", N_("Person with the skill away")),
    ("account", N_("Payment or account question")),
)

# Whom a held case can wait for.
HOLD_WAITS_FOR: tuple[Reason, ...] = (
    Reason("practice", N_("The practice")),
    Reason("supplier", N_("A supplier")),
    Reason("laboratory", N_("Somebody in the laboratory")),
    Reason("repairer", N_("Whoever mends the equipment")),
)

_USUALLY_WAITS_FOR: dict[str, str] = {
    "design-back": "laboratory",
    "on-order": "supplier",
    "equipment": "repairer",
    "disinfection-unknown": "laboratory",
    "cure-in-doubt": "laboratory",
    "person-away": "laboratory",
}

SKIP = _list(
    "skip",
    N_("Stage skipped"),
    ("not-ordered", N_("Not ordered")),
    ("came-poured", N_("Cast came poured")),
    ("no-undercut", N_("No undercut to block out")),
    ("no-opposing", N_("No opposing cast")),
    ("cast-lost", N_("Cast did not survive deflasking")),
    ("done-by-practice", N_("Done by the practice")),
    ("left-to-dentist", N_("Left to the dentist")),
    ("joined", N_("Joined with the neighbouring case's stage")),
    ("done-earlier", N_("Already done on an earlier version")),
    Reason("no-time", N_("No time, decided by …"), needs_text=True),
)

CONCESSION = _list(
    "concession",
    N_("Concession"),
    ("dentist-agreed", N_("Dentist agreed")),
    ("no-room", N_("No room for more")),
    ("tooth-goes-soon", N_("Tooth will be extracted soon")),
    ("short-wear", N_("Worn only a short while")),
    ("shallow-and-soft", N_("Undercut shallow and soft")),
    ("reserve-used", N_("Reserve used, still at the line")),
    ("cosmetic", N_("Cosmetic only")),
    ("at-the-limit", N_("Measured twice, at the limit")),
    ("mended", N_("Mended, not as new, safe by inspection")),
    ("impression-over-time", N_("Impression over time but cast judged true")),
    ("lot-past-date", N_("Lot past its date, maker asked")),
)

BLOCK_OUT_OTHER = _list(
    "block-out-other",
    N_("Block-out other than advised"),
    ("no-time", N_("No time for a copy")),
    ("cast-weak", N_("Cast too weak for plaster")),
    ("practice-asked", N_("Practice asked for it")),
    ("good-experience", N_("Good experience with this pattern")),
    ("surveyor-busy", N_("Surveyor not free")),
    ("no-copy-material", N_("Copy material not at hand")),
    ("path-changes", N_("Undercut will be used by a change of path")),
    ("tooth-reshaped", N_("Tooth will be reshaped")),
)

TIME_CORRECTED = _list(
    "time-corrected",
    N_("Time corrected"),
    ("forgot-start", N_("Forgot to start")),
    ("forgot-stop", N_("Forgot to stop")),
    ("interrupted", N_("Interrupted by the telephone or counter")),
    ("helped", N_("Helped by another")),
    ("several-cases", N_("Several cases together")),
    ("teaching", N_("Teaching")),
    ("wrong-case", N_("Wrong case")),
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
