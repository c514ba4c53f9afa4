"""Judging an order as received: what is wrong with it, and what is missing from it.

Errors (a tooth of the other arch, an appointment before today) must be put right before the case
is logged, because they are slips of the desk. Missing things are the practice's: the case is
logged at once, the practice is asked, and the stages that need the answer wait.

This is the door to the order: everything about it can be imported from here.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from cases.domain import order_choices as choices
from cases.domain.calendar import say_day
from cases.domain.impression import BY_KEY as MATERIALS_BY_KEY
from cases.domain.order_form import Disinfection, Extraction, Item, OrderForm
from cases.domain.order_profiles import (
    DEFAULT_PROFILE,
    REQUIRED_PROFILES,
    RequiredProfile,
    required_profile,
)
from cases.domain.order_rules import RULES, Problem, follows_later, told_allergies
from cases.domain.teeth import arch_of, is_primary, is_tooth
from cases.domain.words import N_
from cases.domain.words import gettext as _

__all__ = [
    "DEFAULT_PROFILE",
    "REQUIRED_PROFILES",
    "Disinfection",
    "Extraction",
    "Item",
    "OrderForm",
    "Problem",
    "RequiredProfile",
    "errors",
    "problems",
    "required_profile",
]

# Entries with a list to choose from; an empty entry means "not said".
_CHOSEN: tuple[tuple[str, choices.Choices, str], ...] = (
    ("kind", choices.KINDS, N_("What is ordered")),
    ("arch", choices.ARCHES, N_("The arch")),
    ("remake_start", choices.REMAKE_STARTS, N_("What the remake starts from")),
    ("shade_how", choices.SHADE_HOW, N_("How the shade is chosen")),
    ("mould_how", choices.MOULD_HOW, N_("How the mould is chosen")),
    ("borders", choices.BORDERS, N_("The order for the borders")),
    ("polish", choices.POLISH, N_("The order for the polish")),
    ("bite", choices.BITE, N_("How the bite is found")),
)
_NEVER_EMPTY = frozenset({"kind", "arch"})


def problems(
    order: OrderForm, profile: RequiredProfile, *, now: datetime, today: date
) -> tuple[Problem, ...]:
    """Return everything wrong with an order or missing from it, errors first.

    Parameters
    ----------
    order : OrderForm
    profile : RequiredProfile
        Which entries must be there.
    now : datetime
        Aware instant.
    today : date
        The day on the laboratory's wall at `now`.
    """
    wrong = tuple(errors(order, now=now, today=today))
    if any(problem.field in ("kind", "arch") for problem in wrong):
        return wrong  # what is required depends on these
    asked = [found for name in RULES if name in profile.fields for found in RULES[name](order)]
    return (*wrong, *asked, *follows_later(order), *told_allergies(order))


def errors(order: OrderForm, *, now: datetime, today: date) -> Iterator[Problem]:
    """Yield the slips that must be put right before the case is logged."""
    yield from _choice_errors(order)
    yield from _tooth_errors(order)
    yield from _day_errors(order, today)
    yield from _allergy_errors(order)
    if order.received_at is not None and order.received_at > now:
        yield Problem(
            "received_at", _("The box cannot have come later than now. Correct the time.")
        )
    for place, item in enumerate(order.items):
        yield from _item_errors(f"items.{place}", item, order, now, today)
    yield from _disinfection_errors(order, now)


def first_problems(order: OrderForm, today: date) -> Iterator[Problem]:
    """Yield what is wrong with the teeth and days of an order of which nothing else is known."""
    yield from _tooth_errors(order)
    yield from _day_errors(order, today)


def _choice_errors(order: OrderForm) -> Iterator[Problem]:
    for field, offered, said in _CHOSEN:
        value = getattr(order, field)
        if value not in choices.values(offered) and (value or field in _NEVER_EMPTY):
            yield Problem(
                field,
                _("%(said)s must be one of: %(offered)s. Choose one.")
                % {"said": _(said), "offered": _names(offered)},
            )


def _tooth_errors(order: OrderForm) -> Iterator[Problem]:
    extracted = tuple(extraction.tooth for extraction in order.extractions)
    for field, teeth in (("replaces", order.replaces), ("extractions", extracted)):
        for tooth in sorted(set(teeth), key=str):
            sentence = _tooth_sentence(tooth, order.arch)
            if sentence:
                yield Problem(field, sentence)
            elif field == "replaces" and is_primary(tooth):
                yield Problem(
                    field,
                    _("%(tooth)s is a milk tooth. Give the permanent tooth that is replaced.")
                    % {"tooth": tooth},
                )
        if len(set(teeth)) != len(teeth):
            yield Problem(field, _("A tooth is entered twice. Enter each tooth once."))
    depths = {extraction.depth for extraction in order.extractions} - {""}
    if not depths <= choices.values(choices.EXTRACTION_DEPTHS):
        names = _names(choices.EXTRACTION_DEPTHS)
        yield Problem(
            "extractions",
            _("The depth of a cut must be one of: %(names)s. Choose one.") % {"names": names},
        )


def _tooth_sentence(tooth: int, arch: str) -> str:
    if not is_tooth(tooth):
        return _("%(tooth)s is not the number of a tooth. Correct it.") % {"tooth": tooth}
    if arch in ("upper", "lower") and arch_of(tooth) != arch:
        return _(
            "%(tooth)s is a tooth of the %(own)s arch, and the order is for the "
            "%(arch)s arch. Correct the tooth or the arch."
        ) % {"tooth": tooth, "own": _(arch_of(tooth)), "arch": _(arch)}
    return ""


def _day_errors(order: OrderForm, today: date) -> Iterator[Problem]:
    for field, said, day in (
        ("appointment_on", _("The appointment"), order.appointment_on),
        ("needed_on", _("The day it is needed"), order.needed_on),
    ):
        if day is not None and day < today:
            yield Problem(
                field,
                _("%(said)s, %(day)s, is before today. Correct the date.")
                % {"said": said, "day": say_day(day)},
            )
    if order.ordered_on is not None and order.ordered_on > today:
        yield Problem(
            "ordered_on",
            _("The order is dated %(ordered_on)s, which is still to come. Correct the date.")
            % {"ordered_on": say_day(order.ordered_on)},
        )
    if (
        order.appointment_on is not None
        and order.needed_on is not None
        and order.needed_on > order.appointment_on
    ):
        yield Problem(
            "needed_on",
            _(
                "It is needed on %(needed_on)s, after the appointment on %(appointment_on)s. "
                "Correct one of the two."
            )
            % {
                "needed_on": say_day(order.needed_on),
                "appointment_on": say_day(order.appointment_on),
            },
        )


def _allergy_errors(order: OrderForm) -> Iterator[Problem]:
    told = set(order.allergies)
    if not told <= choices.values(choices.ALLERGIES):
        yield Problem(
            "allergies",
            _("Allergies must be of: %(allergies)s. Choose again.")
            % {"allergies": _names(choices.ALLERGIES)},
        )
    if "none-known" in told and len(told) > 1:
        yield Problem(
            "allergies", _("An allergy and “none known” cannot both be right. Take one out.")
        )
    if "other-allergy" in told and not order.allergy_words.strip():
        yield Problem("allergy_words", _("Write which other allergy was told."))


def _item_errors(
    name: str, item: Item, order: OrderForm, now: datetime, today: date
) -> Iterator[Problem]:
    if item.kind not in choices.values(choices.ITEMS):
        yield Problem(
            f"{name}.kind",
            _("An item must be one of: %(items)s.") % {"items": _names(choices.ITEMS)},
        )
        return
    with_form = item.kind in choices.ITEMS_WITH_FORM
    if with_form and item.form not in choices.values(choices.FORMS):
        yield Problem(
            f"{name}.form",
            _("Say in which form the arch came: %(forms)s.") % {"forms": _names(choices.FORMS)},
        )
    if not with_form and item.form:
        yield Problem(
            f"{name}.form", _("Only an arch comes as impression, cast or scan. Clear it.")
        )
    if item.kind == "working" and order.arch == "both" and item.arch not in ("upper", "lower"):
        yield Problem(f"{name}.arch", _("The order is for a pair. Say which arch this one shows."))
    if item.tray and item.tray not in choices.values(choices.TRAYS):
        yield Problem(
            f"{name}.tray",
            _("The tray must be one of: %(trays)s.") % {"trays": _names(choices.TRAYS)},
        )
    if item.material and item.material not in MATERIALS_BY_KEY:
        yield Problem(f"{name}.material", _("The material is not in the list. Choose one of it."))
    if item.pour_limit_minutes is not None and item.pour_limit_minutes <= 0:
        yield Problem(
            f"{name}.pour_limit_minutes",
            _("The pour limit must be at least one minute. Correct it."),
        )
    if item.expected_on is not None and item.expected_on < today:
        yield Problem(
            f"{name}.expected_on",
            _("It cannot be expected on %(expected_on)s: that is past. Correct the date.")
            % {"expected_on": say_day(item.expected_on)},
        )
    yield from _taken_errors(name, item, order, now)


def _taken_errors(name: str, item: Item, order: OrderForm, now: datetime) -> Iterator[Problem]:
    if item.taken_at is None:
        return
    if order.received_at is not None and item.taken_at > order.received_at:
        yield Problem(
            f"{name}.taken_at",
            _(
                "The impression cannot have been taken after it was received. Correct one of "
                "the two "
                "times."
            ),
        )
    elif item.taken_at > now:
        yield Problem(
            f"{name}.taken_at",
            _("The impression cannot have been taken later than now. Correct the time."),
        )


def _disinfection_errors(order: OrderForm, now: datetime) -> Iterator[Problem]:
    known = order.disinfection
    if known.done not in choices.values(choices.DISINFECTED):
        names = _names(choices.DISINFECTED)
        yield Problem(
            "disinfection.done",
            _("Whether it was disinfected must be one of: %(names)s.") % {"names": names},
        )
    if known.by and known.by not in choices.values(choices.DISINFECTED_BY):
        names = _names(choices.DISINFECTED_BY)
        yield Problem(
            "disinfection.by", _("Who disinfected must be one of: %(names)s.") % {"names": names}
        )
    if known.minutes is not None and known.minutes <= 0:
        yield Problem(
            "disinfection.minutes", _("The contact time must be at least one minute. Correct it.")
        )
    if known.at is None:
        return
    if known.at > now:
        yield Problem(
            "disinfection.at",
            _("It cannot have been disinfected later than now. Correct the time."),
        )
    if any(item.taken_at is not None and known.at < item.taken_at for item in order.items):
        yield Problem(
            "disinfection.at",
            _(
                "It cannot have been disinfected before the impression was taken. Correct one "
                "of the "
                "two times."
            ),
        )


def _names(offered: choices.Choices) -> str:
    return ", ".join(_(said) for value, said in offered)
