"""The entries of the strengthener and of the acrylic: bar, pads, relief, bite, room for teeth."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from cases.domain.design import Bar, Design, Room, Section
from cases.domain.subjects import free_ends
from cases.domain.teeth import from_fdi
from cases.forms.design.clasps import (
    SECTIONS,
    SYSTEMS,
    as_written,
    by_gauge,
    gauge_alone,
    read_wire,
)
from cases.forms.design.entries import MillimetreField, millimetres, number

COVERAGE: dict[str, tuple[tuple[str, str], ...]] = {
    "lower": (
        ("", gettext_noop("Not said")),
        ("whole", gettext_noop("As a whole")),
        ("front-half", gettext_noop("At least its front half")),
        ("as-cast", gettext_noop("As far as the cast shows it")),
    ),
    "upper": (
        ("", gettext_noop("Not said")),
        ("to-the-notch", gettext_noop("To the notch behind it")),
        ("as-cast", gettext_noop("As far as the cast shows it")),
    ),
}
AREAS: dict[str, str] = {
    "right pad": gettext_noop("right pad"),
    "left pad": gettext_noop("left pad"),
    "right tuberosity": gettext_noop("right tuberosity"),
    "left tuberosity": gettext_noop("left tuberosity"),
}
RELIEFS = (
    ("torus", gettext_lazy("A torus")),
    ("frena", gettext_lazy("Frena")),
    ("palate-suture", gettext_lazy("The suture of the palate")),
    ("incisive-papilla", gettext_lazy("The papilla behind the upper incisors")),
    ("sharp-ridge", gettext_lazy("A sharp ridge")),
)
OCCLUSIONS = (
    ("crossbite", gettext_lazy("Set in crossbite")),
    ("ground-in", gettext_lazy("Ground in")),
    ("as-the-old-piece", gettext_lazy("As the old piece")),
)
BAR_AND_PLATE = (
    "bar_section", "bar_size", "bar_system", "bar_relief", "bar_cover", "bar_held",
    "bar_in_grinding", "plate_height", "plate_thick",
)  # fmt: skip
"""Entries of the bar and the plate it lies in, that stand together."""
SLOPES = (("right", gettext_lazy("On the right")), ("left", gettext_lazy("On the left")))


def area_name(area: str) -> str:
    """Return the name of the entry of a pad or tuberosity."""
    return f"cover_{area.replace(' ', '_')}"


def add_bar(form: forms.Form) -> None:
    """Add the entries of the bar."""
    form.fields["bar_section"] = forms.ChoiceField(
        label=_("Section of the bar"), choices=SECTIONS[::-1], required=False
    )
    form.fields["bar_size"] = forms.CharField(
        label=_("Size of the bar"), required=False, max_length=20
    )
    form.fields["bar_system"] = forms.ChoiceField(
        label=_("The bar is measured in"), choices=SYSTEMS, required=False
    )
    form.fields["plate_height"] = millimetres(_("Height of the plate"), 3, 30)
    form.fields["plate_thick"] = millimetres(_("Thickness of the plate"), 1, 8)
    form.fields["bar_relief"] = millimetres(_("Bar off the cast"), 0, 5)
    form.fields["bar_cover"] = millimetres(_("Acrylic all round the bar"), 0, 6)
    form.fields["bar_held"] = forms.CharField(
        label=_("How the bar is held while packing"), required=False, max_length=80
    )
    form.fields["bar_reason"] = forms.CharField(
        label=_("Why there is a bar, or none"), required=False, max_length=120
    )
    form.fields["bar_in_grinding"] = forms.BooleanField(
        label=_("The bar lies where the dentist may grind"), required=False
    )


def add_acrylic(form: forms.Form, design: Design, notation: str) -> None:
    """Add the entries of the acrylic: pads of the free ends, relief, bite, room for each tooth."""
    for area in free_ends(design):
        form.fields[area_name(area)] = forms.ChoiceField(
            label=_("Covered: %(area)s") % {"area": _(AREAS[area])},
            choices=[(key, _(words)) for key, words in COVERAGE[design.arch]],
            required=False,
        )
    form.fields["relieved"] = forms.MultipleChoiceField(
        label=_("Relieved beside the gum lines"), choices=RELIEFS, required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    form.fields["occlusion"] = forms.MultipleChoiceField(
        label=_("The bite"), choices=OCCLUSIONS, required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    form.fields["crest_angle"] = MillimetreField(
        label=_("Smallest angle of the ridge lines to the bite plane, degrees"),
        required=False, min_value=30, max_value=120,
    )  # fmt: skip
    if design.arch == "lower":
        form.fields["on_slope"] = forms.MultipleChoiceField(
            label=_("The last denture tooth would stand where the ridge climbs to the pad"),
            choices=SLOPES, required=False, widget=forms.CheckboxSelectMultiple,
        )  # fmt: skip
    for tooth in design.replaced:
        said = {"tooth": from_fdi(tooth, notation)}
        form.fields[f"gap_{tooth}"] = millimetres(
            _("Room between neighbours at %(tooth)s") % said, 0, 20
        )
        form.fields[f"mould_{tooth}"] = millimetres(
            _("Width of the mould at %(tooth)s") % said, 3, 15
        )
        form.fields[f"tall_{tooth}"] = millimetres(
            _("Height above the ridge at %(tooth)s") % said, 0, 20
        )


def check_bar(form: forms.Form) -> None:
    """Refuse, beside its field, a bar whose size cannot be read."""
    data = form.cleaned_data
    written = data.get("bar_size", ""), data.get("bar_system", "")
    if gauge_alone(*written):
        return
    try:
        read_wire(*written)
    except ValueError as error:
        form.add_error("bar_size", str(error))


def initial_of(design: Design) -> dict[str, Any]:
    """Return bar and acrylic of a design as their entries show them."""
    bar = design.strengthener or Bar()
    size, system = as_written(bar.size_mm, bar.gauge, bar.gauge_system)
    shown: dict[str, Any] = {
        "bar_section": bar.section,
        "bar_size": size,
        "bar_system": system,
        "plate_height": number(design.plate_height_mm),
        "plate_thick": number(design.plate_thickness_mm),
        "bar_relief": number(bar.relief_mm),
        "bar_cover": number(bar.cover_mm),
        "bar_held": bar.held,
        "bar_reason": bar.reason,
        "bar_in_grinding": bar.in_grinding,
        "relieved": sorted(design.relieved),
        "occlusion": sorted(design.occlusion),
        "crest_angle": number(design.crest_angle_deg),
        "on_slope": sorted(design.on_slope),
    }
    shown |= {area_name(area): how for area, how in design.covered}
    for room in design.rooms:
        shown |= {
            f"gap_{room.tooth}": number(room.width_mm),
            f"mould_{room.tooth}": number(room.mould_mm),
            f"tall_{room.tooth}": number(room.height_mm),
        }
    return shown


def bar_of(data: Mapping[str, Any]) -> Bar | None:
    """Return what valid entries say of the bar, or None where they say nothing."""
    written = data.get("bar_size") or "", data.get("bar_system") or ""
    alone = gauge_alone(*written)
    wire = None if alone else read_wire(*written)
    bar = Bar(
        section=cast(Section, data.get("bar_section") or "half_round"),
        size_mm=round(wire.mm, 4) if wire else None,
        gauge=wire.gauge if by_gauge(wire) else alone,
        gauge_system=wire.system if by_gauge(wire) else "",
        relief_mm=data.get("bar_relief"),
        cover_mm=data.get("bar_cover"),
        held=(data.get("bar_held") or "").strip(),
        reason=(data.get("bar_reason") or "").strip(),
        in_grinding=bool(data.get("bar_in_grinding")),
    )
    return None if bar == Bar(section=bar.section) else bar


def rooms_of(data: Mapping[str, Any], teeth: Iterable[int]) -> tuple[Room, ...]:
    """Return what was measured for denture teeth; a tooth nobody measured is left out."""
    rooms = (
        Room(t, data.get(f"gap_{t}"), data.get(f"mould_{t}"), data.get(f"tall_{t}"))
        for t in sorted(teeth)
    )
    return tuple(room for room in rooms if room != Room(room.tooth))


def covered_of(data: Mapping[str, Any], design: Design) -> tuple[tuple[str, str], ...]:
    """Return how far each free end is covered, where somebody said."""
    said = ((area, data.get(area_name(area)) or "") for area in free_ends(design))
    return tuple((area, how) for area, how in said if how)
