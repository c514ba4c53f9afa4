"""Components say what they should, with nothing inline."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django import forms
from django.conf import settings
from django.core.paginator import Paginator
from django.template.loader import render_to_string
from django.test import RequestFactory

TEMPLATES = Path(settings.BASE_DIR) / "templates"


class ReferenceForm(forms.Form):
    """One field of each kind that a component tells apart."""

    reference = forms.CharField(label="Patient reference", help_text="Never a name.")
    note = forms.CharField(label="Note", required=False)
    arch = forms.ChoiceField(
        label="Arch", choices=[("l", "Lower"), ("u", "Upper")], widget=forms.RadioSelect
    )


def _words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).strip()


def _field(form: forms.Form, name: str) -> str:
    return render_to_string("components/_field.html", {"field": form[name]})


def test_field_ties_hint_and_error_to_its_control() -> None:
    html = _field(ReferenceForm({"reference": ""}), "reference")

    assert 'aria-describedby="id_reference_helptext id_reference_error"' in html
    assert 'id="id_reference_helptext"' in html
    assert 'id="id_reference_error"' in html
    assert 'aria-invalid="true"' in html


def test_field_says_which_are_optional() -> None:
    form = ReferenceForm()

    assert _words(_field(form, "note")) == "Note (if known)"
    assert _words(_field(form, "reference")) == "Patient reference Never a name."


def test_field_of_radios_is_a_fieldset_with_a_legend() -> None:
    html = _field(ReferenceForm(), "arch")

    assert "<fieldset" in html
    assert '<legend class="field-label">Arch</legend>' in html


def test_errors_lead_to_their_fields() -> None:
    form = ReferenceForm({"reference": "", "arch": "l"})

    html = render_to_string("components/_errors.html", {"form": form})

    assert "Nothing is saved yet: one thing needs your eye." in _words(html)
    assert 'href="#id_reference"' in html


def test_errors_beside_finished_stages_are_not_counted_by_fields_alone() -> None:
    form = ReferenceForm({"reference": "", "arch": "l"})
    row = {"stage": {"key": "wax", "name": "Wax up"}, "becomes": "", "undecided": "Choose."}

    words = _words(
        render_to_string("components/_errors.html", {"form": form, "in_question": [row]})
    )

    assert "what is listed here needs your eye" in words
    assert "one thing" not in words
    assert "Wax up: Choose." in words


def test_errors_of_a_good_form_are_nothing() -> None:
    form = ReferenceForm({"reference": "Q-1", "arch": "l"})

    assert render_to_string("components/_errors.html", {"form": form}).strip() == ""


@pytest.mark.parametrize("kind", ["late", "held", "running", "done", "failed"])
def test_tag_is_words_and_a_shape(kind: str) -> None:
    html = render_to_string("components/_tag.html", {"kind": kind, "words": "1 day late"})

    assert html.strip() == f'<span class="tag tag-{kind}">1 day late</span>'


def test_tag_without_words_is_nothing() -> None:
    assert render_to_string("components/_tag.html", {"kind": "late", "words": ""}).strip() == ""


def test_pager_keeps_the_question_asked() -> None:
    page = Paginator(range(200), 60).page(2)
    request = RequestFactory().get("/cases/?q=mill&page=2")

    html = render_to_string("components/_pager.html", {"page": page, "request": request})

    assert _words(html) == "Earlier 61 to 120 of 200 Later"
    assert "?q=mill&amp;page=3" in html


def test_pager_of_one_page_is_nothing() -> None:
    page = Paginator(range(3), 60).page(1)

    assert render_to_string("components/_pager.html", {"page": page}).strip() == ""


def test_yesno_is_two_radios_with_one_chosen() -> None:
    html = render_to_string(
        "components/_yesno.html", {"name": "c", "label": "Right pad", "value": "no"}
    )

    assert html.count('type="radio"') == 2
    assert re.findall(r'value="(\w+)" checked', html) == ["no"]


@pytest.mark.parametrize("path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: path.name)
def test_template_has_nothing_inline(path: Path) -> None:
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", path.read_text("utf-8"), flags=re.S)

    assert re.findall(r"\sstyle=|\son\w+=|<style\b|<script(?![^>]*\bsrc=)", text) == []


@pytest.mark.parametrize(
    "path", sorted((TEMPLATES / "components").glob("_*.html")), ids=lambda path: path.name
)
def test_component_says_what_it_needs(path: Path) -> None:
    assert path.read_text("utf-8").startswith("{% comment %}\n")


@pytest.mark.parametrize("name", ["400.html", "403.html", "403_csrf.html", "404.html", "500.html"])
def test_error_page_stands_without_any_context(name: str) -> None:
    html = render_to_string(name)

    assert len(re.findall(r"<h1>.+</h1>", html)) == 1
    assert "Go to the first page" in html
