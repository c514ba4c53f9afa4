"""Say slips of a design, and what keeps it from being finished, beside the entries concerned."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _

from cases.domain.design import Design
from cases.domain.design_slips import slips
from cases.domain.rule_spec import Finding, say
from cases.forms.design.form import DesignForm

# Where an entry of the design has another name in the form.
FIELDS = {"survey": "tilt_deg"}


def refuse_slips(form: DesignForm, plan: Design) -> bool:
    """Put each slip of a valid form's plan, a draft or a whole design, beside its entry; return
    whether there was one."""
    found = slips(plan, form.label)
    for entry, sentence in found:
        form.add_error(_field_of(form, entry), sentence)
    return bool(found)


def refuse_unfinished(form: DesignForm, findings: Iterable[Finding]) -> None:
    """Put what keeps a design from being finished beside the entries that want mending.

    What can be said beside none is said above the form, with the ways out.
    """
    label = form.label
    above = []
    for finding in (one for one in findings if one.blocks):
        beside = [
            (field, pattern)
            for entry, pattern in finding.beside
            if (field := _field_of(form, entry)) is not None
        ]
        for field, pattern in beside:
            form.add_error(field, say(pattern, finding.facts, label))
        if not beside:
            above.append(finding.say(label))
    ways = _(
        "Mend what is marked, give a reason below where a concession may pass it, or keep a draft."
    )
    form.add_error(None, " ".join([*above, ways]))


def _field_of(form: DesignForm, entry: str) -> str | None:
    name = FIELDS.get(entry, entry).replace(" ", "_")
    return name if name in form.fields else None
