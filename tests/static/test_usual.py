"""Whom a hold waits for is marked by its reason, until a person marks another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from django import forms

from cases.domain.reasons import HOLD
from cases.forms.waits_for import WaitsForField

if TYPE_CHECKING:
    from tests.static.conftest import Specimen

FORM = "<form>{{ form.reason }}{{ form.waits_for }}</form>"


class Held(forms.Form):
    """The two fields of a hold, the parties in a list or as buttons."""

    reason = forms.ChoiceField(choices=[(one.key, one.words) for one in HOLD.reasons])
    waits_for = WaitsForField()

    def __init__(self, widget: type[forms.Select]) -> None:
        super().__init__()
        field = WaitsForField(widget=widget)
        field.offer()
        self.fields["waits_for"] = field


WAITS_FOR = "new FormData(document.forms[0]).get('waits_for')"


@pytest.mark.browser
@pytest.mark.parametrize("widget", [forms.Select, forms.RadioSelect])
def test_reason_marks_whom_it_usually_waits_for(
    specimen: Specimen, widget: type[forms.Select]
) -> None:
    page = specimen.show(FORM, form=Held(widget))

    page.select_option("[name=reason]", "on-order")
    supplier = page.evaluate(WAITS_FOR)
    page.select_option("[name=reason]", "equipment")

    assert supplier == "supplier"
    assert page.evaluate(WAITS_FOR) == "repairer"


@pytest.mark.browser
@pytest.mark.parametrize("widget", [forms.Select, forms.RadioSelect])
def test_reason_leaves_what_a_person_marked(specimen: Specimen, widget: type[forms.Select]) -> None:
    page = specimen.show(FORM, form=Held(widget))

    if widget is forms.Select:
        page.select_option("[name=waits_for]", "laboratory")
    else:
        page.check("[name=waits_for][value=laboratory]")
    page.select_option("[name=reason]", "on-order")

    assert page.evaluate(WAITS_FOR) == "laboratory"
