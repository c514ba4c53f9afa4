"""What came in the box: one row of entries a thing, named ``<slot>_<entry>`` in the form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any, cast

from django import forms
from django.forms.utils import from_current_timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain import order_choices
from cases.domain.impression import MATERIALS
from cases.domain.order_form import Item
from cases.domain.order_rules import KEPT_STARTS

MOST_POUR_LIMIT = 60 * 24 * 60  # minutes; sixty days is longer than any product keeps. Judgement.


def translated(choices: order_choices.Choices) -> list[tuple[str, Promise]]:
    """Return choices of the trade with their words in the reader's language."""
    return [(value, gettext_lazy(words)) for value, words in choices]


@dataclass(frozen=True)
class Slot:
    """A row of the box: ``kind`` of `order_choices.ITEMS`; ``pair_only`` for the second arch."""

    key: str
    kind: str
    words: Promise
    pair_only: bool = False

    @property
    def with_form(self) -> bool:
        """Whether it can come as impression, cast or scan."""
        return self.kind in order_choices.ITEMS_WITH_FORM

    @property
    def came_choices(self) -> list[tuple[str, Promise]]:
        """Return where the thing can be."""
        return [
            ("", gettext_lazy("Not spoken of")),
            ("here", gettext_lazy("In the box")),
            ("later", gettext_lazy("Follows later")),
        ]


SLOTS = (
    Slot("working", "working", gettext_lazy("Arch to work on")),
    Slot("second", "working", gettext_lazy("Lower arch of the pair"), pair_only=True),
    Slot("opposing", "opposing", gettext_lazy("Opposing arch")),
    Slot("bite", "bite", gettext_lazy("Bite record")),
    Slot("tab", "shade-tab", gettext_lazy("Shade tab")),
    Slot("tray", "tray", gettext_lazy("Tray of the practice")),
    Slot("piece", "old-piece", gettext_lazy("Old piece")),
)

ARCH_KINDS = frozenset({"working", "opposing", "bite"})
"""What an adjustment, or a remake from what the laboratory kept, has nothing to do with."""
ENTRY_OF = {
    "kind": "came",
    "form": "form",
    "arch": "came",
    "follows_later": "came",
    "expected_on": "expected_on",
    "material": "material",
    "pour_limit_minutes": "pour_limit",
    "taken_at": "taken_time",
    "tray": "tray",
}
"""Entry of a row for each attribute of ``Item``: where its problem is shown."""


def day_field(label: Any, **options: Any) -> forms.DateField:
    """Return a day that may be left out, with the browser's own calendar."""
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=False, widget=widget, **options)


def time_field(label: Any, **options: Any) -> forms.TimeField:
    """Return a time of day that may be left out."""
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, required=False, widget=widget, **options)


def _choice(label: Any, choices: order_choices.Choices, *, first: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, required=False, choices=[("", first), *translated(choices)]
    )


def _impression_fields(slot: Slot) -> dict[str, forms.Field]:
    materials = tuple((material.key, material.words) for material in MATERIALS)
    fields: dict[str, forms.Field] = {
        "form": forms.ChoiceField(
            label=gettext_lazy("Came as"),
            required=False,
            choices=translated(order_choices.FORMS),
            widget=forms.RadioSelect,
            initial="impression",
        ),
        "material": _choice(
            gettext_lazy("Impression material"),
            materials,
            first=gettext_lazy("Not known"),
        ),
        "pour_limit": forms.IntegerField(
            label=gettext_lazy("Maker's pour limit in minutes"),
            required=False,
            min_value=1,
            max_value=MOST_POUR_LIMIT,
            help_text=gettext_lazy("From the packet; it beats the usual limit of the material."),
        ),
        "taken_on": day_field(gettext_lazy("Taken on")),
        "taken_time": time_field(gettext_lazy("Taken at")),
        "tray": _choice(
            gettext_lazy("In which tray"),
            order_choices.TRAYS,
            first=gettext_lazy("Not known"),
        ),
    }
    if slot.key != "working":
        fields["same"] = forms.BooleanField(
            label=gettext_lazy("Same material, time and tray as the arch to work on"),
            required=False,
        )
    return fields


def box_fields() -> dict[str, forms.Field]:
    """Return the fields of every row, by name."""
    fields: dict[str, forms.Field] = {}
    for slot in SLOTS:
        fields[f"{slot.key}_came"] = forms.ChoiceField(
            label=cast(Any, slot.words),
            required=False,
            choices=slot.came_choices,
            widget=forms.RadioSelect,
            initial="here" if slot.key == "working" else "",
        )
        fields[f"{slot.key}_expected_on"] = day_field(gettext_lazy("Expected on"))
        if slot.with_form:
            for entry, made in _impression_fields(slot).items():
                fields[f"{slot.key}_{entry}"] = made
    return fields


def instant(day: date | None, clock: time | None) -> datetime | None:
    """Return the instant of a day and time on the lab's wall; None without a time.

    Raises
    ------
    forms.ValidationError
        A time without a day, or one that the wall never shows (the night the clocks change).
    """
    if clock is None:
        return None
    if day is None:
        raise forms.ValidationError(_("Give the day as well."))
    return from_current_timezone(datetime.combine(day, clock))


def clean_instants(form: forms.Form) -> None:
    """Put ``<slot>_taken_at`` into the cleaned entries of a bound form."""
    for slot in SLOTS:
        if not slot.with_form:
            continue
        day = form.cleaned_data.get(f"{slot.key}_taken_on")
        clock = form.cleaned_data.get(f"{slot.key}_taken_time")
        try:
            form.cleaned_data[f"{slot.key}_taken_at"] = instant(day, clock)
        except forms.ValidationError as error:
            form.add_error(f"{slot.key}_taken_time", error)


def read_items(cleaned: Mapping[str, Any], arch: str) -> list[tuple[str, Item]]:
    """Return what is spoken of, each with the slot it was entered in.

    Parameters
    ----------
    cleaned
        Cleaned entries of a form; what could not be read is missing from it.
    arch
        ``upper``, ``lower`` or ``both``: only a pair has a second arch to work on.
    """
    found: list[tuple[str, Item]] = []
    first: Item | None = None
    without_arch = needs_no_arch(cleaned)
    for slot in SLOTS:
        came = cleaned.get(f"{slot.key}_came", "")
        if not came or (slot.pair_only and arch != "both"):
            continue
        if without_arch and slot.kind in ARCH_KINDS:
            continue
        item = Item(slot.kind, follows_later=came == "later")
        if slot.with_form:
            item = _detailed(slot, item, cleaned, first)
        if slot.kind == "working" and arch == "both":
            item = replace(item, arch="lower" if slot.pair_only else "upper")
        if item.follows_later:
            item = replace(item, expected_on=cleaned.get(f"{slot.key}_expected_on"))
        if slot.key == "working":
            first = item
        found.append((slot.key, item))
    return found


def needs_no_arch(cleaned: Mapping[str, Any]) -> bool:
    """Tell whether the order is worked without any impression: its rows are not on the page."""
    if cleaned.get("kind") == "remake":
        return cleaned.get("remake_start") in KEPT_STARTS
    return cleaned.get("kind") == "adjustment"


def _detailed(slot: Slot, item: Item, cleaned: Mapping[str, Any], first: Item | None) -> Item:
    form = cleaned.get(f"{slot.key}_form") or "impression"
    item = replace(item, form=form)
    if form != "impression" or item.follows_later:
        return item
    if cleaned.get(f"{slot.key}_same") and first is not None:
        return replace(
            item,
            material=first.material,
            pour_limit_minutes=first.pour_limit_minutes,
            taken_at=first.taken_at,
            tray=first.tray,
        )
    return replace(
        item,
        material=cleaned.get(f"{slot.key}_material", ""),
        pour_limit_minutes=cleaned.get(f"{slot.key}_pour_limit"),
        taken_at=cleaned.get(f"{slot.key}_taken_at"),
        tray=cleaned.get(f"{slot.key}_tray", ""),
    )
