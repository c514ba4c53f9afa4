"""Who is away, and who gets their work."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.models import Person
from cases.selectors.people import technicians


class AwayForm(forms.Form):
    """One person's list, handed to another or to whoever has the skill."""

    person = forms.ModelChoiceField(
        label=gettext_lazy("Who is away"),
        queryset=Person.objects.none(),
        empty_label=gettext_lazy("Choose"),
    )
    to = forms.ModelChoiceField(
        label=gettext_lazy("Their work goes to"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=gettext_lazy("Whoever has the skill"),
        help_text=gettext_lazy("What needs a skill that this person lacks is free for the others."),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("person", "to"):
            self.fields[name].queryset = technicians()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Refuse to hand work to the person who is away."""
        data = super().clean() or self.cleaned_data
        if data.get("person") and data.get("person") == data.get("to"):
            self.add_error("to", _("Choose somebody else: this is the person who is away."))
        return data
