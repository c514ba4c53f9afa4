"""An order in words, entry by entry, as it stands and as it was received."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain import order_choices as choices
from cases.domain.order import OrderForm
from cases.domain.teeth import from_fdi

FIELD_WORDS: dict[str, str] = {
    "description": gettext_noop("what is ordered"),
    "replaces": gettext_noop("teeth to replace"),
    "extractions": gettext_noop("taken out at delivery"),
    "extraction_order": gettext_noop("written order for the extractions"),
    "shade": gettext_noop("shade"),
    "shade_how": gettext_noop("how the shade is chosen"),
    "shade_guide": gettext_noop("shade guide"),
    "mould": gettext_noop("mould"),
    "mould_how": gettext_noop("how the mould is chosen"),
    "materials": gettext_noop("materials"),
    "borders": gettext_noop("borders"),
    "polish": gettext_noop("polish"),
    "bite": gettext_noop("bite"),
    "try_in": gettext_noop("try-in"),
    "allergies": gettext_noop("allergies"),
    "allergy_words": gettext_noop("other allergy"),
    "ordered_on": gettext_noop("date of the order"),
    "appointment_on": gettext_noop("appointment"),
    "appointment_time": gettext_noop("hour of the appointment"),
    "needed_on": gettext_noop("needed at the practice by"),
    "rush": gettext_noop("rush"),
    "disinfection": gettext_noop("disinfection"),
    "signed": gettext_noop("signature"),
    "licence_given": gettext_noop("licence number"),
    "patient_ref": gettext_noop("patient reference"),
    "items": gettext_noop("what came in the box"),
    "bar": gettext_noop("bar"),
}
"""Names of entries as the middle of a sentence."""


@dataclass(frozen=True)
class Row:
    """An entry: its label, what it says now, and what was received where that differs."""

    label: str
    now: str
    received: str = ""


def say_teeth(teeth: object, notation: str) -> str:
    """Return FDI numbers in the lab's notation."""
    return ", ".join(from_fdi(tooth, notation) for tooth in teeth)  # type: ignore[attr-defined]


def chosen(offered: choices.Choices, value: str) -> str:
    """Return the words of a choice in the active language; empty for what was not said."""
    return _(dict(offered).get(value, value)) if value else ""


def say_day(day: date | None) -> str:
    """Return a day as people say it."""
    return date_format(day, "l j F") if day else ""


def _shade(order: OrderForm) -> str:
    how = chosen(choices.SHADE_HOW, order.shade_how)
    return ": ".join(
        part for part in (how, " ".join((order.shade, order.shade_guide)).strip()) if part
    )


def _mould(order: OrderForm) -> str:
    how = chosen(choices.MOULD_HOW, order.mould_how)
    return ": ".join(part for part in (how, order.mould) if part)


def _try_in(order: OrderForm) -> str:
    return {None: "", True: _("Yes"), False: _("Straight to finish")}[order.try_in]


def _allergies(order: OrderForm) -> str:
    named = [chosen(choices.ALLERGIES, key) for key in order.allergies]
    return ", ".join([*named, order.allergy_words] if order.allergy_words else named)


def _appointment(order: OrderForm) -> str:
    at: time | None = order.appointment_time
    said = say_day(order.appointment_on)
    return f"{said}, {at:%H:%M}" if said and at else said


def _disinfection(order: OrderForm) -> str:
    known = order.disinfection
    said = chosen(choices.DISINFECTED, known.done)
    by = chosen(choices.DISINFECTED_BY, known.by)
    minutes = _("%(n)s minutes") % {"n": known.minutes} if known.minutes else ""
    return ", ".join(part for part in (said, by, known.agent, minutes) if part)


def _bears(order: OrderForm) -> str:
    signed = _("signed") if order.signed else _("not signed")
    licence = _("licence number given") if order.licence_given else _("no licence number")
    return f"{signed}, {licence}"


def _extractions(notation: str) -> Callable[[OrderForm], str]:
    def say(order: OrderForm) -> str:
        parts = []
        for one in order.extractions:
            depth = chosen(choices.EXTRACTION_DEPTHS, one.depth)
            tooth = from_fdi(one.tooth, notation)
            parts.append(f"{tooth} ({depth.lower()})" if depth else tooth)
        if parts and not order.extraction_order:
            parts.append(_("no written order yet"))
        return ", ".join(parts)

    return say


def order_rows(order: OrderForm, received: OrderForm, notation: str) -> list[Row]:
    """Return the entries of an order that say something, now or as received.

    Parameters
    ----------
    order, received
        As it stands and as it came, both of one arch.
    notation
        The reader's tooth numbering.
    """
    says: list[tuple[str, Callable[[OrderForm], str]]] = [
        (_("Ordered"), lambda one: chosen(choices.KINDS, one.kind)),
        (_("In words"), lambda one: one.description),
        (_("Starts from"), lambda one: chosen(choices.REMAKE_STARTS, one.remake_start)),
        (_("Teeth to replace"), lambda one: say_teeth(one.replaces, notation)),
        (_("Taken out at delivery"), _extractions(notation)),
        (_("Shade"), _shade),
        (_("Mould"), _mould),
        (_("Materials"), lambda one: one.materials),
        (_("Borders"), lambda one: chosen(choices.BORDERS, one.borders)),
        (_("Edges and flash"), lambda one: _("Always taken off")),
        (_("Polish"), lambda one: chosen(choices.POLISH, one.polish)),
        (_("Bite"), lambda one: chosen(choices.BITE, one.bite)),
        (_("Try-in"), _try_in),
        (_("Allergies told"), _allergies),
        (_("Appointment"), _appointment),
        (_("Needed at the practice by"), lambda one: say_day(one.needed_on)),
        (_("Disinfected"), _disinfection),
        (_("Dated"), lambda one: say_day(one.ordered_on)),
        (_("Rush"), lambda one: _("Yes") if one.rush else ""),
        (_("The prescription is"), _bears),
    ]
    rows = []
    for label, say in says:
        now, then = say(order), say(received)
        if now or then:
            was = (then or _("nothing was said")) if then != now else ""
            rows.append(Row(label, now or _("nothing is said"), was))
    return rows
