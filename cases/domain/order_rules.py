"""What an order can lack, rule by rule, and what then waits.

A thing that is missing never keeps a case out of the house: it is logged, the practice is asked,
and only the stages that need the answer wait. An impression is poured even when the papers are
not in order, because it cannot wait.

Each rule is a function of the order; `RULES` names them for the profiles. All rules: common
practice, no published source, unless a profile names one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from cases.domain.calendar import say_day
from cases.domain.impression import ALGINATES, pour_limit_minutes
from cases.domain.order_choices import FORMS, ITEM_STAGES, ITEMS, values, words
from cases.domain.order_form import Item, OrderForm
from cases.domain.order_problem import Problem as Problem
from cases.domain.order_problem import missing
from cases.domain.words import N_
from cases.domain.words import gettext as _

# Stages at which the piece takes its shape: they wait while the order itself is in doubt.
SHAPING: tuple[str, ...] = ("look", "survey", "clasps", "teeth", "key", "finish")
# Stages that need the broken or tight piece itself in hand.
NEED_THE_PIECE: tuple[str, ...] = ("look", "pick-up", "finish")

NEW_PIECE = frozenset({"new", "remake"})
ON_A_PIECE = frozenset({"adjustment", "repair", "addition"})
WITH_TEETH = frozenset({"new", "remake", "addition"})
# A remake from what the laboratory kept needs nothing in the box.
KEPT_STARTS = frozenset({"kept-master", "kept-wax-index"})


Rule = Callable[[OrderForm], Iterator[Problem]]


def _arches(order: OrderForm) -> tuple[str, ...]:
    return ("upper", "lower") if order.arch == "both" else (order.arch,)


def _numbered(order: OrderForm) -> Iterator[tuple[str, Item]]:
    """Yield every item with the name its entries have in a form."""
    for place, item in enumerate(order.items):
        yield f"items.{place}", item


def _working(order: OrderForm) -> Iterator[Problem]:
    if order.kind == "adjustment" or order.remake_start in KEPT_STARTS:
        return
    for arch in _arches(order):
        if not order.found("working", arch=arch):
            yield missing(
                "items",
                _(
                    "No impression, cast or scan of the %(arch)s arch came. Ask the practice when "
                    "it comes."
                )
                % {"arch": _(arch)},
                asks=_("When does the impression, cast or scan of the %(arch)s arch come?")
                % {"arch": _(arch)},
                stops=ITEM_STAGES["working"],
                reason="record-or-cast",
            )


def _piece(order: OrderForm) -> Iterator[Problem]:
    if order.kind in ON_A_PIECE and not order.found("old-piece"):
        yield missing(
            "items",
            _("The piece itself is not in the box. Ask the practice when it comes."),
            asks=_("When does the piece itself come?"),
            stops=NEED_THE_PIECE,
            reason="record-or-cast",
        )


def _taken(order: OrderForm) -> Iterator[Problem]:
    for name, item in _numbered(order):
        if not item.is_impression or item.follows_later:
            continue
        if item.taken_at is None or not item.material:
            field = "taken_at" if item.taken_at is None else "material"
            yield missing(
                f"{name}.{field}",
                _(
                    "When the impression was taken, or with what, is not known. Ask the "
                    "practice at "
                    "once: it loses its shape while it waits."
                ),
                question=1,
                stops=("pour", "pick-up"),
            )
        elif pour_limit_minutes(item.material, item.pour_limit_minutes) is None:
            yield missing(
                f"{name}.pour_limit_minutes",
                _(
                    "The maker's pour limit of this material is not entered. Enter it from the "
                    "packet, or pour at once."
                ),
            )


def _disinfection(order: OrderForm) -> Iterator[Problem]:
    here = any(not item.follows_later and item.form != "scan" for item in order.items)
    known = order.disinfection.proven or order.disinfection.done == "no"
    if here and not known:
        yield missing(
            "disinfection",
            _(
                "Whether the box was disinfected, by whom, with what and how long is not known. "
                "Treat it as contaminated; the laboratory disinfects."
            ),
            question=2,
            reason="disinfection-unknown",
        )


def _replaces(order: OrderForm) -> Iterator[Problem]:
    if order.kind not in WITH_TEETH:
        return
    given = {("upper" if tooth // 10 in (1, 2) else "lower") for tooth in order.replaces}
    for arch in _arches(order):
        if arch not in given:
            yield missing(
                "replaces",
                _("Which %(arch)s teeth to replace is not said. Ask the practice.")
                % {"arch": _(arch)},
                asks=_("Which %(arch)s teeth shall be replaced?") % {"arch": _(arch)},
                stops=SHAPING,
            )


def _extractions(order: OrderForm) -> Iterator[Problem]:
    if not order.extractions:
        return
    if not order.extraction_order:
        yield missing(
            "extraction_order",
            _(
                "Teeth are to be taken out at delivery, and no written order for it is there. No "
                "tooth is cut off the cast without one: ask the dentist."
            ),
            question=7,
            stops=("cast-prep",),
            reason="signature",
        )
    elif any(not extraction.depth for extraction in order.extractions):
        yield missing(
            "extractions",
            _("How deep the cast is cut at a tooth to be taken out is not said. Ask the dentist."),
            question=7,
            stops=("cast-prep",),
        )


def _shade(order: OrderForm) -> Iterator[Problem]:
    named = bool(order.shade.strip() and order.shade_guide.strip())
    chosen = order.shade_how not in ("", "named")
    if order.kind in WITH_TEETH and not (named or chosen):
        yield missing(
            "shade",
            _("The shade, or the guide it is meant by, is not said. Ask the practice."),
            question=3,
            stops=("teeth",),
        )


def _mould(order: OrderForm) -> Iterator[Problem]:
    named = bool(order.mould.strip()) or order.mould_how not in ("", "named")
    if order.kind in WITH_TEETH and not named:
        yield missing(
            "mould",
            _("The mould of the teeth is not said. Ask the dentist."),
            question=4,
            stops=("teeth",),
        )


def _bite(order: OrderForm) -> Iterator[Problem]:
    if order.kind not in NEW_PIECE:
        return
    fact = ""
    if not order.bite:
        fact = _("How the bite is found is not said.")
    elif order.bite == "record" and not order.found("bite"):
        fact = _("A bite record is spoken of, and none came.")
    elif order.bite == "by-hand" and order.arch != "both" and not order.found("opposing"):
        fact = _("No opposing arch came, so the bite can't be found by hand.")
    if fact:
        yield missing(
            "bite", _("%(fact)s Ask the dentist.") % {"fact": fact}, question=6, stops=("mount",)
        )


def _borders(order: OrderForm) -> Iterator[Problem]:
    if order.kind not in NEW_PIECE or order.borders:
        return
    loose = any(
        item.is_impression and item.material in ("", *ALGINATES)
        for item in order.found("working")
        if item.tray != "special"
    )
    if loose:
        yield missing(
            "borders",
            _(
                "Who reduces the borders is not said, and alginate in a stock tray pushes the fold "
                "out. Ask the dentist; without an answer they stay at full depth."
            ),
            question=14,
            stops=("wax",),
        )


def _polish(order: OrderForm) -> Iterator[Problem]:
    if order.kind != "adjustment" and not order.polish:
        yield missing(
            "polish",
            _("How far to polish is not said. Ask the dentist."),
            question=15,
            stops=("finish",),
        )


def _day(order: OrderForm) -> Iterator[Problem]:
    if order.appointment_on is None and order.needed_on is None:
        yield missing(
            "appointment_on",
            _("Neither an appointment nor a day when it is needed is given. Ask the practice."),
            asks=_("When is the appointment, and by when do you need the piece?"),
        )


def _task(order: OrderForm) -> Iterator[Problem]:
    if order.kind in ("adjustment", "repair") and not order.description.strip():
        yield missing(
            "description",
            _("What is to be done on the piece is not said. Ask the dentist."),
            asks=_("What shall be done on the piece?"),
            stops=SHAPING,
        )


def _remake_start(order: OrderForm) -> Iterator[Problem]:
    if order.kind == "remake" and not order.remake_start:
        yield missing(
            "remake_start",
            _(
                "What the remake starts from is not said: a new impression, the kept master "
                "cast or "
                "the kept wax index. Choose one with the dentist."
            ),
            asks=_(
                "Shall it be made again from a new impression, from the kept master cast or from "
                "the kept wax index?"
            ),
            stops=("trim", *SHAPING),
        )


def _description(order: OrderForm) -> Iterator[Problem]:
    if not order.description.strip() and not order.replaces:
        yield missing(
            "description",
            _("The order does not describe the work. Ask the practice for it in writing."),
            asks=_("Please describe the work in writing."),
            stops=SHAPING,
            reason="signature",
        )


def _materials(order: OrderForm) -> Iterator[Problem]:
    if not order.materials.strip():
        yield missing(
            "materials",
            _("The order does not name the materials. Ask the practice for them in writing."),
            asks=_("Which materials do you order? Please say it in writing."),
            stops=SHAPING,
            reason="signature",
        )


def _allergies(order: OrderForm) -> Iterator[Problem]:
    if not order.allergies:
        yield missing(
            "allergies",
            _("Nothing is said about allergies. Ask the dentist."),
            question=20,
            stops=("clasps", "pack", "self-cure"),
        )


def _try_in(order: OrderForm) -> Iterator[Problem]:
    if order.kind in NEW_PIECE and order.try_in is None:
        yield missing(
            "try_in",
            _("Whether a try-in is wanted is not said. Ask the practice."),
            question=21,
            stops=("try-in", "wax"),
        )


def _paper(field: str, sentence: str, asks: str) -> Rule:
    """Make the rule of something the prescription must bear."""

    def rule(order: OrderForm) -> Iterator[Problem]:
        if not getattr(order, field):
            yield missing(field, _(sentence), stops=SHAPING, reason="signature", asks=_(asks))

    return rule


RULES: dict[str, Rule] = {
    "working": _working,
    "piece": _piece,
    "taken": _taken,
    "disinfection": _disinfection,
    "replaces": _replaces,
    "extractions": _extractions,
    "shade": _shade,
    "mould": _mould,
    "bite": _bite,
    "borders": _borders,
    "polish": _polish,
    "day": _day,
    "task": _task,
    "remake_start": _remake_start,
    "description": _description,
    "materials": _materials,
    "allergies": _allergies,
    "try_in": _try_in,
    "ordered_on": _paper(
        "ordered_on",
        N_("The order bears no date. Ask the practice for a dated one."),
        N_("The order bears no date. Please send a dated one."),
    ),
    "dentist_named": _paper(
        "dentist_named",
        N_("The order names no dentist. Ask the practice who ordered it."),
        N_("Which dentist ordered it?"),
    ),
    "signed": _paper(
        "signed",
        N_("The order is not signed. Ask for a signed one; the impression is poured meanwhile."),
        N_("The order is not signed. Please send a signed one."),
    ),
    "licence_given": _paper(
        "licence_given",
        N_("The dentist's licence number is missing. Ask the practice for it."),
        N_("What is the dentist's licence number?"),
    ),
}


def follows_later(order: OrderForm) -> Iterator[Problem]:
    """Yield what follows later, with the stages that need it. Nothing to ask: it is promised."""
    for name, item in _numbered(order):
        if not item.follows_later or item.kind not in values(ITEMS):
            continue
        piece = item.kind == "old-piece" and order.kind in ON_A_PIECE
        said = words(ITEMS, item.kind)
        if item.form in values(FORMS):
            said = _("%(said)s (%(form)s)") % {
                "said": said,
                "form": words(FORMS, item.form).lower(),
            }
        if item.expected_on:
            fact = _("%(said)s follows later on %(day)s. Only the stages that need it wait.") % {
                "said": said,
                "day": say_day(item.expected_on),
            }
        else:
            fact = _("%(said)s follows later. Only the stages that need it wait.") % {"said": said}
        yield missing(
            f"{name}.follows_later",
            fact,
            stops=NEED_THE_PIECE if piece else ITEM_STAGES[item.kind],
            reason="record-or-cast",
        )


def told_allergies(order: OrderForm) -> Iterator[Problem]:
    """Yield what a told allergy stops. The practice decides, never the laboratory."""
    if "acrylic" in order.allergies:
        yield missing(
            "allergies",
            _(
                "An allergy to acrylic is told. Ask the dentist whether this piece may be made "
                "of it."
            ),
            asks=_("An allergy to acrylic was told. May this piece be made of acrylic?"),
            stops=(*SHAPING, "pack", "self-cure"),
        )
    if "nickel" in order.allergies:
        yield missing(
            "allergies",
            _(
                "An allergy to nickel is told, and stainless wire holds nickel. Ask the dentist "
                "which alloy to use."
            ),
            asks=_(
                "An allergy to nickel was told, and stainless wire holds nickel. Which alloy "
                "shall we use?"
            ),
            stops=("clasps", "bar"),
        )
