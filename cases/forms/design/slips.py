"""Say slips of a design beside the entry they were made in."""

from __future__ import annotations

from cases.domain.design import Design
from cases.domain.design_slips import slips
from cases.domain.toothwords import labels
from cases.forms.design.form import DesignForm

# Where an entry of the design has another name in the form.
FIELDS = {"bar": "bar_reason", "survey": "tilt_deg"}


def refuse_slips(form: DesignForm, plan: Design) -> bool:
    """Put each slip of a valid form's plan beside its entry; return whether there was one."""
    found = slips(plan, labels(form.notation))
    for entry, sentence in found:
        name = FIELDS.get(entry, entry).replace(" ", "_")
        form.add_error(name if name in form.fields else None, sentence)
    return bool(found)
