"""A refused form read as far as it can be: what cannot be read stands as it stood before."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict

from cases.forms.design.form import ROWS, DesignForm

TRIES = 3
"""Taking one entry back may show that another cannot be read without it."""


def read_so_far(form: DesignForm) -> DesignForm | None:
    """Return a valid form with everything of a sent one that can be read.

    Of a row of teeth what names teeth of this arch is kept; any other entry that is refused
    stands as in the design before. None where not even that makes a design.
    """
    reading = form
    for _try in range(TRIES):
        sent: Any = reading.data
        entries = sent.copy()
        for name in reading.errors:
            if name in reading.fields:
                _put(entries, name, _readable(reading, name))
        reading = DesignForm(
            entries,
            plan=form.before,
            borders=form.initial["borders"],
            polish=form.initial["polish"],
            notation=form.notation,
        )
        if reading.is_valid():
            return reading
    return None


def _readable(form: DesignForm, name: str) -> Any:
    if name in ROWS:
        return ", ".join(form.label(tooth) for tooth in form.teeth_in(name))
    return form.get_initial_for_field(form.fields[name], name)


def _put(entries: Any, name: str, value: Any) -> None:
    """Set an entry as a browser sends it; one without a value is not sent."""
    entries.pop(name, None)
    if isinstance(value, list | tuple) and isinstance(entries, QueryDict):
        entries.setlist(name, [str(one) for one in value])
    elif value not in (None, False, ""):
        entries[name] = value
