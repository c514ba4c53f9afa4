"""From the desk's form to the order of the trade, and from its problems back to the fields."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from cases.domain.order import Disinfection, Extraction, OrderForm, Problem
from cases.forms.intake import EACH, IntakeForm
from cases.forms.intake_box import ENTRY_OF, SLOTS, read_items

FIELD_OF = {
    "items": "working_came",
    "extractions": "extract",
    "received_at": "received_time",
    "disinfection": "disinfected",
    "disinfection.done": "disinfected",
    "disinfection.by": "disinfected_by",
    "disinfection.minutes": "disinfected_minutes",
    "disinfection.at": "disinfected_time",
    "shade": "shade_how",
    "mould": "mould_how",
    "dentist_named": "dentist",
    "ship_on": "ship",
}
"""Field of the form for an entry of the order, where the two have different names."""

_SAME_NAME = (
    "remake_start", "description", "extraction_order", "shade_how", "shade", "shade_guide",
    "mould_how", "mould", "materials", "borders", "polish", "bite", "try_in", "allergy_words",
    "ordered_on", "appointment_on", "appointment_time", "needed_on", "rush", "received_at",
    "signed", "licence_given", "replaces",
)  # fmt: skip


def read_order(form: IntakeForm) -> OrderForm:
    """Return the order as far as it can be read; what cannot counts as not said.

    ``form`` has been cleaned (``is_valid`` was called); it need not be valid.
    """
    data = form.cleaned_data
    said: dict[str, Any] = {name: data[name] for name in _SAME_NAME if data.get(name) is not None}
    arch = data.get("arch") or "lower"
    kind = data.get("kind") or "new"
    if kind != "remake":
        said.pop("remake_start", None)
    return OrderForm(
        kind=kind,
        arch=arch,
        extractions=_extractions(form),
        allergies=tuple(data.get("allergies", ())),
        items=tuple(item for _slot, item in read_items(data, arch)),
        disinfection=_disinfection(data),
        dentist_named=bool(data.get("dentist")),
        **said,
    )


def _extractions(form: IntakeForm) -> tuple[Extraction, ...]:
    depth = form.cleaned_data.get("extract_depth", "")
    return tuple(
        Extraction(tooth, form.depth_of(tooth) if depth == EACH else depth)
        for tooth in form.cleaned_data.get("extract", ())
    )


def _disinfection(data: dict[str, Any]) -> Disinfection:
    done = data.get("disinfected") or "not-known"
    if done != "yes":
        return Disinfection(done)
    return Disinfection(
        done,
        data.get("disinfected_by", ""),
        data.get("disinfected_with", ""),
        data.get("disinfected_minutes"),
        data.get("disinfected_at"),
    )


def field_of(problem_field: str, form: IntakeForm) -> str:
    """Return the name of the form's field that an entry of the order was typed in."""
    if problem_field.startswith("items."):
        _items, place, entry = problem_field.split(".")
        arch = form.cleaned_data.get("arch") or "lower"
        slots = [slot for slot, _item in read_items(form.cleaned_data, arch)]
        name = f"{slots[int(place)]}_{ENTRY_OF[entry]}"
    else:
        name = FIELD_OF.get(problem_field, problem_field)
    return name if name in form.fields else ""


def add_problems(form: IntakeForm, problems: Iterable[Problem]) -> None:
    """Put every slip that the trade found beside its field."""
    for problem in problems:
        if problem.is_error:
            name = field_of(problem.field, form)
            form.add_error(name or None, problem.sentence)


def rows_of_the_box(form: IntakeForm) -> list[dict[str, Any]]:
    """Return the rows of the box for the page: each slot with its bound fields by entry."""
    rows = []
    for slot in SLOTS:
        entries = {
            name.removeprefix(f"{slot.key}_"): form[name]
            for name in form.fields
            if name.startswith(f"{slot.key}_")
        }
        rows.append({"slot": slot, **entries})
    return rows
