"""Entries of the dough's clock: shapes only, the services decide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.cure.dough import COLDEST_ROOM_C, HOTTEST_ROOM_C, LONGEST_AGO_MIN
from cases.forms.lab import NumberField
from cases.models import Resin


def _both(words: Any) -> dict[str, Any]:
    """Return one sentence for whatever such a number may be: too low, too high, none."""
    return dict.fromkeys(("min_value", "max_value", "invalid"), words)


class MixForm(forms.Form):
    """Powder and liquid were put together."""

    resin = forms.TypedChoiceField(
        label=gettext_lazy("Resin"),
        coerce=int,
        error_messages={"required": gettext_lazy("Say which resin was mixed.")},
    )
    room_c = NumberField(
        label=gettext_lazy("Room, °C"),
        required=False,
        min_value=COLDEST_ROOM_C,
        max_value=HOTTEST_ROOM_C,
        error_messages=_both(gettext_lazy("A room is at 5 to 45 °C.")),
    )
    minutes_ago = NumberField(
        label=gettext_lazy("Minutes ago"),
        required=False,
        min_value=0,
        max_value=LONGEST_AGO_MIN,
        error_messages=_both(gettext_lazy("Minutes since the mix began: 0 to 60.")),
        help_text=gettext_lazy("Empty: just now."),
    )

    def __init__(
        self, *args: Any, resins: Sequence[Resin], usual: int | None = None, **kwargs: Any
    ) -> None:
        # ``usual`` is what was mixed before for this case; a lab with one resin is not asked.
        super().__init__(*args, **kwargs)
        if len(resins) == 1:
            del self.fields["resin"]
            return
        field = self.fields["resin"]
        assert isinstance(field, forms.TypedChoiceField)  # noqa: S101 - declared so above
        field.choices = [("", _("Choose the resin")), *((row.pk, row.name) for row in resins)]
        field.initial = usual if usual in {row.pk for row in resins} else None
