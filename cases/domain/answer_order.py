"""What an answer of the practice does to the order, question by question.

An answer with one clear meaning changes the order in the instant it is given. Every other one
says what somebody in the laboratory still has to do with it: nothing that a practice answers is
lost because nobody entered it.

Pure: the order and the answer go in, an `Effect` comes out. Which answers are clear, and whom the
others concern: common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any, Literal

from cases.domain.order_form import Extraction, Item, OrderForm

How = Literal["practice", "telephone"]
Step = Literal["", "order", "design", "promise", "remake", "ring", "look", "written"]
"""What is still to be done: enter it in the order, bring the design in line, choose a day, make it
again, ring the practice, look at the work that it concerns, or wait for the written word that was
promised. Empty: nothing."""
Why = Literal[
    "", "words", "missing", "in-writing", "drawn", "day", "limit", "past", "packed", "in-hand",
    "unfit", "conflict", "refused",
]  # fmt: skip
"""Why somebody has to do it; each has its sentence where the case is shown."""

MOST_SHORT = 40
"""Letters that the order keeps of a shade, a guide or a mould."""
MOST_ALLERGY = 100


@dataclass(frozen=True)
class Given:
    """What was entered with an answer: only what its `needs` ask for, and free words.

    ``teeth`` and the keys of ``depths`` are FDI numbers.
    """

    day: date | None = None
    at: datetime | None = None
    minutes: int | None = None
    teeth: tuple[int, ...] = ()
    depths: dict[int, str] = field(default_factory=dict)
    shade: str = ""
    guide: str = ""
    mould: str = ""
    agent: str = ""
    words: str = ""

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Given:
        """Build it from JSON primitives: days and instants in ISO 8601.

        Raises
        ------
        ValueError, TypeError
            When an entry cannot be read, or is none.
        """
        values = dict(data)
        if values.get("day"):
            values["day"] = date.fromisoformat(values["day"])
        if values.get("at"):
            values["at"] = datetime.fromisoformat(values["at"])
            if values["at"].tzinfo is None:
                raise ValueError("An instant without a zone.")
        values["teeth"] = tuple(int(tooth) for tooth in values.get("teeth") or ())
        depths = values.get("depths") or {}
        values["depths"] = {int(tooth): str(depth) for tooth, depth in depths.items()}
        return cls(**values)


@dataclass(frozen=True)
class Effect:
    """What an answer does.

    Attributes
    ----------
    changes : dict
        Entries of `OrderForm` with what they say from now on.
    bar : bool or None
        Whether the piece gets a bar, where the answer says so: the design's, not the order's.
    concerns : tuple of str
        Stages that take their shape by the changed entries. One of them over: the piece in hand
        was made by the earlier order.
    fact : bool
        True when the change says how things are, not what is wished: it is true whatever was done.
    step, why
        What somebody still has to do, and why.
    """

    changes: dict[str, Any] = field(default_factory=dict)
    bar: bool | None = None
    concerns: tuple[str, ...] = ()
    fact: bool = False
    step: Step = ""
    why: Why = ""


Rule = Callable[[OrderForm, Given, How], Effect]

NOTHING = Effect()
BORDER_STAGES = ("wax", "finish")
POLISH_STAGES = ("polish", "inspect")
ALLERGY_STAGES = ("clasps", "bar", "pack", "self-cure")
ORDER_QUESTIONS = frozenset({0, 1, 2, 3, 4, 6, 7, 14, 15, 20, 21, 22, 25})
"""Questions about entries of the order; 0 is one in own words, mostly about a missing entry."""
DESIGN_QUESTIONS = frozenset({5, 9, 10, 11, 12, 13, 16, 17})
"""Questions about what the technician draws."""


def effect_of(number: int, answer: str, given: Given, order: OrderForm, how: How) -> Effect:
    """Return what an answer does to an order.

    Parameters
    ----------
    number
        The question's number in the laboratory's list; 0 for one in own words.
    answer
        Key of the chosen answer.
    given
        What was entered with it.
    order
        The order as it stands.
    how
        Whether the practice answered itself or said it on the telephone.
    """
    if answer == "ring-me":
        return Effect(step="ring", why="words")
    if (number, answer) in _SETTLED:
        found = NOTHING
    elif (number, answer) in _RULES:
        found = _RULES[number, answer](order, given, how)
    else:
        return Effect(step=_reader(number), why="words")
    unread = given.words.strip() and (number, answer) not in _READS_WORDS
    if unread and not found.step:
        # Somebody wrote more than the answer says: a person reads it.
        return replace(found, step="look", why="words")
    return found


def _reader(number: int) -> Step:
    """Return where the answer to a question is entered when a person has to do it."""
    if number in ORDER_QUESTIONS:
        return "order"
    return "design" if number in DESIGN_QUESTIONS else "look"


def _sets(*concerns: str, **changes: Any) -> Rule:
    """Make the rule of an answer that always means the same entries."""
    return lambda order, given, how: Effect(changes, concerns=concerns)


def _step(step: Step, why: Why = "words") -> Rule:
    return lambda order, given, how: Effect(step=step, why=why)


# --- the impression and the box -------------------------------------------------------------


def _taken(material: str) -> Rule:
    """Make the rule of an impression material.

    Nobody guesses a pour limit: what has none by itself sends somebody to the packet.
    """

    def rule(order: OrderForm, given: Given, how: How) -> Effect:
        if given.at is None:
            return Effect(step="order", why="missing")
        items = tuple(_told(item, given.at, material) for item in order.items)
        found = Effect({"items": items}, concerns=("pour", "pick-up"), fact=True)
        return found if material == "alginate" else replace(found, step="look", why="limit")

    return rule


def _told(item: Item, at: datetime, material: str) -> Item:
    """Return an impression that is here with what was not known of it."""
    if not item.is_impression or item.follows_later:
        return item
    return replace(item, taken_at=item.taken_at or at, material=item.material or material)


def _disinfected(order: OrderForm, given: Given, how: How) -> Effect:
    """Written proof by the practice takes the disinfection out of the work; a voice does not."""
    if how == "telephone":
        return Effect(step="look", why="in-writing")
    if not given.agent.strip() or not given.minutes:
        return Effect(step="order", why="missing")
    known = replace(
        order.disinfection, done="yes", by="practice", agent=given.agent.strip(),
        minutes=given.minutes,
    )  # fmt: skip
    return Effect({"disinfection": known}, fact=True)


def _not_disinfected(done: str) -> Rule:
    def rule(order: OrderForm, given: Given, how: How) -> Effect:
        return Effect({"disinfection": replace(order.disinfection, done=done)}, fact=True)

    return rule


# --- teeth ----------------------------------------------------------------------------------


def _shade(order: OrderForm, given: Given, how: How) -> Effect:
    shade, guide = given.shade.strip(), given.guide.strip()
    if not shade or not guide or max(len(shade), len(guide)) > MOST_SHORT:
        return Effect(step="order", why="missing")
    named = {"shade_how": "named", "shade": shade, "shade_guide": guide}
    return Effect(named, concerns=("teeth",))


def _mould(order: OrderForm, given: Given, how: How) -> Effect:
    mould = given.mould.strip()
    if not mould or len(mould) > MOST_SHORT:
        return Effect(step="order", why="missing")
    return Effect({"mould_how": "named", "mould": mould}, concerns=("teeth",))


def _extracted(order: OrderForm, given: Given, how: How) -> Effect:
    """A tooth is cut off the cast on a written order alone; the depth may be told."""
    ordered = {one.tooth for one in order.extractions}
    if not given.depths:
        return Effect(step="order", why="missing")
    teeth = tuple(Extraction(tooth, depth) for tooth, depth in given.depths.items())
    changes: dict[str, Any] = {"extractions": teeth}
    if how == "practice":
        changes["extraction_order"] = True
    elif ordered != set(given.depths):
        return Effect(step="order", why="in-writing")
    return Effect(changes, concerns=("cast-prep",))


def _none_extracted(order: OrderForm, given: Given, how: How) -> Effect:
    if how == "telephone" and order.extractions:
        return Effect(step="order", why="in-writing")
    return Effect({"extractions": (), "extraction_order": False}, concerns=("cast-prep",))


# --- bite, bar, allergies, days -------------------------------------------------------------


def _record_comes(order: OrderForm, given: Given, how: How) -> Effect:
    """A bite record is expected: it stands among what follows later."""
    if given.day is None:
        return Effect(step="order", why="missing")
    kept = tuple(item for item in order.items if item.kind != "bite" or not item.follows_later)
    comes = Item("bite", follows_later=True, expected_on=given.day)
    return Effect({"bite": "record", "items": (*kept, comes)}, concerns=("mount",))


def _bar(wanted: bool) -> Rule:
    return lambda order, given, how: Effect(bar=wanted, concerns=("bar", "teeth", "wax"))


def _allergy(key: str) -> Rule:
    """A told allergy is told whatever was done; none known never takes one back."""

    def rule(order: OrderForm, given: Given, how: How) -> Effect:
        told = tuple(one for one in order.allergies if one != "none-known")
        changes: dict[str, Any] = {"allergies": (*told, *(() if key in told else (key,)))}
        if key == "other-allergy":
            words = given.words.strip()
            if not words or len(words) > MOST_ALLERGY or order.allergy_words.strip():
                return Effect(step="order", why="words")
            changes["allergy_words"] = words
        return Effect(changes, concerns=ALLERGY_STAGES, fact=True)

    return rule


def _no_allergy(order: OrderForm, given: Given, how: How) -> Effect:
    if set(order.allergies) - {"none-known"}:
        return Effect(step="order", why="conflict")
    return Effect({"allergies": ("none-known",)}, fact=True)


def _try_in(order: OrderForm, given: Given, how: How) -> Effect:
    """A try-in is ordered; for which day it must leave is the desk's to choose."""
    return Effect({"try_in": True}, concerns=("try-in", "wax"), step="promise", why="day")


def _new_day(order: OrderForm, given: Given, how: How) -> Effect:
    """The day moves: the appointment where there is one, else when it is needed.

    What stood for the old day (its hour, an earlier day of need) is not known of the new one.
    """
    if given.day is None:
        return Effect(step="order", why="missing")
    if order.appointment_on is None:
        return Effect({"needed_on": given.day}, fact=True, step="promise", why="day")
    moved = {"appointment_on": given.day, "appointment_time": None, "needed_on": None}
    return Effect(moved, fact=True, step="promise", why="day")


def _confirmed(order: OrderForm, given: Given, how: How) -> Effect:
    """Written by the practice itself it is the confirmation; by voice, the promise of one."""
    if how == "telephone":
        return Effect(step="written", why="in-writing")
    return Effect(step="order", why="words")


_RULES: dict[tuple[int, str], Rule] = {
    (1, "alginate"): _taken("alginate"),
    (1, "long-alginate"): _taken("long-alginate"),
    # Which of the two silicones is not said, and one is poured within the hour.
    (1, "silicone"): _taken(""),
    (1, "other-material"): _taken("other"),
    (2, "yes"): _disinfected,
    (2, "no"): _not_disinfected("no"),
    (2, "not-known"): _not_disinfected("not-known"),
    (3, "shade"): _shade,
    (3, "photograph"): _sets("teeth", shade_how="photograph"),
    (3, "old-piece"): _sets("teeth", shade_how="old-piece"),
    (3, "laboratory"): _sets("teeth", shade_how="laboratory"),
    (4, "laboratory"): _sets("teeth", mould_how="laboratory"),
    (4, "as-before"): _sets("teeth", mould_how="as-before"),
    (4, "name"): _mould,
    (6, "record"): _record_comes,
    (6, "rim"): _sets("mount", bite="rim"),
    (7, "these"): _extracted,
    (7, "none"): _none_extracted,
    (14, "reduced-2mm"): _sets(*BORDER_STAGES, borders="reduced-2mm"),
    (14, "left-full"): _sets(*BORDER_STAGES, borders="left-full"),
    (14, "as-drawn"): _sets(*BORDER_STAGES, borders="as-drawn"),
    (15, "all-outer"): _sets(*POLISH_STAGES, polish="all-outer"),
    (15, "outer-borders-left"): _sets(*POLISH_STAGES, polish="outer-borders-left"),
    (15, "none"): _sets(*POLISH_STAGES, polish="none"),
    (16, "yes"): _bar(wanted=True),
    (16, "no"): _bar(wanted=False),
    (20, "none-known"): _no_allergy,
    (20, "nickel"): _allergy("nickel"),
    (20, "acrylic"): _allergy("acrylic"),
    (20, "other-allergy"): _allergy("other-allergy"),
    (21, "yes"): _try_in,
    (21, "no"): _sets("try-in", "wax", try_in=False),
    (22, "new-day"): _new_day,
    (23, "remake"): _step("remake"),
    (25, "confirm"): _confirmed,
}
"""Question and answer to rule. What is neither here nor settled is read by a person."""

_SETTLED: frozenset[tuple[int, str]] = frozenset(
    {
        # It comes, and the work waits for it by a hold of its own.
        (5, "new-impression"), (11, "ledge"), (12, "reshape"),
        # Go on as it is drawn.
        (9, "yes"), (10, "go-on"), (11, "less-hold"), (12, "accept"),
        # What goes back is read where the box is packed.
        (24, "send-back"), (24, "keep"), (24, "throw-away"),
        (25, "keep"),
    }
)  # fmt: skip
"""Answers after which nothing is to be entered."""

_READS_WORDS: frozenset[tuple[int, str]] = frozenset(
    {(20, "other-allergy"), (24, "send-back"), (24, "keep"), (24, "throw-away")}
)
"""Answers whose words are entered, or read elsewhere."""
