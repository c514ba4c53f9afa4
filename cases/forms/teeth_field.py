"""Entries of teeth, read in the numbering of who writes them, handed on as FDI numbers."""

from __future__ import annotations

from typing import Any

from django import forms

from cases.domain.teeth import parse_teeth


class TeethField(forms.CharField):
    """Teeth as people write them, in the writer's notation; cleans to a list of FDI numbers."""

    notation = "fdi"

    def clean(self, value: Any) -> list[int]:
        """Read the teeth; what names no tooth is refused with the part that does not."""
        text = super().clean(value)
        try:
            return list(parse_teeth(text, self.notation))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


class BlankOfTeeth(TeethField):
    """The tooth that a question is about; cleans to its FDI number as text, several by commas."""

    def __init__(self, *, notation: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.notation = notation

    def clean(self, value: Any) -> str:  # type: ignore[override]
        """Read the teeth and write them as FDI numbers."""
        return ", ".join(map(str, super().clean(value)))
